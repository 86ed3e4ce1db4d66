#include "tests/bench/climate/clairvoyant.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numeric>
#include <optional>
#include <stdexcept>
#include <unordered_set>
#include <vector>

#include "drivers/simulated/moist_air.h"
#include "drivers/simulated/plant.h"
#include "tests/bench/climate/course.h"

namespace neap::arena {
namespace {

namespace sim = drivers::simulated;

constexpr int kStageSeconds = 60;
constexpr double kNothingLeft = 99.9;  // % in band: a longer search has nothing to find

// Costs, in minutes out of band.
constexpr double kMarginKpa = 0.002;   // the search's strides differ from single seconds by less
constexpr double kSquare = 5;          // a minute, a kPa2 out of band: near misses over far ones
constexpr double kOffMiddle = 0.002;   // a minute at the band's edge
constexpr double kMarginK = 0.03;      // the same as kMarginKpa for temperature
constexpr double kTooWarm = 4;         // a minute outside the limits of air temperature,
constexpr double kTooWarmPerK = 2;     // and for each kelvin beyond
constexpr double kTooHumid = 2;        // a minute over the humidity ceiling: mould before band
constexpr double kEnergyPerKwh = 1.5;  // a tenth of a percent of a day
constexpr double kStart = 0.1;         // of the dehumidifier
constexpr double kFanMove = 0.003;
constexpr double kMistSwitch = 0.001;

// A move for one minute. A humidifier runs for the first half of it, for all of it or not at all.
struct Move {
  std::uint8_t fan = 0;  // of the levels
  bool dry = false;
  std::uint8_t mist_halves = 0;
};

struct Node {
  sim::State plant;
  Move last;
  int dry_since = -100000;  // stage of the dehumidifier's last change
  std::array<int, 6> starts{-100000, -100000, -100000, -100000, -100000, -100000};
  double cost = 0;
  int trail = -1;
};

struct Trail {
  int parent;
  Move move;
};

// A stretch of a stage in which nothing foreseen changes.
struct Stretch {
  int seconds = 0;
  bool second_half = false;
  PerOutput<Permille> outputs;
};

double over(double value, double least, double most) {
  return std::max({0.0, least - value, value - most});
}

class Search {
 public:
  Search(const settings::Loaded& settings, int warm_up_days, int days, const Effort& effort)
      : plan_(settings.plan),
        stage_(plan_.programme.stages.front()),
        effort_(effort),
        warm_up_days_(warm_up_days),
        minutes_((warm_up_days + days) * 1440),
        course_(foresee(settings, warm_up_days + days)) {
    std::string error;
    const auto tent = drivers::make_tent(*settings.hardware.simulation, kStartUnixMs, 0, error);
    if (!tent) throw std::runtime_error(error);
    plant_.emplace(tent->plant());
    fan_ = *plan_.outputs[Output::exhaust_fan];
    dryer_ = plan_.outputs[Output::dehumidifier];
    mister_ = plan_.outputs[Output::humidifier];
    list_levels();
    for (const OutputInfo& row : kOutputs) foreseen_[row.output] = row.safe;
  }

  std::vector<Move> best_course() {
    Node first;
    first.plant = plant_->start();
    first.last.fan = static_cast<std::uint8_t>(levels_.size() - 1);
    kept_ = {first};
    for (int minute = 0; minute < minutes_; ++minute) advance(minute);
    const Node& best = *std::min_element(
        kept_.begin(), kept_.end(), [](const Node& a, const Node& b) { return a.cost < b.cost; });
    std::vector<Move> moves;
    for (int at = best.trail; at >= 0; at = trails_[static_cast<std::size_t>(at)].parent)
      moves.push_back(trails_[static_cast<std::size_t>(at)].move);
    std::reverse(moves.begin(), moves.end());
    return moves;
  }

