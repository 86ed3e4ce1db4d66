#include "daemon/client/turnover.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "daemon/client/failure.h"
#include "daemon/client/turnover_dose.h"
#include "daemon/core/flood.h"
#include "daemon/words/figures.h"
#include "daemon/words/words.h"

namespace neap::client {
namespace {

using nlohmann::json;

constexpr std::string_view kSkipped = "skipped";
// Between two floods of the disinfection the tray dries, and dry chlorine does nothing (common
// practice, no source). Where table.min_gap lets no flood come in time, a sponge keeps it wet.
constexpr Millis kWetFor = minutes{30};
constexpr Millis kLateBy = minutes{15};       // a person, after min_gap
constexpr Millis kStartsWithin = minutes{2};  // from the diary's row to the cycle's
constexpr Millis kOld = hours{24};

class TurnoverWalk {
 public:
  TurnoverWalk(Questions& questions, const AskDaemon& ask, const TurnoverTent& tent,
               const TurnoverRecord& record)
      : questions_(questions), ask_(ask), tent_(tent), record_(record) {}
  const TurnoverRecord& record() const { return record_; }

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
  void resume();
  void ask_whether_over();
  void measure_out();
  void renew_dose();
  std::vector<FloodSpan> bleach_floods() const;
  void leave_disinfection();
  bool flood(std::string_view row, std::string_view what);
  bool start_flood();
  bool watch_flood();
  void stop_flood();
  std::vector<FloodSpan> floods_of(std::string_view row, std::int64_t since_unix_ms) const;
  Millis longest_pause() const { return std::max(kWetFor, tent_.min_gap + kLateBy); }
  Millis wet_for(const std::vector<FloodSpan>& floods) const;

