#include "daemon/client/commission.h"

#include <algorithm>
#include <cmath>

#include "daemon/client/commission_walk.h"
#include "daemon/client/failure.h"
#include "daemon/client/peek.h"
#include "daemon/core/limits.h"
#include "daemon/core/reason.h"
#include "daemon/words/words.h"

namespace neap::client {
namespace {

using nlohmann::json;

constexpr double kFillLimitOver = 2;  // stop at twice the measured fill, as a learnt one is
constexpr double kDrainLimitOver = 2;

bool is_in_another_hand(const json& output) { return text_at(output, "/hand") == "another"; }

}  // namespace

// How a person makes each contact change, and brings it back.
struct ContactTest {
  ProofTest test;
  bool home_is_set;  // at rest it is under water
  std::string_view away;
  std::string_view home;
};
namespace {

constexpr std::array kContactTests{
    ContactTest{ProofTest::leak_floor, false, "Put the floor probe into a saucer of water.",
                "Dry the probe and its place."},
    ContactTest{ProofTest::leak_rack, false, "Wet the probe under the rack.",
                "Dry the probe and its place."},
    ContactTest{ProofTest::leak_reservoir, false, "Wet the probe by the reservoir.",
                "Dry the probe and its place."},
    ContactTest{ProofTest::tray_high, false, "Lift the overflow float by hand.", "Let it hang."},
    ContactTest{ProofTest::tray_full, false, "Lift the float at the standpipe by hand.",
                "Let it hang."},
    ContactTest{ProofTest::reservoir_low, true,
                "Push the reservoir's float down, as if it were "
                "empty.",
                "Let it swim."},
};

}  // namespace

Commissioned Walk::all() {
  look();
  refuse_what_cannot_be();
  caution();
  try {
    contacts();
    tank();
    outputs();
    flood();
  } catch (const Failure& failure) {
    end_what_runs();
    if (failure.code() != kExitNoDaemon) record();
    throw CommissionEnded(failure, std::move(done_));
  }
  record();
  return std::move(done_);
}

void Walk::look() { status_ = ask_("status", json::object()); }

void Walk::refuse_what_cannot_be() const {
  const json& outputs = list_at(status_, "/outputs");
  if (std::all_of(outputs.begin(), outputs.end(), is_in_another_hand))
    throw Failure(kExitRefused, "these settings observe: neap drives nothing, so nothing shows",
                  "write hand: neap under an output, or mode: control, and `neap apply`; floods "
                  "wait for these tests anyway");
  for (const std::string& name : only_) {
    const auto is_test = [&](const ProofTestInfo& row) { return row.name == name; };
    if (!std::any_of(kProofTests.begin(), kProofTests.end(), is_test) &&
        find_output(name) == nullptr && name != "tank")
      throw Failure(kExitUsage, "no test is called \"" + words::printable(name) + "\"",
                    "such as pump, leak_floor, tray_high, flood, tank, or an output's name");
  }
  for (const std::string& name : only_) {
    const std::string part(name == info(ProofTest::flood).name ? info(Output::pump).name : name);
    if (another_has(part))
      throw Failure(kExitRefused, part + " is in another hand: neap does not switch it to test it",
                    "write hand: neap under outputs." + part + " and `neap apply`, then test it");
  }
  // A latch that stands before any test was set by water, and no test may explain it away.
  for (const std::string& latch : water_latches())
    throw Failure(kExitRefused, "latch " + latch + " stands: it may be a real one",
                  "find its cause and `neap reset " + latch + "` first; nothing was switched");
}

std::vector<std::string> Walk::water_latches() const {
  std::vector<std::string> found;
  for (const json& row : list_at(status_, "/latches"))
    if (const std::string latch = row.value("latch", ""); latch == "leak" || latch == "overflow")
      found.push_back(latch);
  return found;
}

bool Walk::wanted(std::string_view name) const {
  return only_.empty() || std::find(only_.begin(), only_.end(), name) != only_.end();
}
bool Walk::fitted(Output output) const {
  for (const json& row : list_at(status_, "/outputs"))
    if (row.value("output", "") == info(output).name) return !is_in_another_hand(row);
  return false;
}

bool Walk::another_has(std::string_view output) const {
  for (const json& row : list_at(status_, "/outputs"))
    if (row.value("output", "") == output) return is_in_another_hand(row);
  return false;
}

std::optional<double> Walk::value_of(Point point) const {
  for (const json& row : list_at(status_, "/readings"))
    if (row.value("point", "") == info(point).name && row["value"].is_number())
      return row["value"].get<double>();
  return std::nullopt;
}

// What a contact says; none without a reading, or where none is fitted.
std::optional<bool> Walk::is_set(Point point) const {
  const auto value = value_of(point);
  return value ? std::optional(*value == 1) : std::nullopt;
}
bool Walk::has_point(Point point) const {
  for (const json& row : list_at(status_, "/readings"))
    if (row.value("point", "") == info(point).name) return true;
  return false;
}
// A simulated tent asks for no tests: the walk is then an exercise.
bool Walk::asked_for(ProofTest test) const {
  for (const json& row : list_at(status_, "/proofs"))
    if (row.value("test", "") == info(test).name) return true;
  return false;
}

bool Walk::passed_at_neapd(ProofTest test) const {
  for (const json& row : list_at(status_, "/proofs"))
    if (row.value("test", "") == info(test).name) return row.value("passed", false);
  return false;
}

void Walk::finding(std::string_view part, bool passed, std::string remark) {
  done_.findings.push_back({std::string(part), passed, std::move(remark)});
}

// What an output is driven at by now, per mille; none where the daemon does not tell.
std::optional<int> Walk::driven(Output output) {
  look();
  for (const json& row : list_at(status_, "/outputs"))
    if (row.value("output", "") == info(output).name && row.contains("level"))
      return row["level"].get<int>();
  return std::nullopt;
}

// Asks the daemon for something that it may refuse; false, and told, when it does.
bool Walk::try_ask(std::string_view verb, const json& args) {
  try {
    ask_(verb, args);
    return true;
  } catch (const Failure& failure) {
    if (failure.code() != kExitRefused) throw;
    questions_.say(std::string("  neapd refuses: ") + failure.what() +
                   (failure.remedy().empty() ? "" : "; " + failure.remedy()));
    return false;
  }
}
bool Walk::hold(Output output, int percent, int seconds) {
  const bool held = try_ask("hold", {{"output", info(output).name},
                                     {"level", percent * 10},
                                     {"for_s", static_cast<double>(seconds)}});
  if (held) held_ = output;
  return held;
}
void Walk::release(Output output) {
  try_ask("release", {{"output", info(output).name}});
  held_.reset();
}

// Nobody is there any more. What was held ends by itself too, later.
void Walk::end_what_runs() {
  if (flooding_) stop_flood();
  if (!held_) return;
  const std::string title(info(*held_).title);
  try {
    ask_("release", {{"output", info(*held_).name}});
    questions_.say("The " + title + " is no longer held.");
  } catch (const Failure&) {
    questions_.say("The " + title + " could not be released; what is held ends by itself.");
  }
}

// While it drains, or rests, neapd has none to stop: the pump has stood since the soak.
void Walk::stop_flood() {
  try {
    ask_("flood", {{"action", "stop"}});
    questions_.say("The flood is stopped: nobody watches it.");
  } catch (const Failure& failure) {
    const bool none =
        text_at(failure.more(), "/reason/reason") == info(Reason::flood_not_running).key;
    questions_.say(none ? "Nothing is left to stop: the flood's pumping is over."
                        : "The flood could not be stopped: pull the pump's plug.");
  }
}

void Walk::pass(ProofTest test) {
  if (asked_for(test) && !try_ask("proof", {{"test", info(test).name}}))
    return finding(info(test).name, false, "neapd did not see it");
  // neapd keeps no tests for a pump that it does not switch.
  if (another_has(info(Output::pump).name))
    return finding(info(test).name, false,
                   "seen, not recorded: test again once the pump is neap's");
  finding(info(test).name, true);
}

void Walk::caution() {
  questions_.say(
      "Water and mains. Keep a hand on the pump's plug; stand where you can see the floor. "
      "Mains wiring is for a licensed electrician, and your local code has the last word. What "
      "passes here is checked once, by you: software is never the last guard. Ctrl-C ends this, "
      "and with it what is held and a flood under way.");
  if (!questions_.yes("Is a residual-current device (RCD, GFCI) in front of all of it, and are "
                      "supplies and relays above any flood line?"))
    throw Failure(kExitRefused, "water is not tested beside mains that no RCD guards",
                  "fit one first; nothing was switched");
}

// --- floats and probes ------------------------------------------------------------------------

void Walk::contacts() {
  for (const ContactTest& row : kContactTests) {
    const ProofTestInfo& test = info(row.test);
    if (has_point(*test.point) && wanted(test.name)) contact(row);
  }
}

void Walk::contact(const ContactTest& row) {
  const ProofTestInfo& test = info(row.test);
  questions_.say("The " + std::string(info(*test.point).title) + ".");
  if (!comes_to(row, !row.home_is_set, row.away) || !comes_to(row, row.home_is_set, row.home))
    return finding(test.name, false, "neap does not see it: check its cable and its settings");
  pass(row.test);
  reset_latches();
}

// Until the contact says what it should, or the person gives up.
bool Walk::comes_to(const ContactTest& row, bool set, std::string_view what) {
  questions_.wait_for_enter(what);
  const Point point = *info(row.test).point;
  while (true) {
    look();
    if (is_set(point) == set) return true;
    const auto now = is_set(point);
    if (!questions_.yes(std::string("neap reads ") + (now ? (*now ? "set" : "clear") : "nothing") +
                        ", not " + (set ? "set" : "clear") + ". Look again?"))
      return false;
  }
}

// A probe that was wet has latched, as it should; that is reset here once its cause is gone.
void Walk::reset_latches() {
  look();
  for (const std::string& latch : water_latches()) {
    questions_.say("Latch " + latch + " was set by the test, as it should be.");
    while (questions_.yes("Reset it? It takes 10 s of dryness.", "yes") &&
           !try_ask("reset", {{"latch", latch}})) {
    }
  }
}

// --- one flood --------------------------------------------------------------------------------

bool Walk::parts_failed() const {
  return std::any_of(done_.findings.begin(), done_.findings.end(), [](const Finding& one) {
    const auto is_proof = [&](const ProofTestInfo& row) { return row.name == one.part; };
    return !one.passed && std::any_of(kProofTests.begin(), kProofTests.end(), is_proof);
  });
}

void Walk::flood() {
  if (!fitted(Output::pump) || !wanted("flood")) return;
  if (parts_failed()) return finding("flood", false, "left out: a part before it failed");
  questions_.say(
      "One flood, with you beside it: it fills to the float, soaks and drains. Answer no, or type "
      "Ctrl-C, and the pump stops; its plug stops it too.");
  if (!questions_.yes("Ready?", "yes") || !try_ask("flood", {{"action", "start"}}))
    return finding("flood", false, "not started");
  flooding_ = true;
  if (watched()) flood_ended();
  flooding_ = false;
}

// True once neapd says that it is over; false, with its finding, when the person stopped it.
bool Walk::watched() {
  while (true) {
    const bool over = questions_.yes(
        "Has the tray drained, and was no water where it should "
        "not be? (no stops the pump)");
    if (!over) {
      try_ask("flood", {{"action", "stop"}});
      finding("flood", false, "stopped by hand");
      return false;
    }
    look();
    const std::string phase = text_at(status_, "/flood/phase");
    if (phase == "idle" || phase == "rest") return true;
    questions_.say("  neapd is still at: " + phase);
  }
}

void Walk::flood_ended() {
  const auto flood = tent_.last_flood();
  if (!flood || !flood->fill_s || !flood->drain_s)
    return finding("flood", false, "it was not complete; `neap report` says why");
  done_.measured.fill_s = flood->fill_s;
  done_.measured.drain_s = flood->drain_s;
  done_.measured.litres = flood->litres;
  look();
  if (!asked_for(ProofTest::flood) || passed_at_neapd(ProofTest::flood))
    return finding("flood", true);
  const bool blind = has_point(Point::reservoir_level) && !value_of(Point::reservoir_level);
  finding("flood", false,
          blind ? "it ran, and proves nothing: the reservoir's level could not be read, so nothing "
                  "saw the water go and come back; mend the sensor, then flood again"
                : "it ran, and proves nothing: no sensor saw it both fill and drain");
}

// --- what is left of it -----------------------------------------------------------------------

void Walk::record() {
  const CommissionFigures& m = done_.measured;
  json values = json::object();
  const auto rounded_up = [](double value, double step) { return std::ceil(value / step) * step; };
  if (m.fill_s) {
    values["fill_s"] = *m.fill_s;
    const Millis limit = seconds{std::lround(rounded_up(*m.fill_s * kFillLimitOver, 30))};
    done_.settings.push_back("table.fill_limit: " +
                             words::duration(std::min(limit, limits::kFillCeiling)));
  }
  // By bucket and watch before by the flood, whose fill begins before the water does.
  std::optional<double> flow = m.pump_flow_l_per_h;
  if (!flow && m.litres && m.fill_s && *m.fill_s > 0) flow = *m.litres / *m.fill_s * 3600;
  if (flow) {
    values["pump_flow_l_per_h"] = *flow;
    done_.settings.push_back("table.pump_flow: " + std::to_string(std::lround(*flow)) + " L/h");
  }
  if (m.drain_s) {
    values["drain_s"] = *m.drain_s;
    const Millis limit = seconds{std::lround(rounded_up(*m.drain_s * kDrainLimitOver, 60))};
    done_.settings.push_back("table.drain_limit: " +
                             words::duration(std::min(limit, limits::kDrainCeiling)));
  }
  if (m.fan_least_pct) {
    values["fan_least_pct"] = *m.fan_least_pct;
    done_.settings.push_back("outputs.exhaust_fan.floor: " + std::to_string(*m.fan_least_pct) +
                             " %");
  }
  if (!values.empty()) try_ask("measure", {{"values", values}, {"note", "neap commission"}});
}

Commissioned commission(Questions& questions, const AskDaemon& ask, const AtTheTent& tent,
                        const std::vector<std::string>& only) {
  return Walk(questions, ask, tent, only).all();
}

json commissioned_json(const Commissioned& done) {
  json findings = json::array();
  for (const Finding& one : done.findings)
    findings.push_back({{"part", one.part}, {"passed", one.passed}, {"remark", one.remark}});
  const auto or_null = [](const auto& value) { return value ? json(*value) : json(nullptr); };
  return {{"findings", findings},
          {"measured",
           {{"fill_s", or_null(done.measured.fill_s)},
            {"drain_s", or_null(done.measured.drain_s)},
            {"litres", or_null(done.measured.litres)},
            {"pump_flow_l_per_h", or_null(done.measured.pump_flow_l_per_h)},
            {"fan_least_pct", or_null(done.measured.fan_least_pct)}}},
          {"settings", done.settings}};
}

}  // namespace neap::client
