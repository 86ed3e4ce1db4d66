// The interlock kernel, one rule at a time: inhibits, caps, resets and what a verdict says.
#include "daemon/core/interlock.h"

#include <gtest/gtest.h>

#include <array>
#include <utility>

#include "tests/core/kernel_inputs.h"

namespace neap {
namespace {

using test::all_well;

Verdicts judged(const KernelInputs& in, KernelState state = {}) {
  Verdicts verdicts;
  judge(in, state, verdicts);
  return verdicts;
}

KernelState with(Latch latch) {
  KernelState state;
  state.latched[static_cast<std::size_t>(latch)] = true;
  return state;
}

// Asks for the reset of `latch` and tells what came of it.
Because asked_to_reset(Latch latch, const KernelInputs& in, KernelState& state) {
  return reset(in, state, latch);
}

void expect_refused(Latch latch, const KernelInputs& in) {
  KernelState state = with(latch);
  EXPECT_EQ(asked_to_reset(latch, in, state),
            because(Reason::cause_persists, static_cast<double>(latch)));
  EXPECT_EQ(state, with(latch));
}

void expect_granted(Latch latch, const KernelInputs& in) {
  KernelState state = with(latch);
  EXPECT_EQ(asked_to_reset(latch, in, state), because(Reason::none));
  EXPECT_EQ(state, KernelState{});
}

TEST(Permitted, AnInhibitRefusesAStartButLetsARunGoOn) {
  Verdict inhibited;
  inhibited.inhibit = true;
  EXPECT_EQ(permitted(Output::pump, kRunning, kStopped, inhibited, kStopped), kStopped);
  EXPECT_EQ(permitted(Output::pump, kRunning, kRunning, inhibited, kStopped), kRunning);
  EXPECT_EQ(permitted(Output::pump, kStopped, kRunning, inhibited, kStopped), kStopped);
}

TEST(Permitted, ACapBoundsTheLevelAndNeverRaisesIt) {
  Verdict capped;
  capped.cap = kDimmedLight;
  EXPECT_EQ(permitted(Output::light, kRunning, kRunning, capped, kStopped), Permille{500});
  EXPECT_EQ(permitted(Output::light, Permille{300}, kRunning, capped, kStopped), Permille{300});
  EXPECT_EQ(permitted(Output::light, kStopped, kRunning, capped, kStopped), kStopped);
}

TEST(Permitted, ATripStopsThePumpEvenWhenSettingsCallRunningSafe) {
  Verdict tripped;
  tripped.trip = true;
  EXPECT_EQ(permitted(Output::pump, kRunning, kRunning, tripped, kRunning), kStopped);
  EXPECT_EQ(permitted(Output::air_pump, kStopped, kStopped, tripped, kStopped), kRunning);
  EXPECT_EQ(permitted(Output::drain_valve, kStopped, kStopped, tripped, kStopped), kRunning);
}

TEST(Permitted, ATripTakesAFanToTheSafeLevelItsOwnerDeclared) {
  Verdict tripped;
  tripped.trip = true;
  EXPECT_EQ(permitted(Output::exhaust_fan, kStopped, kStopped, tripped, Permille{400}),
            Permille{400});
}

TEST(Interlock, DampFloorForbidsANewFloodAndDoesNotCutTheRunningOne) {
  KernelInputs in = all_well();
  in.leak = LeakSeen::damp;
  in.leak_at = Point::leak_rack;
  const Verdict pump = judged(in).of[Output::pump];
  EXPECT_FALSE(pump.trip);
  EXPECT_TRUE(pump.inhibit);
  EXPECT_EQ(pump.because, because(Reason::leak_damp, static_cast<double>(Point::leak_rack)));
}

TEST(Interlock, AFullFloatThatCannotBeReadForbidsANewFlood) {
  KernelInputs in = all_well();
  in.tray_full = FloatSeen::unknown;
  const Verdict pump = judged(in).of[Output::pump];
  EXPECT_FALSE(pump.trip);
  EXPECT_TRUE(pump.inhibit);
  EXPECT_EQ(pump.because.reason, Reason::float_unknown);
}

TEST(Interlock, AFullTrayIsNoFaultAndStopsNothing) {
  KernelInputs in = all_well();
  in.tray_full = FloatSeen::set;
  const Verdict pump = judged(in).of[Output::pump];
  EXPECT_FALSE(pump.trip || pump.inhibit);
}

TEST(Interlock, FloatsAndLevelThatAreNotFittedDoNotWithholdFloods) {
  KernelInputs in = all_well();
  in.tray_high = FloatSeen::not_fitted;
  in.tray_full = FloatSeen::not_fitted;
  in.reservoir = LevelSeen::not_fitted;
  const Verdict pump = judged(in).of[Output::pump];
  EXPECT_FALSE(pump.trip || pump.inhibit);
}

TEST(Interlock, APumpOnACardThatTakesNoDebitStandsStillAndSaysSo) {
  KernelInputs in = all_well();
  in.unsaved = true;
  EXPECT_TRUE(judged(in).of[Output::pump].trip);
  EXPECT_EQ(judged(in).of[Output::pump].because.reason, Reason::state_unsaved);
}

TEST(Interlock, APumpInHandWithholdsAndAWeldedOneLatches) {
  KernelInputs in = all_well();
  in.pump_seen = PumpSeen::in_hand;
  KernelState state;
  Verdicts verdicts;
  judge(in, state, verdicts);
  EXPECT_TRUE(verdicts.of[Output::pump].trip);
  EXPECT_EQ(verdicts.of[Output::pump].because, because(Reason::pump_in_hand));
  EXPECT_EQ(state, KernelState{});
  in.pump_seen = PumpSeen::welded;
  judge(in, state, verdicts);
  EXPECT_EQ(verdicts.of[Output::pump].because.reason, Reason::pump_welded);
  EXPECT_EQ(state, with(Latch::pump_welded));
}

TEST(Interlock, AWeldIsResetOnlyOnceThePumpObeysAndItsOutputDoes) {
  KernelInputs in = all_well();
  expect_granted(Latch::pump_welded, in);
  for (const PumpSeen seen : {PumpSeen::in_hand, PumpSeen::welded, PumpSeen::off_auto}) {
    in.pump_seen = seen;
    expect_refused(Latch::pump_welded, in);
  }
  in = all_well();
  in.deaf = true;
  expect_refused(Latch::pump_welded, in);
}

TEST(Interlock, ALostStateIsResetOnlyOverADryFloorAndATrayBelowItsRim) {
  KernelInputs in = all_well();
  expect_granted(Latch::state_lost, in);
  in.leak = LeakSeen::damp;
  expect_refused(Latch::state_lost, in);
  in = all_well();
  in.tray_high = FloatSeen::unknown;
  expect_refused(Latch::state_lost, in);
  in = all_well();
  in.drain_expired = true;
  expect_refused(Latch::state_lost, in);
}

TEST(Interlock, HeatDimsTheLightFirstAndThenShedsIt) {
  KernelInputs in = all_well();
  in.heat = Heat::dim;
  EXPECT_EQ(judged(in).of[Output::light].cap, Permille{500});
  EXPECT_FALSE(judged(in).of[Output::light].trip);
  EXPECT_EQ(judged(in).of[Output::light].because.reason, Reason::light_dimmed_for_heat);
  in.heat = Heat::shed;
  EXPECT_TRUE(judged(in).of[Output::light].trip);
  EXPECT_EQ(judged(in).of[Output::light].because.reason, Reason::light_shed_for_heat);
}

TEST(Interlock, ALostCanopyTemperatureKeepsTheLightButStartsNoDehumidifier) {
  KernelInputs in = all_well();
  in.heat = Heat::unknown;
  const Verdicts verdicts = judged(in);
  EXPECT_EQ(verdicts.of[Output::light].cap, kRunning);
  EXPECT_FALSE(verdicts.of[Output::light].trip);
  EXPECT_TRUE(verdicts.of[Output::dehumidifier].inhibit);
  EXPECT_EQ(verdicts.of[Output::dehumidifier].because.reason, Reason::no_canopy_reading);
}

TEST(Interlock, TheReasonNamesTheProbeThatIsWetOrSilent) {
  KernelInputs in = all_well();
  in.leak_at = Point::leak_reservoir;
  for (const auto& [seen, reason] : {std::pair{LeakSeen::wet, Reason::leak_wet},
                                     std::pair{LeakSeen::unknown, Reason::leak_unknown}}) {
    in.leak = seen;
    EXPECT_EQ(judged(in).of[Output::pump].because,
              because(reason, static_cast<double>(Point::leak_reservoir)));
  }
}

TEST(Interlock, TheReasonNamesTheOutputThatCouldNotBeDriven) {
  KernelInputs in = all_well();
  in.deaf = true;
  in.deaf_at = Output::drain_valve;
  EXPECT_EQ(judged(in).of[Output::pump].because,
            because(Reason::output_trouble, static_cast<double>(slot(Output::drain_valve))));
}

TEST(Interlock, ADehumidifierShedForHeatSaysSo) {
  KernelInputs in = all_well();
  in.heat = Heat::shed;
  EXPECT_EQ(judged(in).of[Output::dehumidifier].because, because(Reason::over_temperature));
}

TEST(Interlock, ALiveCauseIsNamedBeforeTheLatchItLeft) {
  KernelInputs in = all_well();
  in.reservoir = LevelSeen::low;
  EXPECT_EQ(judged(in, with(Latch::slow_drain)).of[Output::pump].because.reason,
            Reason::reservoir_low);
  EXPECT_EQ(judged(all_well(), with(Latch::slow_drain)).of[Output::pump].because,
            because(Reason::latched, static_cast<double>(Latch::slow_drain)));
}

TEST(Interlock, OfSeveralTripsTheFirstOfTheTableIsNamed) {
  KernelInputs in = all_well();
  in.leak = LeakSeen::wet;
  in.service = true;
  in.run_expired = true;
  EXPECT_EQ(judged(in).of[Output::pump].because.reason, Reason::leak_wet);
}

TEST(Interlock, OfSeveralLatchesTheFirstIsNamed) {
  KernelState state = with(Latch::leak);
  state.latched[static_cast<std::size_t>(Latch::slow_drain)] = true;
  EXPECT_EQ(judged(all_well(), state).of[Output::pump].because, because(Reason::leak_latched));
}

TEST(Interlock, TripsDoNotHideAnInhibitThatOutlastsThem) {
  KernelInputs in = all_well();
  in.service = true;
  in.run_expired = true;
  in.leak = LeakSeen::damp;
  EXPECT_TRUE(judged(in).of[Output::pump].inhibit);
}

TEST(Interlock, ATripIsNamedBeforeAnInhibit) {
  KernelInputs in = all_well();
  in.leak = LeakSeen::damp;
  in.service = true;
  EXPECT_EQ(judged(in).of[Output::pump].because.reason, Reason::service_holds);
}

template <auto Field>
void unset(KernelInputs& in) {
  in.*Field = KernelInputs{}.*Field;
}

TEST(Interlock, AnInputThatNobodySetWithholdsAndSaysWhich) {
  struct Unset {
    void (*field)(KernelInputs& in);
    Output output;
    Reason reason;
  };
  constexpr std::array kRows{
      Unset{unset<&KernelInputs::leak>, Output::pump, Reason::leak_unknown},
      Unset{unset<&KernelInputs::tray_high>, Output::pump, Reason::float_unknown},
      Unset{unset<&KernelInputs::tray_full>, Output::pump, Reason::float_unknown},
      Unset{unset<&KernelInputs::reservoir>, Output::pump, Reason::reservoir_unknown},
      Unset{unset<&KernelInputs::fill_expired>, Output::pump, Reason::latched},
      Unset{unset<&KernelInputs::run_expired>, Output::pump, Reason::pump_run_limit},
      Unset{unset<&KernelInputs::budget_cycle_spent>, Output::pump, Reason::budget_cycle},
      Unset{unset<&KernelInputs::budget_hour_spent>, Output::pump, Reason::budget_hour},
      Unset{unset<&KernelInputs::budget_day_spent>, Output::pump, Reason::budget_day},
      Unset{unset<&KernelInputs::unsaved>, Output::pump, Reason::state_unsaved},
      Unset{unset<&KernelInputs::rail_off>, Output::pump, Reason::rail_cycles},
      Unset{unset<&KernelInputs::supply_low>, Output::pump, Reason::supply_low},
      Unset{unset<&KernelInputs::pump_seen>, Output::pump, Reason::pump_welded},
      Unset{unset<&KernelInputs::deaf>, Output::pump, Reason::output_trouble},
      Unset{unset<&KernelInputs::heat>, Output::dehumidifier, Reason::no_canopy_reading},
      Unset{unset<&KernelInputs::covered>, Output::water_chiller, Reason::reservoir_unknown},
      Unset{unset<&KernelInputs::water>, Output::water_heater, Reason::water_no_reading},
      Unset{unset<&KernelInputs::outputs_proven>, Output::pump, Reason::outputs_not_proven},
      Unset{unset<&KernelInputs::first_inputs_seen>, Output::pump, Reason::outputs_not_proven}};
  for (const Unset& row : kRows) {
    KernelInputs in = all_well();
    row.field(in);
    const Verdict verdict = judged(in).of[row.output];
    EXPECT_TRUE(verdict.trip || verdict.inhibit);
    EXPECT_EQ(verdict.because.reason, row.reason);
  }
}

// What only an event can make true is not true before it, and nobody chose floods by time.
TEST(Interlock, AnInputThatNobodySetTellsOfNoEventAndGrantsNoException) {
  constexpr KernelInputs kFresh;
  EXPECT_FALSE(kFresh.leak_confirmed || kFresh.lost_water || kFresh.drain_expired);
  EXPECT_FALSE(kFresh.service || kFresh.bucket_full || kFresh.timed);
}

TEST(Interlock, NothingIsTrippedInhibitedOrCappedWhenAllIsWell) {
  const Verdicts verdicts = judged(all_well());
  for (const OutputInfo& o : kOutputs) {
    EXPECT_FALSE(verdicts.of[o.output].trip || verdicts.of[o.output].inhibit) << o.name;
    EXPECT_EQ(verdicts.of[o.output].cap, kRunning) << o.name;
  }
}

TEST(InterlockReset, ALatchThatIsNotSetIsNotReset) {
  KernelState state;
  EXPECT_EQ(asked_to_reset(Latch::leak, all_well(), state),
            because(Reason::latch_not_set, static_cast<double>(Latch::leak)));
}

TEST(InterlockReset, EveryLatchIsGrantedWhenAllIsWell) {
  for (const LatchInfo& row : kLatches) {
    SCOPED_TRACE(row.name);
    expect_granted(row.latch, all_well());
  }
}

TEST(InterlockReset, ResettingOneLatchLeavesTheOthers) {
  KernelState state;
  state.latched.fill(true);
  EXPECT_EQ(asked_to_reset(Latch::lost_water, all_well(), state), because(Reason::none));
  for (const LatchInfo& row : kLatches) {
    EXPECT_EQ(state.latched[static_cast<std::size_t>(row.latch)], row.latch != Latch::lost_water)
        << row.name;
  }
}

TEST(InterlockReset, LeakAndLostWaterAskForAProbeThatIsProvenDry) {
  for (const LeakSeen seen : {LeakSeen::damp, LeakSeen::wet, LeakSeen::unknown}) {
    KernelInputs in = all_well();
    in.leak = seen;
    expect_refused(Latch::leak, in);
    expect_refused(Latch::lost_water, in);
    expect_granted(Latch::tray_overflow, in);
    expect_granted(Latch::slow_drain, in);
  }
}

TEST(InterlockReset, LeakIsRefusedWhileTheLastSamplesStillConfirmIt) {
  KernelInputs in = all_well();
  in.leak_confirmed = true;
  expect_refused(Latch::leak, in);
}

TEST(InterlockReset, LostWaterIsRefusedWhileTheBalanceStillMissesIt) {
  KernelInputs in = all_well();
  in.lost_water = true;
  expect_refused(Latch::lost_water, in);
}

TEST(InterlockReset, TrayLatchesAskForAHighFloatThatIsProvenClear) {
  for (const FloatSeen seen : {FloatSeen::set, FloatSeen::unknown}) {
    KernelInputs in = all_well();
    in.tray_high = seen;
    expect_refused(Latch::tray_overflow, in);
    expect_refused(Latch::fill_failed, in);
    expect_refused(Latch::slow_drain, in);
    expect_granted(Latch::leak, in);
  }
  KernelInputs in = all_well();
  in.tray_high = FloatSeen::not_fitted;
  expect_granted(Latch::tray_overflow, in);
}

TEST(InterlockReset, ATrayThatHasNotDrainedKeepsItsLatches) {
  KernelInputs in = all_well();
  in.drain_expired = true;
  expect_refused(Latch::slow_drain, in);
  expect_refused(Latch::fill_failed, in);
}

TEST(InterlockReset, AFillThatJustFailedKeepsItsLatch) {
  KernelInputs in = all_well();
  in.fill_expired = true;
  expect_refused(Latch::fill_failed, in);
}

}  // namespace
}  // namespace neap
