// Fan and filter, dehumidifiers, heaters and chiller of the simulated tent against closed forms;
// the source of each figure stands beside it.
#include <algorithm>
#include <cmath>

#include "drivers/simulated/appliances.h"
#include "drivers/simulated/climate.h"
#include "tests/drivers/simulated_grow.h"

namespace neap::drivers {
namespace {

using namespace simulated;

TEST(SimulatedFilter, AFanKeepsItsFlowThroughACleanFilter) {
  Parameters p = default_parameters();
  for (const double share : {0.0, 0.3, 0.5, 0.95}) {
    p.filter_share = share;
    EXPECT_EQ(filter_passes(p, 0), 1.0);
  }
}

TEST(SimulatedFilter, FlowIsWhereTheFansCurveMeetsTheSystems) {
  // Bisection of p0 (1 - (Q/Qf)^2) = (R_duct + R_filter / (1 - c)^2) Q^2, the fan laws and system
  // curve of ASHRAE Fundamentals written anew, with p0 = 1 and Q = 1 when clean.
  Parameters p = default_parameters();
  for (const double share : {0.3, 0.5, 0.7})
    for (const double clogging : {0.1, 0.3, 0.6, 0.9}) {
      p.filter_share = share;
      const double rest = 1 - share;  // fan's own fall and duct
      double low = 0, high = 1;
      for (int i = 0; i < 60; ++i) {
        const double q = (low + high) / 2;
        const double surplus = 1 - rest * q * q - share * q * q / std::pow(1 - clogging, 2);
        (surplus > 0 ? low : high) = q;
      }
      EXPECT_NEAR(filter_passes(p, clogging), low, 1e-9) << share << " " << clogging;
    }
}

TEST(SimulatedFilter, AHumidTentWithAClogIsHumidByTheLostFlow) {
  // dw = E / (rho Q), with Q through the clogged filter and leakage in quadrature.
  for (const bool as_fault : {false, true}) {
    Grow grow(bare({{"humidifier_g_per_h", 100}, {"filter_clogging", as_fault ? 0.0 : 0.45}}));
    if (as_fault) grow.fault("filter_clogged", true, 0.5);
    grow.set(Output::exhaust_fan, 1000);
    grow.set(Output::humidifier, 1000);
    grow.run(hours{2});
    const double driven = 150 / std::sqrt(1 + 0.5 * (1 / (0.55 * 0.55) - 1));
    const double expected =
        0.100 / (1.2 * air_flow_m3_h(default_parameters(), 0.1 + 0.9 * driven / 150,
                                     grow.truth().air_c - grow.truth().room_c, 1));
    EXPECT_NEAR((grow.truth().air_w - grow.truth().room_w) / expected, 1, 0.005) << as_fault;
  }
}

TEST(SimulatedPeltier, CapacityFollowsTheAirsVapourOverThePlate) {
  // Worked by hand with saturation pressures of IAPWS-95: 26.7 C/60 %: e 2.1029 kPa, w 13.18 g/kg;
  // plate at 11.7 C: 1.3752 kPa, 8.56 g/kg; difference 4.62. 20 C/60 %: 1.4036 kPa, 8.74 g/kg;
  // plate 5 C: 0.8726 kPa, 5.40 g/kg; 3.33, so 0.72.
  EXPECT_NEAR(peltier_capacity_factor(26.7, 60, 15), 1, 1e-12);
  EXPECT_NEAR(peltier_capacity_factor(20, 60, 15), 0.72, 0.01);
  EXPECT_GT(peltier_capacity_factor(26.7, 80, 15), 1.5);
  EXPECT_EQ(peltier_capacity_factor(20, 30, 15), 0);  // dew point 1.9 C is under the plate
}

Settings peltier() {
  return bare({{"dehumidifier_kind", 1},
               {"dehumidifier_l_per_day", 0.35},
               {"building_c", 24},
               {"building_w_g_kg", 12}});
}

TEST(SimulatedPeltier, RunsUpQuicklyAtAConstantPowerAndKeepsNoWater) {
  Grow grow(peltier());
  grow.set(Output::exhaust_fan, 300);
  grow.run(hours{1});
  grow.set(Output::dehumidifier, 1000);
  grow.run(minutes{2});
  EXPECT_GT(grow.tent->state().run_up, 0.99);
  const Ledger before = grow.truth().ledger;
  grow.run(hours{1});
  // Power = rated litres a day / litres a kWh: 0.35 / 0.22 kWh a day = 66.3 W.
  EXPECT_NEAR((grow.truth().ledger.dehumidifier_j - before.dehumidifier_j) / 3600, 66.3, 0.1);
  EXPECT_EQ(grow.tent->state().coil_kg, 0);
  const double taken = grow.truth().ledger.dehumidified_kg;
  EXPECT_GT(taken, 0.008);
  grow.set(Output::dehumidifier, 0);
  grow.run(hours{1});
  EXPECT_NEAR(grow.truth().ledger.dehumidified_kg, taken, 2e-4);  // nothing comes back
}

// Heat that leaves a bare tent in steady state, W: by air and by walls.
double leaving_w(const Grow& grow) {
  const State& s = grow.tent->state();
  const double flow = air_flow_m3_h(grow.tent->plant().parameters(), 1, s.air_c - s.room_c, 1);
  return 1.2 * 1006 * flow / 3600 * (s.air_c - s.room_c) + 6 * 8.6 * (s.surface_c - s.room_c);
}

TEST(SimulatedDehumidifier, GivesOffItsPowerAndTheLatentHeat) {
  // Energy balance of the tent: what leaves by air and walls is P + lambda D.
  for (const double kind : {0.0, 1.0}) {
    Grow grow(bare({{"dehumidifier_kind", kind},
                    {"dehumidifier_l_per_day", kind == 1 ? 0.5 : 2.0},
                    {"building_c", 24},
                    {"building_w_g_kg", 12}}));
    grow.set(Output::exhaust_fan, 1000);
    grow.set(Output::dehumidifier, 1000);
    grow.run(hours{24 * 6});  // the reservoir follows within a day
    const Ledger before = grow.truth().ledger;
    grow.run(hours{1});
    const Ledger& after = grow.truth().ledger;
    const double expected = (after.dehumidifier_j - before.dehumidifier_j +
                             2.45e6 * (after.dehumidified_kg - before.dehumidified_kg)) /
                            3600;
    EXPECT_GT(expected, 80);
    EXPECT_NEAR(leaving_w(grow) / expected, 1, 0.01) << kind;
  }
}

TEST(SimulatedDehumidifier, StandingInTheRoomItWarmsTheRoomAndNotTheTent) {
  Settings settings{{"dehumidifier_in_room", 1}, {"room_volume_m3", 12},
                    {"room_air_changes_h", 0.5}, {"building_swing_c", 0},
                    {"building_noise_c", 0},     {"leaf_area_index", 0}};
  Grow resting(settings), drying(settings);
  drying.set(Output::dehumidifier, 1000);
  for (Grow* grow : {&resting, &drying}) {
    grow->set(Output::exhaust_fan, 0);
    grow->run(hours{3});
  }
  const double room_warmer = drying.truth().room_c - resting.truth().room_c;
  EXPECT_GT(room_warmer, 0.5);
  EXPECT_LT(drying.truth().air_c - resting.truth().air_c, room_warmer);
  EXPECT_LT(drying.truth().room_w, resting.truth().room_w - 0.0005);
}

TEST(SimulatedHeater, WithoutThermostatItWarmsByPowerOverFlowAndWalls) {
  // dT = P / (rho cp Q + UA), UA = A / (1/hi + 1/ho); the thermostat is set out of reach.
  Grow grow(bare({{"air_heater_w", 100}, {"air_heater_c", 35}, {"building_c", 15}}));
  grow.set(Output::exhaust_fan, 1000);
  grow.run(hours{24 * 6});
  const double expected = 100 / (1.2 * 1006 * 150.0 / 3600 + 8.6 / (1.0 / 6 + 1.0 / 6));
  EXPECT_NEAR(grow.truth().air_c - grow.truth().room_c, expected, 0.01 * expected);
  EXPECT_NEAR(grow.truth().ledger.heater_j, 100 * grow.truth().elapsed_s, 1e-3);
}

TEST(SimulatedHeater, HoldsTheAirWithinItsThermostatsBand) {
  Grow grow(bare({{"air_heater_w", 600}, {"air_heater_c", 20}, {"building_c", 12}}));
  grow.set(Output::exhaust_fan, 300);
  grow.run(hours{3});
  double lowest = 100, highest = -100;
  int switches = 0;
  for (int i = 0; i < 3600; ++i) {
    const bool was_on = grow.tent->state().air_heater_on;
    grow.run(seconds{1});
    switches += was_on != grow.tent->state().air_heater_on ? 1 : 0;
    lowest = std::min(lowest, grow.truth().air_c);
    highest = std::max(highest, grow.truth().air_c);
  }
  // +-0.5 K and what one second adds: 600 W into 2.3 kJ/K.
  EXPECT_GT(lowest, 19.3);
  EXPECT_LT(lowest, 19.55);
  EXPECT_LT(highest, 20.7);
  EXPECT_GT(highest, 20.45);
  EXPECT_GE(switches, 4);
}

// A reservoir that hardly feels the air, 50 L.
Settings water(Settings more) {
  Settings all = bare({{"reservoir_w_k", 0}, {"building_c", 20}});
  for (const auto& [name, value] : more) all[name] = value;
  return all;
}

TEST(SimulatedWater, AHeaterWarmsItByPowerOverHeatCapacity) {
  // dT/dt = P / (m cp): 100 W into 50 kg and 2 kJ/K of box, from 20 C: 1 K in 2113 s.
  Grow grow(water({{"water_heater_w", 100}, {"water_heater_c", 24}}));
  grow.run(seconds{4226});
  EXPECT_NEAR(grow.truth().reservoir_c, 22, 0.002);
  grow.run(hours{4});
  EXPECT_NEAR(grow.truth().reservoir_c, 24.5, 0.01);  // stopped half a kelvin over
  EXPECT_FALSE(grow.tent->state().water_heater_on);
}

TEST(SimulatedWater, AChillerCoolsItAndGivesTheHeatAway) {
  // 60 W drawn with a coefficient of performance of 2 leave 90 W in the air beside it.
  for (const double in_room : {0.0, 1.0}) {
    Grow grow(water({{"water_chiller_w", 60},
                     {"water_chiller_c", 8},
                     {"water_chiller_cop", 2},
                     {"water_chiller_in_room", in_room},
                     {"building_c", 22}}));
    const double begin = grow.truth().reservoir_c;
    grow.set(Output::exhaust_fan, 1000);
    grow.run(hours{6});
    const double cooled = 60 * grow.truth().elapsed_s / (2000 + 4186.0 * 50);
    EXPECT_NEAR(begin - grow.truth().reservoir_c, cooled, 0.01) << in_room;
    EXPECT_NEAR(grow.truth().ledger.chiller_j, 30 * grow.truth().elapsed_s, 1e-3);
    EXPECT_NEAR(leaving_w(grow), in_room == 1 ? 0 : 90, 1.5) << in_room;
  }
}

TEST(SimulatedWater, WhatIsCommandedGoesByNoThermostat) {
  Grow grow(water({{"water_heater_w", 100},
                   {"water_heater_c", 22},
                   {"water_chiller_w", 60},
                   {"water_chiller_c", 23}}));
  grow.tent->command_water(Output::water_heater);
  grow.run(hours{1});
  EXPECT_NEAR(grow.truth().reservoir_c, 20, 0.01) << "not told to";
  grow.set(Output::water_heater, 1000);
  grow.run(hours{4});
  const double drawn_j = 2.5 * grow.truth().ledger.chiller_j;
  EXPECT_GT(drawn_j, 0) << "the chiller goes by its own thermostat, above 23.5 C";
  EXPECT_NEAR(grow.truth().reservoir_c, 20 + (100 * 4 * 3600 - drawn_j) / (2000 + 4186.0 * 50),
              0.01);
}

TEST(SimulatedWater, HeaterAndChillerDoNotFight) {
  Settings settings = water({{"water_heater_w", 100}, {"water_chiller_w", 100}});
  settings["water_heater_c"] = 20.5;
  EXPECT_THROW(Grow{settings}, std::invalid_argument);  // the chiller stands at 21
  settings["water_chiller_c"] = 22;
  EXPECT_NO_THROW(Grow{settings});
}

TEST(SimulatedBalance, HeatAndWaterCloseWithEveryAppliance) {
  for (const double in_room : {0.0, 1.0}) {
    Grow grow(Settings{{"dehumidifier_kind", 1},
                       {"dehumidifier_l_per_day", 0.5},
                       {"dehumidifier_in_room", in_room},
                       {"air_heater_w", 200},
                       {"air_heater_c", 24},
                       {"water_chiller_w", 80},
                       {"water_chiller_c", 18},
                       {"water_chiller_in_room", in_room},
                       {"water_heater_w", 60},
                       {"water_heater_c", 16},
                       {"refill_below_l", 49}});
    const double water_kg = grow.truth().water_balance_kg;
    const double heat = grow.truth().heat_balance_j;
    grow.set(Output::exhaust_fan, 400);
    grow.set(Output::dehumidifier, 1000);
    grow.grow_days(2);
    EXPECT_GT(grow.truth().ledger.heater_j, 1e6);
    EXPECT_GT(grow.truth().ledger.chiller_j, 1e5);
    EXPECT_GT(grow.truth().ledger.dehumidified_kg, 0.1);
    EXPECT_NEAR(grow.truth().water_balance_kg, water_kg, 1e-6);
    EXPECT_NEAR(grow.truth().heat_balance_j, heat, 100);
  }
}

}  // namespace
}  // namespace neap::drivers
