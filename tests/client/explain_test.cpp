// Goal: everything that neap may say no with, or ring for, has an explanation, and `neap explain`
// finds it by what a screen shows. Method: every number of every enum, and the kernel with each of
// its inputs at its worst.
#include "daemon/client/explain.h"

#include <algorithm>
#include <set>

#include "daemon/core/interlock.h"
#include "daemon/words/daemon_exits.h"
#include "tests/client/support.h"

namespace neap::client {
namespace {

using testing::FakeDaemon;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using testing::json;
using testing::neap;
using ::testing::Not;
using testing::Said;

std::vector<Reason> all_reasons() {
  std::vector<Reason> all;
  for (int number = 1; number < 1000; ++number)
    if (info(static_cast<Reason>(number)).reason == static_cast<Reason>(number))
      all.push_back(static_cast<Reason>(number));
  return all;
}

TEST(Explain, EveryTroubleHasAMeaningCausesAndSteps) {
  for (const Topic& topic : topics()) {
    if (topic.kind == TopicKind::affair) continue;
    EXPECT_FALSE(topic.says.meaning.empty()) << topic.code;
    EXPECT_TRUE(topic.says.meaning.ends_with('.')) << topic.code;
    EXPECT_THAT(causes(topic), Not(IsEmpty())) << topic.code;
    EXPECT_THAT(steps(topic), Not(IsEmpty())) << topic.code;
    for (const std::string& part : causes(topic)) EXPECT_FALSE(part.empty()) << topic.code;
  }
}

TEST(Explain, EveryAlarmIsExplainedOnce) {
  std::multiset<Alarm> seen;
  for (const auto rows : {words::explained_water_alarms(), words::explained_air_alarms()})
    for (const words::AlarmExplanation& row : rows) seen.insert(row.alarm);
  for (const AlarmInfo& row : kAlarms) EXPECT_EQ(seen.count(row.alarm), 1U) << row.name;
}

TEST(Explain, EveryFaultHasANameOfItsOwn) {
  std::set<std::string_view> keys;
  int number = 0;
  for (; words::name(static_cast<Fault>(number)) != words::name(static_cast<Fault>(255)); ++number)
    EXPECT_TRUE(keys.insert(words::key(static_cast<Fault>(number))).second) << number;
  EXPECT_EQ(number, 21);  // as core/reading.h has them
}

TEST(Explain, WhateverRefusesIsExplained) {
  int refusing = 0;
  for (const Reason reason : all_reasons()) {
    if (!words::refuses(reason)) continue;
    ++refusing;
    EXPECT_NE(words::explanation(reason), nullptr) << info(reason).key;
  }
  EXPECT_GT(refusing, 60);
}

KernelInputs all_well() {
  KernelInputs in;
  in.leak = LeakSeen::dry;
  in.tray_high = in.tray_full = FloatSeen::clear;
  in.reservoir = in.covered = LevelSeen::enough;
  in.fill_expired = in.drain_expired = in.run_expired = in.unsaved = in.deaf = false;
  in.budget_cycle_spent = in.budget_hour_spent = in.budget_day_spent = false;
  in.rail_off = in.supply_low = false;
  in.pump_seen = PumpSeen::obeys;
  in.heat = Heat::normal;
  in.water = WaterSeen::normal;
  in.outputs_proven = in.first_inputs_seen = true;
  return in;
}

TEST(Explain, WhateverTripsIsExplained) {
  const std::vector<void (*)(KernelInputs&)> worse{
      [](KernelInputs& in) { in.leak = LeakSeen::wet; },
      [](KernelInputs& in) { in.leak = LeakSeen::damp; },
      [](KernelInputs& in) { in.leak = LeakSeen::unknown; },
      [](KernelInputs& in) { in.tray_high = FloatSeen::set; },
      [](KernelInputs& in) { in.tray_full = FloatSeen::unknown; },
      [](KernelInputs& in) { in.reservoir = in.covered = LevelSeen::low; },
      [](KernelInputs& in) { in.reservoir = in.covered = LevelSeen::unknown; },
      [](KernelInputs& in) { in.run_expired = true; },
      [](KernelInputs& in) { in.budget_cycle_spent = true; },
      [](KernelInputs& in) { in.budget_hour_spent = true; },
      [](KernelInputs& in) { in.budget_day_spent = true; },
      [](KernelInputs& in) { in.unsaved = true; },
      [](KernelInputs& in) { in.pump_seen = PumpSeen::in_hand; },
      [](KernelInputs& in) { in.pump_seen = PumpSeen::welded; },
      [](KernelInputs& in) { in.pump_seen = PumpSeen::off_auto; },
      [](KernelInputs& in) { in.deaf = true; },
      [](KernelInputs& in) { in.service = true; },
      [](KernelInputs& in) { in.rail_off = true; },
      [](KernelInputs& in) { in.supply_low = true; },
      [](KernelInputs& in) { in.heat = Heat::dim; },
      [](KernelInputs& in) { in.heat = Heat::shed; },
      [](KernelInputs& in) { in.heat = Heat::unknown; },
      [](KernelInputs& in) { in.bucket_full = true; },
      [](KernelInputs& in) { in.water = WaterSeen::hot; },
      [](KernelInputs& in) { in.water = WaterSeen::unknown; },
      [](KernelInputs& in) { in.outputs_proven = false; },
      [](KernelInputs& in) { in.lost_water = true; },
      [](KernelInputs& in) { in.leak_confirmed = true; }};
  std::set<Reason> met;
  for (const auto make_worse : worse) {
    KernelInputs in = all_well();
    make_worse(in);
    KernelState state;
    Verdicts out;
    judge(in, state, out);
    for (const OutputInfo& row : kOutputs)
      if (out.of[row.output].because.reason != Reason::none)
        met.insert(out.of[row.output].because.reason);
  }
  EXPECT_GE(met.size(), 24U);
  for (const Reason reason : met)
    EXPECT_NE(words::explanation(reason), nullptr) << info(reason).key;
}

TEST(Explain, ALatchNamesItsAlarm) {
  for (const LatchInfo& row : kLatches)
    EXPECT_EQ(words::causes(words::explanation(row.latch)),
              words::explanation(words::alarm_of(row.latch)).causes)
        << row.name;
}

TEST(Explain, NothingThatItPointsToIsMissing) {
  std::set<std::string> alarms;
  for (const AlarmInfo& row : kAlarms) alarms.insert(std::string(row.name));
  for (const Topic& topic : topics())
    for (const std::string_view text : {topic.says.meaning, topic.says.causes, topic.says.check})
      for (std::size_t at = 0; (at = text.find("`neap explain ", at)) != std::string_view::npos;) {
        at += 14;
        const std::string word(text.substr(at, text.find('`', at) - at));
        EXPECT_TRUE(word == "LATCH" || word == "FAULT" || alarms.contains(word)) << topic.code;
      }
}

TEST(Explain, AlarmAndLatchOfOneNameStandTogether) {
  const Said said = neap({"explain", "overflow", "--socket", "/nowhere/s"});
  EXPECT_EQ(said.code, kExitDone);
  EXPECT_EQ(said.err, "");
  EXPECT_EQ(said.out,
            "overflow (alarm): tray reached its overflow float (high priority)\n"
            "  The float above the standpipe's rim was lifted: water came in faster than the\n"
            "  standpipe passes. The pump stops at once and the drain valve opens.\n"
            "Likely causes, the likeliest first:\n"
            "  - the standpipe's screen is clogged by roots or medium\n"
            "  - the standpipe is too narrow for the pump (`neap check` works it out)\n"
            "  - the float is stuck up or upside down\n"
            "What to check and do:\n"
            "  - look at the standpipe and the drain, then `neap reset overflow`\n"
            "  - see that the water falls below the float by itself\n"
            "\n"
            "overflow (latch): tray overflow\n"
            "  No water moves, and heater and chiller stay off, until it is reset.\n"
            "What to check and do:\n"
            "  - do what `neap explain overflow` says of the alarm\n"
            "  - `neap reset overflow` is granted once the overflow float hangs clear and can\n"
            "    be read\n");
}

TEST(Explain, IsFoundByWhatAScreenShows) {
  EXPECT_THAT(neap({"explain", "wire", "open"}).out, HasSubstr("open_wire (fault of a reading)"));
  EXPECT_THAT(neap({"explain", "No-Answer"}).out, HasSubstr("no_answer (fault of a reading)"));
  EXPECT_THAT(neap({"explain", "cause_persists"}).out, HasSubstr("(refusal or trip)"));
  EXPECT_THAT(neap({"explain", "budget-day"}).out, HasSubstr("pump time of 24 hours used up"));
  EXPECT_THAT(neap({"explain", "vpd_in_band"}).out, HasSubstr("nothing is wrong with it"));
  const std::string three = neap({"explain", "3"}).out;
  EXPECT_THAT(three, HasSubstr("exit-3 (exit code): neap: no daemon answers"));
  EXPECT_THAT(three, HasSubstr("neapd-exit-3 (exit code): neapd: settings were refused"));
}

TEST(Explain, AMisspeltNameGetsTheNearestOne) {
  const Said said = neap({"explain", "flood-misst"});
  EXPECT_EQ(said.code, kExitUsage);
  EXPECT_EQ(said.err,
            "neap: there is nothing called \"flood-misst\" to explain\n"
            "  did you mean \"flood-missed\"?\n");
  EXPECT_THAT(neap({"explain", "zzzzzzzzzzzzzzzz"}).err,
              HasSubstr("`neap explain` alone lists what there is"));
}

TEST(Explain, AloneItListsWhatThereIs) {
  const std::string list = neap({"explain"}).out;
  for (const AlarmInfo& row : kAlarms) EXPECT_THAT(list, HasSubstr(std::string(row.name)));
  EXPECT_THAT(list, HasSubstr("Exit codes\n  exit-0, "));
  EXPECT_THAT(list, Not(HasSubstr("vpd_in_band")));
}

TEST(Explain, EveryPageFitsAScreenAndATelephone) {
  for (const Topic& topic : topics()) {
    EXPECT_LE(testing::widest(render_topic(topic, "", {}, kPageWidth)), kPageWidth) << topic.code;
    EXPECT_LE(testing::widest(render_topic(topic, "", {}, kPhoneWidth)), kPhoneWidth) << topic.code;
  }
  EXPECT_LE(testing::widest(neap({"explain"}).out), kPageWidth);
  EXPECT_LE(testing::widest(neap({"explain", "--narrow"}).out), kPhoneWidth);
}

TEST(Explain, SaysWhatStandsRightNow) {
  FakeDaemon daemon([](const json& request) {
    return FakeDaemon::success(
        request, {{"alarms", {{{"alarm", "leak"}, {"state", "unacknowledged"}, {"since_s", 125}}}},
                  {"latches", {{{"latch", "leak"}}}}});
  });
  const Said said = neap({"explain", "leak", "--socket", daemon.path()});
  EXPECT_THAT(said.out, HasSubstr("  Now: unacknowledged, for 2 min 05 s.\n"));
  EXPECT_THAT(said.out, HasSubstr("  Now: it is set.\n"));
}

TEST(Explain, AsJson) {
  const json told = json::parse(neap({"explain", "reservoir-unknown", "--json"}).out);
  const json& row = told["explanations"][0];
  EXPECT_EQ(row["kind"], "refusal or trip");
  EXPECT_EQ(row["name"], "reservoir_unknown");
  EXPECT_EQ(row["title"], "reservoir level not known");
  EXPECT_EQ(row["check"], json({"check the reservoir's sensor"}));
  EXPECT_EQ(row["likely_causes"].size(), 2U);
}

}  // namespace
}  // namespace neap::client
