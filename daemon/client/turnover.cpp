#include "daemon/client/turnover.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "daemon/client/failure.h"
#include "daemon/core/flood.h"
#include "daemon/words/figures.h"
#include "daemon/words/words.h"

namespace neap::client {
namespace {

using nlohmann::json;

constexpr std::string_view kDone = "done";
constexpr std::string_view kSkipped = "skipped";
// Between two floods of the disinfection the tray dries, and dry chlorine does nothing (common
// practice, no source).
constexpr Millis kWetFor = minutes{30};

class TurnoverWalk {
 public:
  TurnoverWalk(Questions& questions, const AskDaemon& ask, const TurnoverTent& tent,
               const TurnoverRecord& record)
      : questions_(questions), ask_(ask), tent_(tent), record_(record) {}

  void begin();
  void end();

  // The steps, in their order; kSteps below.
  void archive();
  void empty();
  void disinfect();
  void rinse();
  void probes();
  void proofs();
  void baselines();

 private:
  json status() const { return ask_("status", json::object()); }
  void be_fallow(const json& seen) const;
  void note(std::string_view step, std::string_view mark, const std::string& says,
            std::optional<double> figure = {});
  void skip(std::string_view step, const std::string& what);
  bool flood(std::string_view what);
  Millis wet_for(const std::vector<FloodSpan>& floods) const;

