// Goal: the scan as a whole, in virtual time: floods by the programme, trips, latches, budgets,
// holds, restarts. Method: the real scan over tests/core/rig.h; each story is stimulus and
// expectation.
#include <gtest/gtest.h>

#include "tests/core/rig.h"

namespace neap::test {
namespace {

constexpr std::int32_t kMorning = 5 * 3600 + 1800;  // half an hour before lights-on

Request flood_start() { return {.kind = RequestKind::flood_start}; }
Request reset_of(Latch latch) { return {.kind = RequestKind::reset_latch, .latch = latch}; }
TEST(ScanStories, ADayOfTheProgrammeFloodsFourTimesAndDrainsEachTime) {
  Rig rig{strawberry_plan(), kMorning};
  rig.run(hours{24});
  const auto rows = rig.rows();
  ASSERT_EQ(rows.size(), 4u);
  for (const CycleRow& row : rows) {
    EXPECT_EQ(row.outcome, FloodOutcome::complete);
    EXPECT_NEAR(static_cast<double>(row.fill.count()) / 1000, 24 / 0.2, 2);
    EXPECT_TRUE(row.litres_known);
    EXPECT_NEAR(row.litres_out, 24.5, 0.8);
  }
  EXPECT_NEAR(rig.tray_l, 0, 0.01);
  EXPECT_EQ(rig.count(EventKind::slot_skipped), 0);
  for (std::size_t i = 0; i < kAlarmCount; ++i)
    EXPECT_EQ(rig.state.kept.alarms[i].state, AlarmState::normal)
        << info(static_cast<Alarm>(i)).name;
}

TEST(ScanStories, LightFollowsThePhotoperiodAndTheAirPumpNeverStops) {
  Rig rig{strawberry_plan(), kMorning};
  rig.run(minutes{29});
  EXPECT_FALSE(rig.running(Output::light));
  rig.run(minutes{2});
  EXPECT_TRUE(rig.running(Output::light));
  rig.run(hours{16});
  EXPECT_FALSE(rig.running(Output::light));
  EXPECT_TRUE(rig.running(Output::air_pump));
  EXPECT_TRUE(rig.running(Output::circulation_fan));
}

TEST(ScanStories, AWetProbeStopsThePumpInTheScanThatSeesItAndLatches) {
  Rig rig{strawberry_plan(), 7 * 3600};
  ASSERT_TRUE(rig.ask(flood_start()).accepted);
  rig.run(seconds{30});
  ASSERT_TRUE(rig.running(Output::pump));
  rig.contact(Point::leak_floor, Contact::set);
  EXPECT_FALSE(rig.running(Output::pump));
  EXPECT_EQ(rig.reason(Output::pump), Reason::leak_wet);
  EXPECT_FALSE(rig.latched(Latch::leak)) << "one sample stops, two latch";
  rig.contact(Point::leak_floor, Contact::set);
  EXPECT_TRUE(rig.latched(Latch::leak));
  EXPECT_EQ(rig.alarm(Alarm::leak), AlarmState::unacknowledged);
}

TEST(ScanStories, AResetIsRefusedWhileWetAndGrantedWhenDryAndAckAloneClearsNothing) {
  Rig rig{strawberry_plan(), 7 * 3600};
  rig.contact(Point::leak_floor, Contact::set);
  rig.contact(Point::leak_floor, Contact::set);
  const Event refused = rig.ask(reset_of(Latch::leak));
  EXPECT_FALSE(refused.accepted);
  EXPECT_EQ(refused.because.reason, Reason::cause_persists);
  rig.ask({.kind = RequestKind::acknowledge, .all = true});
  EXPECT_TRUE(rig.latched(Latch::leak));
  rig.contact(Point::leak_floor, Contact::clear);
  EXPECT_TRUE(rig.latched(Latch::leak)) << "dry alone does not clear it";
  EXPECT_FALSE(rig.ask(flood_start()).accepted);
  EXPECT_FALSE(rig.ask(reset_of(Latch::leak)).accepted) << "dry for ten seconds first";
  rig.run(seconds{11});
  EXPECT_TRUE(rig.ask(reset_of(Latch::leak)).accepted);
  EXPECT_FALSE(rig.latched(Latch::leak));
}

TEST(ScanStories, ALatchSurvivesARestart) {
  Rig rig{strawberry_plan(), 7 * 3600};
  rig.contact(Point::leak_floor, Contact::set);
  rig.contact(Point::leak_floor, Contact::set);
  const Kept kept = rig.state.kept;
  rig.contact(Point::leak_floor, Contact::clear);
  rig.boot(&kept);
  rig.run(hours{3});
  EXPECT_TRUE(rig.latched(Latch::leak));
  EXPECT_TRUE(rig.rows().empty());
  EXPECT_EQ(rig.alarm(Alarm::leak), AlarmState::unacknowledged);
}

TEST(ScanStories, ACutMidFloodClosesTheRowAsInterruptedAndTheSlotDoesNotFireAgain) {
  Rig rig{strawberry_plan(), kMorning};
  ASSERT_TRUE(rig.run_until([&] { return rig.running(Output::pump); }, hours{2}));
  rig.run(seconds{40});
  const Kept kept = rig.state.kept;
  rig.boot(&kept);
  rig.scan_now();
  EXPECT_FALSE(rig.running(Output::pump));
  const auto rows = rig.rows();
  ASSERT_EQ(rows.size(), 1u);
  EXPECT_EQ(rows[0].outcome, FloodOutcome::interrupted);
  rig.run(hours{2});
  EXPECT_EQ(rig.rows().size(), 1u) << "the slot was used";
}

TEST(ScanStories, APumpBudgetDebitedBeforeACrashStaysSpent) {
  Plan plan = strawberry_plan();
  plan.table.max_on_per_day = minutes{30};
  Rig rig{plan, 7 * 3600};
  ASSERT_TRUE(rig.ask(flood_start()).accepted);
  rig.run(seconds{5});
  ASSERT_TRUE(rig.out.keep || rig.state.kept.budget.run_open);
  const Kept kept = rig.state.kept;
  rig.boot(&kept);
  rig.run(hours{2});
  // 25 of 30 minutes are gone: the next run may last 5 at most.
  ASSERT_TRUE(rig.ask(hold(Output::pump, kRunning, minutes{20})).accepted);
  rig.run(minutes{4});
  EXPECT_TRUE(rig.running(Output::pump));
  rig.run(minutes{3});
  EXPECT_FALSE(rig.running(Output::pump));
}

TEST(ScanStories, TheDailyBudgetFreesItselfAfterADayAndNotBefore) {
  Plan plan = strawberry_plan();
  plan.table.max_on_per_day = minutes{10};
  plan.table.max_on_per_flood = minutes{10};
  plan.programme.stages[0].floods.rule = SlotRule::none;
  Rig rig{plan, 7 * 3600};
  ASSERT_TRUE(rig.ask(hold(Output::pump, kRunning, minutes{10})).accepted);
  rig.run(minutes{11});
  EXPECT_FALSE(rig.running(Output::pump));
  const Instant ended = rig.now;
  ASSERT_TRUE(rig.run_until(
      [&] {
        rig.ask(hold(Output::pump, kRunning, minutes{1}));
        return rig.running(Output::pump);
      },
      hours{30}));
  EXPECT_GE(rig.now - ended, hours{23} + minutes{50});
  EXPECT_LE(rig.now - ended, hours{26});
}

TEST(ScanStories, APumpHeldByHandStopsAtItsBudgetWhateverWasAsked) {
  Rig rig{strawberry_plan(), 7 * 3600};
  EXPECT_FALSE(rig.ask(hold(Output::pump, kRunning, hours{2})).accepted);
  ASSERT_TRUE(rig.ask(hold(Output::pump, kRunning, minutes{25})).accepted);
  rig.run(minutes{26});
  EXPECT_FALSE(rig.running(Output::pump));
}

TEST(ScanStories, AHoldExpiresByItself) {
  Rig rig{strawberry_plan(), 9 * 3600};
  ASSERT_TRUE(rig.ask(hold(Output::light, kStopped, minutes{10})).accepted);
  rig.run(seconds{2});
  EXPECT_FALSE(rig.running(Output::light));
  rig.run(minutes{10});
  EXPECT_TRUE(rig.running(Output::light));
}

TEST(ScanStories, TheAirPumpCannotBeHeldStopped) {
  Rig rig{strawberry_plan(), 9 * 3600};
  EXPECT_FALSE(rig.ask(hold(Output::air_pump, kStopped, minutes{10})).accepted);
}

TEST(ScanStories, AnEmptyReservoirWithholdsTheFloodAloud) {
  Rig rig{strawberry_plan(), kMorning};
  rig.reservoir_l = 20;  // under the minimum of 30
  rig.run(hours{1} + minutes{10});
  EXPECT_TRUE(rig.rows().empty());
  EXPECT_EQ(rig.alarm(Alarm::reservoir_low), AlarmState::unacknowledged);
  EXPECT_EQ(rig.alarm(Alarm::flood_withheld), AlarmState::unacknowledged);
  rig.run(hours{1});
  EXPECT_EQ(rig.count(EventKind::slot_skipped), 1);
}

TEST(ScanStories, AFloodThatWouldTakeTheLastOfTheReservoirDoesNotStart) {
  Rig rig{strawberry_plan(), 7 * 3600};
  rig.reservoir_l = 50;  // over the minimum of 30, but not after a flood of 24
  rig.run(minutes{1});
  EXPECT_FALSE(rig.ask(flood_start()).accepted);
  rig.reservoir_l = 55;
  rig.run(minutes{1});
  EXPECT_TRUE(rig.ask(flood_start()).accepted);
}

TEST(ScanStories, APumpUnderWayStopsAtTheReservoirsMinimum) {
  Rig rig{strawberry_plan(), 7 * 3600};
  rig.reservoir_l = 56;
  ASSERT_TRUE(rig.ask(hold(Output::pump, kRunning, minutes{20})).accepted);
  rig.run(minutes{1});
  rig.reservoir_l = 29.5;  // a person takes some out by the bucket
  rig.run(seconds{15});
  EXPECT_FALSE(rig.running(Output::pump));
  EXPECT_EQ(rig.reason(Output::pump), Reason::reservoir_low);
}

TEST(ScanStories, AfterTheReservoirIsFilledOneMissedFloodIsCaughtUpAndOnlyOne) {
  Rig rig{strawberry_plan(), kMorning};
  rig.reservoir_l = 20;
  rig.run(hours{2});
  rig.reservoir_l = 70;
  rig.run(hours{1});
  const auto rows = rig.rows();
  ASSERT_EQ(rows.size(), 1u);
  EXPECT_EQ(rows[0].origin, FloodOrigin::catch_up);
}

TEST(ScanStories, ABurstHoseIsLostWaterAndLatches) {
  Rig rig{strawberry_plan(), 7 * 3600};
  rig.hose_burst = true;
  ASSERT_TRUE(rig.ask(flood_start()).accepted);
  rig.run(minutes{10});
  EXPECT_TRUE(rig.latched(Latch::lost_water));
  EXPECT_FALSE(rig.running(Output::pump));
  EXPECT_LT(rig.floor_l, 75);
  const auto rows = rig.rows();
  ASSERT_FALSE(rows.empty());
  EXPECT_EQ(rows[0].outcome, FloodOutcome::lost_water);
}

TEST(ScanStories, ABlockedDrainLatchesAndWithholdsTheNextFlood) {
  Rig rig{strawberry_plan(), 7 * 3600};
  ASSERT_TRUE(rig.ask(flood_start()).accepted);
  ASSERT_TRUE(rig.run_until([&] { return rig.state.flood.phase == FloodPhase::soak; }, minutes{5}));
  rig.drain_blocked = true;
  rig.run(hours{1});
  EXPECT_TRUE(rig.latched(Latch::slow_drain));
  EXPECT_FALSE(rig.ask(flood_start()).accepted);
}

TEST(ScanStories, ServiceHoldsFloodsAndItsEndGivesThemBack) {
  Rig rig{strawberry_plan(), kMorning};
  Request begin{.kind = RequestKind::service_begin, .duration = minutes{60}};
  ASSERT_TRUE(rig.ask(begin).accepted);
  rig.run(hours{1} + minutes{2});
  EXPECT_TRUE(rig.rows().empty());
  EXPECT_FALSE(rig.running(Output::pump));
  EXPECT_TRUE(rig.state.service_overdue) << "an hour is the longest: then it reminds";
  EXPECT_FALSE(rig.ask(flood_start()).accepted) << "floods stay held until a person ends it";
  ASSERT_TRUE(rig.ask({.kind = RequestKind::service_end}).accepted);
  EXPECT_TRUE(rig.ask(flood_start()).accepted || rig.running(Output::pump));
}

TEST(ScanStories, ServiceSurvivesAPowerCut) {
  Rig rig{strawberry_plan(), kMorning};
  ASSERT_TRUE(rig.ask({.kind = RequestKind::service_begin, .duration = minutes{60}}).accepted);
  const Kept kept = rig.state.kept;
  ASSERT_TRUE(rig.out.keep) << "worth a write at once";
  rig.boot(&kept);
  rig.run(hours{2});
  EXPECT_TRUE(rig.rows().empty()) << "nobody floods an open tray";
  EXPECT_TRUE(rig.state.service_overdue);
}

TEST(ScanStories, APumpHeldByHandDoesNotStartAgainByItselfAfterATrip) {
  Rig rig{strawberry_plan(), 7 * 3600};
  ASSERT_TRUE(rig.ask(hold(Output::pump, kRunning, minutes{20})).accepted);
  rig.run(seconds{30});
  rig.contact(Point::leak_floor, Contact::set);
  ASSERT_FALSE(rig.running(Output::pump));
  rig.contact(Point::leak_floor, Contact::clear);
  rig.run(minutes{5});
  EXPECT_FALSE(rig.running(Output::pump));
}

TEST(ScanStories, NoDwellOfThePlanHoldsThePumpBack) {
  Plan plan = strawberry_plan();
  plan.outputs[Output::pump]->min_on = minutes{20};
  Rig rig{plan, 7 * 3600};
  ASSERT_TRUE(rig.ask(hold(Output::pump, kRunning, seconds{30})).accepted);
  rig.run(seconds{32});
  EXPECT_FALSE(rig.running(Output::pump));
}

TEST(ScanStories, LostWaterLatchesInTheScanThatFindsIt) {
  Rig rig{strawberry_plan(), 7 * 3600};
  rig.hose_burst = true;
  ASSERT_TRUE(rig.ask(flood_start()).accepted);
  bool latched_with_the_row = false;
  rig.after_scan = [&](const Rig& r) {
    for (const Event& e : r.out.events)
      if (e.kind == EventKind::cycle_closed)
        latched_with_the_row = r.latched(Latch::lost_water) && r.out.keep;
  };
  rig.run(minutes{10});
  EXPECT_TRUE(latched_with_the_row);
}

TEST(ScanStories, ASlotOpenAtLightsOnIsToldAndCaughtUp) {
  Plan plan = strawberry_plan();
  plan.programme.stages[0].floods.rule = SlotRule::at_times;
  plan.programme.stages[0].floods.times_s = {5 * 3600 + 50 * 60, 12 * 3600};
  Rig rig{plan, kMorning};
  rig.reservoir_l = 20;
  rig.run(minutes{32});  // 06:02: the slot of 05:50 still waits for water
  EXPECT_EQ(rig.count(EventKind::slot_skipped), 1);
  EXPECT_NE(rig.alarm(Alarm::flood_missed), AlarmState::normal);
  rig.reservoir_l = 70;
  rig.run(minutes{30});
  ASSERT_EQ(rig.rows().size(), 1u);
  EXPECT_EQ(rig.rows()[0].origin, FloodOrigin::catch_up);
}

TEST(ScanStories, AReloadThatLeavesTheSlotsAloneKeepsTheDueOne) {
  Rig rig{strawberry_plan(), kMorning};
  rig.reservoir_l = 20;
  rig.run(minutes{65});  // 06:35: the slot of 06:30 waits for water
  ASSERT_TRUE(rig.state.slot_due);
  Plan after = rig.plan;
  after.programme.stages[0].vpd_day.high = Kilopascal{1.3};
  adopt_plan(rig.plan, after, rig.state, rig.now);
  rig.plan = after;
  rig.reservoir_l = 70;
  rig.run(minutes{5});
  EXPECT_TRUE(rig.running(Output::pump));
}

TEST(ScanStories, AClockGoneWildIsNotBelievedAndWithholdsNothingAfterwards) {
  Rig rig{strawberry_plan(), kMorning};
  rig.run(minutes{5});
  rig.inputs.wall.quality = TimeQuality::restored;
  rig.wall_shift = hours{24 * 365 * 5};
  rig.run(minutes{5});
  EXPECT_EQ(rig.alarm(Alarm::time_unknown), AlarmState::unacknowledged);
  rig.wall_shift = Millis{0};
  rig.inputs.wall.quality = TimeQuality::synced;
  rig.run(hours{2});
  EXPECT_EQ(rig.rows().size(), 1u);
}

TEST(ScanStories, ADeafPumpIsNotStartedAndTakesNoOtherOutputWithIt) {
  Rig rig{strawberry_plan(), 9 * 3600};
  rig.inputs.output_trouble = true;
  rig.inputs.troubled_output = Output::pump;
  rig.run(minutes{1});
  EXPECT_FALSE(rig.ask(flood_start()).accepted);
  EXPECT_TRUE(rig.running(Output::light));
}

TEST(ScanStories, AVariableFanSlewsEvenWhenScansComeLate) {
  Plan plan = strawberry_plan();
  plan.outputs[Output::light]->variable = true;
  plan.outputs[Output::light]->slew_per_min = 600;
  Rig rig{plan, 9 * 3600};
  rig.run(minutes{3});
  ASSERT_EQ(rig.level(Output::light), kRunning);
  ASSERT_TRUE(rig.ask(hold(Output::light, Permille{300}, minutes{30})).accepted);
  for (int i = 0; i < 60; ++i) {  // a live loop wakes a few milliseconds after the second
    rig.now += Millis{1003};
    rig.scan_now();
  }
  EXPECT_LT(rig.level(Output::light), Permille{700});
}

TEST(ScanStories, WithoutACanopyReadingTheFanFallsBackAndTheDehumidifierStops) {
  Rig rig{strawberry_plan(), 12 * 3600};
  rig.values[Point::canopy_humidity] = 88;
  rig.run(minutes{20});
  ASSERT_TRUE(rig.running(Output::dehumidifier));
  rig.silence(Point::canopy_humidity);
  rig.run(minutes{7});
  EXPECT_FALSE(rig.running(Output::dehumidifier));
  EXPECT_EQ(rig.level(Output::exhaust_fan), Permille{400});
  EXPECT_EQ(rig.alarm(Alarm::canopy_lost), AlarmState::unacknowledged);
}

TEST(ScanStories, AnOverheatedTentDimsThenShedsTheLight) {
  Rig rig{strawberry_plan(), 12 * 3600};
  rig.run(minutes{1});
  rig.values[Point::canopy_temperature] = 28.5;
  rig.run(minutes{2});
  rig.values[Point::canopy_temperature] = 33.4;
  rig.run(minutes{1});
  EXPECT_EQ(rig.reason(Output::light), Reason::light_dimmed_for_heat);
  rig.values[Point::canopy_temperature] = 35.2;
  rig.run(minutes{1});
  EXPECT_FALSE(rig.running(Output::light));
  EXPECT_EQ(rig.alarm(Alarm::over_temperature), AlarmState::unacknowledged);
}

TEST(ScanStories, ACompressorKeepsItsDwellAcrossARestart) {
  Rig rig{strawberry_plan(), 12 * 3600};
  rig.values[Point::canopy_humidity] = 88;
  ASSERT_TRUE(rig.run_until([&] { return rig.running(Output::dehumidifier); }, minutes{30}));
  const Kept kept = rig.state.kept;
  rig.boot(&kept);
  const Instant booted = rig.now;
  ASSERT_TRUE(rig.run_until([&] { return rig.running(Output::dehumidifier); }, minutes{30}));
  EXPECT_GE(rig.now - booted, limits::kCompressorMinOff);
}

TEST(ScanStories, AWallClockThatGoesBackRepeatsNoFlood) {
  Rig rig{strawberry_plan(), kMorning};
  rig.run(hours{2});
  ASSERT_EQ(rig.rows().size(), 1u);
  rig.wall_shift = -hours{2};
  rig.run(hours{2});
  EXPECT_EQ(rig.rows().size(), 1u);
}

TEST(ScanStories, WithoutAKnownTimeNothingIsScheduledAndItIsSaid) {
  Rig rig{strawberry_plan(), kMorning};
  rig.inputs.wall.quality = TimeQuality::unset;
  rig.run(hours{3});
  EXPECT_TRUE(rig.rows().empty());
  EXPECT_FALSE(rig.running(Output::light));
  EXPECT_NE(rig.alarm(Alarm::time_unknown), AlarmState::normal);
}

TEST(ScanStories, NothingLeavesItsSafeStateBeforeOutputsAreProvenAndInputsSeen) {
  Rig rig{strawberry_plan(), 9 * 3600};
  rig.inputs.outputs_proven = false;
  rig.scan_now();
  rig.ask(hold(Output::light, kRunning, minutes{5}));
  for (const OutputInfo& row : kOutputs)
    if (rig.plan.outputs[row.output]) {
      EXPECT_EQ(rig.level(row.output), rig.plan.outputs[row.output]->safe) << row.name;
    }
}

TEST(ScanStories, SafeModeDrivesNothingAwayFromSafe) {
  Rig rig{strawberry_plan(), kMorning};
  rig.inputs.safe_mode = true;
  rig.run(hours{3});
  EXPECT_TRUE(rig.rows().empty());
  EXPECT_FALSE(rig.running(Output::light));
  EXPECT_TRUE(rig.running(Output::air_pump));
}

TEST(ScanStories, AReloadInMidFloodKeepsTheFloodAndItsLimits) {
  Rig rig{strawberry_plan(), 7 * 3600};
  ASSERT_TRUE(rig.ask(flood_start()).accepted);
  rig.run(seconds{30});
  Plan after = rig.plan;
  after.programme.stages[0].floods.count = 6;
  adopt_plan(rig.plan, after, rig.state, rig.now);
  rig.plan = after;
  rig.run(seconds{20});
  EXPECT_TRUE(rig.running(Output::pump));
  rig.run(minutes{30});
  ASSERT_FALSE(rig.rows().empty());
  EXPECT_EQ(rig.rows()[0].outcome, FloodOutcome::complete);
}

TEST(ScanStories, AFallowTentFloodsNeverButKeepsItsLeakWatch) {
  Plan plan = strawberry_plan();
  plan.programme.stages = {fallow_stage()};
  Rig rig{plan, kMorning};
  rig.run(hours{24});
  EXPECT_TRUE(rig.rows().empty());
  EXPECT_FALSE(rig.running(Output::light));
  EXPECT_TRUE(rig.running(Output::exhaust_fan));
  rig.contact(Point::leak_floor, Contact::set);
  rig.contact(Point::leak_floor, Contact::set);
  EXPECT_TRUE(rig.latched(Latch::leak));
}

TEST(ScanStories, AStageWhoseDaysAreOverIsSuggestedAndWaitsForAPerson) {
  Plan plan = strawberry_plan();
  plan.programme.stages[0].days = 2;
  Rig rig{plan, kMorning};
  rig.run(hours{60});
  EXPECT_EQ(rig.state.kept.stage_index, 0);
  EXPECT_NE(rig.alarm(Alarm::stage_due), AlarmState::normal);
  ASSERT_TRUE(rig.ask({.kind = RequestKind::enter_stage, .number = 1}).accepted);
  EXPECT_EQ(rig.state.kept.stage_index, 1);
}

TEST(ScanStories, AFloodLeavesItsVpdDipInTheRow) {
  Rig rig{strawberry_plan(), 9 * 3600};
  rig.run(minutes{10});
  ASSERT_TRUE(rig.ask(flood_start()).accepted);
  rig.values[Point::canopy_humidity] = 80;  // VPD falls from 1.01 to 0.60 kPa
  ASSERT_TRUE(rig.run_until([&] { return !rig.rows().empty(); }, hours{1}));
  rig.run(minutes{5});
  rig.values[Point::canopy_humidity] = 66;
  rig.run(rig.plan.table.min_gap);
  CycleRow row;
  for (const Event& e : rig.events)
    if (e.kind == EventKind::cycle_settled) row = e.cycle;
  ASSERT_TRUE(row.dip_known);
  EXPECT_NEAR(row.vpd_before_kpa, 1.014, 0.01);
  EXPECT_NEAR(row.vpd_lowest_kpa, 0.597, 0.01);
  EXPECT_TRUE(row.recovered);
  EXPECT_GT(row.recovery, minutes{5});
}

}  // namespace
}  // namespace neap::test
