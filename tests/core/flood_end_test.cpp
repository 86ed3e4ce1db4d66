// How floods end when they do not end well: a tray that does not drain, a stop, a trip, a restart;
// and the deadlines of every phase.
#include <gtest/gtest.h>

#include "tests/core/flood_bench.h"

namespace neap {
namespace {

using test::FloodBench;

// --- nothing drains -----------------------------------------------------------------------------

TEST(FloodSlowDrain, ATrayThatIsNotEmptyInTimeIsToldUntilItsFloatClears) {
  FloodBench bench;
  bench.tub.drain_l_per_s = 0;
  bench.start();
  ASSERT_TRUE(bench.run_to(FloodPhase::drain));
  bench.run(bench.table.drain_limit - seconds{1});
  EXPECT_FALSE(bench.state.drain_expired);
  bench.run(seconds{1});
  EXPECT_TRUE(bench.state.drain_expired);
  EXPECT_EQ(bench.outcomes(), std::vector<FloodOutcome>{FloodOutcome::slow_drain});
  EXPECT_EQ(bench.state.last_end, because(Reason::flood_slow_drain));
  bench.run(hours{2});
  EXPECT_TRUE(bench.state.drain_expired);
  EXPECT_EQ(bench.start().refused, because(Reason::tray_not_drained));
  bench.tub.drain_l_per_s = 0.1;
  bench.run(seconds{30});
  EXPECT_FALSE(bench.state.drain_expired);
  EXPECT_EQ(bench.learnt.fills + bench.learnt.drains, 0);
}

TEST(FloodSlowDrain, ALowFloatThatCannotBeReadLeavesItToTheReservoir) {
  FloodBench bench;
  bench.start();
  ASSERT_TRUE(bench.run_to(FloodPhase::drain));
  bench.wet_fitted = true;
  ASSERT_TRUE(bench.run_to(FloodPhase::rest));
  const CycleRow proven = bench.rows[0];
  EXPECT_EQ(proven.outcome, FloodOutcome::complete);

  TablePlan table = bench.table;
  FloodState state;
  FloodLearnt learnt;
  FloodInputs in;
  in.tray_full = FloatSeen::clear;
  in.tray_wet = FloatSeen::unknown;
  state.phase = FloodPhase::drain;
  state.since = bench.now();
  Demands demands;
  step_flood(table, state, learnt, in, {}, false, bench.now() + table.drain_limit, demands);
  EXPECT_TRUE(state.drain_expired) << "neither float nor level can prove it";

  state.phase = FloodPhase::drain;
  state.since = bench.now();
  state.level_before_known = true;
  state.level_before_l = 70;
  state.level_lowest_l = 46;
  in.reservoir = Reading<Litres>::of(Litres{69}, Quality::good, bench.now());
  step_flood(table, state, learnt, in, {}, false, bench.now(), demands);
  EXPECT_EQ(state.phase, FloodPhase::rest);
  EXPECT_FALSE(state.drain_expired);
}

TEST(FloodSlowDrain, AFailedFillThatDoesNotDrainIsNotTriedAgain) {
  FloodBench bench;
  bench.wet_fitted = true;
  bench.tub.pump_part = 0.15;
  bench.tub.drain_l_per_s = 0;
  bench.start();
  bench.run(hours{3});
  EXPECT_EQ(bench.pump_edges.size(), 2U);
  EXPECT_TRUE(bench.raised_drain_expired);
  EXPECT_EQ(bench.outcomes(), std::vector<FloodOutcome>{FloodOutcome::fill_failed});
}

// --- somebody stops it --------------------------------------------------------------------------

TEST(FloodStopped, AnOperatorsStopDrainsTheTrayAtOnce) {
  FloodBench bench;
  bench.start();
  bench.run(seconds{60});
  bench.stop();
  EXPECT_EQ(bench.state.phase, FloodPhase::drain);
  EXPECT_FALSE(bench.state.pump_wanted);
  ASSERT_TRUE(bench.run_to(FloodPhase::rest));
  ASSERT_EQ(bench.rows.size(), 1U);
  EXPECT_EQ(bench.rows[0].outcome, FloodOutcome::stopped);
  EXPECT_EQ(bench.rows[0].fill, seconds{60});
  EXPECT_EQ(bench.state.last_end, because(Reason::flood_stopped_by_operator));
}

TEST(FloodStopped, AnOperatorsStopCallsOffTheRetryToo) {
  FloodBench bench;
  bench.tub.pump_part = 0;
  bench.start();
  bench.run(minutes{1});
  bench.stop();
  bench.run(hours{1});
  EXPECT_EQ(bench.rows.size(), 1U);
}

TEST(FloodStopped, ARetryThatMayNotBeMadeWhenItIsDueIsDroppedAndSaysWhy) {
  FloodBench bench;
  bench.tub.pump_part = 0;
  bench.start();
  bench.run(minutes{1});
  bench.in.start_permitted = false;
  bench.in.withheld_because = because(Reason::leak_damp);
  bench.run(minutes{10});
  bench.in.start_permitted = true;
  bench.run(hours{1});
  EXPECT_EQ(bench.rows.size(), 1U);
  EXPECT_EQ(bench.refusals, std::vector<Because>{because(Reason::leak_damp)});
}

TEST(FloodStopped, ATripInFillOrSoakEndsTheCycleWithItsCause) {
  for (const FloodPhase phase : {FloodPhase::fill, FloodPhase::soak}) {
    FloodBench bench;
    bench.start();
    ASSERT_TRUE(bench.run_to(phase));
    bench.run(seconds{50});
    bench.in.pump_tripped = true;
    bench.in.trip_because = because(Reason::leak_wet);
    bench.run(seconds{1});
    EXPECT_EQ(bench.state.phase, FloodPhase::drain);
    EXPECT_EQ(bench.state.last_end, because(Reason::leak_wet));
    ASSERT_TRUE(bench.run_to(FloodPhase::rest));
    EXPECT_EQ(bench.outcomes(), std::vector<FloodOutcome>{FloodOutcome::tripped});
    EXPECT_EQ(bench.pump_edges.size(), 2U);
  }
}

TEST(FloodStopped, AFloodIsNotStartedOnATrippedPump) {
  FloodBench bench;
  bench.in.pump_tripped = true;
  EXPECT_EQ(bench.start().refused, because(Reason::flood_withheld));
}

TEST(FloodStopped, APumpThatIsNotGrantedIsNoDeadPump) {
  FloodBench bench;
  bench.pump_obeys = false;
  bench.in.withheld_because = because(Reason::operator_hold);
  bench.start();
  bench.run(hours{1});
  EXPECT_EQ(bench.outcomes(), std::vector<FloodOutcome>{FloodOutcome::tripped});
  EXPECT_EQ(bench.state.last_end, because(Reason::operator_hold));
  EXPECT_TRUE(bench.pump_edges.empty());
}

TEST(FloodStopped, AValveForcedOpenEndsTheSoakButAPumpTripWithThePumpStoppedDoesNot) {
  FloodBench bench;
  bench.table.drain_path = DrainPath::drain_valve;
  bench.start();
  ASSERT_TRUE(bench.run_to(FloodPhase::soak));
  bench.in.pump_tripped = true;  // its budget is spent: it has done its work
  bench.run(minutes{1});
  EXPECT_EQ(bench.state.phase, FloodPhase::soak);
  bench.in.valve_tripped = true;
  bench.in.trip_because = because(Reason::leak_wet);
  bench.run(seconds{1});
  EXPECT_EQ(bench.state.phase, FloodPhase::drain);
  EXPECT_EQ(bench.state.last_end, because(Reason::leak_wet));
}

// --- a restart in mid-cycle
// -----------------------------------------------------------------------

TEST(FloodInterrupted, ARestartClosesTheRowAndWaitsTheDrainOutBeforeTheNextFlood) {
  FloodBench bench;
  bench.wet_fitted = false;
  bench.start();
  ASSERT_TRUE(bench.run_to(FloodPhase::soak));
  const CycleRow kept = bench.state.row;

  FloodState state = bench.state;  // whatever it holds is forgotten
  const FloodNews news = resume_flood(bench.table, state, kept, true, bench.now());
  EXPECT_TRUE(news.row_closed);
  EXPECT_TRUE(news.phase_changed);
  EXPECT_FALSE(state.level_before_known || state.row_open);
  EXPECT_EQ(news.row.outcome, FloodOutcome::interrupted);
  EXPECT_EQ(news.row.started_tick, kept.started_tick);
  EXPECT_EQ(news.row.fill, kept.fill);
  EXPECT_FALSE(state.pump_wanted);

  bench.state = state;
  bench.rows.clear();
  EXPECT_EQ(bench.start().refused, because(Reason::flood_already_running));
  bench.run(bench.table.drain_limit - seconds{1});
  EXPECT_EQ(bench.state.phase, FloodPhase::drain);
  bench.run(seconds{1});
  EXPECT_EQ(bench.state.phase, FloodPhase::rest);
  EXPECT_TRUE(bench.rows.empty()) << "its row was closed by the restart";
  EXPECT_EQ(bench.state.last_end, because(Reason::flood_interrupted));
  EXPECT_EQ(bench.start().refused, because(Reason::flood_too_soon));
  EXPECT_EQ(bench.learnt.fills + bench.learnt.drains, 0);
}

TEST(FloodInterrupted, ABrownOutLoopLeavesOneRowAndWaitsFromTheLastRestart) {
  FloodBench bench;
  bench.tub.tray_l = 20;
  CycleRow kept;
  int closed = 0;
  for (int i = 0; i < 1000; ++i) {
    closed += resume_flood(bench.table, bench.state, kept, true, bench.now()).row_closed;
    kept = bench.state.row;
    bench.run(seconds{2});
    EXPECT_FALSE(bench.state.pump_wanted);
  }
  EXPECT_EQ(closed, 1);
  EXPECT_EQ(bench.state.phase, FloodPhase::drain);
  EXPECT_EQ(bench.now() - bench.state.since, seconds{2});
}

TEST(FloodInterrupted, ARestartDoesNotRewriteTheRowOfLostWater) {
  FloodBench bench;
  bench.tub.spilt_part = 1;
  bench.start();
  ASSERT_TRUE(bench.run_to(FloodPhase::drain));
  const CycleRow kept = bench.state.row;
  EXPECT_FALSE(resume_flood(bench.table, bench.state, kept, true, bench.now()).row_closed);
  EXPECT_EQ(bench.state.row.outcome, FloodOutcome::lost_water);
}

TEST(FloodInterrupted, ATrayThatIsProvenEmptyNeedNotWait) {
  FloodBench bench;
  bench.wet_fitted = true;
  resume_flood(bench.table, bench.state, CycleRow{}, true, bench.now());
  bench.run(seconds{1});
  EXPECT_EQ(bench.state.phase, FloodPhase::rest);
}

TEST(FloodInterrupted, ATrayThatStaysFullAfterARestartIsASlowDrain) {
  FloodBench bench;
  bench.tub.tray_l = 24;
  bench.tub.drain_l_per_s = 0;
  resume_flood(bench.table, bench.state, CycleRow{}, true, bench.now());
  bench.run(bench.table.drain_limit);
  EXPECT_TRUE(bench.state.drain_expired);
}

TEST(FloodInterrupted, ARestartBetweenFloodsChangesNothing) {
  FloodBench bench;
  FloodState state;
  state.any_ended = true;
  const FloodNews news = resume_flood(bench.table, state, CycleRow{}, false, bench.now());
  EXPECT_FALSE(news.row_closed || news.phase_changed);
  EXPECT_EQ(state.phase, FloodPhase::idle);
  EXPECT_TRUE(state.any_ended);
}

// --- deadlines
// ------------------------------------------------------------------------------------

// When the cycle next wants a step, in seconds from now.
std::int64_t due_s(const FloodBench& bench) {
  const Instant due = next_flood_deadline(bench.table, bench.state, bench.learnt, bench.in);
  EXPECT_EQ(tick_ms(due) % 1000, 0);
  return (due - bench.now()) / seconds{1};
}

TEST(FloodDeadline, IdleHasNoneAndEveryPhaseEndsOnAWholeSecond) {
  FloodBench bench;
  bench.learnt = {Millis{118'300}, seconds{200}, 5, 5};
  bench.step();
  EXPECT_EQ(next_flood_deadline(bench.table, bench.state, bench.learnt, bench.in), Instant::max());
  bench.start();
  EXPECT_EQ(due_s(bench), 20);  // effect
  bench.run(seconds{20});
  EXPECT_EQ(due_s(bench), 148 - 20);  // slow: 147.875 s
  ASSERT_TRUE(bench.run_to(FloodPhase::soak));
  EXPECT_EQ(due_s(bench), 480);
  ASSERT_TRUE(bench.run_to(FloodPhase::drain));
  EXPECT_EQ(due_s(bench), 1000);
  bench.run(seconds{1});
  ASSERT_TRUE(bench.run_to(FloodPhase::rest));
  EXPECT_EQ(due_s(bench), 2400);
}

TEST(FloodDeadline, WhatIsDueAndStillWaitsForAReadingIsNotDueAgain) {
  FloodBench bench;
  bench.level_every = hours{1};
  bench.start();
  bench.run(seconds{20});
  EXPECT_FALSE(bench.state.effect_seen);
  EXPECT_EQ(due_s(bench), 360 - 20);
}

TEST(FloodDeadline, AFillByTimeEndsOnItsSecondAndOneByLevelHasNone) {
  FloodBench bench;
  bench.in.depth = Depth::by_litres;
  bench.in.litres = Litres{2};  // 10 s
  bench.start();
  EXPECT_EQ(due_s(bench), 20);

  FloodBench timed;
  timed.level_fitted = false;
  timed.in.depth = Depth::by_litres;
  timed.in.litres = Litres{2};
  timed.start();
  EXPECT_EQ(due_s(timed), 10);

  FloodBench by_float;
  by_float.level_fitted = false;
  by_float.in.litres = Litres{2};  // of another stage: means nothing here
  by_float.start();
  EXPECT_EQ(due_s(by_float), 20);
}

TEST(FloodDeadline, ADrainThatIsNotProvenByTimeIsLookedAtAgainAtItsLimit) {
  FloodBench bench;
  bench.tub.drain_l_per_s = 0;
  bench.start();
  ASSERT_TRUE(bench.run_to(FloodPhase::drain));
  bench.run(seconds{1000});
  EXPECT_EQ(due_s(bench), 500);
}

TEST(FloodDeadline, ARetryIsDueInRestAndInIdle) {
  for (const Millis gap : {Millis{minutes{40}}, Millis{minutes{2}}}) {
    FloodBench bench;
    bench.table.min_gap = gap;
    bench.tub.pump_part = 0;
    bench.start();
    bench.run(minutes{3});
    EXPECT_EQ(bench.state.phase, gap > minutes{3} ? FloodPhase::rest : FloodPhase::idle);
    EXPECT_EQ(due_s(bench), 320 - 180);
    bench.stop();
    EXPECT_GT(next_flood_deadline(bench.table, bench.state, bench.learnt, bench.in),
              bench.now() + seconds{320 - 180});
  }
}

}  // namespace
}  // namespace neap