  Score play(const std::vector<Move>& moves) {
    Scorer scorer(plan_, warm_up_days_);
    sim::State s = plant_->start();
    PerOutput<Permille> outputs;
    for (const OutputInfo& row : kOutputs) outputs[row.output] = row.safe;
    std::size_t change = 0;
    sim::Acting acting = plant_->act(s, outputs);
    for (std::int64_t second = 0; second < 60LL * minutes_; ++second) {
      bool changed = second % (kStageSeconds / 2) == 0;
      while (change < course_.changes.size() && course_.changes[change].second <= second) {
        outputs[course_.changes[change].output] = course_.changes[change].level;
        ++change;
        changed = true;
      }
      if (changed) {
        apply(outputs, moves[static_cast<std::size_t>(second / kStageSeconds)],
              second % kStageSeconds >= kStageSeconds / 2);
        acting = plant_->act(s, outputs);
      }
      if (second % 10 == 0) scorer.add(moment(s, outputs, second));
      plant_->step(s, acting);
    }
    return scorer.finish();
  }

 private:
  // Evenly spread by ratio, since flow acts by ratio.
  void list_levels() {
    if (!fan_.variable) {
      levels_ = {kStopped, kRunning};
      return;
    }
    const double low = std::max(0.1, fan_.floor.value / 1000.0);
    const double high = fan_.ceiling.value / 1000.0;
    for (int i = 0; i < effort_.fan_levels; ++i)
      levels_.push_back(Permille{static_cast<std::int16_t>(
          std::lround(1000 * low * std::pow(high / low, i / (effort_.fan_levels - 1.0))))});
    if (fan_.quiet_ceiling < fan_.ceiling) levels_.push_back(fan_.quiet_ceiling);
    std::sort(levels_.begin(), levels_.end());
  }

  void apply(PerOutput<Permille>& outputs, const Move& move, bool second_half) const {
    outputs[Output::exhaust_fan] = levels_[move.fan];
    outputs[Output::dehumidifier] = move.dry ? kRunning : kStopped;
    outputs[Output::humidifier] = move.mist_halves > (second_half ? 1 : 0) ? kRunning : kStopped;
  }

  Scorer::Moment moment(const sim::State& s, const PerOutput<Permille>& outputs,
                        std::int64_t second) const {
    const drivers::Truth truth = plant_->truth(s);
    const Course::Step& step = course_.steps[static_cast<std::size_t>(second / 10)];
    Scorer::Moment m;
    m.elapsed_s = static_cast<double>(second);
    m.vpd_kpa = plan_.climate.band_of == BandOf::leaf ? truth.leaf_vpd_kpa : truth.vpd_kpa;
    m.band = step.band;
    m.day = step.day;
    m.air_c = truth.air_c;
    m.air_percent = truth.air_percent;
    m.air_lowest_c = stage_.air_lowest.value;
    m.air_highest_c = stage_.air_highest.value;
    m.fan = outputs[Output::exhaust_fan].value / 1000.0;
    m.dehumidifier = outputs[Output::dehumidifier] > kStopped;
    m.humidifier = outputs[Output::humidifier] > kStopped;
    m.pump = outputs[Output::pump] > kStopped;
    m.dehumidifier_j = truth.ledger.dehumidifier_j;
    return m;
  }

  void split_stage(int minute) {
    stretches_.clear();
    const std::int64_t begin = std::int64_t{kStageSeconds} * minute;
    std::int64_t at = begin;
    while (at < begin + kStageSeconds) {
      while (next_change_ < course_.changes.size() && course_.changes[next_change_].second <= at) {
        foreseen_[course_.changes[next_change_].output] = course_.changes[next_change_].level;
        ++next_change_;
      }
      const std::int64_t half = begin + kStageSeconds / 2;
      std::int64_t end = at < half ? half : begin + kStageSeconds;
      if (next_change_ < course_.changes.size())
        end = std::min(end, course_.changes[next_change_].second);
      stretches_.push_back({static_cast<int>(end - at), at >= half, foreseen_});
      at = end;
    }
  }

