// The kernel on what happens around the board: its own supply, and that of the sensors.
#include <gtest/gtest.h>

#include "daemon/core/interlock.h"
#include "tests/core/kernel_inputs.h"

namespace neap {
namespace {

Verdicts judged(const KernelInputs& in) {
  KernelState state;
  Verdicts verdicts;
  judge(in, state, verdicts);
  EXPECT_EQ(state, KernelState{});
  return verdicts;
}

TEST(InterlockBoard, ALowSupplyForbidsAStartAndLetsARunGoOn) {
  KernelInputs in = test::all_well();
  in.supply_low = true;
  const Verdicts verdicts = judged(in);
  for (const Output contact : {Output::pump, Output::pump_series}) {
    const Verdict& verdict = verdicts.of[contact];
    EXPECT_EQ(permitted(contact, kRunning, kStopped, verdict, kStopped), kStopped);
    EXPECT_EQ(permitted(contact, kRunning, kRunning, verdict, kStopped), kRunning);
    EXPECT_EQ(verdict.because, because(Reason::supply_low));
  }
  EXPECT_FALSE(verdicts.of[Output::drain_valve].trip);
}

TEST(InterlockBoard, WhileSensorsHaveNoSupplyNoPumpRunsAndTheValveMayHold) {
  KernelInputs in = test::all_well();
  in.rail_off = true;
  const Verdicts verdicts = judged(in);
  for (const Output contact : {Output::pump, Output::pump_series})
    EXPECT_EQ(permitted(contact, kRunning, kRunning, verdicts.of[contact], kStopped), kStopped);
  EXPECT_FALSE(verdicts.of[Output::drain_valve].trip);
}

}  // namespace
}  // namespace neap
