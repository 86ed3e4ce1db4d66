#include "tests/bench/climate/arena.h"

#include <algorithm>
#include <chrono>
#include <cmath>
#include <memory>
#include <stdexcept>
#include <vector>

#include "daemon/core/scan.h"

namespace neap::arena {
namespace {

constexpr Instant kStart = instant(Millis{4294967000});
constexpr double kBackFor = 10 * 60;
constexpr double kDipMost = 90 * 60;

// Times the calls in which the law moved on, by the machine's clock: between its decisions it only
// repeats itself.
class Timed final : public ClimateLaw {
 public:
  explicit Timed(const ClimateLaw& law) : law_(law) {}
  std::uint32_t id() const override { return law_.id(); }
  ClimateAsk decide(const ClimateView& view, LawMemory& memory) const override {
    const LawMemory before = memory;
    const auto began = std::chrono::steady_clock::now();
    const ClimateAsk ask = law_.decide(view, memory);
    const std::chrono::duration<double, std::micro> took = std::chrono::steady_clock::now() - began;
    if (!same_part(before, memory)) took_us_.push_back(static_cast<float>(took.count()));
    return ask;
  }
  std::vector<float> took_us() const { return took_us_; }

 private:
  static bool same_part(const LawMemory& a, const LawMemory& b) {
    return std::equal(a.numbers.begin(), a.numbers.begin() + kLawNumbers, b.numbers.begin()) &&
           std::equal(a.ticks.begin(), a.ticks.begin() + kLawTicks, b.ticks.begin());
  }

  const ClimateLaw& law_;
  mutable std::vector<float> took_us_;
};

// The sensors of the scenarios' settings, read from the tent at their periods.
class Senses {
 public:
  Senses(const drivers::Tent& tent, const Plan& plan, Inputs& inputs)
      : tent_(tent), plan_(plan), inputs_(inputs) {}

  void air(Instant now, drivers::simulated::Place place, Point temperature, Point humidity) {
    const auto said = tent_.air(place);
    deliver(temperature, said.temperature, now);
    deliver(humidity, said.humidity, now);
  }
  void level(Instant now) { deliver(Point::reservoir_level, tent_.level(), now); }
  void contacts(Instant now) {
    using simulated = drivers::simulated::ContactChannel;
    const auto seen = tent_.contacts();
    const auto one = [&](Point point, simulated channel) {
      const auto value = static_cast<double>(seen[static_cast<std::size_t>(channel)]);
      deliver(point, {value, Fault::none}, now);
    };
    one(Point::tray_full, simulated::tray_full);
    one(Point::tray_high, simulated::tray_high);
    one(Point::reservoir_low, simulated::reservoir_low);
    one(Point::leak_floor, simulated::leak_floor);
  }

 private:
  void deliver(Point point, const drivers::simulated::Said& said, Instant now) {
    if (!plan_.points[point]) return;
    Sample& sample = inputs_.samples[point];
    sample = {said.value, said.fault, now, sample.count + 1};
  }

  const drivers::Tent& tent_;
  const Plan& plan_;
  Inputs& inputs_;
};

Plan without_limits(Plan plan) {
  for (StagePlan& stage : plan.programme.stages) {
    stage.air_lowest = Celsius{-50};
    stage.air_highest = Celsius{80};
    stage.humidity_ceiling = PercentRh{100};
  }
  plan.climate.dew_point_margin = Celsius{-50};
  return plan;
}

// One run: the world, the daemon's core, and the score.
class Play {
 public:
  Play(const Run& run, Watcher* watcher)
      : run_(run),
        plan_(run.bare ? without_limits(run.settings.plan) : run.settings.plan),
        law_(*run.law),
        scorer_(run.settings.plan, run.warm_up_days),
        watcher_(watcher) {
    std::string error;
    tent_ = drivers::make_tent(*run.settings.hardware.simulation, kStartUnixMs, 0, error);
    if (!tent_) throw std::runtime_error(error);
    now_ = tent_->advance_to(kStart);
    state_ = start_state(plan_, nullptr, now_);
    inputs_.outputs_proven = true;
    inputs_.wall.quality = TimeQuality::synced;
  }

