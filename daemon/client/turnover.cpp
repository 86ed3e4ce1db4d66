#include <array>
#include <cmath>

#include "daemon/client/failure.h"
#include "daemon/client/turnover_dose.h"
#include "daemon/client/turnover_walk.h"
#include "daemon/words/figures.h"
#include "daemon/words/words.h"

namespace neap::client {
namespace {

using nlohmann::json;

constexpr std::string_view kSkipped = "skipped";
constexpr Millis kOld = hours{24};

struct Step {
  std::string_view name;
  void (TurnoverWalk::*walk)();
  std::string_view unit{};  // of its figure
};
constexpr std::array kSteps{
    Step{"archive", &TurnoverWalk::archive},
    Step{"empty", &TurnoverWalk::empty},
    Step{"disinfect", &TurnoverWalk::disinfect, "min wet"},
    Step{"rinse", &TurnoverWalk::rinse, "floods"},
    Step{"probes", &TurnoverWalk::probes},
    Step{"proofs", &TurnoverWalk::proofs},
    Step{"baselines", &TurnoverWalk::baselines},
};

}  // namespace

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

// A dose that was measured out wants its rinse, flooded or not; only a plain no lifts that, and it
// is written down.
void TurnoverWalk::leave_disinfection() {
  if (record_.told(kBleachFlood) == nullptr &&
      !questions_.yes("Was any bleach poured in since this turnover began?"))
    note(kDose, kSkipped, "no bleach was poured in");
  skip("disinfect", "the rest of the disinfection");
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
    if (step.told && step.told->mark == kSkipped)
      left += (left.empty() ? "" : ", ") + std::string(step.step);
  note(kTurnoverEnd, kDone, "");
  if (!left.empty()) questions_.say("Left out: " + left + ".");
  questions_.say(
      "Turned over. Next: `neap grow start NAME CROP`, and `neap stage` for its first "
      "stage.");
}

std::vector<TurnoverStep> turnover_steps(const TurnoverRecord& record) {
  std::vector<TurnoverStep> steps;
  for (const Step& row : kSteps) {
    const journal::DiaryRow* told = record.told(row.name);
    TurnoverStep step;
    step.step = row.name;
    step.unit = row.unit;
    if (told) step.told = *told;
    steps.push_back(std::move(step));
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
