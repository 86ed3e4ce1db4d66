// `neap mix`: litres and millilitres for the reservoir as it is.
#include <algorithm>
#include <array>

#include "daemon/client/failure.h"
#include "daemon/client/journal_ask.h"
#include "daemon/client/measures.h"
#include "daemon/client/mix_view.h"
#include "daemon/client/parse.h"
#include "daemon/client/records_json.h"
#include "daemon/client/stages.h"
#include "daemon/client/verbs.h"
#include "daemon/client/water_away.h"
#include "daemon/words/figures.h"

namespace neap::client {
namespace {

using solution::Feed;

constexpr std::int64_t kFreshMs = Millis{hours{24}}.count();
constexpr int kMostRows = 20'000;  // a day, read every five seconds

// A figure that a person may type, else the journal's newest of a day.
struct Ask {
  std::string_view name;  // as typed
  double lowest, highest;
  std::optional<Point> point;  // of a sensor
  std::string_view quantity;   // by hand
  std::string_view example;
};
constexpr std::array kAsks{
    Ask{"level", 0, 1000, Point::reservoir_level, "level", "level=38"},
    Ask{"ec", 0, 10, Point::solution_ec, "ec", "ec=1.6"},
    Ask{"ph", 2, 12, Point::solution_ph, "ph", "ph=6.3"},
    Ask{"to", 0.5, 1000, std::nullopt, "", "to=50"},
    Ask{"target", 0.1, 12, std::nullopt, "", "target=1.4"},
};

const Ask& ask_of(std::string_view name) {
  return *std::find_if(kAsks.begin(), kAsks.end(), [&](const Ask& a) { return a.name == name; });
}

class Figures {
 public:
  Figures(const Session& session, const std::vector<std::string>& words) {
    for (const std::string& word : words) {
      const std::size_t equals = word.find('=');
      const std::string name = word.substr(0, equals);
      const auto row = std::find_if(kAsks.begin(), kAsks.end(),
                                    [&](const Ask& ask) { return ask.name == name; });
      if (equals == std::string::npos || row == kAsks.end())
        throw Failure(kExitUsage, "\"" + words::printable(word) + "\" is no figure of a mix",
                      "write for instance level=38 ec=1.9 to=50 target=1.4, or ph=6.3 target=5.9");
      typed_.push_back(
          {row, parse_number(name, word.substr(equals + 1), row->lowest, row->highest)});
    }
    std::string error;
    reader_ = journal::Reader::open(session.globals.journal, error);
    if (reader_) newest_ = reader_->last_tick();
  }

  std::optional<Figure> maybe(std::string_view name) {
    const Ask& ask = ask_of(name);
    for (const auto& [row, value] : typed_)
      if (row == &ask) return Figure{value, "typed"};
    if (!newest_ || ask.quantity.empty()) return std::nullopt;
    return recorded(ask);
  }
  Figure need(std::string_view name) {
    if (auto figure = maybe(name)) return *figure;
    const Ask& ask = ask_of(name);
    std::string why = ask.quantity.empty() ? "" : ": the journal has none of the last 24 h";
    if (ask.quantity == "level" && passed_over_)
      why = ": those of the last 24 h are in or just after a flood, and its water comes back";
    throw Failure(kExitUsage, std::string(name) + " is not known" + why,
                  "add " + std::string(ask.example));
  }
  // As typed, else the middle of the band that the stage in force has for it.
  Figure target(const Plan& plan, Hand hand) {
    if (const auto typed = maybe("target")) return *typed;
    const HandInfo& row = info(hand);
    const StagePlan* stage = newest_ ? &stage_now(*reader_, plan) : nullptr;
    const auto& band =
        stage == nullptr ? std::optional<Range>() : stage->solution[static_cast<std::size_t>(hand)];
    if (!band)
      throw Failure(kExitUsage,
                    "target is not known: " +
                        (stage == nullptr ? "there is no journal to tell the stage"
                                          : "stage " + words::printable(stage->name) +
                                                " has no band for " + std::string(row.title)),
                    "add target=" + std::string(hand == Hand::ph ? "5.9" : "1.4") + ", or set " +
                        std::string(row.name) + " for the stage in the settings");
    return {(band->low + band->high) / 2, "the middle of " + hand_band_text(hand, *band) +
                                              ", the band of stage " +
                                              words::printable(stage->name)};
  }
  std::vector<journal::MeasurementRow> by_hand() {
    return newest_ ? reader_->measurements({}) : std::vector<journal::MeasurementRow>();
  }