  Score play() {
    const std::int64_t steps = (run_.warm_up_days + run_.days) * 8640;
    for (std::int64_t step = 0; step <= steps; ++step) {
      const Instant due = kStart + seconds{10} * step;
      while (now_ < due) advance(due);
      sample(step);
      if (watcher_)
        watcher_->asks(static_cast<double>(step) * kStepSeconds, state_, inputs_.requests);
      decide();
      inputs_.requests.clear();
      note(step);
    }
    Score score = scorer_.finish();
    score.floods_complete = floods_;
    for (const LatchInfo& row : kLatches)
      if (state_.kept.kernel.latched[static_cast<std::size_t>(row.latch)])
        score.latched += " " + std::string(row.name);
    score.decisions_us = law_.took_us();
    return score;
  }

 private:
  // To `due`, or to where a contact changed or the scan wants to be asked.
  void advance(Instant due) {
    const Instant target = std::min(due, std::max(wake_, now_ + seconds{1}));
    const auto contacts = tent_->contacts();
    now_ = tent_->advance_to(target);
    const bool edge = contacts != tent_->contacts();
    if (edge) Senses(*tent_, plan_, inputs_).contacts(now_);
    if (now_ < due && (edge || now_ >= wake_)) decide();
  }

  void sample(std::int64_t step) {
    Senses senses(*tent_, plan_, inputs_);
    senses.air(now_, drivers::simulated::Place::canopy, Point::canopy_temperature,
               Point::canopy_humidity);
    const bool lost = run_.room_lost && step >= run_.warm_up_days * 8640;
    if (step % 3 == 0 && !lost)
      senses.air(now_, drivers::simulated::Place::room, Point::room_temperature,
                 Point::room_humidity);
    senses.level(now_);
    senses.contacts(now_);
  }

  void decide() {
    inputs_.wall.unix_ms = kStartUnixMs + (now_ - kStart).count();
    scan(plan_, law_, state_, inputs_, now_, out_);
    wake_ = out_.next_wake;
    for (const Event& event : out_.events)
      if (event.kind == EventKind::cycle_closed && event.cycle.outcome == FloodOutcome::complete)
        ++floods_;
    for (const OutputInfo& row : kOutputs) {
      const Permille level = out_.outputs.commands[row.output].level;
      if (!plan_.outputs[row.output] || tent_->written(row.output) == level) continue;
      tent_->write(row.output, level);
      if (watcher_) watcher_->wrote((now_ - kStart) / seconds{1}, row.output, level);
    }
  }

  void note(std::int64_t step) {
    const drivers::Truth truth = tent_->truth();
    const auto level = [&](Output o) { return tent_->written(o).value / 1000.0; };
    const StagePlan& stage = run_.settings.plan.programme.stages.front();
    Scorer::Moment m;
    m.elapsed_s = static_cast<double>(step) * kStepSeconds;
    m.vpd_kpa = plan_.climate.band_of == BandOf::leaf ? truth.leaf_vpd_kpa : truth.vpd_kpa;
    m.band = state_.targets.band;
    m.day = state_.day;
    m.air_c = truth.air_c;
    m.air_percent = truth.air_percent;
    m.air_lowest_c = stage.air_lowest.value;
    m.air_highest_c = stage.air_highest.value;
    m.fan = level(Output::exhaust_fan);
    m.dehumidifier = level(Output::dehumidifier) > 0;
    m.humidifier = level(Output::humidifier) > 0;
    m.pump = level(Output::pump) > 0;
    m.flagged = state_.binding != Binding::nothing;
    m.dehumidifier_j = truth.ledger.dehumidifier_j;
    scorer_.add(m);
    if (watcher_) watcher_->moment(m);
    if (watcher_) watcher_->scanned({m.elapsed_s, truth, plan_, state_});
    if (watcher_ && step % 6 == 0) watcher_->minute({m.elapsed_s, truth, plan_, state_});
  }

