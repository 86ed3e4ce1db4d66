// Floods that go well: each drain path, each depth, the row they leave and what is learnt of them.
#include <gtest/gtest.h>

#include "daemon/core/flood_proof.h"
#include "tests/core/flood_bench.h"

namespace neap {
namespace {

using test::FloodBench;
using test::PumpEdge;

// small_table: 24 L at 720 L/h is 120 s, and the float sits half a litre under the rim: 118 s.
constexpr Millis kFill = seconds{118};

TEST(FloodCycle, ThroughThePumpSoakKeepsThePumpRunningAndTheTrayRunsBackAtRest) {
  FloodBench bench;
  const FloodNews news = bench.start();
  EXPECT_TRUE(news.started && news.phase_changed);
  EXPECT_FALSE(bench.step().phase_changed);
  ASSERT_TRUE(bench.run_to(FloodPhase::soak));
  EXPECT_EQ(bench.state.row.fill, kFill);
  ASSERT_TRUE(bench.run_to(FloodPhase::drain));
  ASSERT_TRUE(bench.run_to(FloodPhase::rest));
  EXPECT_EQ(bench.pump_edges, (std::vector<PumpEdge>{{0, true}, {118 + 3 + 480, false}}));

  ASSERT_EQ(bench.rows.size(), 1U);
  const CycleRow& row = bench.rows[0];
  EXPECT_EQ(row.outcome, FloodOutcome::complete);
  EXPECT_EQ(row.origin, FloodOrigin::slot);
  EXPECT_EQ(row.slot, (SlotId{20000, 2}));
  EXPECT_EQ(row.started_tick, 4294967000);
  EXPECT_EQ(row.soak, minutes{8});
  EXPECT_EQ(row.pump_on, kFill + proof::kFullFor + minutes{8});
  EXPECT_TRUE(row.litres_known);
  EXPECT_NEAR(row.litres_out, 24, 0.01);
  EXPECT_EQ(bench.state.last_end, because(Reason::flood_drained));
  EXPECT_FALSE(bench.state.row_open);
  EXPECT_TRUE(bench.state.any_ended);
  EXPECT_EQ(bench.state.last_ended, bench.state.since);
  EXPECT_FALSE(bench.raised_fill_expired || bench.raised_lost_water || bench.raised_drain_expired);
}

TEST(FloodCycle, AWeepHoleSoaksWithThePumpRunningToo) {
  FloodBench bench;
  bench.table.drain_path = DrainPath::weep_hole;
  bench.tub.drain_l_per_s = 0.05;  // a quarter of the pump's flow
  bench.start();
  ASSERT_TRUE(bench.run_to(FloodPhase::soak));
  EXPECT_TRUE(bench.state.pump_wanted);
  ASSERT_TRUE(bench.run_to(FloodPhase::rest));
  ASSERT_EQ(bench.rows.size(), 1U);
  EXPECT_EQ(bench.rows[0].outcome, FloodOutcome::complete);
  EXPECT_EQ(bench.rows[0].pump_on, bench.rows[0].fill + proof::kFullFor + minutes{8});
}

TEST(FloodCycle, ADrainValveHoldsTheWaterWithThePumpStopped) {
  FloodBench bench;
  bench.table.drain_path = DrainPath::drain_valve;
  bench.step();
  EXPECT_TRUE(bench.valve_open);
  bench.start();
  EXPECT_FALSE(bench.valve_open);
  ASSERT_TRUE(bench.run_to(FloodPhase::soak));
  EXPECT_FALSE(bench.valve_open);
  EXPECT_FALSE(bench.state.pump_wanted);
  bench.run(minutes{7});
  EXPECT_GT(bench.tub.tray_l, 23);
  ASSERT_TRUE(bench.run_to(FloodPhase::drain));
  EXPECT_TRUE(bench.valve_open);
  ASSERT_TRUE(bench.run_to(FloodPhase::rest));
  EXPECT_TRUE(bench.valve_open);
  ASSERT_EQ(bench.rows.size(), 1U);
  EXPECT_EQ(bench.rows[0].outcome, FloodOutcome::complete);
  EXPECT_EQ(bench.rows[0].pump_on, bench.rows[0].fill + proof::kFullFor);
}

TEST(FloodCycle, ByLitresThePumpStopsWhenTheReservoirFellByThem) {
  FloodBench bench;
  bench.table.drain_path = DrainPath::drain_valve;
  bench.in.depth = Depth::by_litres;
  bench.in.litres = Litres{10};
  bench.start();
  ASSERT_TRUE(bench.run_to(FloodPhase::soak));
  EXPECT_NEAR(bench.tub.tray_l, 10, 0.21);  // one second of the pump
  EXPECT_EQ(bench.state.last_end, because(Reason::flood_full_by_litres));
  ASSERT_TRUE(bench.run_to(FloodPhase::rest));
  ASSERT_EQ(bench.rows.size(), 1U);
  EXPECT_EQ(bench.rows[0].outcome, FloodOutcome::complete);
  EXPECT_EQ(bench.rows[0].soak, minutes{8});
}

TEST(FloodCycle, ByLitresTheFullFloatStillEndsTheFill) {
  FloodBench bench;
  bench.tub.standpipe_l = 6;  // somebody shortened the standpipe
  bench.in.depth = Depth::by_litres;
  bench.in.litres = Litres{10};
  bench.start();
  ASSERT_TRUE(bench.run_to(FloodPhase::drain));
  EXPECT_EQ(bench.state.last_end, because(Reason::flood_full_by_float));
}

TEST(FloodCycle, ByLitresWithoutAValveDrainsAsSoonAsItIsFull) {
  FloodBench bench;
  bench.in.depth = Depth::by_litres;
  bench.in.litres = Litres{10};
  bench.start();
  ASSERT_TRUE(bench.run_to(FloodPhase::drain));
  EXPECT_EQ(bench.state.row.soak, Millis{0});
  EXPECT_NEAR(bench.tub.tray_l, 10, 0.21);
}

TEST(FloodCycle, ByLitresWithoutALevelSensorGoesByThePumpsRating) {
  FloodBench bench;
  bench.level_fitted = false;
  bench.in.depth = Depth::by_litres;
  bench.in.litres = Litres{10};
  bench.start();
  ASSERT_TRUE(bench.run_to(FloodPhase::drain));
  EXPECT_EQ(bench.state.row.fill, seconds{50});  // 10 L at 720 L/h
  EXPECT_EQ(bench.state.last_end, because(Reason::flood_full_by_time));
}

TEST(FloodCycle, ByLitresWithoutALevelSensorGoesByLearntSecondsOnceThereAreSome) {
  FloodBench bench;
  bench.level_fitted = false;
  bench.in.depth = Depth::by_litres;
  bench.in.litres = Litres{10};
  bench.learnt.fill = seconds{150};
  bench.learnt.fills = 3;
  bench.start();
  ASSERT_TRUE(bench.run_to(FloodPhase::drain));
  EXPECT_EQ(bench.state.row.fill, seconds{63});  // 150 s * 10 / 24 = 62.5 s
}

TEST(FloodCycle, SoakIsCappedByTheRootsNotByTheAsker) {
  FloodBench bench;
  bench.in.soak = hours{2};
  bench.start();
  ASSERT_TRUE(bench.run_to(FloodPhase::drain));
  EXPECT_EQ(bench.state.row.soak, bench.table.soak_limit);
}

TEST(FloodCycle, TheLowestFloatProvesTheDrainToTheLastLitre) {
  FloodBench bench;
  bench.wet_fitted = true;
  bench.start();
  ASSERT_TRUE(bench.run_to(FloodPhase::rest));
  ASSERT_EQ(bench.rows.size(), 1U);
  // 24 L at 0.1 L/s, the float clears at half a litre.
  EXPECT_NEAR(static_cast<double>(bench.rows[0].drain.count()), 235'000, 1'001);
  EXPECT_NEAR(bench.rows[0].litres_back, 23.5, 0.11);
}

TEST(FloodCycle, WithoutALowFloatSeventyPercentBackIsDrained) {
  FloodBench bench;
  bench.start();
  ASSERT_TRUE(bench.run_to(FloodPhase::rest));
  ASSERT_EQ(bench.rows.size(), 1U);
  EXPECT_NEAR(bench.rows[0].litres_back, 0.7 * 24 - 0.3, 0.11);
}

TEST(FloodCycle, WithNeitherTwoThirdsOfTheDrainLimitIsDrained) {
  FloodBench bench;
  bench.level_fitted = false;
  bench.start();
  ASSERT_TRUE(bench.run_to(FloodPhase::rest));
  ASSERT_EQ(bench.rows.size(), 1U);
  EXPECT_EQ(bench.rows[0].drain, bench.table.drain_limit * 2 / 3);
  EXPECT_EQ(bench.rows[0].outcome, FloodOutcome::complete);
  EXPECT_FALSE(bench.rows[0].litres_known);
}

TEST(FloodCycle, ATrayWhoseFullFloatIsStillSetIsNotDrainedWhateverTheTime) {
  FloodBench bench;
  bench.level_fitted = false;
  bench.tub.drain_l_per_s = 0;
  bench.start();
  ASSERT_TRUE(bench.run_to(FloodPhase::drain));
  bench.run(bench.table.drain_limit - seconds{1});
  EXPECT_EQ(bench.state.phase, FloodPhase::drain);
}

TEST(FloodCycle, NobodyStartsAFloodBeforeTheGapIsOver) {
  FloodBench bench;
  bench.wet_fitted = true;
  bench.start();
  ASSERT_TRUE(bench.run_to(FloodPhase::rest));
  bench.run(bench.table.min_gap - seconds{1});
  EXPECT_EQ(bench.start(FloodOrigin::operator_request).refused, because(Reason::flood_too_soon));
  EXPECT_EQ(bench.state.phase, FloodPhase::rest);
  bench.run(seconds{1});
  EXPECT_EQ(bench.state.phase, FloodPhase::idle);
  EXPECT_TRUE(bench.start(FloodOrigin::operator_request).started);
}

TEST(FloodCycle, TheGapHoldsAfterARestartThatForgotTheRest) {
  FloodBench bench;
  bench.state.any_ended = true;
  bench.state.last_ended = bench.now() - bench.table.min_gap + seconds{1};
  EXPECT_EQ(bench.start().refused, because(Reason::flood_too_soon));
  bench.run(seconds{1});
  EXPECT_TRUE(bench.start().started);
}

TEST(FloodCycle, AStartIsRefusedWhileOneRunsOrThePumpIsWithheldOrTheTrayIsWet) {
  FloodBench bench;
  bench.in.start_permitted = false;
  bench.in.withheld_because = because(Reason::leak_damp);
  EXPECT_EQ(bench.start().refused, because(Reason::leak_damp));
  bench.in.start_permitted = true;
  bench.wet_fitted = true;
  bench.tub.tray_l = 3;
  EXPECT_EQ(bench.start().refused, because(Reason::tray_not_drained));
  bench.tub.tray_l = 0;
  EXPECT_TRUE(bench.start().started);
  bench.run(seconds{30});
  EXPECT_EQ(bench.start().refused, because(Reason::flood_already_running));
  EXPECT_EQ(bench.state.phase, FloodPhase::fill);
}

TEST(FloodCycle, TheDemandOfEveryPhaseSaysWhy) {
  FloodBench bench;
  Demands demands;
  const auto why = [&] {
    demands.clear();
    step_flood(bench.table, bench.state, bench.learnt, bench.in, {}, false, bench.now(), demands);
    EXPECT_EQ(demands.size(), 1U);
    EXPECT_EQ(demands[0].precedence, Precedence::sequence);
    return demands[0].because.reason;
  };
  bench.step();
  EXPECT_EQ(why(), Reason::flood_idle);
  bench.start();
  bench.in.pump_is_on = true;
  EXPECT_EQ(why(), Reason::flood_filling);
  bench.run_to(FloodPhase::soak);
  EXPECT_EQ(why(), Reason::flood_soaking);
  bench.run_to(FloodPhase::drain);
  EXPECT_EQ(why(), Reason::flood_draining);
  bench.run_to(FloodPhase::rest);
  EXPECT_EQ(why(), Reason::flood_resting);
}

TEST(FloodLearning, ProvenFillsAndDrainsMoveTheMeanByThreeTenths) {
  FloodBench bench;
  bench.wet_fitted = true;
  bench.start();
  ASSERT_TRUE(bench.run_to(FloodPhase::rest));
  EXPECT_EQ(bench.learnt.fills, 1);
  EXPECT_EQ(bench.learnt.fill, kFill);
  EXPECT_EQ(bench.learnt.drains, 1);
  const Millis first_drain = bench.learnt.drain;
  ASSERT_TRUE(bench.run_to(FloodPhase::idle));

  bench.tub.pump_part = 0.8;  // 147 s instead of 118
  bench.start();
  ASSERT_TRUE(bench.run_to(FloodPhase::rest));
  const Millis second_fill = bench.rows[1].fill;
  EXPECT_EQ(second_fill, seconds{147});
  EXPECT_EQ(bench.learnt.fill, kFill + (second_fill - kFill) * 3 / 10);
  EXPECT_EQ(bench.learnt.fills, 2);
  EXPECT_NEAR(static_cast<double>((bench.learnt.drain - first_drain).count()), 0, 1'000);
}

TEST(FloodLearning, AFillByLitresIsLearntAsTheWholeFloodItIsAPartOf) {
  FloodBench bench;
  bench.table.drain_path = DrainPath::drain_valve;
  bench.in.depth = Depth::by_litres;
  bench.in.litres = Litres{12};
  bench.start();
  ASSERT_TRUE(bench.run_to(FloodPhase::rest));
  EXPECT_EQ(bench.learnt.fill, bench.rows[0].fill * 2);
}

TEST(FloodLearning, ATimedFloodAfterAProvenOneTeachesNothingOfTheFill) {
  FloodBench bench;
  bench.wet_fitted = true;
  bench.start();
  ASSERT_TRUE(bench.run_to(FloodPhase::idle));
  bench.level_fitted = false;
  bench.in.depth = Depth::by_litres;
  bench.in.litres = Litres{10};
  bench.start();
  ASSERT_TRUE(bench.run_to(FloodPhase::rest));
  EXPECT_EQ(bench.rows.back().outcome, FloodOutcome::complete);
  EXPECT_EQ(bench.learnt.fills, 1);
}

TEST(FloodCycle, ARowHoldsNothingOfTheOneBefore) {
  FloodBench bench;
  bench.wet_fitted = true;
  bench.start();
  ASSERT_TRUE(bench.run_to(FloodPhase::idle));
  bench.start(FloodOrigin::operator_request);
  bench.run(seconds{30});
  bench.stop();
  ASSERT_TRUE(bench.run_to(FloodPhase::rest));
  EXPECT_EQ(bench.rows.back().soak, Millis{0});
  EXPECT_EQ(bench.rows.back().origin, FloodOrigin::operator_request);
  EXPECT_NEAR(bench.rows.back().litres_out, 6, 0.01);
}

TEST(FloodLearning, NothingIsLearntFromAFloodThatWasStoppedOrTimed) {
  FloodBench bench;
  bench.start();
  ASSERT_TRUE(bench.run_to(FloodPhase::soak));
  bench.stop();
  ASSERT_TRUE(bench.run_to(FloodPhase::rest));
  EXPECT_EQ(bench.learnt.fills + bench.learnt.drains, 0);

  FloodBench timed;
  timed.level_fitted = false;
  timed.in.depth = Depth::by_litres;
  timed.in.litres = Litres{10};
  timed.start();
  ASSERT_TRUE(timed.run_to(FloodPhase::rest));
  EXPECT_EQ(timed.rows[0].outcome, FloodOutcome::complete);
  EXPECT_EQ(timed.learnt.fills + timed.learnt.drains, 0);
}

// Scanning each second, and scanning only when the cycle says so or something was read, give the
// same pump edges and the same rows.
TEST(FloodStepping, SecondsAndDeadlinesDecideAtTheSameInstants) {
  for (const double part : {1.0, 0.5, 0.15, 0.0}) {
    for (const bool level : {true, false}) {
      SCOPED_TRACE(testing::Message() << part << (level ? " with level" : ""));
      FloodBench fine;
      FloodBench coarse;
      coarse.each_second = false;
      for (FloodBench* bench : {&fine, &coarse}) {
        bench->level_every = seconds{10};
        bench->level_fitted = level;
        bench->tub.pump_part = part;
        bench->learnt = {seconds{118}, seconds{200}, 5, 5};
        bench->start();
        bench->run(hours{3});
      }
      EXPECT_EQ(fine.pump_edges, coarse.pump_edges);
      EXPECT_EQ(fine.state.fill_alarm, coarse.state.fill_alarm);
      EXPECT_EQ(fine.state.no_effect_alarm, coarse.state.no_effect_alarm);
      EXPECT_EQ(fine.raised_fill_expired, coarse.raised_fill_expired);
      EXPECT_EQ(fine.state.phase, coarse.state.phase);
      ASSERT_EQ(fine.rows.size(), coarse.rows.size());
      for (std::size_t i = 0; i < fine.rows.size(); ++i) {
        EXPECT_EQ(fine.rows[i].outcome, coarse.rows[i].outcome);
        EXPECT_EQ(fine.rows[i].started_tick, coarse.rows[i].started_tick);
        EXPECT_EQ(fine.rows[i].drain, coarse.rows[i].drain);
      }
      EXPECT_LT(coarse.steps, fine.steps / 5);
    }
  }
}

}  // namespace
}  // namespace neap
