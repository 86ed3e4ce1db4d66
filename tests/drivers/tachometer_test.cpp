#include "drivers/sensors/tachometer.h"

#include <gtest/gtest.h>

#include "tests/drivers/fake_gpio.h"

namespace neap::drivers {
namespace {

constexpr std::uint32_t kWire = 6;
constexpr std::uint64_t kUglyNs = 86'399'123'456'789;

class TachometerTest : public testing::Test {
 protected:
  TachometerTest() {
    kernel_.add("gpiochip4", "pinctrl-board", 32);
    Params given;
    given.set("chip", "pinctrl-board");
    given.set("line", std::to_string(kWire));
    given.set("turning_from_rpm", "600");
    wheel_ = kTachometer.make(given, context_);
  }
  // `count` pulses, one each `every_ms`.
  void pulses(int count, std::uint64_t every_ms) {
    for (int i = 0; i < count; ++i) {
      at_ns_ += every_ms * 1'000'000;
      kernel_.move("gpiochip4", kWire, true, at_ns_);
      kernel_.move("gpiochip4", kWire, false, at_ns_ + 1000);
    }
  }
  std::optional<double> finish() {
    Deliveries out;
    wheel_->finish(out);
    EXPECT_EQ(out.size(), 2u);
    rpm_ = out[1].value;
    return out[0].value;
  }

  Context context_;
  test::FakeGpio kernel_{context_};
  std::unique_ptr<Sensor> wheel_;
  std::uint64_t at_ns_ = kUglyNs;
  std::optional<double> rpm_;
};

TEST_F(TachometerTest, TellsTurningByTheKernelsOwnStamps) {
  ASSERT_EQ(wheel_->begin().fault, Fault::none);
  pulses(41, 50);  // 20 a second, 2 a turn: 600 rpm
  EXPECT_EQ(finish(), 1);
  EXPECT_EQ(rpm_, 600);
  wheel_->begin();
  pulses(40, 51);
  EXPECT_EQ(finish(), 0) << "588 rpm";
}

TEST_F(TachometerTest, StandingAndASinglePulseAreNotTurning) {
  wheel_->begin();
  EXPECT_EQ(finish(), 0);
  wheel_->begin();
  pulses(1, 50);
  EXPECT_EQ(finish(), 0);
}

TEST_F(TachometerTest, PulsesFromBeforeTheWindowDoNotCount) {
  wheel_->begin();
  pulses(100, 1);
  wheel_->begin();
  EXPECT_EQ(finish(), 0);
}

TEST_F(TachometerTest, PulsesThatTheQueueLostAreCountedByTheirNumbers) {
  wheel_->begin();
  pulses(1, 50);
  kernel_.lose_edges("gpiochip4", kWire, 38);
  at_ns_ += 38 * 50'000'000ull;
  pulses(2, 50);
  EXPECT_EQ(finish(), 1) << "40 pulses in 2 s, of which the queue kept 3";
}

TEST_F(TachometerTest, AChipThatGoesIsAFault) {
  wheel_->begin();
  kernel_.remove("gpiochip4");
  EXPECT_EQ(finish(), std::nullopt);
  EXPECT_NE(wheel_->begin().fault, Fault::none);
  EXPECT_NE(wheel_->trouble(), "");
}

}  // namespace
}  // namespace neap::drivers