  const Run& run_;
  const Plan plan_;
  Timed law_;
  Scorer scorer_;
  Watcher* watcher_;
  std::unique_ptr<drivers::Tent> tent_;
  Instant now_{};
  Instant wake_ = kStart;
  State state_;
  Inputs inputs_;
  Outcome out_;
  int floods_ = 0;
};

}  // namespace

double fan_watt(double level) { return level > 0 ? 2 + 28 * level * level * level : 0; }

Score run(const Run& run, Watcher* watcher) { return Play(run, watcher).play(); }

void Scorer::count_switches(const Moment& m) {
  if (m.dehumidifier != last_.dehumidifier) {
    const auto& fitted = plan_.outputs[Output::dehumidifier];
    const Millis least = m.dehumidifier ? fitted->min_off : fitted->min_on;
    // A change is seen up to a step late, and so may be the one before.
    const double least_s = static_cast<double>(least.count()) / 1000 - kStepSeconds;
    if (m.elapsed_s - changed_s_ < least_s) ++illegal_;
    if (m.dehumidifier) ++starts_;
    changed_s_ = m.elapsed_s;
  }
  if (m.humidifier && !last_.humidifier) ++mist_starts_;
  if (std::fmod(m.elapsed_s, 60) < kStepSeconds) {
    if (fan_of_minute_ >= 0 && std::abs(m.fan - fan_of_minute_) >= 0.05 - 1e-9) ++moves_;
    fan_of_minute_ = m.fan;
  }
}

// A flood's dip goes from where the air left the band until it was back for ten minutes on end; no
// dip counts as no time, one that lasts as 90 min. Only floods that began in band say something of
// the law.
void Scorer::follow_flood(const Moment& m, double below) {
  if (m.pump && !last_.pump) {
    flood_ = {true, below <= 0, m.elapsed_s, 0, m.elapsed_s, m.elapsed_s};
  }
  if (!flood_.open) return;
  const bool dipped = flood_.below > 0;
  if (below > 0) flood_.out_s = m.elapsed_s;
  if (below > 0 && !dipped) flood_.left_s = m.elapsed_s;
  flood_.below = std::max(flood_.below, below);
  const bool back = dipped && m.elapsed_s - flood_.out_s >= kBackFor;
  if (!back && m.elapsed_s - flood_.began_s < kDipMost) return;
  flood_.open = false;
  if (!flood_.began_in_band) return;
  ++floods_;
  below_sum_ += flood_.below;
  recovery_sum_ += (flood_.out_s - flood_.left_s) / 60;
}

void Scorer::add(const Moment& m) {
  if (m.elapsed_s < warm_up_s_) {
    last_ = m;
    return;
  }
  if (!any_) {
    any_ = true;
    first_dehumidifier_j_ = m.dehumidifier_j;
    last_ = m;
    return;
  }
  const double below = m.band.low.value - m.vpd_kpa;
  const double above = m.vpd_kpa - m.band.high.value;
  const double out = std::max({below, above, 0.0});
  ++steps_;
  day_steps_ += m.day ? 1 : 0;
  if (out <= 0) {
    ++in_;
    day_in_ += m.day ? 1 : 0;
  }
  if (below > 0) ++(m.day ? humid_ : night_humid_);
  if (above > 0) ++(m.day ? dry_ : night_dry_);
  out_kpa_steps_ += out;
  worst_ = std::max(worst_, out);
  humid_air_ += m.air_percent > 85 ? 1 : 0;
  hot_or_cold_ += m.air_c > m.air_highest_c || m.air_c < m.air_lowest_c ? 1 : 0;
  flagged_ += m.flagged ? 1 : 0;
  energy_j_ += kStepSeconds * (fan_watt(m.fan) + (m.humidifier ? kHumidifierWatt : 0));
  count_switches(m);
  follow_flood(m, below);
  last_ = m;
}

Score Scorer::finish() const {
  Score s;
  const double nights = steps_ - day_steps_;
  const double hours = kStepSeconds / 3600;
  const auto percent = [](double part, double of) { return of > 0 ? 100 * part / of : 100; };
  s.days = steps_ * kStepSeconds / 86400;
  if (s.days <= 0) return s;
  s.in_band = percent(in_, steps_);
  s.in_band_day = percent(day_in_, day_steps_);
  s.in_band_night = percent(in_ - day_in_, nights);
  s.night_humid_h = night_humid_ * hours / s.days;
  s.night_dry_h = night_dry_ * hours / s.days;
  s.too_humid = percent(humid_ + night_humid_, steps_);
  s.too_dry = percent(dry_ + night_dry_, steps_);
  s.out_kpa_h_d = out_kpa_steps_ * hours / s.days;
  s.worst_kpa = worst_;
  s.floods = floods_;
  s.flood_below_kpa = floods_ > 0 ? below_sum_ / floods_ : 0;
  s.flood_recovery_min = floods_ > 0 ? recovery_sum_ / floods_ : 0;
  s.starts_d = starts_ / s.days;
  s.humidifier_starts_d = mist_starts_ / s.days;
  s.fan_moves_d = moves_ / s.days;
  s.kwh_d = (energy_j_ + last_.dehumidifier_j - first_dehumidifier_j_) / 3.6e6 / s.days;
  s.humid_h_d = humid_air_ * hours / s.days;
  s.temperature_h_d = hot_or_cold_ * hours / s.days;
  s.illegal = illegal_;
  s.flagged = percent(flagged_, steps_);
  return s;
}

}  // namespace neap::arena
