// Week one: a timer drives the pump, neap looks on, says what it would have done, and takes over
// output by output.
#include <gtest/gtest.h>

#include "daemon/core/roots.h"
#include "tests/core/rig.h"

namespace neap::test {
namespace {

constexpr std::int32_t kMorning = 6 * 3600 + 1800 + 17;

Plan observed(std::initializer_list<Output> ours = {}) {
  Plan plan = strawberry_plan();
  plan.mode = Mode::observe;
  for (const OutputInfo& row : kOutputs)
    if (auto& output = plan.outputs[row.output]) output->driven = false;
  for (const Output output : ours) plan.outputs[output]->driven = true;
  return plan;
}

// The timer pumps for `length`, and the tray drains.
void timer_floods(Rig& rig, Millis length = minutes{8}) {
  rig.other_hand_pumps = true;
  rig.run(length);
  rig.other_hand_pumps = false;
  rig.run(minutes{70});
}

std::vector<Event> told(const Rig& rig, EventKind kind) {
  std::vector<Event> found;
  for (const Event& event : rig.events)
    if (event.kind == kind) found.push_back(event);
  return found;
}

void without(Plan& plan, std::initializer_list<Point> points) {
  for (const Point point : points) plan.points[point].reset();
}

// As a person hands over: other settings, and a restart.
void restart_with(const Plan& after, Rig& rig) {
  const Kept kept = rig.state.kept;
  rig.plan = after;
  rig.boot(&kept);
}

Request hold(Output output, Permille level) {
  Request request;
  request.kind = RequestKind::hold;
  request.output = output;
  request.level = level;
  request.duration = minutes{1};
  return request;
}

// --- floods by another hand ---------------------------------------------------------------------

TEST(AnotherHand, AFloodByATimerIsPutDownWithItsTimesAndItsLitres) {
  Rig rig(observed(), kMorning);
  rig.run(minutes{5});
  timer_floods(rig);
  ASSERT_EQ(rig.rows().size(), 1u);
  const CycleRow row = rig.rows()[0];
  EXPECT_EQ(row.origin, FloodOrigin::another_hand);
  EXPECT_EQ(row.outcome, FloodOutcome::complete);
  // 24 L at 0.2 L/s; then over the standpipe for the rest of the 8 min.
  EXPECT_NEAR(static_cast<double>(row.fill.count()) / 1000, 120, 15);
  EXPECT_NEAR(static_cast<double>(row.soak.count()) / 1000, 360, 15);
  EXPECT_NEAR(row.litres_out, 24.5, 0.6);
  const auto settled = told(rig, EventKind::cycle_settled);
  ASSERT_EQ(settled.size(), 1u);
  EXPECT_NEAR(settled[0].cycle.litres_back, row.litres_out, 1.0);
  EXPECT_FALSE(rig.running(Output::pump));
  EXPECT_EQ(rig.state.kept.flood_learnt.fills, 0) << "seen late, so nothing to learn from";
  EXPECT_EQ(rig.state.kept.flood_learnt.drains, 0);
  EXPECT_EQ(rig.state.kept.budget.run_count, 1) << "spent for whoever has the pump next";
}

TEST(AnotherHand, TheFloatAloneShowsAFlood) {
  Plan plan = observed();
  without(plan, {Point::reservoir_level});
  Rig rig(plan, kMorning);
  rig.run(minutes{5});
  timer_floods(rig);
  ASSERT_EQ(rig.rows().size(), 1u);
  EXPECT_EQ(rig.rows()[0].outcome, FloodOutcome::complete);
  EXPECT_FALSE(rig.rows()[0].litres_known);
}

TEST(AnotherHand, TheReservoirAloneShowsAFlood) {
  Plan plan = observed();
  without(plan, {Point::tray_full, Point::tray_high});
  Rig rig(plan, kMorning);
  rig.run(minutes{5});
  timer_floods(rig);
  ASSERT_EQ(rig.rows().size(), 1u);
  EXPECT_EQ(rig.rows()[0].outcome, FloodOutcome::complete);
  EXPECT_NEAR(rig.rows()[0].litres_out, 24.5, 0.6);
  EXPECT_FALSE(rig.latched(Latch::lost_water));
}

TEST(AnotherHand, ThePumpsProofAloneShowsThatItRan) {
  Plan plan = observed();
  without(plan, {Point::reservoir_level});
  plan.points[Point::pump_running] = sampled_every(seconds{10});
  Rig rig(plan, kMorning);
  rig.run(minutes{5});
  rig.contact(Point::pump_running, Contact::set);
  EXPECT_EQ(rig.state.flood.phase, FloodPhase::fill);
  EXPECT_EQ(told(rig, EventKind::flood_phase).back().because.reason, Reason::flood_seen_by_pump);
  EXPECT_NE(rig.alarm(Alarm::pump_in_hand), AlarmState::unacknowledged)
      << "it is meant to be in another hand";
}

TEST(AnotherHand, AFloodThatStopsShortIsToldAndWatersNoRoots) {
  Rig rig(observed(), kMorning);
  rig.run(minutes{5});
  timer_floods(rig, seconds{60});
  ASSERT_EQ(rig.rows().size(), 1u);
  EXPECT_EQ(rig.rows()[0].outcome, FloodOutcome::fill_failed);
  EXPECT_FALSE(rig.state.kept.roots.proven);
  EXPECT_FALSE(rig.latched(Latch::fill_failed));
  EXPECT_FALSE(rig.latched(Latch::lost_water));
}

TEST(AnotherHand, EachOfManyFloodsADayIsOneRow) {
  Rig rig(observed(), kMorning);
  rig.run(minutes{5});
  for (int i = 0; i < 5; ++i) timer_floods(rig);
  EXPECT_EQ(rig.rows().size(), 5u);
  for (const CycleRow& row : rig.rows()) EXPECT_EQ(row.outcome, FloodOutcome::complete);
}

TEST(AnotherHand, EvaporationATopUpAndASampleForTheMeterAreNoFlood) {
  Rig rig(observed(), kMorning);
  rig.run(minutes{5});
  rig.air = [](Rig& r) { r.reservoir_l -= 0.3 / 3600; };
  rig.run(hours{3});
  rig.reservoir_l -= 0.5;
  rig.run(hours{1});
  rig.reservoir_l += 6;
  rig.run(hours{1});
  EXPECT_TRUE(rig.rows().empty());
  EXPECT_EQ(rig.state.flood.phase, FloodPhase::idle);
  EXPECT_FALSE(rig.latched(Latch::lost_water));
}

// What evaporated in the hour before and the first litres of a slow pump are 2 L, and no leak.
TEST(AnotherHand, AFloodAfterADryHourIsNoLostWater) {
  Rig rig(observed(), kMorning);
  rig.pump_l_per_s = 0.13;
  rig.run(minutes{5});
  rig.air = [](Rig& r) { r.reservoir_l -= 2.0 / 3600; };
  rig.run(minutes{50});
  timer_floods(rig);
  ASSERT_EQ(rig.rows().size(), 1u);
  EXPECT_FALSE(rig.latched(Latch::lost_water));
}

TEST(AnotherHand, AFloodByTheTimerStartsTheRootsClock) {
  Rig rig(observed(), kMorning);
  rig.run(minutes{5});
  EXPECT_FALSE(rig.state.kept.roots.proven);
  timer_floods(rig);
  EXPECT_TRUE(rig.state.kept.roots.proven);
  const std::int64_t since = rig.state.kept.roots.since_tick;
  EXPECT_NEAR(static_cast<double>(tick_ms(rig.now) - since) / 60'000, 76, 1.5);
}

TEST(AnotherHand, RootsThatATimerForgetsAreToldOf) {
  Rig rig(observed(), kMorning);
  rig.run(minutes{5});
  timer_floods(rig);
  rig.run(hours{40});
  EXPECT_NE(rig.alarm(Alarm::roots_thirsty), AlarmState::normal);
  EXPECT_EQ(rig.alarm(Alarm::flood_missed), AlarmState::normal) << "no flood was neap's to miss";
}

// --- what neap would have done ------------------------------------------------------------------

TEST(AnotherHand, EachSlotOfNeapsOwnIsToldOnceAndDrivesNothing) {
  Rig rig(observed(), 5 * 3600);
  rig.run(hours{18});
  const auto slots = told(rig, EventKind::would_flood);
  ASSERT_EQ(slots.size(), 4u);
  for (int i = 0; i < 4; ++i) {
    EXPECT_EQ(slots[static_cast<std::size_t>(i)].slot.number, i + 1);
    EXPECT_EQ(slots[static_cast<std::size_t>(i)].because.reason, Reason::none);
  }
  EXPECT_EQ(rig.count(EventKind::slot_skipped), 0);
  for (const Change& change : rig.changes()) EXPECT_NE(change.output, Output::pump);
  EXPECT_TRUE(rig.rows().empty());
}

TEST(AnotherHand, ASlotThatNeapWouldWithholdSaysWhy) {
  Rig rig(observed(), 5 * 3600);
  rig.run(minutes{5});
  rig.contact(Point::leak_floor, Contact::damp);
  rig.run(hours{2});
  const auto slots = told(rig, EventKind::would_flood);
  ASSERT_EQ(slots.size(), 1u);
  EXPECT_EQ(slots[0].because.reason, Reason::leak_damp);
}

TEST(AnotherHand, NoOutputLeavesItsSafeLevelAndWhatItWouldBeIsSaid) {
  Rig rig(observed(), kMorning);
  rig.values[Point::canopy_humidity] = 92;  // damp: fan and dehumidifier are wanted
  bool all_safe = true;
  rig.after_scan = [&](const Rig& r) {
    for (const OutputInfo& row : kOutputs) {
      const auto& fitted = r.plan.outputs[row.output];
      if (fitted) all_safe &= r.level(row.output) == fitted->safe;
      all_safe &= !r.out.outputs.driven[row.output];
    }
  };
  rig.run(hours{1});
  EXPECT_TRUE(all_safe);
  EXPECT_EQ(rig.reason(Output::dehumidifier), Reason::observing);
  EXPECT_EQ(rig.state.last.commands[Output::dehumidifier].wanted, kRunning);
  const auto would = told(rig, EventKind::would_actuate);
  EXPECT_TRUE(std::any_of(would.begin(), would.end(), [](const Event& event) {
    return event.output == Output::dehumidifier && event.level == kRunning;
  }));
  EXPECT_TRUE(std::any_of(would.begin(), would.end(), [](const Event& event) {
    return event.output == Output::light && event.level == kRunning;
  }));
  EXPECT_EQ(rig.count(EventKind::actuation), 0);
}

// What would have been keeps the device's own times, as if it were driven.
TEST(AnotherHand, WhatACompressorWouldDoKeepsItsDwells) {
  Rig rig(observed(), kMorning);
  rig.air = [](Rig& r) {  // wet and dry by turns, each half a minute
    r.values[Point::canopy_humidity] = tick_ms(r.now) / 30'000 % 2 == 0 ? 92 : 40;
  };
  rig.run(hours{2});
  std::int64_t last = 0;
  std::int64_t at = 0;
  rig.after_scan = [&](const Rig& r) {
    for (const Event& event : r.out.events) {
      if (event.kind != EventKind::would_actuate || event.output != Output::dehumidifier) continue;
      at = tick_ms(r.now);
      EXPECT_TRUE(last == 0 || at - last >= limits::kCompressorMinOn.count());
      last = at;
    }
  };
  rig.run(hours{3});
}

TEST(AnotherHand, DevicesThatNobodyToldAnythingAreNotDoubted) {
  Plan plan = observed();
  plan.climate.law = LawChoice::rule;
  Rig rig(plan, kMorning);
  rig.values[Point::canopy_humidity] = 92;
  rig.run(hours{6});
  for (const Alarm alarm : {Alarm::fan_dead, Alarm::dehumidifier_dead, Alarm::light_stuck_on})
    EXPECT_EQ(rig.alarm(alarm), AlarmState::normal) << info(alarm).name;
}

// --- leaks
// ----------------------------------------------------------------------------------------

TEST(AnotherHand, ALeakIsToldWithThatNeapCannotStopThePump) {
  Rig rig(observed(), kMorning);
  rig.run(minutes{5});
  rig.other_hand_pumps = true;
  rig.run(minutes{2});
  rig.contact(Point::leak_floor, Contact::set);
  EXPECT_EQ(rig.alarm(Alarm::leak), AlarmState::unacknowledged);
  EXPECT_EQ(rig.alarm(Alarm::not_ours_to_stop), AlarmState::unacknowledged);
  EXPECT_FALSE(rig.running(Output::pump));
}

TEST(AnotherHand, ATrayThatOverflowsIsToldLikewise) {
  Rig rig(observed(), kMorning);
  rig.run(minutes{5});
  rig.contact(Point::tray_high, Contact::set);
  EXPECT_EQ(rig.alarm(Alarm::tray_overflow), AlarmState::unacknowledged);
  EXPECT_EQ(rig.alarm(Alarm::not_ours_to_stop), AlarmState::unacknowledged);
}

TEST(AnotherHand, WhereNeapDrivesThePumpItStopsItAndSaysNothingOfTheKind) {
  Rig rig(observed({Output::pump}), 5 * 3600);
  ASSERT_TRUE(rig.run_until([&] { return rig.running(Output::pump); }, hours{3}));
  rig.contact(Point::leak_floor, Contact::set);
  EXPECT_FALSE(rig.running(Output::pump));
  EXPECT_EQ(rig.alarm(Alarm::not_ours_to_stop), AlarmState::normal);
}

// --- requests
// -------------------------------------------------------------------------------------

TEST(AnotherHand, NobodyFloodsOrHoldsThroughNeapWhatIsNotItsOwn) {
  Rig rig(observed({Output::exhaust_fan}), kMorning);
  rig.run(minutes{5});
  EXPECT_EQ(rig.ask(hold(Output::pump, kRunning)).because.reason, Reason::observing);
  EXPECT_EQ(rig.ask(hold(Output::light, kStopped)).because.reason, Reason::observing);
  Request flood;
  flood.kind = RequestKind::flood_start;
  EXPECT_EQ(rig.ask(flood).because.reason, Reason::observing);
  rig.other_hand_pumps = true;
  rig.run(minutes{1});
  flood.kind = RequestKind::flood_stop;
  const Event& stop = rig.ask(flood);
  EXPECT_FALSE(stop.accepted);
  EXPECT_EQ(stop.because.reason, Reason::observing);
  EXPECT_TRUE(rig.ask(hold(Output::exhaust_fan, kRunning)).accepted);
}

// --- handing over
// ---------------------------------------------------------------------------------

TEST(AnotherHand, AFanHandedOverIsDrivenWhileTheRestIsObserved) {
  Rig rig(observed({Output::exhaust_fan}), kMorning);
  rig.values[Point::canopy_humidity] = 40;  // dry, in a drier room: the fan at its least
  rig.values[Point::room_humidity] = 20;
  rig.run(hours{1});
  EXPECT_LT(rig.level(Output::exhaust_fan), kRunning);
  EXPECT_TRUE(rig.running(Output::exhaust_fan));
  EXPECT_TRUE(rig.out.outputs.driven[Output::exhaust_fan]);
  EXPECT_FALSE(rig.out.outputs.driven[Output::dehumidifier]);
}

// The law of the fan does not count on a dehumidifier that it cannot start.
TEST(AnotherHand, ADampTentVentsThoughTheDehumidifierWouldRun) {
  for (const LawChoice law : {LawChoice::two_position, LawChoice::rule, LawChoice::predictive}) {
    Plan plan = observed({Output::exhaust_fan});
    plan.climate.law = law;
    Rig rig(plan, kMorning);
    rig.values[Point::canopy_humidity] = 78;  // under the band, far from the limits
    rig.run(hours{1});
    EXPECT_EQ(rig.level(Output::exhaust_fan), kRunning) << static_cast<int>(law);
    EXPECT_EQ(rig.level(Output::dehumidifier), kStopped);
    EXPECT_EQ(rig.state.last.commands[Output::dehumidifier].wanted, kRunning);
  }
}

TEST(AnotherHand, APumpTakenOverInMidFloodStaysStoppedAndTheTrayDrains) {
  Rig rig(observed(), kMorning);
  rig.run(minutes{5});
  rig.other_hand_pumps = true;
  rig.run(minutes{1});
  ASSERT_EQ(rig.state.flood.phase, FloodPhase::fill);
  const Plan after = observed({Output::pump});
  restart_with(after, rig);
  rig.other_hand_pumps = false;
  rig.scan_now();
  EXPECT_FALSE(rig.running(Output::pump));
  EXPECT_EQ(rig.state.flood.phase, FloodPhase::drain);
  ASSERT_EQ(rig.rows().size(), 1u);
  EXPECT_EQ(rig.rows()[0].outcome, FloodOutcome::interrupted);
  rig.run(minutes{20});
  EXPECT_FALSE(rig.running(Output::pump));
}

TEST(AnotherHand, APumpGivenAwayInMidFloodStops) {
  Rig rig(observed({Output::pump}), 5 * 3600);
  ASSERT_TRUE(rig.run_until([&] { return rig.running(Output::pump); }, hours{3}));
  const Plan after = observed();
  restart_with(after, rig);
  rig.scan_now();
  EXPECT_FALSE(rig.running(Output::pump));
  EXPECT_EQ(rig.rows().back().outcome, FloodOutcome::interrupted);
}

// A flood that moved nothing is tried again in 5 min, but not by whoever has the pump next.
TEST(AnotherHand, ARetryDoesNotOutliveTheHandThatPlannedIt) {
  Rig rig(observed({Output::pump}), 5 * 3600);
  rig.pump_l_per_s = 0;
  ASSERT_TRUE(rig.run_until([&] { return rig.state.flood.retry_pending; }, hours{3}));
  for (const Plan& next : {observed(), observed({Output::pump})}) {
    restart_with(next, rig);
    EXPECT_FALSE(rig.run_until([&] { return rig.running(Output::pump); }, minutes{30}));
  }
}

TEST(AnotherHand, ACompressorTakenOverRestsBeforeItsFirstStart) {
  Rig rig(observed({Output::exhaust_fan}), kMorning);
  rig.values[Point::canopy_humidity] = 92;
  rig.run(hours{1});
  const Plan after = observed({Output::exhaust_fan, Output::dehumidifier});
  restart_with(after, rig);
  rig.scan_now();
  const Instant taken = rig.now;
  EXPECT_FALSE(rig.running(Output::dehumidifier));
  ASSERT_TRUE(rig.run_until([&] { return rig.running(Output::dehumidifier); }, hours{1}));
  EXPECT_GE(rig.now - taken, limits::kCompressorMinOff);
}

TEST(AnotherHand, ARestartInMidFloodClosesTheRowOnceAndMissesNothing) {
  Rig rig(observed(), kMorning);
  rig.run(minutes{5});
  rig.other_hand_pumps = true;
  rig.run(minutes{1});
  const Kept kept = rig.state.kept;
  rig.boot(&kept);
  rig.scan_now();
  ASSERT_EQ(rig.rows().size(), 1u);
  EXPECT_EQ(rig.rows()[0].outcome, FloodOutcome::interrupted);
  EXPECT_FALSE(rig.state.kept.flood_missed);
}

TEST(AnotherHand, WhatIsSeenDoesNotDependOnHowOftenScansCome) {
  std::vector<std::vector<CycleRow>> rows;
  std::vector<int> would;
  for (const Stepping stepping : {Stepping::each_second, Stepping::next_wake}) {
    Rig rig(observed({Output::exhaust_fan}), 5 * 3600 + 11, stepping);
    rig.values[Point::canopy_humidity] = 80;
    for (int i = 0; i < 4; ++i) {
      rig.run(minutes{33});
      timer_floods(rig, minutes{3 + i});
    }
    rows.push_back(rig.rows());
    would.push_back(rig.count(EventKind::would_actuate) + rig.count(EventKind::would_flood));
  }
  ASSERT_EQ(rows[0].size(), rows[1].size());
  EXPECT_EQ(would[0], would[1]);
  for (std::size_t i = 0; i < rows[0].size(); ++i) {
    EXPECT_EQ(rows[0][i].started_tick, rows[1][i].started_tick) << i;
    EXPECT_EQ(rows[0][i].fill, rows[1][i].fill) << i;
    EXPECT_EQ(rows[0][i].drain, rows[1][i].drain) << i;
    EXPECT_EQ(rows[0][i].outcome, rows[1][i].outcome) << i;
  }
}

}  // namespace
}  // namespace neap::test
