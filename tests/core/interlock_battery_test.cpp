// Every output against every trip, under random demands of anybody: tripped implies safe.
#include <gtest/gtest.h>

#include <random>
#include <set>
#include <string>
#include <vector>

#include "daemon/core/interlock.h"
#include "tests/core/kernel_inputs.h"

namespace neap {
namespace {

using test::all_well;

constexpr int kDemands = 200;
constexpr Latch kNoLatch = Latch::leak;  // unused where `latched` is false

struct Trip {
  std::string name;
  void (*spoil)(KernelInputs& in);
  std::set<Output> forces_safe;
  Reason reason;
  bool sets_latch = false;
  Latch latch = kNoLatch;
};

const std::set<Output> kWater{Output::pump,       Output::pump_series,  Output::drain_valve,
                              Output::humidifier, Output::water_heater, Output::water_chiller};
const std::set<Output> kTray{Output::pump, Output::pump_series, Output::drain_valve};
const std::set<Output> kSpill{Output::pump, Output::pump_series, Output::drain_valve,
                              Output::water_heater, Output::water_chiller};
const std::set<Output> kPumpOnly{Output::pump, Output::pump_series};
const std::set<Output> kBath{Output::water_heater, Output::water_chiller};
const std::set<Output> kHandsInWater{Output::pump, Output::pump_series, Output::water_heater,
                                     Output::water_chiller};
const std::set<Output> kAll{
    Output::pump,         Output::drain_valve,  Output::exhaust_fan, Output::circulation_fan,
    Output::dehumidifier, Output::humidifier,   Output::light,       Output::air_pump,
    Output::pump_series,  Output::sensor_rail,  Output::lamp,        Output::buzzer,
    Output::water_heater, Output::water_chiller};

const std::vector<Trip>& trips() {
  static const std::vector<Trip> rows{
      {"leak wet", [](KernelInputs& in) { in.leak = LeakSeen::wet; }, kWater, Reason::leak_wet},
      {"leak unknown", [](KernelInputs& in) { in.leak = LeakSeen::unknown; }, kWater,
       Reason::leak_unknown},
      {"leak confirmed", [](KernelInputs& in) { in.leak_confirmed = true; }, kWater,
       Reason::leak_latched, true, Latch::leak},
      {"tray high", [](KernelInputs& in) { in.tray_high = FloatSeen::set; }, kSpill, Reason::none,
       true, Latch::tray_overflow},
      {"tray high unknown", [](KernelInputs& in) { in.tray_high = FloatSeen::unknown; }, kTray,
       Reason::float_unknown},
      {"reservoir low", [](KernelInputs& in) { in.reservoir = LevelSeen::low; }, kPumpOnly,
       Reason::reservoir_low},
      {"reservoir unknown", [](KernelInputs& in) { in.reservoir = LevelSeen::unknown; }, kPumpOnly,
       Reason::reservoir_unknown},
      {"fill without proof", [](KernelInputs& in) { in.fill_expired = true; }, kTray,
       Reason::latched, true, Latch::fill_failed},
      {"lost water", [](KernelInputs& in) { in.lost_water = true; }, kSpill, Reason::latched, true,
       Latch::lost_water},
      {"slow drain", [](KernelInputs& in) { in.drain_expired = true; }, kTray, Reason::latched,
       true, Latch::slow_drain},
      {"pump's switch not in automatic",
       [](KernelInputs& in) { in.pump_seen = PumpSeen::off_auto; }, kPumpOnly,
       Reason::pump_off_auto},
      {"pump run limit", [](KernelInputs& in) { in.run_expired = true; }, kPumpOnly,
       Reason::pump_run_limit},
      {"budget of the flood", [](KernelInputs& in) { in.budget_cycle_spent = true; }, kPumpOnly,
       Reason::budget_cycle},
      {"budget of the hour", [](KernelInputs& in) { in.budget_hour_spent = true; }, kPumpOnly,
       Reason::budget_hour},
      {"budget of the day", [](KernelInputs& in) { in.budget_day_spent = true; }, kPumpOnly,
       Reason::budget_day},
      {"pump or valve deaf", [](KernelInputs& in) { in.deaf = true; }, kTray,
       Reason::output_trouble},
      {"service", [](KernelInputs& in) { in.service = true; }, kHandsInWater,
       Reason::service_holds},
      {"supply of the sensors cycled", [](KernelInputs& in) { in.rail_off = true; }, kHandsInWater,
       Reason::rail_cycles},
      {"heater and chiller out of water", [](KernelInputs& in) { in.covered = LevelSeen::low; },
       kBath, Reason::reservoir_low},
      {"not known whether they are under water",
       [](KernelInputs& in) { in.covered = LevelSeen::unknown; }, kBath, Reason::reservoir_unknown},
      {"nothing fitted that could tell",
       [](KernelInputs& in) { in.covered = LevelSeen::not_fitted; }, kBath,
       Reason::reservoir_unknown},
      {"water hot",
       [](KernelInputs& in) { in.water = WaterSeen::hot; },
       {Output::water_heater},
       Reason::water_too_hot},
      {"water's temperature not known", [](KernelInputs& in) { in.water = WaterSeen::unknown; },
       kBath, Reason::water_no_reading},
      {"bucket full",
       [](KernelInputs& in) { in.bucket_full = true; },
       {Output::dehumidifier},
       Reason::bucket_full},
      {"heat",
       [](KernelInputs& in) { in.heat = Heat::shed; },
       {Output::dehumidifier, Output::light},
       Reason::none},
      {"outputs not proven", [](KernelInputs& in) { in.outputs_proven = false; }, kAll,
       Reason::outputs_not_proven},
      {"inputs not yet seen", [](KernelInputs& in) { in.first_inputs_seen = false; }, kAll,
       Reason::outputs_not_proven},
  };
  return rows;
}

Permille any_level(std::mt19937& random) {
  return Permille{std::uniform_int_distribution<int>{0, 1000}(random)};
}

TEST(InterlockBattery, EveryTripForcesItsOutputsSafeUnderAnyDemand) {
  std::mt19937 random{7};
  for (const Trip& trip : trips()) {
    KernelInputs in = all_well();
    trip.spoil(in);
    KernelState state;
    Verdicts verdicts;
    judge(in, state, verdicts);
    for (const OutputInfo& row : kOutputs) {
      SCOPED_TRACE(trip.name + " on " + std::string(row.name));
      const Verdict& verdict = verdicts.of[row.output];
      EXPECT_EQ(verdict.trip, trip.forces_safe.contains(row.output));
      for (int i = 0; i < kDemands; ++i) {
        const Permille declared = row.safe_is_fixed ? row.safe : any_level(random);
        const Permille wanted = any_level(random);
        const Permille granted =
            permitted(row.output, wanted, any_level(random), verdict, declared);
        ASSERT_EQ(granted, trip.forces_safe.contains(row.output) ? declared : wanted);
      }
      if (verdict.trip && trip.reason != Reason::none) {
        EXPECT_EQ(verdict.because.reason, trip.reason);
      }
    }
  }
}

// What reads as water or heat before anything was read is a default and no reason.
TEST(InterlockBattery, BeforeInputsAreSeenThatIsTheReasonWhateverElseTheySay) {
  for (const Trip& trip : trips()) {
    KernelInputs in = all_well();
    trip.spoil(in);
    in.first_inputs_seen = false;
    KernelState state;
    Verdicts verdicts;
    judge(in, state, verdicts);
    for (const OutputInfo& row : kOutputs) {
      SCOPED_TRACE(trip.name + " on " + std::string(row.name));
      EXPECT_TRUE(verdicts.of[row.output].trip);
      EXPECT_EQ(verdicts.of[row.output].because.reason, Reason::outputs_not_proven);
    }
  }
}

TEST(InterlockBattery, EachLatchIsSetByItsOwnCauseAndNoOther) {
  for (const Trip& trip : trips()) {
    SCOPED_TRACE(trip.name);
    KernelInputs in = all_well();
    trip.spoil(in);
    KernelState state;
    Verdicts verdicts;
    judge(in, state, verdicts);
    KernelState expected;
    if (trip.sets_latch) expected.latched[static_cast<std::size_t>(trip.latch)] = true;
    EXPECT_EQ(state, expected);
  }
}

TEST(InterlockBattery, ATripWithoutALatchEndsWithItsCause) {
  for (const Trip& trip : trips()) {
    SCOPED_TRACE(trip.name);
    KernelInputs in = all_well();
    trip.spoil(in);
    KernelState state;
    Verdicts verdicts;
    judge(in, state, verdicts);
    judge(all_well(), state, verdicts);
    for (const OutputInfo& row : kOutputs) {
      const bool held = trip.sets_latch && trip.forces_safe.contains(row.output);
      EXPECT_EQ(verdicts.of[row.output].trip, held) << row.name;
    }
  }
}

TEST(InterlockBattery, ALatchHoldsWhateverFollowsUntilItIsReset) {
  std::mt19937 random{11};
  for (const LatchInfo& row : kLatches) {
    KernelState state;
    state.latched[static_cast<std::size_t>(row.latch)] = true;
    Verdicts verdicts;
    for (int i = 0; i < kDemands; ++i) {
      KernelInputs in = all_well();
      std::uniform_int_distribution<std::size_t> which{0, trips().size() - 1};
      trips()[which(random)].spoil(in);
      judge(in, state, verdicts);
      ASSERT_TRUE(state.latched[static_cast<std::size_t>(row.latch)]) << row.name;
      ASSERT_TRUE(verdicts.of[Output::pump].trip) << row.name;
      ASSERT_TRUE(verdicts.of[Output::drain_valve].trip) << row.name;
    }
  }
}

// The latch that a wet overflow sets holds heater and chiller too; where the water moves, the float
// itself is named for as long as it is wet.
TEST(InterlockBattery, AWetOverflowIsNamedWhereTheWaterMoves) {
  KernelInputs in = all_well();
  in.tray_high = FloatSeen::set;
  KernelState state;
  Verdicts verdicts;
  judge(in, state, verdicts);
  for (const Output output : kTray)
    EXPECT_EQ(verdicts.of[output].because.reason, Reason::tray_overflow) << info(output).name;
  for (const Output output : kBath)
    EXPECT_EQ(verdicts.of[output].because.reason, Reason::latched) << info(output).name;
}

TEST(InterlockBattery, WhenAllIsWellNothingIsTouched) {
  KernelState state;
  Verdicts verdicts;
  judge(all_well(), state, verdicts);
  EXPECT_EQ(state, KernelState{});
  for (const OutputInfo& row : kOutputs) {
    const Verdict& verdict = verdicts.of[row.output];
    EXPECT_FALSE(verdict.trip || verdict.inhibit) << row.name;
    EXPECT_EQ(verdict.cap, kRunning) << row.name;
    EXPECT_EQ(verdict.because, because(Reason::none)) << row.name;
  }
}

TEST(InterlockBattery, InputsThatNobodyFilledInDenyEverything) {
  KernelState state;
  Verdicts verdicts;
  judge(KernelInputs{}, state, verdicts);
  for (const OutputInfo& row : kOutputs) EXPECT_TRUE(verdicts.of[row.output].trip) << row.name;
}

}  // namespace
}  // namespace neap