 private:
  // The newer of sensor and hand.
  std::optional<Figure> recorded(const Ask& ask) {
    std::optional<Figure> found;
    std::int64_t at = *newest_ - kFreshMs;
    std::optional<WaterAway> away;
    if (ask.quantity == "level") away.emplace(*reader_, at);
    const auto counts = [&](std::int64_t tick) {
      if (tick < at) return false;
      const bool missing = away && away->at(tick);
      passed_over_ = passed_over_ || missing;
      return !missing;
    };
    for (const auto& row : reader_->readings(*ask.point, {at, std::nullopt}, 0, kMostRows))
      if (row.value && row.quality != Quality::bad && counts(row.at.tick)) {
        at = row.at.tick;
        found = Figure{*row.value, "by its sensor, " + minute_text(row.at)};
      }
    for (const auto& row : reader_->measurements({at, std::nullopt}))
      if (row.quantity == ask.quantity && counts(row.taken.tick)) {
        at = row.taken.tick;
        found = Figure{row.value, "by hand, " + minute_text(row.taken)};
      }
    return found;
  }

  std::vector<std::pair<const Ask*, double>> typed_;
  std::unique_ptr<journal::Reader> reader_;
  std::optional<std::int64_t> newest_;
  bool passed_over_ = false;  // a level that is not the reservoir's
};

settings::Loaded settings_for(const Session& session) {
  std::string error;
  if (const auto reader = journal::Reader::open(session.globals.journal, error))
    if (auto result = settings::load_text(reader->settings_in_force()); result.loaded)
      return std::move(*result.loaded);
  return load_or_fail(session.globals.settings);
}

std::string figure_of(solution::MixFault fault, double value, const Look& look) {
  switch (fault) {
    case solution::MixFault::weak_water:
      return " (" + words::decimals(value, 2) + " mS/cm)";
    case solution::MixFault::too_much:
    case solution::MixFault::less_than_now:
    case solution::MixFault::too_strong:
      return " (" + words::volume(value, look.style) + ")";
    case solution::MixFault::over_strength:
      return " (" + words::decimals(value, 1) + " doses)";
    case solution::MixFault::no_stocks:
      break;
  }
  return {};
}

[[noreturn]] void refuse(const solution::MixRefusal& refusal, const Look& look) {
  const solution::MixFaultInfo& row = solution::info(refusal.fault);
  const std::string figure =
      refusal.value ? figure_of(refusal.fault, *refusal.value, look) : std::string();
  const bool of_remedy = refusal.fault == solution::MixFault::too_strong;
  throw Failure(kExitRefused, std::string(row.what) + (of_remedy ? "" : figure),
                std::string(row.remedy) + (of_remedy ? figure : ""),
                {{"fault", row.key}, {"value", refusal.value.value_or(0)}});
}

int mix_reservoir(Session& session, Figures& figures, bool top_up) {
  const settings::Loaded loaded = settings_for(session);
  session.look.style.metric = loaded.plan.metric;
  const Feed feed = loaded.feed.value_or(Feed{});
  MixView view;
  view.top_up = top_up;
  view.water_ec = feed.water_ec;
  std::optional<Figure> to = figures.maybe("to");
  if (!to && loaded.build && loaded.build->top_up_l)
    to = Figure{*loaded.build->top_up_l, "build.top_up of the settings"};
  if (!to) to = figures.need("to");
  view.target = figures.target(loaded.plan, Hand::ec);
  const double target = view.target.value;
  solution::Solution now;
  if (top_up) {
    view.level = figures.need("level");
    view.ec = figures.need("ec");
    now = {view.level->value, view.ec->value};
  }
  const auto result =
      solution::top_up(feed, now, to->value, target, loaded.plan.table.reservoir_capacity.value);
  if (const auto* refusal = std::get_if<solution::MixRefusal>(&result))
    refuse(*refusal, session.look);
  view.mix = std::get<solution::Mix>(result);
  session.show(mix_json(view), render_mix(view, session.look, page_width(session.args)));
  return kExitDone;
}

int mix_ph(Session& session, Figures& figures) {
  const settings::Loaded loaded = settings_for(session);
  session.look.style.metric = loaded.plan.metric;
  PhView view;
  view.ph = figures.need("ph");
  view.level = figures.need("level");
  view.target = figures.target(loaded.plan, Hand::ph);
  const double target = view.target.value;
  if (!(target >= 4 && target <= 8))
    throw Failure(kExitUsage, "target is pH " + words::decimals(target, 2) + ", outside 4 to 8",
                  "most crops want 5.5 to 6.5: target=5.9");
  const bool acid = view.ph.value > target;
  view.response =
      solution::ph_response(doses_noted(figures.by_hand(), acid, view.level.value), acid);
  view.step = solution::ph_step(view.response, view.level.value, view.ph.value, target);
  session.show(ph_json(view), render_ph(view, session.look, page_width(session.args)));
  return kExitDone;
}

}  // namespace

int do_mix(Session& session) {
  std::vector<std::string> words = session.args.words;
  const std::string action = words.front();
  words.erase(words.begin());
  Figures figures(session, words);
  if (action == "fresh") return mix_reservoir(session, figures, false);
  if (action == "topup") return mix_reservoir(session, figures, true);
  if (action == "ph") return mix_ph(session, figures);
  throw Failure(kExitUsage, "\"" + words::printable(action) + "\" is nothing to mix",
                "use one of: fresh topup ph");
}

}  // namespace neap::client
