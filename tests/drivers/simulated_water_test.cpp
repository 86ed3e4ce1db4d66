// The simulated table against hydraulics worked by hand and against an "earlier simulation": a
// program of the same equations that is not kept. Its figures check the code, not the physics, and
// have no published source. All of them for a tray of 0.9 x 0.9 m, porosity 0.65, 70 mm deep
// (36.9 L), pump 1000 L/h at 2.0 m shut-off, 0.40 m lift.
#include <cmath>
#include <numbers>

#include "drivers/simulated/water.h"
#include "tests/drivers/simulated_grow.h"

namespace neap::drivers {
namespace {

using namespace simulated;

Settings large_table(Settings more = {}) {
  Settings all = bare({{"tray_area_m2", 0.81},
                       {"medium_porosity", 0.65},
                       {"standpipe_height_mm", 74},
                       {"tray_full_mm", 70},
                       {"tray_wet_mm", 3},
                       {"pump_flow_l_per_h", 1000},
                       {"pump_shutoff_m", 2.0},
                       {"pump_lift_m", 0.40},
                       {"pump_idle_loss", 0},
                       {"reservoir_capacity_l", 100},
                       {"reservoir_start_l", 80}});
  for (const auto& [name, value] : more) all[name] = value;
  return all;
}

// Seconds from the start of the pump to the level float.
double fill_seconds(Settings settings, double weakness = 0) {
  Grow grow(large_table(std::move(settings)));
  if (weakness > 0) grow.fault("pump_weak", true, weakness / 0.7);
  grow.set(Output::pump, 1000);
  return grow.run_until(minutes{20}, [](const Truth& t) { return t.floats.tray_full; }).value_or(0);
}

// Seconds from 70 mm to 3 mm.
double drain_seconds(Settings settings) {
  Grow grow(large_table(std::move(settings)));
  grow.set(Output::drain_valve, 0);
  grow.set(Output::pump, 1000);
  const auto depth = [](const Truth& t) { return t.tray_l / (0.81 * 0.65); };
  EXPECT_TRUE(grow.run_until(minutes{30}, [&](const Truth& t) { return depth(t) >= 70; }));
  grow.set(Output::pump, 0);
  grow.set(Output::drain_valve, 1000);
  return grow.run_until(minutes{60}, [&](const Truth& t) { return depth(t) <= 3; }).value_or(0);
}

TEST(SimulatedTable, DrainsThroughAHoleAfterTorricelli) {
  struct Row {
    double bore_mm, seconds;
  };
  // t = 2 A phi (sqrt h1 - sqrt h2) / (Cd a sqrt(2 g)), Cd 0.6; the figures are this formula's.
  for (const Row row : {Row{8, 1654}, Row{10, 1058}, Row{13, 626}, Row{16, 413}}) {
    const double took = drain_seconds({{"drain_path", 2}, {"drain_bore_mm", row.bore_mm}});
    EXPECT_NEAR(took / row.seconds, 1, 0.015) << row.bore_mm;
    const double area = std::numbers::pi * std::pow(row.bore_mm / 1000, 2) / 4;
    const double closed = 2 * 0.81 * 0.65 * (std::sqrt(0.070) - std::sqrt(0.003)) /
                          (0.6 * area * std::sqrt(2 * 9.81));
    EXPECT_NEAR(took, closed, 0.01 * closed) << row.bore_mm;
  }
}

TEST(SimulatedTable, ANarrowerDrainShowsInItsTime) {
  // In ratio 1 / area: -10, -20, -40 % give +11, +25, +67 %.
  const double whole = drain_seconds({{"drain_path", 2}});
  for (const auto& [area, longer] : {std::pair{0.9, 1.11}, {0.8, 1.25}, {0.6, 1.67}})
    EXPECT_NEAR(drain_seconds({{"drain_path", 2}, {"drain_bore_mm", 13 * std::sqrt(area)}}) / whole,
                longer, 0.01);
}

TEST(SimulatedTable, DrainsBackThroughAHoseByItsFall) {
  // Earlier simulation: full fall pipe with friction, 474 / 265 / 168 s through 10 / 13 / 16 mm.
  for (const auto& [bore, took] : {std::pair{10.0, 474.0}, {13.0, 265.0}, {16.0, 168.0}})
    EXPECT_NEAR(drain_seconds({{"hose_bore_mm", bore}}) / took, 1, 0.08) << bore;
}

TEST(SimulatedTable, FillsAsTheHoseLets) {
  // Earlier simulation: 309 / 215 / 181 / 168 s with a 10 / 13 / 16 / 19 mm hose.
  for (const auto& [bore, took] :
       {std::pair{10.0, 309.0}, {13.0, 215.0}, {16.0, 181.0}, {19.0, 168.0}})
    EXPECT_NEAR(fill_seconds({{"hose_bore_mm", bore}}) / took, 1, 0.02) << bore;
}

TEST(SimulatedTable, TheHoseHidesPartOfAWeakPump) {
  // Earlier simulation: pump capacity -10 / -20 / -30 % lengthen the fill by 5.8 / 13.5 / 23.7 %.
  const double sound = fill_seconds({});
  for (const auto& [weaker, longer] : {std::pair{0.1, 1.058}, {0.2, 1.135}, {0.3, 1.237}})
    EXPECT_NEAR(fill_seconds({}, weaker) / sound, longer, 0.015) << weaker;
}

TEST(SimulatedTable, StandpipeCarriesWhatWeirAndOrificeAllow) {
  // Weir 1.84 pi D h^1.5 and orifice 0.6 A sqrt(2 g h), the lower rules (SWMM note); capacity at
  // 15 mm over the rim, worked by hand, in L/h.
  for (const auto& [bore, litres] : {std::pair{16.0, 236.0},
                                     {20.0, 368.0},
                                     {25.0, 575.0},
                                     {32.0, 942.0},
                                     {40.0, 1473.0},
                                     {50.0, 1912.0}}) {
    Parameters p = default_parameters();
    p.standpipe_bore_mm = bore;
    EXPECT_NEAR(Hydraulics(p).standpipe_m3_s(0.015) * 3.6e6 / litres, 1, 0.005) << bore;
  }
}

TEST(SimulatedTable, DefaultTableFillsAndDrainsInMinutes) {
  Grow grow;
  grow.set(Output::pump, 1000);
  const auto fill = grow.run_until(minutes{10}, [](const Truth& t) { return t.floats.tray_full; });
  ASSERT_TRUE(fill);
  EXPECT_GT(*fill, 120);
  EXPECT_LT(*fill, 240);
  grow.run(minutes{5});
  grow.set(Output::pump, 0);
  const auto drain = grow.run_until(minutes{30}, [](const Truth& t) { return !t.floats.tray_wet; });
  ASSERT_TRUE(drain);
  EXPECT_GT(*drain, 300);
  EXPECT_LT(*drain, 720);
}

TEST(SimulatedTable, StandpipeHoldsTheLevelWhileThePumpRuns) {
  Grow grow;
  grow.set(Output::pump, 1000);
  const auto high = grow.run_until(minutes{60}, [](const Truth& t) { return t.floats.tray_high; });
  EXPECT_FALSE(high);
  EXPECT_GT(grow.truth().ledger.overflowed_kg, 100);
  EXPECT_EQ(grow.truth().floor_l, 0);
}

TEST(SimulatedTable, ABlockedStandpipeFloodsTheFloor) {
  Grow grow(calm({{"reservoir_capacity_l", 120}, {"reservoir_start_l", 110}}));
  grow.fault("standpipe_blocked");
  grow.set(Output::pump, 1000);
  const auto high = grow.run_until(minutes{30}, [](const Truth& t) { return t.floats.tray_high; });
  const auto rack = grow.run_until(minutes{30}, [](const Truth& t) { return t.floats.leak_rack; });
  const auto floor =
      grow.run_until(minutes{30}, [](const Truth& t) { return t.floats.leak_floor; });
  ASSERT_TRUE(high && rack && floor) << "in this order";
  EXPECT_GT(grow.truth().floor_l, 0.01);
}

TEST(SimulatedTable, AWeepHoleDrainsDuringTheFillToo) {
  Grow grow(calm({{"drain_path", 1}, {"drain_bore_mm", 8}}));
  grow.set(Output::pump, 1000);
  grow.run(minutes{3});
  EXPECT_GT(grow.truth().ledger.drained_kg, 1.0);
  Grow valve(calm({{"drain_path", 2}}));
  valve.set(Output::drain_valve, 0);
  valve.set(Output::pump, 1000);
  valve.run(minutes{3});
  EXPECT_EQ(valve.truth().ledger.drained_kg, 0);
}

TEST(SimulatedTable, FloodingDampensTheAirAndThenDriesBack) {
  Grow grow(calm({{"leaf_area_index", 0.5}}));
  grow.set(Output::exhaust_fan, 460);
  grow.run(hours{6});
  const double before = grow.truth().vpd_kpa;
  grow.set(Output::pump, 1000);
  grow.run(minutes{15});
  const double flooded = grow.truth().vpd_kpa;
  grow.set(Output::pump, 0);
  grow.run(hours{4});
  // Earlier simulation: a normal flood of 15 min dips VPD by about 0.11 kPa at 40 % fan.
  EXPECT_NEAR(before - flooded, 0.11, 0.07);
  EXPECT_NEAR(grow.truth().vpd_kpa, before, 0.04);
}

TEST(SimulatedTable, MovingWaterEvaporatesMore) {
  const auto evaporated = [](double splash) {
    Grow grow(bare({{"splash_factor", splash}, {"medium_open_wet", 0.7}}));
    grow.set(Output::exhaust_fan, 1000);
    grow.set(Output::pump, 1000);
    grow.run(minutes{20});
    return grow.truth().ledger.evaporated_kg;
  };
  // Less than four times: the air is damper and the water cooler.
  EXPECT_GT(evaporated(4), 2.5 * evaporated(1));
  EXPECT_LT(evaporated(4), 4 * evaporated(1));
}

TEST(SimulatedReservoir, ALeakTakesSaltAndWaterAlike) {
  Grow grow(bare({{"feed_ec", 1.6}}));
  grow.fault("leak", true, 0.8);
  grow.run(minutes{10});
  ASSERT_GT(grow.truth().floor_l, 10);
  EXPECT_NEAR(grow.truth().ec, 1.6, 1e-9);
}

TEST(SimulatedReservoir, APumpAboveTheWaterMovesNone) {
  Grow grow(calm({{"reservoir_start_l", 20},
                  {"reservoir_low_l", 10},
                  {"pump_intake_l", 5},
                  {"medium_capacity_l", 1}}));
  grow.set(Output::pump, 1000);
  const auto low =
      grow.run_until(minutes{20}, [](const Truth& t) { return t.floats.reservoir_low; });
  ASSERT_TRUE(low);
  grow.run(minutes{20});
  EXPECT_GT(grow.truth().reservoir_l, 4.9);
  EXPECT_TRUE(grow.truth().floats.pump_running);
}

TEST(SimulatedReservoir, TheGrowerTopsUpAtSevenInTheEvening) {
  Grow grow(calm({{"reservoir_start_l", 50}, {"refill_below_l", 49.5}}));
  grow.grow_days(1);
  EXPECT_GT(grow.truth().ledger.refilled_kg, 0.3);
  Grow alone(calm({{"reservoir_start_l", 50}, {"refill_below_l", 49.5}}));
  alone.fault("reservoir_not_refilled");
  alone.grow_days(1);
  EXPECT_EQ(alone.truth().ledger.refilled_kg, 0);
}

TEST(SimulatedReservoir, PlantsDrinkFromTheMediumAndTheNextFloodPaysItBack) {
  // Water balance: between floods the reservoir is flat apart from its lid; the drop from one flood
  // to the next is what the air took in the cycle before.
  Grow grow(calm({{"reservoir_lid_ml_h", 0}}));
  grow.set(Output::light, 1000);
  grow.set(Output::exhaust_fan, 600);
  const auto flood = [&] {
    grow.set(Output::pump, 1000);
    grow.run(minutes{15});
    grow.set(Output::pump, 0);
    grow.run(minutes{60});
  };
  flood();
  const double level = grow.truth().reservoir_l;
  const double taken = grow.truth().ledger.transpired_kg + grow.truth().ledger.evaporated_kg;
  const double medium = grow.truth().medium_l;
  grow.run(hours{6});
  EXPECT_NEAR(grow.truth().reservoir_l, level, 1e-9);
  EXPECT_LT(grow.truth().medium_l, medium - 0.5);
  flood();
  const double took = grow.truth().ledger.transpired_kg + grow.truth().ledger.evaporated_kg - taken;
  EXPECT_NEAR(grow.truth().medium_l, medium, 0.02);
  EXPECT_NEAR(level - grow.truth().reservoir_l, took, 0.02);
}

TEST(SimulatedReservoir, SolutionGrowsStrongerWhenPlantsDrinkMoreWaterThanSalt) {
  Grow grow(calm({{"feed_ec", 1.6}, {"uptake_ec", 0.8}}));
  grow.set(Output::exhaust_fan, 600);
  grow.grow_days(3);
  const double litres = grow.truth().ledger.transpired_kg;
  const double left = grow.truth().reservoir_l + grow.truth().tray_l + grow.truth().medium_l;
  // Salt balance: EC = (1.6 * 56 - 0.8 * transpired) / litres left.
  EXPECT_NEAR(grow.truth().ec, (1.6 * 56 - 0.8 * litres) / left, 0.001);
  EXPECT_GT(grow.truth().ec, 1.65);
  EXPECT_NEAR(grow.truth().ph, 5.8 + 0.012 * litres, 0.001);
}

}  // namespace
}  // namespace neap::drivers
