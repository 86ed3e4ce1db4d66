#include "daemon/client/commission.h"

#include <algorithm>
#include <cmath>

#include "daemon/client/failure.h"
#include "daemon/client/peek.h"
#include "daemon/core/limits.h"
#include "daemon/words/words.h"

namespace neap::client {
namespace {

using nlohmann::json;

constexpr int kHoldSeconds = 10;        // of the pump: long enough to see, a few litres at most
constexpr int kApplianceSeconds = 120;  // long enough to pull a plug and put it back
constexpr int kFanSeconds = 300;
constexpr int kCompressorSeconds = 900;  // outlasts its rest time, usually 5 min, around a pull
constexpr int kFanStep = 5;              // percent
constexpr double kFillLimitOver = 2;     // stop at twice the measured fill, as a learnt one is
constexpr double kDrainLimitOver = 2;

// How a person makes each contact change, and brings it back.
struct ContactTest {
  ProofTest test;
  bool home_is_set;  // at rest it is under water
  std::string_view away;
  std::string_view home;
};
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

class Walk {
 public:
  Walk(Questions& questions, const AskDaemon& ask, const LastFlood& last_flood,
       const std::vector<std::string>& only)
      : questions_(questions), ask_(ask), last_flood_(last_flood), only_(only) {}

  Commissioned all() {
    status_ = ask_("status", json::object());
    refuse_what_cannot_be();
    caution();
    contacts();  // probes and floats before the pump that they guard against
    outputs();
    flood();
    record();
    return std::move(done_);
  }

 private:
  void refuse_what_cannot_be() const {
    if (text_at(status_, "/mode") == "observe")
      throw Failure(kExitRefused, "these settings observe: neap drives nothing, so nothing shows",
                    "write mode: control and `neap apply`; floods wait for these tests anyway");
    for (const std::string& name : only_) {
      const auto is_test = [&](const ProofTestInfo& row) { return row.name == name; };
      if (!std::any_of(kProofTests.begin(), kProofTests.end(), is_test) &&
          find_output(name) == nullptr)
        throw Failure(kExitUsage, "no test is called \"" + words::printable(name) + "\"",
                      "such as pump, leak_floor, tray_high, flood, or an output's name");
    }
    // A latch that stands before any test was set by water, and no test may explain it away.
    for (const std::string& latch : water_latches())
      throw Failure(kExitRefused, "latch " + latch + " stands: it may be a real one",
                    "find its cause and `neap reset " + latch + "` first; nothing was switched");
  }

  std::vector<std::string> water_latches() const {
    std::vector<std::string> found;
    for (const json& row : list_at(status_, "/latches"))
      if (const std::string latch = row.value("latch", ""); latch == "leak" || latch == "overflow")
        found.push_back(latch);
    return found;
  }

  bool wanted(std::string_view name) const {
    return only_.empty() || std::find(only_.begin(), only_.end(), name) != only_.end();
  }
  bool fitted(Output output) const {
    for (const json& row : list_at(status_, "/outputs"))
      if (row.value("output", "") == info(output).name) return true;
    return false;
  }
  // What a contact says; none without a reading, or where none is fitted.
  std::optional<bool> is_set(Point point) const {
    for (const json& row : list_at(status_, "/readings"))
      if (row.value("point", "") == info(point).name && row["value"].is_number())
        return row["value"].get<double>() == 1;
    return std::nullopt;
  }
  bool has_point(Point point) const {
    for (const json& row : list_at(status_, "/readings"))
      if (row.value("point", "") == info(point).name) return true;
    return false;
  }
  // A simulated tent asks for no tests: the walk is then an exercise.
  bool asked_for(ProofTest test) const {
    for (const json& row : list_at(status_, "/proofs"))
      if (row.value("test", "") == info(test).name) return true;
    return false;
  }

  void finding(std::string_view part, bool passed, std::string remark = {}) {
    done_.findings.push_back({std::string(part), passed, std::move(remark)});
  }

