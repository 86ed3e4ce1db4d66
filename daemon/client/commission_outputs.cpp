// The outputs' part of `neap commission`.
#include <algorithm>
#include <cmath>

#include "daemon/client/commission_walk.h"
#include "daemon/client/peek.h"
#include "daemon/words/figures.h"
#include "daemon/words/words.h"

namespace neap::client {
namespace {

using nlohmann::json;

constexpr int kHoldSeconds = 10;        // of the pump: long enough to see, a few litres at most
constexpr int kApplianceSeconds = 120;  // long enough to pull a plug and put it back
constexpr int kFanSeconds = 300;
constexpr int kCompressorSeconds = 900;  // outlasts its rest time, usually 5 min, around a pull
constexpr int kFanStep = 5;              // percent
constexpr int kBucketSeconds = 20;       // a bucket's worth of a usual pump, and no more
constexpr double kLeastRunS = 19;        // as neapd books it: a second is its scan and the relay
constexpr double kMostRunS = 30;         // more is another run, or one that is not over
constexpr double kLeastBucketL = 0.1;
constexpr double kMostBucketL = 60;
constexpr double kFlowsAgree = 0.35;  // as neap check has it (settings/build.cpp)

}  // namespace

void Walk::outputs() {
  for (const OutputInfo& row : kOutputs) {
    if (!fitted(row.output) || !wanted(row.name)) continue;
    if (row.output == Output::sensor_rail) continue;
    if (row.output == Output::pump)
      pump();
    else if (row.output == Output::pump_series)
      second_contact();
    else if (row.output == Output::drain_valve)
      drain_valve();
    else
      appliance(row);
  }
}

void Walk::pump() {
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
  if (!tent_.enable_pulse.empty() && !dead_man()) return;
  pass(ProofTest::pump);
  bucket();
}

// A circuit that is bridged, or that takes a level for a pulse, shows by nothing else until the day
// it is needed.
bool Walk::dead_man() {
  questions_.say("The pump's dead-man circuit, fed by line " +
                 words::printable(tent_.enable_pulse) + ".");
  const auto failed = [this](const char* remark) {
    finding("pump", false, remark);
    return false;
  };
  questions_.wait_for_enter("Pull the wire of that line at the circuit, and that one alone.");
  if (!hold(Output::pump, 100, kHoldSeconds)) return failed("not run");
  const bool stands = questions_.yes("neapd tells the pump to run. Does it stand still?");
  release(Output::pump);
  questions_.wait_for_enter("Put the wire back.");
  if (!stands)
    return failed("it runs without the pulse: the circuit is bridged, or not in the pump's supply");
  if (!hold(Output::pump, 100, kHoldSeconds)) return failed("not run");
  const bool stops = questions_.yes("Pull the wire while it runs. Does it stop within 3 s?");
  release(Output::pump);
  questions_.wait_for_enter("Put the wire back.");
  return stops ||
         failed("its circuit holds too long or takes a level for a pulse: see config/wiring.md");
}

// A watch and a bucket tell more than the label: neapd holds the pump for just so long.
void Walk::bucket() {
  if (!questions_.yes("Measure its flow? Hold the hose's end over a bucket, at the height of the "
                      "tray's rim, for " +
                          std::to_string(kBucketSeconds) + " s.",
                      "no"))
    return;
  look();
  const json before = status_;
  if (!hold(Output::pump, 100, kBucketSeconds)) return;
  const auto litres = questions_.number(
      "It has stopped by now. How many litres are in the "
      "bucket?",
      kLeastBucketL, kMostBucketL);
  release(Output::pump);
  if (!litres) return;
  const auto ran_s = bucket_run_s(before);
  if (!ran_s) return;
  const double flow = *litres / *ran_s * 3600;
  done_.measured.pump_flow_l_per_h = flow;
  const std::string said = std::to_string(std::lround(flow)) + " L/h";
  if (!tent_.build_flow_l_per_h) return questions_.say("  That is " + said + ".");
  const double apart = flow / *tent_.build_flow_l_per_h;
  const bool agree = apart < 1 + kFlowsAgree && apart > 1 / (1 + kFlowsAgree);
  questions_.say("  That is " + said + "; by label and hose it should be " +
                 std::to_string(std::lround(*tent_.build_flow_l_per_h)) + " L/h" +
                 (agree ? "."
                        : ": measure once more, then look at the filter, the hose and the "
                          "figures under build."));
}

// By the pump's budget, which an interlock or an early answer cuts short with the run. Runs that
// grow old leave its hour and its day meanwhile, at different times: the larger growth counts. A
// run is booked until the pump is proven stopped; what goes beyond its hold is no water.
std::optional<double> Walk::bucket_run_s(const json& before) {
  look();
  std::optional<double> ran_s;
  for (const char* sum : {"/budget/hour_s", "/budget/day_s"}) {
    const auto then = number_at(before, sum);
    const auto now = number_at(status_, sum);
    if (then && now) ran_s = std::max(ran_s.value_or(0), *now - *then);
  }
  if (ran_s && *ran_s >= kLeastRunS && *ran_s <= kMostRunS)
    return std::min<double>(*ran_s, kBucketSeconds);
  const std::string meant = " s, not for " + std::to_string(kBucketSeconds) + " s: ";
  if (!ran_s)
    questions_.say("  neapd does not tell how long the pump ran: no flow from that.");
  else if (*ran_s < kLeastRunS)
    questions_.say("  The pump ran for " + words::decimals(*ran_s, 1) + meant +
                   "no flow from that. See `neap why pump`, and answer once it has stopped.");
  else
    questions_.say("  neapd counts the pump for " + words::decimals(*ran_s, 1) + meant +
                   "another run came between, or this one is not over. No flow from that.");
  return std::nullopt;
}

// Each contact alone must keep the pump from its current: with the other's relay dead, a pump that
// is told to run stands still.
void Walk::second_contact() {
  questions_.say("The pump's two contacts, one after the other, each for " +
                 std::to_string(kHoldSeconds) + " s. Reservoir over its intake, tray empty.");
  for (const Output contact : {Output::pump, Output::pump_series}) {
    questions_.wait_for_enter("Pull the cable of the relay of output " +
                              std::string(info(contact).name) + ", and that one alone.");
    if (!hold(Output::pump, 100, kHoldSeconds)) return finding("pump_series", false, "not run");
    const bool stands = questions_.yes("neapd tells the pump to run. Does it stand still?");
    release(Output::pump);
    if (!stands)
      return finding("pump_series", false,
                     "it runs without the contact of " + std::string(info(contact).name) +
                         ": the two are not in series, or that one is welded");
    questions_.wait_for_enter("Put the cable back.");
  }
  if (!hold(Output::pump, 100, kHoldSeconds)) return finding("pump_series", false, "not run");
  const bool runs = questions_.yes("Does it run now, through both?");
  release(Output::pump);
  finding("pump_series", runs, runs ? "" : "a cable is not back in its place");
}

void Walk::drain_valve() {
  questions_.say("The drain valve, closed for " + std::to_string(kHoldSeconds) + " s.");
  if (!hold(Output::drain_valve, 0, kHoldSeconds))
    return finding("drain_valve", false, "not closed");
  const bool closed = questions_.yes("Did it close?");
  const bool open = questions_.yes("Is it open again by now?");
  if (closed && open) return pass(ProofTest::drain_valve);
  release(Output::drain_valve);
  finding("drain_valve", false, "see its address and polarity; it must open without power");
}

void Walk::appliance(const OutputInfo& row) {
  const std::string title(row.title);
  const bool compressor = has_compressor(row.output);
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
void Walk::fan_least() {
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

}  // namespace neap::client
