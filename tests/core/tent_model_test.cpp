#include "daemon/core/tent_model.h"

#include <gtest/gtest.h>

#include <cmath>

#include "daemon/core/air.h"

namespace neap::tent_model {
namespace {

constexpr Instant kNow = instant(Millis{4294967000});

Beliefs usual() {
  Beliefs beliefs;
  beliefs.fan_m3_per_h = 150;
  beliefs.dehumidifier_g_per_h = 146;
  beliefs.humidifier_g_per_h = 250;
  return beliefs;
}

MoistAir air_at(double celsius, double rh) {
  const auto air = moist_air(derive_air(Reading<Celsius>::of(Celsius{celsius}, Quality::good, kNow),
                                        Reading<PercentRh>::of(PercentRh{rh}, Quality::good, kNow),
                                        Reading<Celsius>::absent(Fault::not_fitted), {}, kNow));
  return *air;
}

// Winkler et al. 2011 give 1 at the rating point (their curve itself 0.987); the other rows were
// computed apart from this code from the published coefficients, to two places.
TEST(TentModel, ADehumidifierGivesLessInCoolDryAirAndMoreInWarmWetAir) {
  struct Row {
    double celsius, rh, part;
  };
  for (const Row& row : {Row{26.7, 60, 1.0}, Row{12, 60, 0.38}, Row{18, 60, 0.64},
                         Row{24, 60, 0.88}, Row{24, 75, 1.19}, Row{30, 70, 1.35}})
    EXPECT_NEAR(drying_at(usual(), air_at(row.celsius, row.rh)).g_per_h / 146, row.part, 0.015)
        << row.celsius << " C, " << row.rh << " %";
}

TEST(TentModel, ADehumidifierHeatsByItsPowerAndByWhatItCondenses) {
  const Drying drying = drying_at(usual(), air_at(26.7, 60));
  EXPECT_NEAR(drying.heat_w, 146 / 1.15 + 146 * 2450 / 3600.0, 2);
}

TEST(TentModel, APeltierElementTakesFiveTimesTheEnergy) {
  Beliefs small = usual();
  small.dehumidifier_kind = DehumidifierKind::peltier;
  small.dehumidifier_g_per_h = 15;
  EXPECT_NEAR(drying_at(small, air_at(26.7, 60)).heat_w, 15 / 0.22 + 15 * 2450 / 3600.0, 1);
}

// Closed forms: dw = E / (rho Q), dT = H / (rho Q cp + UA).
TEST(TentModel, SteadyAirClosesTheBalancesOfVapourAndHeat) {
  const MoistAir room = air_at(21, 50);
  const Sources sources{.vapour_g_per_h = 120, .heat_w = 80, .at_vpd_kpa = 1};
  const SteadyAir steady = steady_air(usual(), sources, room, {.fan = Permille{400}});
  const double over = steady.air.celsius - room.celsius;
  const double flow = kAirDensity * air_flow_m3_per_h(usual(), Permille{400}, over);
  EXPECT_NEAR(over, 80 / (flow * 1006 / 3600 + 25), 1e-4);
  EXPECT_NEAR(steady.air.g_per_kg - room.g_per_kg, 120 * (1 + 0.5 * (steady.vpd_kpa - 1)) / flow,
              1e-4);
  EXPECT_NEAR(steady.vpd_kpa, vpd_kpa(steady.air), 1e-4);
}

TEST(TentModel, FlowIsTheFansAndTheLeakageInQuadrature) {
  EXPECT_NEAR(air_flow_m3_per_h(usual(), kRunning, 0), std::hypot(150, 4), 1e-9);
  EXPECT_NEAR(air_flow_m3_per_h(usual(), kStopped, 4), 4 + 1.6 * 2, 1e-9);
  EXPECT_NEAR(air_flow_m3_per_h(usual(), Permille{550}, 0), std::hypot(75, 4), 1e-9);
}

// A planted tent by night: full venting approaches 0.9 of the room's VPD (simulated map of rooms of
// 15 to 30 C and 25 to 85 %: 0.88 to 0.92). In the dark the air pays for all of the evaporation.
TEST(TentModel, FullVentingAtNightApproachesNineTenthsOfTheRoomsVpd) {
  const MoistAir room = air_at(21, 55);
  const Sources sources{.vapour_g_per_h = 35, .heat_w = -35 * kEvaporationWh, .at_vpd_kpa = 0.9};
  const SteadyAir vented = steady_air(usual(), sources, room, {.fan = kRunning});
  EXPECT_NEAR(vented.vpd_kpa / vpd_kpa(room), 0.9, 0.04);
}

TEST(TentModel, ADehumidifierInTheTentWarmsAndDriesOneInTheRoomDoesNeither) {
  const MoistAir room = air_at(21, 65);
  const Sources sources{.vapour_g_per_h = 40, .heat_w = 0, .at_vpd_kpa = 0.8};
  Beliefs beliefs = usual();
  const Means off{.fan = Permille{300}};
  const Means on{.fan = Permille{300}, .dehumidifier = true};
  const SteadyAir without = steady_air(beliefs, sources, room, off);
  const SteadyAir with = steady_air(beliefs, sources, room, on);
  EXPECT_LT(with.air.g_per_kg, without.air.g_per_kg - 0.5);
  EXPECT_GT(with.air.celsius, without.air.celsius + 2);
  beliefs.dehumidifier_place = DehumidifierPlace::room;
  EXPECT_EQ(steady_air(beliefs, sources, room, on).vpd_kpa, without.vpd_kpa);
}

TEST(TentModel, AHumidifierMoistensAndCools) {
  const MoistAir room = air_at(21, 30);
  const Sources sources{.vapour_g_per_h = 20, .heat_w = 60, .at_vpd_kpa = 1.6};
  const SteadyAir dry = steady_air(usual(), sources, room, {.fan = Permille{200}});
  const SteadyAir wet =
      steady_air(usual(), sources, room, {.fan = Permille{200}, .humidifier_duty = 0.5});
  EXPECT_LT(wet.vpd_kpa, dry.vpd_kpa - 0.3);
  EXPECT_LT(wet.air.celsius, dry.air.celsius - 1);
}

TEST(TentModel, ThereIsNoMoistAirWithoutBothReadings) { EXPECT_FALSE(moist_air(Air{})); }

}  // namespace
}  // namespace neap::tent_model