  // What an output is driven at by now, per mille; none where the daemon does not tell.
  std::optional<int> driven(Output output) {
    status_ = ask_("status", json::object());
    for (const json& row : list_at(status_, "/outputs"))
      if (row.value("output", "") == info(output).name && row.contains("level"))
        return row["level"].get<int>();
    return std::nullopt;
  }

  // Asks the daemon for something that it may refuse; false, and told, when it does.
  bool try_ask(std::string_view verb, const json& args) {
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
  bool hold(Output output, int percent, int seconds) {
    return try_ask("hold", {{"output", info(output).name},
                            {"level", percent * 10},
                            {"for_s", static_cast<double>(seconds)}});
  }
  void release(Output output) { try_ask("release", {{"output", info(output).name}}); }

  void pass(ProofTest test) {
    if (asked_for(test) && !try_ask("proof", {{"test", info(test).name}}))
      return finding(info(test).name, false, "neapd did not see it");
    finding(info(test).name, true);
  }

  void caution() {
    questions_.say(
        "Water and mains. Keep a hand on the pump's plug; stand where you can see the floor. "
        "Mains wiring is for a licensed electrician, and your local code has the last word. What "
        "passes here is checked once, by you: software is never the last guard. Ctrl-C ends this; "
        "what is held ends by itself within " +
        std::to_string(kCompressorSeconds / 60) +
        " minutes, but a flood goes on: answer no to stop it.");
    if (!questions_.yes("Is a residual-current device (RCD, GFCI) in front of all of it, and are "
                        "supplies and relays above any flood line?"))
      throw Failure(kExitRefused, "water is not tested beside mains that no RCD guards",
                    "fit one first; nothing was switched");
  }

  // --- outputs ----------------------------------------------------------------------------------

  void outputs() {
    for (const OutputInfo& row : kOutputs) {
      if (!fitted(row.output) || !wanted(row.name)) continue;
      if (row.output == Output::pump_series || row.output == Output::sensor_rail) continue;
      if (row.output == Output::pump)
        pump();
      else if (row.output == Output::drain_valve)
        drain_valve();
      else
        appliance(row);
    }
  }

  void pump() {
    questions_.say("The pump, for " + std::to_string(kHoldSeconds) +
                   " s. Reservoir over its intake, tray empty, hose fast.");
    if (!questions_.yes("Ready?", "yes")) return finding("pump", false, "not run");
    // Before it runs: the daemon remembers what it saw the pump do only while it lives.
    if (!questions_.yes("First stop neapd. With neapd stopped and the board on, and with the "
                        "board's cable to the relay pulled, does the pump stand still both times?"))
      return finding("pump", false,
                     "it runs without neapd or without the board: use the relay's normally open "
                     "contact, and a pin whose pull is its rest (config/wiring.md)");
    questions_.wait_for_enter("Put the cable back and start neapd again.");
    if (!hold(Output::pump, 100, kHoldSeconds)) return finding("pump", false, "not run");
    if (!questions_.yes("Did the pump run, and nothing else?")) {
      release(Output::pump);
      return finding("pump", false,
                     "wrong device or wrong level: see address and polarity of outputs.pump");
    }
    if (!questions_.yes("Has it stopped by itself by now?")) {
      release(Output::pump);
      questions_.say("Pull its plug. A pump that does not stop is not to be left.");
      return finding("pump", false, "it does not stop: contact welded, or polarity turned round");
    }
    pass(ProofTest::pump);
  }

  void drain_valve() {
    questions_.say("The drain valve, closed for " + std::to_string(kHoldSeconds) + " s.");
    if (!hold(Output::drain_valve, 0, kHoldSeconds))
      return finding("drain_valve", false, "not closed");
    const bool closed = questions_.yes("Did it close?");
    const bool open = questions_.yes("Is it open again by now?");
    if (closed && open) return pass(ProofTest::drain_valve);
    release(Output::drain_valve);
    finding("drain_valve", false, "see its address and polarity; it must open without power");
  }

  void appliance(const OutputInfo& row) {
    const std::string title(row.title);
    const bool compressor = row.output == Output::dehumidifier;
    const int held_s = compressor ? kCompressorSeconds : kApplianceSeconds;
    questions_.say("The " + title + ", for " + words::duration(seconds{held_s}) + ".");
    if (!hold(row.output, 100, held_s)) return finding(row.name, false, "not run");
    if (compressor && driven(row.output) == 0)
      questions_.say("neapd holds it off while its rest time runs; wait until that is over.");
    if (!questions_.yes("Did the " + title + " start, and nothing else?")) {
      release(row.output);
      return finding(row.name, false, "wrong device or wrong level: see its address and polarity");
    }
    const bool resumes = questions_.yes(
        compressor ? "Pull its plug, wait 5 min, put it back: does it start again by itself?"
                   : "Pull its plug for a moment and put it back: does it start again by itself?");
    release(row.output);
    finding(row.name, resumes,
            resumes ? "" : "it waits for a button after each power cut: a relay cannot run it");
    if (row.output == Output::exhaust_fan && resumes) fan_least();
  }

  // From nothing upwards: the level at which a fan starts is over the one at which it stalls.
  void fan_least() {
    if (!questions_.yes("Can its speed be set? Then its least level is looked for.", "no")) return;
    for (int percent = kFanStep; percent <= 100; percent += kFanStep) {
      if (!hold(Output::exhaust_fan, 0, kFanSeconds)) break;
      if (!questions_.yes("Told 0 %: does it stand still?")) {
        questions_.say("What never stands has no least level: leave the floor as it is.");
        break;
      }
      if (!hold(Output::exhaust_fan, percent, kFanSeconds)) break;
      const bool turns =
          questions_.yes("Told " + std::to_string(percent) + " % from a stand: does it turn?");
      // What was driven is what was seen, and it is not always what was asked for.
      const auto level = driven(Output::exhaust_fan);
      if (level && *level != percent * 10) {
        questions_.say("The settings' floor holds it at " + std::to_string(*level / 10) +
                       " %: write a lower floor first, then try again.");
        break;
      }
      if (!turns) continue;
      done_.measured.fan_least_pct = percent;
      break;
    }
    release(Output::exhaust_fan);
  }

  // --- floats and probes ------------------------------------------------------------------------

  void contacts() {
    for (const ContactTest& row : kContactTests) {
      const ProofTestInfo& test = info(row.test);
      if (has_point(*test.point) && wanted(test.name)) contact(row);
    }
  }

  void contact(const ContactTest& row) {
    const ProofTestInfo& test = info(row.test);
    questions_.say("The " + std::string(info(*test.point).title) + ".");
    if (!comes_to(row, !row.home_is_set, row.away) || !comes_to(row, row.home_is_set, row.home))
      return finding(test.name, false, "neap does not see it: check its cable and its settings");
    pass(row.test);
    reset_latches();
  }

  // Until the contact says what it should, or the person gives up.
  bool comes_to(const ContactTest& row, bool set, std::string_view what) {
    questions_.wait_for_enter(what);
    const Point point = *info(row.test).point;
    while (true) {
      status_ = ask_("status", json::object());
      if (is_set(point) == set) return true;
      const auto now = is_set(point);
      if (!questions_.yes(std::string("neap reads ") +
                          (now ? (*now ? "set" : "clear") : "nothing") + ", not " +
                          (set ? "set" : "clear") + ". Look again?"))
        return false;
    }
  }

  // A probe that was wet has latched, as it should; that is reset here once its cause is gone.
  void reset_latches() {
    status_ = ask_("status", json::object());
    for (const std::string& latch : water_latches()) {
      questions_.say("Latch " + latch + " was set by the test, as it should be.");
      while (questions_.yes("Reset it? It takes 10 s of dryness.", "yes") &&
             !try_ask("reset", {{"latch", latch}})) {
      }
    }
  }

  // --- one flood --------------------------------------------------------------------------------

  bool parts_failed() const {
    return std::any_of(done_.findings.begin(), done_.findings.end(), [](const Finding& one) {
      const auto is_proof = [&](const ProofTestInfo& row) { return row.name == one.part; };
      return !one.passed && std::any_of(kProofTests.begin(), kProofTests.end(), is_proof);
    });
  }

  void flood() {
    if (!fitted(Output::pump) || !wanted("flood")) return;
    if (parts_failed()) return finding("flood", false, "left out: a part before it failed");
    questions_.say(
        "One flood, with you beside it: it fills to the float, soaks and drains. Ctrl-C does not "
        "stop it: answer no, or pull the pump's plug.");
    if (!questions_.yes("Ready?", "yes") || !try_ask("flood", {{"action", "start"}}))
      return finding("flood", false, "not started");
    try {
      if (watched()) flood_ended();
    } catch (const Failure&) {  // nobody answers any more, or neapd does not
      stop_unwatched_flood();
      throw;
    }
  }

  // True once neapd says that it is over; false, with its finding, when the person stopped it.
  bool watched() {
    while (true) {
      const bool over = questions_.yes(
          "Has the tray drained, and was no water where it should "
          "not be? (no stops the pump)");
      if (!over) {
        try_ask("flood", {{"action", "stop"}});
        finding("flood", false, "stopped by hand");
        return false;
      }
      status_ = ask_("status", json::object());
      const std::string phase = text_at(status_, "/flood/phase");
      if (phase == "idle" || phase == "rest") return true;
      questions_.say("  neapd is still at: " + phase);
    }
  }

  void stop_unwatched_flood() {
    try {
      ask_("flood", {{"action", "stop"}});
      questions_.say("The flood is stopped: nobody watches it.");
    } catch (const Failure&) {
      questions_.say("The flood could not be stopped: pull the pump's plug.");
    }
  }

  void flood_ended() {
    const auto flood = last_flood_();
    if (!flood || !flood->fill_s || !flood->drain_s)
      return finding("flood", false, "it was not complete; `neap report` says why");
    const auto fan = done_.measured.fan_least_pct;
    done_.measured = *flood;
    done_.measured.fan_least_pct = fan;
    finding("flood", true);
  }

  // --- what is left of it -----------------------------------------------------------------------

  void record() {
    const Measured& m = done_.measured;
    json values = json::object();
    const auto rounded_up = [](double value, double step) {
      return std::ceil(value / step) * step;
    };
    if (m.fill_s) {
      values["fill_s"] = *m.fill_s;
      const Millis limit = seconds{std::lround(rounded_up(*m.fill_s * kFillLimitOver, 30))};
      done_.settings.push_back("table.fill_limit: " +
                               words::duration(std::min(limit, limits::kFillCeiling)));
      if (m.litres && *m.fill_s > 0) {
        const double flow = *m.litres / *m.fill_s * 3600;
        values["pump_flow_l_per_h"] = flow;
        done_.settings.push_back("table.pump_flow: " + std::to_string(std::lround(flow)) + " L/h");
      }
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

  Questions& questions_;
  const AskDaemon& ask_;
  const LastFlood& last_flood_;
  const std::vector<std::string>& only_;
  json status_;
  Commissioned done_;
};

}  // namespace

Commissioned commission(Questions& questions, const AskDaemon& ask, const LastFlood& last_flood,
                        const std::vector<std::string>& only) {
  return Walk(questions, ask, last_flood, only).all();
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
            {"fan_least_pct", or_null(done.measured.fan_least_pct)}}},
          {"settings", done.settings}};
}

}  // namespace neap::client