  void list_moves(const Node& node, int minute) {
    moves_.clear();
    const bool quiet = course_.quiet[static_cast<std::size_t>(minute)];
    const int top = static_cast<int>(levels_.size()) - 1;
    const int now = node.last.fan;
    std::array<bool, 32> wanted{};
    for (const int i : {0, now - 3, now - 1, now, now + 1, now + 3, top})
      if (i >= 0 && i <= top) wanted[static_cast<std::size_t>(i)] = true;
    int highest = top;
    if (quiet)
      while (highest > 0 && levels_[static_cast<std::size_t>(highest)] > fan_.quiet_ceiling)
        --highest;
    wanted[static_cast<std::size_t>(highest)] = true;
    const bool may_toggle = dryer_ && may_change(node, minute, quiet);
    for (int i = 0; i <= highest; ++i) {
      if (!wanted[static_cast<std::size_t>(i)]) continue;
      for (const bool dry : {false, true}) {
        if (dry != node.last.dry && !may_toggle) continue;
        const std::uint8_t most_mist = mister_ && !dry ? 2 : 0;
        for (std::uint8_t mist = 0; mist <= most_mist; ++mist)
          moves_.push_back({static_cast<std::uint8_t>(i), dry, mist});
      }
    }
  }

  bool may_change(const Node& node, int minute, bool quiet) const {
    const Millis least = node.last.dry ? dryer_->min_on : dryer_->min_off;
    if (seconds{kStageSeconds} * (minute - node.dry_since) < least) return false;
    if (node.last.dry) return true;
    if (quiet && dryer_->quiet_ceiling == kStopped) return false;
    const int budget = std::min<int>(dryer_->starts_per_hour, static_cast<int>(node.starts.size()));
    return budget == 0 || minute - node.starts[static_cast<std::size_t>(budget - 1)] >= 60;
  }

  void advance(int minute) {
    split_stage(minute);
    children_.clear();
    for (const Node& node : kept_) {
      list_moves(node, minute);
      for (const Move& move : moves_) {
        children_.push_back(node);
        continue_with(children_.back(), move, minute);
      }
    }
    keep_the_best();
  }

  void continue_with(Node& node, const Move& move, int minute) {
    if (move.dry != node.last.dry) {
      node.dry_since = minute;
      if (move.dry) {
        std::copy_backward(node.starts.begin(), node.starts.end() - 1, node.starts.end());
        node.starts[0] = minute;
        node.cost += kStart;
      }
    }
    if (move.fan != node.last.fan) node.cost += kFanMove;
    if (move.mist_halves != node.last.mist_halves) node.cost += kMistSwitch;
    node.last = move;
    const double electric_before = node.plant.ledger.dehumidifier_j;
    int into = 0;
    for (const Stretch& stretch : stretches_) {
      PerOutput<Permille> outputs = stretch.outputs;
      apply(outputs, move, stretch.second_half);
      const sim::Acting acting = plant_->act(node.plant, outputs);
      for (int left = stretch.seconds; left > 0;) {
        const int stride = std::min(left, effort_.stride_s);
        plant_->stride(node.plant, acting, stride);
        left -= stride;
        into += stride;
        node.cost += stride / 60.0 * discomfort(node.plant, minute, into);
      }
    }
    const double joules = node.plant.ledger.dehumidifier_j - electric_before +
                          kStageSeconds * fan_watt(levels_[move.fan].value / 1000.0) +
                          kStageSeconds / 2 * move.mist_halves * kHumidifierWatt;
    node.cost += kEnergyPerKwh * joules / 3.6e6;
  }

  // Cost of a minute in this state.
  double discomfort(const sim::State& s, int minute, int into) const {
    const std::size_t at = static_cast<std::size_t>(minute * 6 + into / 10);
    const Band& band = course_.steps[std::min(at, course_.steps.size() - 1)].band;
    const double saturation = sim::saturation_kpa(s.air_c);
    const double vapour = sim::vapour_kpa(s.air_w);
    const double vpd =
        (plan_.climate.band_of == BandOf::leaf ? sim::saturation_kpa(s.leaf_c) : saturation) -
        vapour;
    const double out = over(vpd, band.low.value + kMarginKpa, band.high.value - kMarginKpa);
    const double half = (band.high.value - band.low.value) / 2;
    const double middle = (vpd - band.low.value) / half - 1;
    double cost = kOffMiddle * std::min(1.0, middle * middle);
    if (out > 0) cost += 1 + kSquare * out * out;
    const double warm =
        over(s.air_c, stage_.air_lowest.value + kMarginK, stage_.air_highest.value - kMarginK);
    if (warm > 0) cost += kTooWarm + kTooWarmPerK * warm;
    if (100 * vapour / saturation > stage_.humidity_ceiling.value) cost += kTooHumid;
    return cost;
  }

