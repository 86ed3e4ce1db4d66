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
