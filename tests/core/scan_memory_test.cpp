// Goal: what the scan remembers is forgotten by nothing but its proper end. Method: the whole scan
// on the rig. tests/mutations showed that these ways to forget went unseen.
#include <gtest/gtest.h>

#include "tests/core/rig.h"

namespace neap::test {
namespace {

// While the probe is wet the latch is set anew in each scan; only once it is dry does it show
// whether `ack` touched it.
TEST(ScanMemory, AcknowledgingADryLeakLeavesItsLatch) {
  Rig rig{strawberry_plan(), 7 * 3600};
  rig.contact(Point::leak_floor, Contact::set);
  rig.contact(Point::leak_floor, Contact::set);
  rig.contact(Point::leak_floor, Contact::clear);
  rig.ask({.kind = RequestKind::acknowledge, .all = true});
  EXPECT_TRUE(rig.latched(Latch::leak));
  rig.run(minutes{1});
  EXPECT_TRUE(rig.latched(Latch::leak));
}

// A bit that flips in the board's memory (hazards X9) must not give back pump time, nor let go of a
// latch.
TEST(ScanMemory, PumpTimeThatChangedByItselfStopsAFloodAndCountsAsSpent) {
  Rig rig{strawberry_plan(), 7 * 3600};
  rig.run(minutes{1});
  ASSERT_TRUE(rig.ask({.kind = RequestKind::flood_start}).accepted);
  rig.run(seconds{30});
  ASSERT_TRUE(rig.running(Output::pump));
  rig.state.kept.budget.hour_ms[3] ^= 1 << 20;
  rig.scan_now();
  EXPECT_FALSE(rig.running(Output::pump));
  EXPECT_TRUE(rig.latched(Latch::state_lost));
  EXPECT_EQ(rig.alarm(Alarm::state_lost), AlarmState::unacknowledged);
  EXPECT_TRUE(rig.state.kernel_inputs.budget_day_spent);
  EXPECT_TRUE(rig.out.keep) << "a crash in the next second must not forget it";
}

TEST(ScanMemory, ALatchThatFlippedBackHoldsAllTheSame) {
  Rig rig{strawberry_plan(), 7 * 3600};
  rig.contact(Point::leak_floor, Contact::set);
  rig.contact(Point::leak_floor, Contact::set);
  rig.contact(Point::leak_floor, Contact::clear);
  rig.run(minutes{1});
  ASSERT_TRUE(rig.latched(Latch::leak));
  rig.state.kept.kernel.latched[static_cast<std::size_t>(Latch::leak)] = false;
  rig.scan_now();
  EXPECT_TRUE(rig.latched(Latch::leak));
  EXPECT_TRUE(rig.latched(Latch::state_lost));
  rig.run(hours{1});
  EXPECT_TRUE(rig.ask({.kind = RequestKind::reset_latch, .latch = Latch::state_lost}).accepted);
  rig.run(hours{1});
  EXPECT_FALSE(rig.latched(Latch::state_lost)) << "told once, not again and again";
}

TEST(ScanMemory, AWallClockThatGoesBackByDaysRepeatsNoFlood) {
  Rig rig{strawberry_plan(), 7 * 3600};
  rig.run(hours{30});
  const std::size_t floods = rig.rows().size();
  ASSERT_GE(floods, 4u);
  rig.wall_shift = -hours{96};
  rig.run(hours{24});
  EXPECT_EQ(rig.rows().size(), floods);
}

}  // namespace
}  // namespace neap::test