  Questions& questions_;
  const AskDaemon& ask_;
  const TurnoverTent& tent_;
  TurnoverRecord record_;
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

void TurnoverWalk::note(std::string_view step, std::string_view mark, const std::string& says,
                        std::optional<double> figure) {
  tent_.tell(step, mark, figure, says);
  journal::DiaryRow row;
  row.happened.unix_ms = tent_.now_unix_ms();
  row.subject = step;
  row.mark = mark;
  row.says = says;
  record_.take(row);
}

void TurnoverWalk::skip(std::string_view step, const std::string& what) {
  questions_.choose("Leave out " + what + ", or stop here and go on later? (skip or stop)",
                    {"skip", "stop"});
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
  questions_.say(
      "Between grows: archive, empty, disinfect, rinse, probes, proofs, baselines. You stay at the "
      "tent while water moves. Ctrl-C or `stop` ends it; `neap turnover` goes on from there.");
  if (record_.under_way) resume();
  if (record_.under_way) return;
  ask_whether_over();
  if (!questions_.yes("Shall the programme stand at stage " + tent_.fallow_stage +
                      ", without light and floods?"))
    throw Failure(kExitRefused, "the programme goes on as it is",
                  "turn over when its plants are out");
  // The stage first: where it cannot be entered nothing was told, and the grow goes on.
  ask_("stage", {{"name", tent_.fallow_stage}});
  if (!tent_.grow.empty()) tent_.end_grow();
  note(kTurnoverBegin, kDone, tent_.grow);
}

void TurnoverWalk::ask_whether_over() {
  if (tent_.grow.empty()) return;
  if (!questions_.yes("Grow " + tent_.grow + " is under way. Has it ended?"))
    throw Failure(kExitRefused, "grow " + tent_.grow + " is under way",
                  "turn over when its plants are out");
}

// Leaves the record as it is, or empty where it is to begin anew. Bleach is never forgotten.
void TurnoverWalk::resume() {
  const Millis age{tent_.now_unix_ms() - record_.began_unix_ms};
  questions_.say("A turnover was begun " + words::duration(age) + " ago.");
  if (age > kOld && !record_.wants_rinse() &&
      questions_.choose("It is old: begin anew, or go on where it was left? (anew or on)",
                        {"anew", "on"}, "anew") == "anew") {
    record_ = {};
    return;
  }
  questions_.say("The turnover goes on where it was left.");
  be_fallow(status());
  ask_whether_over();
  if (record_.told("empty") != nullptr && !questions_.yes("Are all plants out?"))
    throw Failure(kExitRefused, "plants are in the tent", "take them out, then neap turnover");
  if (!tent_.grow.empty()) tent_.end_grow();
}

// A flood by the operator's own request, watched to its end; one that is under way is watched, too.
// False when it was not wanted, or leaked. The diary has it before the pump has.
bool TurnoverWalk::flood(std::string_view row, std::string_view what) {
  be_fallow(status());
  const std::string phase = status().value("flood", json::object()).value("phase", "");
  if (phase != words::name(FloodPhase::idle) && phase != words::name(FloodPhase::rest)) {
    questions_.say("A flood is under way.");
    return watch_flood();
  }
  if (!questions_.yes("You are at the tent, and " + std::string(what) + ". Flood now?"))
    return false;
  note(row, kDone, "");
  return !start_flood() || watch_flood();
}

// False when neapd refused, mostly for table.min_gap: then it is told and waited for.
bool TurnoverWalk::start_flood() {
  try {
    ask_("flood", {{"action", "start"}});
    return true;
  } catch (const Failure& refused) {
    if (refused.code() != kExitRefused) throw;
    questions_.say("  Not yet: " + std::string(refused.what()) + "; " + refused.remedy());
    const json at = status().value("flood", json::object());
    if (at.value("phase", "") == words::name(FloodPhase::rest)) {
      const Millis rested = std::chrono::seconds{at.value("since_s", std::int64_t{0})};
      const Millis left = std::max(tent_.min_gap - rested, Millis{0});
      questions_.say("  A flood may start from " + tent_.clock(tent_.now_unix_ms() + left.count()) +
                     ".");
    }
    questions_.wait_for_enter("  Go on when it is time, or stop:");
    return false;
  }
}

bool TurnoverWalk::watch_flood() {
  while (true) {
    std::string seen;
    try {
      seen = questions_.choose(
          "Has the tray drained? (drained, wait: not yet, leak: water where it should not be, "
          "stop: stops the pump and the walk)",
          {"drained", "wait", "leak", "stop"});
    } catch (const Failure&) {
      stop_flood();  // nobody watches it any more
      throw;
    }
    if (seen == "leak") {
      stop_flood();
      return false;
    }
    const std::string phase = status().value("flood", json::object()).value("phase", "");
    if (seen == "drained" &&
        (phase == words::name(FloodPhase::idle) || phase == words::name(FloodPhase::rest)))
      return true;
    questions_.say("  neapd is at: " + words::printable(phase));
  }
}

// While it drains or rests there is nothing to stop, and neapd says so.
void TurnoverWalk::stop_flood() {
  try {
    ask_("flood", {{"action", "stop"}});
  } catch (const Failure& refused) {
    questions_.say("  " + std::string(refused.what()));
  }
}

// Those that the walk started itself; others may have been of anything.
std::vector<FloodSpan> TurnoverWalk::floods_of(std::string_view row,
                                               std::int64_t since_unix_ms) const {
  std::vector<FloodSpan> own;
  for (const FloodSpan& span : tent_.floods(since_unix_ms))
    for (const journal::DiaryRow& told : record_.steps) {
      const std::int64_t after = span.from_unix_ms - told.happened.unix_ms.value_or(0);
      if (told.subject != row || after < 0 || after > kStartsWithin.count()) continue;
      own.push_back(span);
      break;
    }
  return own;
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

void TurnoverWalk::measure_out() {
  note(kDose, kDone, asked_dose(questions_, tent_.settings, tent_.reservoir_l));
}

// The dose was told another time: it may be wrong, never poured in, or decayed since.
void TurnoverWalk::renew_dose() {
  const journal::DiaryRow& dose = *record_.told(kDose);
  const Millis age{tent_.now_unix_ms() - dose.happened.unix_ms.value_or(0)};
  if (age > kOld)
    questions_.say("The bleach was measured out " + words::duration(age) +
                   " ago, and in water it decays in about a day.");
  else if (questions_.yes("Is this what is in the reservoir: " + dose.says + "?"))
    return;
  if (!questions_.yes("Never a second dose on top of the first: empty reservoir and tray, to the "
                      "drain as local rules allow. Are they empty?"))
    throw Failure(kExitRefused, "the old mix is in the reservoir",
                  "empty reservoir and tray, then neap turnover");
  measure_out();
}

void TurnoverWalk::disinfect() {
  const settings::Turnover& s = tent_.settings;
  if (!record_.done("empty")) {
    questions_.say("No bleach where old solution and plants were not taken out: left out.");
    return note("disinfect", kSkipped, "the emptying was left out");
  }
  if (!record_.done(kDose))
    measure_out();
  else if (wet_for(bleach_floods()) < s.contact)
    renew_dose();
  const std::string dose = record_.told(kDose)->says;
  while (true) {
    const auto floods = bleach_floods();
    const Millis wet = wet_for(floods);
    if (wet >= s.contact)
      return note("disinfect", kDone, dose + ", " + std::to_string(floods.size()) + " floods",
                  std::floor(static_cast<double>(wet.count()) / 60'000));
    if (!floods.empty())
      questions_.say("  Wet for " + words::duration(wet) + " of " + words::duration(s.contact) +
                     "; flood again within " + words::duration(longest_pause()) +
                     ", or it counts anew. What dries before, wet with a sponge of the same "
                     "water, with gloves.");
    if (!flood(kBleachFlood, "there is bleach in the water (" + dose + ")"))
      return leave_disinfection();
  }
}

// Those with the dose that was told last; what was flooded with another mix does not count.
std::vector<FloodSpan> TurnoverWalk::bleach_floods() const {
  return floods_of(kBleachFlood, record_.told(kDose)->happened.unix_ms.value_or(0));
}

// A dose that was measured out wants its rinse, flooded or not; only a plain no lifts that, and it
// is written down.
void TurnoverWalk::leave_disinfection() {
  if (record_.told(kBleachFlood) == nullptr &&
      !questions_.yes("Was any bleach poured in since this turnover began?"))
    note(kDose, kSkipped, "no bleach was poured in");
  skip("disinfect", "the rest of the disinfection");
}

// The longest time over which no pause between two floods let the tray dry.
Millis TurnoverWalk::wet_for(const std::vector<FloodSpan>& floods) const {
  std::int64_t longest = 0;
  std::int64_t from = 0;
  std::int64_t drained = 0;
  for (const FloodSpan& span : floods) {
    if (longest == 0 || span.from_unix_ms - drained > longest_pause().count())
      from = span.from_unix_ms;
    drained = span.to_unix_ms;
    longest = std::max(longest, drained - from);
  }
  return Millis{longest};
}

void TurnoverWalk::rinse() {
  questions_.say(
      "Empty reservoir and tray, to the drain as local rules allow. Fill the reservoir with clean "
      "water before each of " +
      std::to_string(tent_.settings.rinses) + " floods, and empty it after each.");
  const auto wanted = static_cast<std::size_t>(tent_.settings.rinses);
  while (true) {
    const std::size_t made = floods_of(kRinseFlood, record_.began_unix_ms).size();
    if (made >= wanted) return note("rinse", kDone, "", static_cast<double>(made));
    if (flood(kRinseFlood,
              "there is clean water in the reservoir, rinse " + std::to_string(made + 1)))
      continue;
    if (!record_.wants_rinse()) return skip("rinse", "the rest of the rinsing");
    throw Failure(kExitRefused, "there was bleach in the reservoir, and the rinsing is not over",
                  "it cannot be left out; `neap turnover` goes on there");
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
                         made["at_unix_ms"].get<std::int64_t>() >= record_.began_unix_ms;
      if (!fresh) left += (left.empty() ? "" : ", ") + words::printable(one.value("probe", ""));
    }
    if (left.empty()) return note("probes", kDone, "");
    questions_.say("  Not calibrated since the turnover began: " + left + ".");
    if (!questions_.yes("Calibrated by now?")) return skip("probes", "the calibration of " + left);
  }
}

void TurnoverWalk::proofs() {
  if (status().value("proofs", json::array()).empty())
    return note("proofs", kSkipped, "none asked for");
  while (true) {
    std::string left;
    for (const json& one : status().value("proofs", json::array())) {
      const json at = one.value("at_unix_ms", json());
      const bool fresh = one.value("passed", false) && at.is_number_integer() &&
                         at.get<std::int64_t>() >= record_.began_unix_ms;
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
      if (!tent_.measured(quantity, record_.began_unix_ms))
        left += (left.empty() ? "" : ", ") + std::string(title);
    if (left.empty()) return note("baselines", kDone, "");
    questions_.say("Not measured since the turnover began: " + left +
                   ". `neap commission flood` takes fill and drain of a flood, `neap commission "
                   "pump` the flow by bucket and watch.");
    if (!questions_.yes("Measured by now?")) return skip("baselines", left);
  }
}

void TurnoverWalk::end() {
  std::string left;
  for (const TurnoverStep& step : turnover_steps(record_))
    if (step.mark == kSkipped) left += (left.empty() ? "" : ", ") + std::string(step.step);
  note(kTurnoverEnd, kDone, "");
  if (!left.empty()) questions_.say("Left out: " + left + ".");
  questions_.say(
      "Turned over. Next: `neap grow start NAME CROP`, and `neap stage` for its first "
      "stage.");
}

}  // namespace

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
  questions.end_at("stop");
  TurnoverWalk walk(questions, ask, tent, record);
  walk.begin();
  for (const Step& row : kSteps) {
    const bool rinses = row.name == "rinse" && walk.record().wants_rinse();
    if (walk.record().told(row.name) != nullptr && !rinses) continue;
    questions.say("\n" + std::string(row.name));
    (walk.*row.walk)();
  }
  walk.end();
}

}  // namespace neap::client
