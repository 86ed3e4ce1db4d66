// Floods that go wrong while they fill: nothing moves, nothing fills, the water is elsewhere. What
// the cycle does, what the kernel is told, which row is left.
#include <gtest/gtest.h>

#include "tests/core/flood_bench.h"

namespace neap {
namespace {

using test::FloodBench;
using test::PumpEdge;

// --- nothing moves ------------------------------------------------------------------------------

TEST(FloodNoEffect, ADeadPumpIsStoppedAfterTwentySecondsAndTriedThriceFiveMinutesApart) {
  FloodBench bench;
  bench.tub.pump_part = 0;
  bench.start();
  bench.run(minutes{10} + seconds{39});
  EXPECT_FALSE(bench.state.no_effect_alarm);
  bench.run(hours{2});
  EXPECT_EQ(bench.pump_edges,
            (std::vector<PumpEdge>{
                {0, true}, {20, false}, {320, true}, {340, false}, {640, true}, {660, false}}));
  EXPECT_TRUE(bench.state.no_effect_alarm);
  EXPECT_EQ(bench.outcomes(), std::vector<FloodOutcome>(3, FloodOutcome::no_effect));
  ASSERT_EQ(bench.rows.size(), 3U);
  EXPECT_EQ(bench.rows[0].origin, FloodOrigin::slot);
  EXPECT_EQ(bench.rows[1].origin, FloodOrigin::retry);
  EXPECT_EQ(bench.rows[2].origin, FloodOrigin::retry);
  EXPECT_EQ(bench.rows[2].slot, (SlotId{20000, 2}));
  EXPECT_EQ(bench.rows[2].pump_on, seconds{20});
  EXPECT_EQ(bench.state.last_end, because(Reason::flood_no_effect));
  EXPECT_FALSE(bench.raised_fill_expired || bench.raised_lost_water || bench.raised_drain_expired);
}

TEST(FloodNoEffect, AnAirlockThatFreesItselfCostsOneRetryAndNoAlarm) {
  FloodBench bench;
  bench.tub.pump_part = 0;
  bench.start();
  bench.run(minutes{2});
  bench.tub.pump_part = 1;
  ASSERT_TRUE(bench.run_to(FloodPhase::soak));
  ASSERT_TRUE(bench.run_to(FloodPhase::rest));
  EXPECT_EQ(bench.outcomes(),
            (std::vector<FloodOutcome>{FloodOutcome::no_effect, FloodOutcome::complete}));
  EXPECT_FALSE(bench.state.no_effect_alarm);
}

TEST(FloodNoEffect, TheAlarmStaysUntilAPumpIsProvenToMoveWater) {
  FloodBench bench;
  bench.tub.pump_part = 0;
  bench.start();
  bench.run(hours{2});
  ASSERT_TRUE(bench.state.no_effect_alarm);
  bench.tub.pump_part = 1;
  bench.start();
  bench.run(seconds{19});
  EXPECT_TRUE(bench.state.no_effect_alarm);
  bench.run(seconds{1});
  EXPECT_FALSE(bench.state.no_effect_alarm);
}

TEST(FloodNoEffect, ANewStartBeginsToCountRetriesAfresh) {
  FloodBench bench;
  bench.tub.pump_part = 0;
  bench.start();
  bench.run(hours{2});
  bench.start();
  bench.run(hours{2});
  EXPECT_EQ(bench.rows.size(), 6U);
}

TEST(FloodNoEffect, APumpThatDiesAfterAGoodFloodIsFoundInTheNext) {
  FloodBench bench;
  bench.wet_fitted = true;
  bench.start();
  ASSERT_TRUE(bench.run_to(FloodPhase::idle));
  bench.tub.pump_part = 0;
  bench.start();
  bench.run(seconds{20});
  EXPECT_EQ(bench.state.last_end, because(Reason::flood_no_effect));
}

TEST(FloodNoEffect, ANewStartTakesThePlaceOfARetry) {
  FloodBench bench;
  bench.wet_fitted = true;
  bench.table.min_gap = minutes{2};  // idle again before the retry is due
  bench.tub.pump_part = 0;
  bench.start();
  bench.run(minutes{3});
  bench.tub.pump_part = 1;
  EXPECT_TRUE(bench.start().started);
  bench.run(hours{2});
  EXPECT_EQ(bench.outcomes(),
            (std::vector<FloodOutcome>{FloodOutcome::no_effect, FloodOutcome::complete}));
}

TEST(FloodNoEffect, AFullTrayEndsTheAlarmOfAPumpThatNothingElseCouldProve) {
  FloodBench bench;
  bench.level_fitted = false;
  bench.state.no_effect_alarm = true;
  bench.start();
  ASSERT_TRUE(bench.run_to(FloodPhase::soak));
  EXPECT_FALSE(bench.state.no_effect_alarm);
}

TEST(FloodNoEffect, ALevelReadFromBeforeThePumpProvesNothing) {
  FloodBench bench;
  bench.tub.pump_part = 0;
  bench.level_every = seconds{27};
  bench.start();
  bench.run(seconds{26});
  EXPECT_EQ(bench.state.phase, FloodPhase::fill);
  bench.run(seconds{1});
  EXPECT_NE(bench.state.phase, FloodPhase::fill);
  EXPECT_EQ(bench.state.last_end, because(Reason::flood_no_effect));
}

TEST(FloodNoEffect, ALevelReadWhileThePumpPrimesProvesNothing) {
  FloodBench bench;
  bench.tub.pump_part = 0;
  bench.level_every = seconds{5};
  bench.start();
  bench.run(seconds{5});
  bench.level_every = hours{1};
  bench.run(seconds{60});
  EXPECT_EQ(bench.state.phase, FloodPhase::fill);
}

TEST(FloodNoEffect, ASmallPumpIsGivenTheTimeToShowInTheLevel) {
  FloodBench bench;
  bench.table.pump_l_per_h = 100;  // 0.6 L in 21.6 s
  bench.tub.pump_part = 0;
  bench.start();
  bench.run(seconds{21});
  EXPECT_EQ(bench.state.phase, FloodPhase::fill);
  bench.run(seconds{1});
  EXPECT_EQ(bench.state.last_end, because(Reason::flood_no_effect));
}

TEST(FloodNoEffect, ALevelThatIsLostAfterTheStartDecidesNothing) {
  FloodBench bench;
  bench.tub.pump_part = 0;
  bench.start();
  bench.level_fitted = false;
  bench.run(bench.table.fill_limit - seconds{1});
  EXPECT_EQ(bench.state.phase, FloodPhase::fill);
  bench.run(seconds{1});
  EXPECT_TRUE(bench.raised_fill_expired) << "no balance, no second try";
}

TEST(FloodNoEffect, WithoutALevelSensorTheLowestFloatIsTheProof) {
  FloodBench bench;
  bench.level_fitted = false;
  bench.wet_fitted = true;
  bench.tub.pump_part = 0;
  bench.start();
  bench.run(seconds{20});
  EXPECT_EQ(bench.state.last_end, because(Reason::flood_no_effect));
}

TEST(FloodNoEffect, AWetTrayIsAnEffectWhateverTheLevelSays) {
  FloodBench bench;
  bench.wet_fitted = true;
  bench.start();
  bench.run(seconds{5});
  bench.tub.reservoir_l = 79;  // somebody tops up meanwhile
  bench.run(seconds{16});
  EXPECT_EQ(bench.state.phase, FloodPhase::fill);
  EXPECT_TRUE(bench.state.effect_seen);
}

TEST(FloodNoEffect, WaterPouredInAsAFloodStartsIsNoDeadPump) {
  FloodBench bench;
  bench.level_every = seconds{10};
  bench.start();
  bench.run(seconds{5});
  bench.tub.reservoir_l += 20;
  ASSERT_TRUE(bench.run_to(FloodPhase::soak));
  ASSERT_TRUE(bench.run_to(FloodPhase::rest));
  EXPECT_EQ(bench.outcomes(), std::vector{FloodOutcome::complete});
  EXPECT_EQ(bench.state.retries, 0);
}

TEST(FloodNoEffect, WaterPouredInUnderADeadPumpHidesItForHalfAMinute) {
  FloodBench bench;
  bench.tub.pump_part = 0;
  bench.level_every = seconds{10};
  bench.start();
  bench.run(seconds{5});
  bench.tub.reservoir_l += 20;
  bench.run(seconds{40});
  EXPECT_EQ(bench.state.row.outcome, FloodOutcome::no_effect);
}

TEST(FloodNoEffect, ABucketPouredInInMidFloodCountsAsNoneOfThePumpsWater) {
  FloodBench bench;
  bench.level_every = seconds{10};
  bench.start();
  bench.run(seconds{60});
  bench.tub.reservoir_l += 10;
  ASSERT_TRUE(bench.run_to(FloodPhase::rest));
  EXPECT_FALSE(bench.state.float_doubtful);
  EXPECT_NEAR(bench.rows.front().litres_out, bench.tub.standpipe_l, 2.1)
      << "what was pumped between two readings is not known";
}

TEST(FloodNoEffect, OneHighLevelReadingIsNoWaterPouredIn) {
  FloodBench bench;
  bench.start();
  bench.run(seconds{60});
  const double before = bench.state.level_before_l;
  bench.tub.reservoir_l += 5;
  bench.run(seconds{1});
  bench.tub.reservoir_l -= 5;
  bench.run(seconds{60});
  EXPECT_EQ(bench.state.level_before_l, before);
}

TEST(FloodNoEffect, WithNeitherSensorThereIsNoEarlyProofOnlyTheFillLimit) {
  FloodBench bench;
  bench.level_fitted = false;
  bench.tub.pump_part = 0;
  bench.start();
  bench.run(bench.table.fill_limit - seconds{1});
  EXPECT_EQ(bench.state.phase, FloodPhase::fill);
  bench.run(seconds{1});
  EXPECT_EQ(bench.state.phase, FloodPhase::drain);
  EXPECT_EQ(bench.state.last_end, because(Reason::flood_fill_limit));
}

// --- nothing fills ------------------------------------------------------------------------------

TEST(FloodFillFailed, AWeakPumpIsTriedAgainAfterTheTrayHasRestedAndThenLatches) {
  FloodBench bench;
  bench.wet_fitted = true;
  bench.tub.pump_part = 0.15;  // 10.8 L in the limit of 6 min
  bench.start();
  ASSERT_TRUE(bench.run_to(FloodPhase::rest));
  EXPECT_FALSE(bench.raised_fill_expired);
  const std::int64_t rest_began = bench.elapsed_s();
  bench.run(hours{4});
  EXPECT_EQ(bench.outcomes(), std::vector<FloodOutcome>(3, FloodOutcome::fill_failed));
  EXPECT_EQ(bench.pump_edges.size(), 6U);
  EXPECT_EQ(bench.pump_edges[1], (PumpEdge{360, false}));
  EXPECT_EQ(bench.pump_edges[2], (PumpEdge{rest_began + 40 * 60, true}));
  EXPECT_TRUE(bench.raised_fill_expired);
  EXPECT_FALSE(bench.raised_lost_water);
  EXPECT_FALSE(bench.state.fill_expired) << "shown to the kernel once, which latches it";
}

TEST(FloodFillFailed, WithoutAWaterBalanceThereIsNoSecondTry) {
  FloodBench bench;
  bench.level_fitted = false;
  bench.full_sticks = true;
  bench.start();
  bench.run(hours{4});
  EXPECT_EQ(bench.pump_edges, (std::vector<PumpEdge>{{0, true}, {360, false}}));
  EXPECT_TRUE(bench.raised_fill_expired);
}

TEST(FloodFillFailed, WaterThatDoesNotComeBackIsLostAndNotPumpedAfter) {
  FloodBench bench;
  bench.wet_fitted = true;
  bench.tub.pump_part = 0.15;
  bench.tub.spilt_part = 0.8;
  bench.start();
  bench.run(hours{3});
  EXPECT_EQ(bench.outcomes(), std::vector<FloodOutcome>{FloodOutcome::fill_failed});
  EXPECT_EQ(bench.pump_edges.size(), 2U);
  EXPECT_TRUE(bench.raised_lost_water);
  EXPECT_EQ(bench.state.last_end, because(Reason::flood_lost_water));
}

TEST(FloodFillFailed, ALevelLostBeforeTheRetryLatchesInsteadOfGuessing) {
  FloodBench bench;
  bench.wet_fitted = true;
  bench.tub.pump_part = 0.15;
  bench.start();
  ASSERT_TRUE(bench.run_to(FloodPhase::rest));
  bench.level_fitted = false;
  bench.run(hours{3});
  EXPECT_EQ(bench.pump_edges.size(), 2U);
  EXPECT_TRUE(bench.raised_fill_expired);
  EXPECT_FALSE(bench.raised_lost_water);
}

TEST(FloodFillLimits, SlowerThanAQuarterIsAnAlarmAndTwiceTheLearntTimeStops) {
  FloodBench bench;
  bench.full_sticks = true;
  bench.tub.pump_part = 0.4;              // 19.2 L in 240 s
  bench.table.flood_volume = Litres{40};  // so that this is no lost water
  bench.learnt.fill = seconds{120};
  bench.learnt.fills = 3;
  bench.start();
  bench.run(seconds{149});
  EXPECT_FALSE(bench.state.fill_alarm);
  bench.run(seconds{1});  // 1.25 * 120 s
  EXPECT_TRUE(bench.state.fill_alarm);
  bench.run(seconds{89});
  EXPECT_EQ(bench.state.phase, FloodPhase::fill);
  bench.run(seconds{1});  // 2 * 120 s
  EXPECT_EQ(bench.state.phase, FloodPhase::drain);
}

TEST(FloodFillLimits, TheSlowAlarmGoesWithTheNextFillInTime) {
  FloodBench bench;
  bench.wet_fitted = true;
  bench.learnt.fill = seconds{118};
  bench.learnt.fills = 3;
  bench.tub.pump_part = 0.7;
  bench.start();
  ASSERT_TRUE(bench.run_to(FloodPhase::idle));
  EXPECT_TRUE(bench.state.fill_alarm);
  bench.tub.pump_part = 1;
  bench.start();
  EXPECT_TRUE(bench.state.fill_alarm);
  ASSERT_TRUE(bench.run_to(FloodPhase::soak));
  EXPECT_FALSE(bench.state.fill_alarm);
}

TEST(FloodFillLimits, TwoFillsAreNotEnoughToJudgeBy) {
  FloodBench bench;
  bench.tub.pump_part = 0.5;
  bench.learnt.fill = seconds{60};
  bench.learnt.fills = 2;
  bench.start();
  ASSERT_TRUE(bench.run_to(FloodPhase::soak));
  EXPECT_FALSE(bench.state.fill_alarm);
}

TEST(FloodFillLimits, TheTablesOwnLimitWinsOverALongLearntTime) {
  FloodBench bench;
  bench.level_fitted = false;
  bench.full_sticks = true;
  bench.learnt.fill = minutes{5};
  bench.learnt.fills = 9;
  bench.start();
  ASSERT_TRUE(bench.run_to(FloodPhase::drain));
  EXPECT_EQ(bench.state.row.fill, bench.table.fill_limit);
}

TEST(FloodFillLimits, ASmallFillByLitresMayTakeHalfAMinuteMoreThanLearnt) {
  FloodBench bench;
  bench.in.depth = Depth::by_litres;
  bench.in.litres = Litres{3};
  bench.learnt.fill = seconds{118};  // 14.75 s for 3 L
  bench.learnt.fills = 5;
  bench.tub.pump_part = 0.2;  // 3 L in 75 s
  bench.start();
  ASSERT_TRUE(bench.run_to(FloodPhase::drain));
  EXPECT_EQ(bench.state.row.fill, seconds{45});
}

// --- the water is elsewhere ---------------------------------------------------------------------

TEST(FloodLostWater, AReservoirThatFellWithoutFillingTheTrayIsALeakAtTheLimit) {
  FloodBench bench;
  bench.tub.spilt_part = 1;
  bench.tub.pump_part = 0.7;  // 33 L in 236 s
  bench.learnt.fill = seconds{118};
  bench.learnt.fills = 3;
  bench.start();
  bench.run(hours{2});
  EXPECT_EQ(bench.pump_edges, (std::vector<PumpEdge>{{0, true}, {236, false}}));
  EXPECT_TRUE(bench.raised_lost_water);
  EXPECT_FALSE(bench.raised_fill_expired || bench.raised_drain_expired);
  EXPECT_EQ(bench.outcomes(), std::vector<FloodOutcome>{FloodOutcome::lost_water});
  EXPECT_FALSE(bench.state.lost_water) << "shown to the kernel once, which latches it";
}

TEST(FloodLostWater, ItsRowIsClosedAtOnceAndTheTrayStillDrains) {
  FloodBench bench;
  bench.tub.spilt_part = 0.9;
  bench.start();
  ASSERT_TRUE(bench.run_to(FloodPhase::drain));
  ASSERT_EQ(bench.rows.size(), 1U);
  EXPECT_EQ(bench.rows[0].outcome, FloodOutcome::lost_water);
  EXPECT_EQ(bench.rows[0].pump_on, bench.rows[0].fill);
  EXPECT_TRUE(bench.rows[0].litres_known);
  EXPECT_NEAR(bench.rows[0].litres_out, 36, 0.21);
  const std::int64_t began = bench.elapsed_s();
  ASSERT_TRUE(bench.run_to(FloodPhase::rest));
  EXPECT_EQ(bench.elapsed_s() - began, bench.table.drain_limit / seconds{1});
  EXPECT_EQ(bench.rows.size(), 1U);
  EXPECT_EQ(bench.state.last_end, because(Reason::flood_lost_water));
}

TEST(FloodLostWater, MoreThanTheTrayCanHoldStopsThePumpBeforeTheLimit) {
  FloodBench bench;
  bench.tub.spilt_part = 1;
  bench.table.tray_capacity = Litres{29.9};
  bench.start();
  bench.run(minutes{5});
  // More than 32.89 L at 0.2 L/s.
  EXPECT_EQ(bench.pump_edges, (std::vector<PumpEdge>{{0, true}, {165, false}}));
  EXPECT_TRUE(bench.raised_lost_water);
}

TEST(FloodLostWater, HalfAsMuchAgainAsAFloodIsNotInTheTrayEither) {
  FloodBench bench;
  bench.tub.spilt_part = 1;
  bench.table.flood_volume = Litres{23.9};
  bench.start();
  bench.run(minutes{5});
  // More than 35.85 L at 0.2 L/s.
  EXPECT_EQ(bench.pump_edges, (std::vector<PumpEdge>{{0, true}, {180, false}}));
  EXPECT_TRUE(bench.raised_lost_water);
}

TEST(FloodLostWater, AFloatThatSticksWhileTheStandpipeReturnsTheWaterIsNoBurstHose) {
  FloodBench bench;
  bench.full_sticks = true;
  bench.start();
  bench.run(bench.table.fill_limit - seconds{1});
  EXPECT_EQ(bench.state.phase, FloodPhase::fill);
}

TEST(FloodLostWater, AHoseThatBurstsInSoakIsSeenToo) {
  FloodBench bench;
  bench.table.tray_capacity = Litres{30};
  bench.start();
  ASSERT_TRUE(bench.run_to(FloodPhase::soak));
  bench.tub.spilt_part = 1;
  ASSERT_TRUE(bench.run_to(FloodPhase::drain));
  EXPECT_TRUE(bench.raised_lost_water);
  EXPECT_LT(bench.tub.floor_l, 10);
}

TEST(FloodLostWater, AStandpipeThatIsBlockedInSoakStopsThePumpBeforeTheRim) {
  // The tray holds a little from the flood before, which is in no difference of levels: what has
  // left the reservoir is less than the tray's capacity when the tray runs over.
  FloodBench bench;
  bench.tub.tray_l = 5;
  bench.table.tray_capacity = Litres{40};
  for (const Millis every : {seconds{1}, seconds{10}, seconds{30}}) {
    FloodBench one = bench;
    one.level_every = every;
    one.each_second = false;
    one.start();
    ASSERT_TRUE(one.run_to(FloodPhase::soak));
    one.tub.standpipe_l = 1000;
    one.run(minutes{3});
    EXPECT_TRUE(one.raised_lost_water) << every.count();
    EXPECT_LE(one.most_l, 40.5) << every.count();
    EXPECT_GT(one.most_l, 38) << every.count();
  }
}

TEST(FloodLostWater, WhatDryMediumStillTakesInSoakIsNotOverTheRim) {
  FloodBench bench;
  bench.table.tray_capacity = Litres{27};  // hardly more than a flood
  bench.level_every = seconds{30};
  bench.start();
  ASSERT_TRUE(bench.run_to(FloodPhase::soak));
  bench.tub.reservoir_l -= 4;
  ASSERT_TRUE(bench.run_to(FloodPhase::rest));
  EXPECT_FALSE(bench.raised_lost_water);
}

TEST(FloodLostWater, LitresThatLeftWhileTheTraysLowestPointIsDryAreLost) {
  FloodBench bench;
  bench.wet_fitted = true;
  bench.tub.spilt_part = 1;
  bench.in.depth = Depth::by_litres;
  bench.in.litres = Litres{6};
  bench.start();
  bench.run(seconds{31});
  EXPECT_TRUE(bench.raised_lost_water);
  EXPECT_LT(bench.tub.floor_l, 6.3);
}

}  // namespace
}  // namespace neap
