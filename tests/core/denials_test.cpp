// Goal: a part of the daemon that asks for the pump against the interlocks is denied, told and, the
// third time in an hour, trusted no more (hazards X6).
#include "daemon/core/denials.h"

#include <gtest/gtest.h>

#include <random>

#include "daemon/core/arbiter.h"
#include "daemon/core/scan.h"
#include "tests/core/plans.h"

namespace neap {
namespace {

constexpr Instant kBegin = instant(Millis{4'294'967'000});

Demands asking(Output output, Permille level) {
  Demands demands;
  demands.push({output, level, Precedence::sequence, because(Reason::none)});
  return demands;
}

TEST(Denials, OnlyThePumpAgainstATripIsOne) {
  Denials denials;
  EXPECT_FALSE(note_denials(denials, asking(Output::pump, kRunning), false, kBegin));
  EXPECT_FALSE(note_denials(denials, asking(Output::pump, kStopped), true, kBegin));
  EXPECT_FALSE(note_denials(denials, asking(Output::exhaust_fan, kRunning), true, kBegin));
  EXPECT_FALSE(denied_of_late(denials, kBegin));
  note_denials(denials, asking(Output::pump_series, kRunning), true, kBegin);
  EXPECT_TRUE(denied_of_late(denials, kBegin));
}

TEST(Denials, TheThirdInAnHourIsTheLastThatIsTrusted) {
  Denials denials;
  const Demands demands = asking(Output::pump, kRunning);
  EXPECT_FALSE(note_denials(denials, demands, true, kBegin));
  EXPECT_FALSE(note_denials(denials, demands, true, kBegin + minutes{20}));
  EXPECT_TRUE(note_denials(denials, demands, true, kBegin + minutes{59}));
  EXPECT_FALSE(note_denials(denials, demands, true, kBegin + minutes{60})) << "counted afresh";
}

TEST(Denials, ThreeThatTakeMoreThanAnHourAreToldAndNoMore) {
  Denials denials;
  for (int i = 0; i < 20; ++i)
    EXPECT_FALSE(
        note_denials(denials, asking(Output::pump, kRunning), true, kBegin + i * minutes{30}));
  EXPECT_TRUE(denied_of_late(denials, kBegin + 20 * minutes{30} - minutes{1}));
  EXPECT_EQ(next_denial_deadline(denials, kBegin + 19 * minutes{30}),
            kBegin + 19 * minutes{30} + kDenialWindow);
  EXPECT_FALSE(denied_of_late(denials, kBegin + 19 * minutes{30} + kDenialWindow));
}

// A controller gone mad: whatever it asks for, the pump stands while a trip stands.
TEST(Denials, ARandomControllerNeverMovesWaterAgainstATripAndIsFoundOut) {
  const Plan plan = test::strawberry_plan();
  State state = start_state(plan, nullptr, kBegin);
  std::mt19937 draw{41};
  Verdicts verdicts;
  verdicts.of[Output::pump].trip = true;
  int distrusted = 0;
  for (int i = 1; i <= 1000; ++i) {
    const Instant now = kBegin + seconds{i};
    Demands demands;
    for (int n = static_cast<int>(draw() % 6); n > 0; --n)
      demands.push({kOutputs[draw() % kOutputs.size()].output,
                    Permille{static_cast<int>(draw() % 1001)}, static_cast<Precedence>(draw() % 6),
                    because(Reason::none)});
    distrusted += note_denials(state.denials, demands, true, now) ? 1 : 0;
    OutputImage image = state.last;
    arbitrate(plan, state, demands, verdicts, false, now, image);
    EXPECT_EQ(image.commands[Output::pump].level, kStopped) << "step " << i;
    state.last = image;
  }
  EXPECT_GT(distrusted, 50);
}

}  // namespace
}  // namespace neap