  Questions& questions_;
  const AskDaemon& ask_;
  const TurnoverTent& tent_;
  const TurnoverRecord& record_;
  std::int64_t began_unix_ms_ = 0;
  std::int64_t step_since_unix_ms_ = 0;  // of the step before
};

struct Step {
  std::string_view name;
  void (TurnoverWalk::*walk)();
};
constexpr std::array kSteps{
    Step{"archive", &TurnoverWalk::archive},     Step{"empty", &TurnoverWalk::empty},
    Step{"disinfect", &TurnoverWalk::disinfect}, Step{"rinse", &TurnoverWalk::rinse},
    Step{"probes", &TurnoverWalk::probes},       Step{"proofs", &TurnoverWalk::proofs},
    Step{"baselines", &TurnoverWalk::baselines},
};

std::string litres_text(double litres) { return words::decimals(litres, 0) + " L"; }

void TurnoverWalk::note(std::string_view step, std::string_view mark, const std::string& says,
                        std::optional<double> figure) {
  tent_.tell(step, mark, figure, says);
  step_since_unix_ms_ = tent_.now_unix_ms();
}

void TurnoverWalk::skip(std::string_view step, const std::string& what) {
  const std::string answer =
      questions_.choose("Leave out " + what + ", or stop here and go on later?", {"skip", "stop"});
  if (answer == "stop")
    throw Failure(kExitRefused, "stopped at step " + std::string(step),
                  "`neap turnover` goes on there; no flood of the programme starts meanwhile");
  note(step, kSkipped,
       questions_.ask("Why is it left out:", "", [](const std::string&) { return std::string(); }));
}

void TurnoverWalk::be_fallow(const json& seen) const {
  const std::string stage = seen.value("stage", json::object()).value("name", "");
  if (stage == tent_.fallow_stage) return;
  throw Failure(
      kExitRefused,
      "stage " + words::printable(stage) + " is in force, and its floods would start among this",
      "enter the fallow stage: neap stage " + tent_.fallow_stage +
          ", then go on with neap turnover");
}

void TurnoverWalk::begin() {
  if (tent_.fallow_stage.empty())
    throw Failure(
        kExitRefused,
        "the programme has no fallow stage, so that its floods would start among this",
        "add a stage with `fallow: true` at the end of programme.stages, then neap apply");
  if (record_.under_way) {
    questions_.say("The turnover goes on where it was left.");
    be_fallow(status());
    began_unix_ms_ = record_.began_unix_ms;
    step_since_unix_ms_ = record_.last_unix_ms();
    return;
  }
  questions_.say(
      "Between grows: archive, empty, disinfect, rinse, probes, proofs, baselines. You stay at the "
      "tent while water moves. Ctrl-C or `stop` ends it; `neap turnover` goes on from there.");
  if (!tent_.grow.empty()) {
    if (!questions_.yes("Grow " + tent_.grow + " is under way. Has it ended?"))
      throw Failure(kExitRefused, "grow " + tent_.grow + " is under way",
                    "turn over when its plants are out");
    tent_.end_grow();
  }
  if (!questions_.yes("Shall the programme stand at stage " + tent_.fallow_stage +
                      ", without light and floods?"))
    throw Failure(kExitRefused, "the programme goes on as it is",
                  "turn over when its plants are out");
  ask_("stage", {{"name", tent_.fallow_stage}});
  began_unix_ms_ = tent_.now_unix_ms();
  note(kTurnoverBegin, kDone, tent_.grow);
}

// A flood by the operator's own request, watched to its end. False when the person ended it.
bool TurnoverWalk::flood(std::string_view what) {
  be_fallow(status());
  if (!questions_.yes("You are at the tent, and " + std::string(what) + ". Flood now?"))
    return false;
  ask_("flood", {{"action", "start"}});
  while (true) {
    bool well = false;
    try {
      well = questions_.yes(
          "Has the tray drained, and was no water where it should not be? (no stops the pump)");
    } catch (const Failure&) {
      ask_("flood", {{"action", "stop"}});  // nobody watches it any more
      throw;
    }
    if (!well) {
      ask_("flood", {{"action", "stop"}});
      return false;
    }
    const std::string phase = status().value("flood", json::object()).value("phase", "");
    if (phase == words::name(FloodPhase::idle) || phase == words::name(FloodPhase::rest))
      return true;
    questions_.say("  neapd is still at: " + words::printable(phase));
  }
}

void TurnoverWalk::archive() {
  const std::string fallback = (tent_.grow.empty() ? "tent" : tent_.grow) + "-journal.db";
  const std::string path =
      questions_.ask("Copy the journal to which new file? (none leaves it out)", fallback,
                     [](const std::string&) { return std::string(); });
  if (path == "none") return skip("archive", "the copy");
  const std::string what = tent_.archive(path);
  questions_.say("  " + what);
  note("archive", kDone, what);
}

void TurnoverWalk::empty() {
  questions_.say(
      "Take out plants and medium. Empty reservoir and tray, wipe off roots and slime, clean "
      "strainer and standpipe. Take the pH and EC probes out and keep them wet: chlorine harms "
      "them.");
  if (!questions_.yes("Is all of that done?")) return skip("empty", "the emptying");
  note("empty", kDone, "");
}

void TurnoverWalk::disinfect() {
  const settings::Turnover& s = tent_.settings;
  const double ml = bleach_ml(s, tent_.reservoir_l);
  questions_.say("Fill the reservoir with water, and add " +
                 words::decimals(s.chlorine_mg_per_l / (10 * s.bleach_pct), 1) +
                 " mL of bleach to each litre: " + words::decimals(ml, 0) + " mL to " +
                 litres_text(tent_.reservoir_l) + ". That is " +
                 words::decimals(s.chlorine_mg_per_l, 0) + " mg/L of free chlorine from " +
                 words::decimals(s.bleach_pct, 1) +
                 " % bleach. Gloves, glasses, an open window; never bleach together with acid or "
                 "pH down: that gives off chlorine gas.");
  while (true) {
    const auto floods = tent_.floods(step_since_unix_ms_);
    const Millis wet = wet_for(floods);
    if (wet >= s.contact)
      return note("disinfect", kDone,
                  words::decimals(s.chlorine_mg_per_l, 0) + " mg/L, " +
                      std::to_string(floods.size()) + " floods",
                  std::floor(static_cast<double>(wet.count()) / 60'000));
    if (!floods.empty())
      questions_.say("  Wet for " + words::duration(wet) + " of " + words::duration(s.contact) +
                     "; flood again within " + words::duration(kWetFor) + ", or it counts anew.");
    if (!flood("there is bleach in the water")) return skip("disinfect", "the disinfection");
  }
}

// The longest time over which no pause between two floods let the tray dry.
Millis TurnoverWalk::wet_for(const std::vector<FloodSpan>& floods) const {
  std::int64_t longest = 0;
  std::int64_t from = 0;
  std::int64_t drained = 0;
  for (const FloodSpan& span : floods) {
    if (longest == 0 || span.from_unix_ms - drained > kWetFor.count()) from = span.from_unix_ms;
    drained = span.to_unix_ms;
    longest = std::max(longest, drained - from);
  }
  return Millis{longest};
}

void TurnoverWalk::rinse() {
  questions_.say("Empty reservoir and tray. Fill the reservoir with clean water before each of " +
                 std::to_string(tent_.settings.rinses) + " floods, and empty it after each.");
  const auto wanted = static_cast<std::size_t>(tent_.settings.rinses);
  while (true) {
    const std::size_t made = tent_.floods(step_since_unix_ms_).size();
    if (made >= wanted) return note("rinse", kDone, "", static_cast<double>(made));
    if (!flood("there is clean water in the reservoir, rinse " + std::to_string(made + 1)))
      return skip("rinse", "the rest of the rinsing");
  }
}

void TurnoverWalk::probes() {
  questions_.say(
      "Clean the probes and put them back. Calibrate in another shell: `neap calibrate ph 7=... "
      "4=...`, `neap calibrate ec 1413=...`.");
  while (true) {
    std::string left;
    for (const json& one :
         ask_("calibrations", json::object()).value("calibrations", json::array())) {
      if (!one.value("fitted", false)) continue;
      const json made = one.value("in_force", json());
      const bool fresh = made.is_object() && made.value("at_unix_ms", json()).is_number_integer() &&
                         made["at_unix_ms"].get<std::int64_t>() >= began_unix_ms_;
      if (!fresh) left += (left.empty() ? "" : ", ") + words::printable(one.value("probe", ""));
    }
    if (left.empty()) return note("probes", kDone, "");
    questions_.say("  Not calibrated since the turnover began: " + left + ".");
    if (!questions_.yes("Calibrated by now?")) return skip("probes", "the calibration of " + left);
  }
}

void TurnoverWalk::proofs() {
  while (true) {
    std::string left;
    for (const json& one : status().value("proofs", json::array())) {
      const json at = one.value("at_unix_ms", json());
      const bool fresh = one.value("passed", false) && at.is_number_integer() &&
                         at.get<std::int64_t>() >= began_unix_ms_;
      if (!fresh) left += (left.empty() ? "" : " ") + words::printable(one.value("test", ""));
    }
    if (left.empty()) return note("proofs", kDone, "");
    questions_.say(
        "Leak probes, floats, pump and one flood want to be seen to work before plants "
        "stand here. In another shell: `neap commission " +
        left + "`.");
    if (!questions_.yes("Passed by now?")) return skip("proofs", "the tests of " + left);
  }
}

void TurnoverWalk::baselines() {
  constexpr std::array<std::pair<std::string_view, std::string_view>, 3> kBaselines{
      {{"fill", "fill"}, {"drain", "drain"}, {"pump_flow", "pump flow"}}};
  while (true) {
    std::string left;
    for (const auto& [quantity, title] : kBaselines)
      if (!tent_.measured(quantity, began_unix_ms_))
        left += (left.empty() ? "" : ", ") + std::string(title);
    if (left.empty()) return note("baselines", kDone, "");
    questions_.say("Not measured since the turnover began: " + left +
                   ". `neap commission flood` takes fill and drain of a flood, `neap commission "
                   "pump` the flow by bucket and watch.");
    if (!questions_.yes("Measured by now?")) return skip("baselines", left);
  }
}

void TurnoverWalk::end() {
  note(kTurnoverEnd, kDone, "");
  questions_.say(
      "Turned over. Next: `neap grow start NAME CROP`, and `neap stage` for its first "
      "stage.");
}

}  // namespace

const journal::DiaryRow* TurnoverRecord::told(std::string_view step) const {
  const auto found = std::find_if(steps.rbegin(), steps.rend(),
                                  [&](const auto& row) { return row.subject == step; });
  return found == steps.rend() ? nullptr : &*found;
}

std::int64_t TurnoverRecord::last_unix_ms() const {
  return steps.empty() ? began_unix_ms : steps.back().happened.unix_ms.value_or(began_unix_ms);
}

void TurnoverRecord::take(const journal::DiaryRow& row) {
  if (row.subject == kTurnoverBegin)
    *this = {true, row.happened.unix_ms.value_or(0), {}};
  else if (row.subject == kTurnoverEnd)
    under_way = false;
  else
    steps.push_back(row);
}

TurnoverRecord turnover_of(const std::vector<journal::DiaryRow>& diary) {
  TurnoverRecord record;
  for (const journal::DiaryRow& row : diary)
    if (row.kind == "turnover") record.take(row);
  return record;
}

double bleach_ml(const settings::Turnover& settings, double litres) {
  return litres * settings.chlorine_mg_per_l / (10 * settings.bleach_pct);
}

std::vector<TurnoverStep> turnover_steps(const TurnoverRecord& record) {
  std::vector<TurnoverStep> steps;
  for (const Step& row : kSteps) {
    const journal::DiaryRow* told = record.told(row.name);
    steps.push_back({row.name, told ? told->mark : "", told ? told->says : ""});
  }
  return steps;
}

void turn_over(Questions& questions, const AskDaemon& ask, const TurnoverTent& tent,
               const TurnoverRecord& record) {
  TurnoverWalk walk(questions, ask, tent, record);
  walk.begin();
  for (const Step& row : kSteps) {
    if (record.under_way && record.told(row.name) != nullptr) continue;
    questions.say("\n" + std::string(row.name));
    (walk.*row.walk)();
  }
  walk.end();
}

}  // namespace neap::client