  // Nearly the same state, worth keeping once.
  std::uint64_t likeness(const Node& node) const {
    const sim::State& s = node.plant;
    std::uint64_t key = 14695981039346656037u;
    const auto mix = [&](double value, double quantum) {
      const auto rounded =
          static_cast<std::int64_t>(std::floor(effort_.fineness * value / quantum));
      key = (key ^ static_cast<std::uint64_t>(rounded)) * 1099511628211u;
    };
    mix(dwell_class(node), 1);
    mix(node.last.mist_halves, 1);
    mix(sim::saturation_kpa(s.air_c) - sim::vapour_kpa(s.air_w), 0.02);
    mix(s.air_c, 0.2);
    mix(s.surface_c, 0.4);
    mix(s.room_c, 0.2);
    mix(s.room_w, 5e-5);
    mix(s.sorbed_w, 1e-4);
    mix(s.appliance_j, 10000);
    return key;
  }

  // Stopped or running, and how far into the dwell.
  int dwell_class(const Node& node) const {
    if (!dryer_) return 0;
    const Millis least = node.last.dry ? dryer_->min_on : dryer_->min_off;
    const int whole = static_cast<int>(least / seconds{kStageSeconds});
    const int done = std::min(minute_ + 1 - node.dry_since, whole);
    return 2 * done + (node.last.dry ? 1 : 0);
  }

  void keep_the_best() {
    order_.resize(children_.size());
    std::iota(order_.begin(), order_.end(), std::size_t{0});
    std::sort(order_.begin(), order_.end(),
              [&](std::size_t a, std::size_t b) { return children_[a].cost < children_[b].cost; });
    kept_.clear();
    alike_.clear();
    std::array<int, 64> of_class{};
    const int most_of_class = std::max(1, effort_.nodes / 4);
    for (const std::size_t i : order_) {
      Node& child = children_[i];
      int& count = of_class[static_cast<std::size_t>(dwell_class(child)) % of_class.size()];
      if (dryer_ && count >= most_of_class) continue;
      if (!alike_.insert(likeness(child)).second) continue;
      ++count;
      trails_.push_back({child.trail, child.last});
      child.trail = static_cast<int>(trails_.size()) - 1;
      kept_.push_back(child);
      if (static_cast<int>(kept_.size()) >= effort_.nodes) break;
    }
    ++minute_;
  }

  const Plan& plan_;
  const StagePlan& stage_;
  const Effort effort_;
  const int warm_up_days_;
  const int minutes_;
  const Course course_;
  std::optional<sim::Plant> plant_;
  OutputPlan fan_;
  std::optional<OutputPlan> dryer_, mister_;
  std::vector<Permille> levels_;

  PerOutput<Permille> foreseen_;
  std::size_t next_change_ = 0;
  int minute_ = 0;
  std::vector<Stretch> stretches_;
  std::vector<Move> moves_;
  std::vector<Node> kept_, children_;
  std::vector<Trail> trails_;
  std::vector<std::size_t> order_;
  std::unordered_set<std::uint64_t> alike_;
};

}  // namespace

Score clairvoyant(const settings::Loaded& settings, int warm_up_days, int days,
                  const Effort& effort) {
  Effort quick = effort;
  quick.nodes = std::max(1, effort.nodes / 4);
  Search first(settings, warm_up_days, days, quick);
  const Score score = first.play(first.best_course());
  if (score.in_band > kNothingLeft && score.temperature_h_d == 0) return score;
  Search search(settings, warm_up_days, days, effort);
  return search.play(search.best_course());
}

}  // namespace neap::arena
