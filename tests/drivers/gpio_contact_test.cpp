#include "drivers/sensors/gpio_contact.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <condition_variable>
#include <mutex>

#include "tests/drivers/fake_gpio.h"

namespace neap::drivers {
namespace {

using testing::HasSubstr;

constexpr std::uint32_t kFloat = 5;

// Edges come from another thread; a test waits for them.
class Edges {
 public:
  std::function<void()> counter() {
    return [this] {
      const std::lock_guard lock(mutex_);
      ++count_;
      changed_.notify_all();
    };
  }
  bool reach(int count) {
    std::unique_lock lock(mutex_);
    return changed_.wait_for(lock, std::chrono::seconds{20}, [&] { return count_ >= count; });
  }
  int count() {
    const std::lock_guard lock(mutex_);
    return count_;
  }

 private:
  std::mutex mutex_;
  std::condition_variable changed_;
  int count_ = 0;
};

class GpioContactTest : public testing::Test {
 protected:
  GpioContactTest() { kernel_.add("gpiochip4", "pinctrl-board", 32).lines[kFloat].high = true; }

  std::unique_ptr<Sensor> make(
      std::initializer_list<std::pair<const char*, const char*>> more = {}) {
    Params given;
    given.set("chip", "pinctrl-board");
    given.set("line", std::to_string(kFloat));
    given.set("active", "low");
    for (const auto& [name, value] : more) given.set(name, value);
    return kGpioContact.make(given, context_);
  }
  // What a read delivers: a value, or nothing.
  static std::optional<double> read(Sensor& contact) {
    if (contact.begin().fault != Fault::none) return std::nullopt;
    Deliveries out;
    contact.finish(out);
    EXPECT_EQ(out.size(), 1u);
    EXPECT_EQ(out[0].value.has_value(), out[0].fault == Fault::none);
    return out[0].value;
  }
  void move(bool high) { kernel_.move("gpiochip4", kFloat, high); }
  const test::FakeLine& line() { return kernel_.chip("gpiochip4").lines[kFloat]; }

  Context context_;
  test::FakeGpio kernel_{context_};
};

TEST_F(GpioContactTest, SaysWhereTheLineStandsBeforeAnyEdge) {
  const auto contact = make();
  EXPECT_EQ(read(*contact), 0);
  kernel_.chip("gpiochip4").lines[kFloat].high = false;
  EXPECT_EQ(read(*make({{"line", "6"}})), 1) << "low, and active is low";
}

TEST_F(GpioContactTest, AsksTheKernelForBothEdgesPullAndDebounce) {
  const auto contact = make({{"debounce_ms", "35"}});
  read(*contact);
  EXPECT_EQ(line().debounce_us, 35'000u);
  EXPECT_EQ(line().flags, GPIO_V2_LINE_FLAG_INPUT | GPIO_V2_LINE_FLAG_ACTIVE_LOW |
                              GPIO_V2_LINE_FLAG_EDGE_RISING | GPIO_V2_LINE_FLAG_EDGE_FALLING |
                              GPIO_V2_LINE_FLAG_BIAS_PULL_UP);
}

TEST_F(GpioContactTest, TellsAnEdgeFromItsOwnThreadOnceBetweenTwoReads) {
  const auto contact = make();
  Edges edges;
  contact->watch(edges.counter());
  EXPECT_EQ(read(*contact), 0);
  move(false);
  ASSERT_TRUE(edges.reach(1));
  EXPECT_EQ(read(*contact), 1);
  for (int i = 0; i < 20; ++i) move(i % 2 == 0);  // chatter
  ASSERT_TRUE(edges.reach(2));
  read(*contact);
  EXPECT_LE(edges.count(), 3) << "an edge between begin() and finish() may add one";
}

TEST_F(GpioContactTest, APulseBetweenTwoReadsIsDeliveredOnce) {
  const auto contact = make();
  EXPECT_EQ(read(*contact), 0);
  move(false);
  move(true);
  EXPECT_EQ(read(*contact), 1) << "it was wet for a moment";
  EXPECT_EQ(read(*contact), 0);
}

TEST_F(GpioContactTest, AContactThatChatteredIntoItsNewStateSaysSoAtOnce) {
  const auto contact = make();
  EXPECT_EQ(read(*contact), 0);
  move(false);
  move(true);
  move(false);
  EXPECT_EQ(read(*contact), 1);
  EXPECT_EQ(read(*contact), 1);
}

TEST_F(GpioContactTest, WhereEdgesWereLostTheLevelIsRead) {
  const auto contact = make();
  EXPECT_EQ(read(*contact), 0);
  kernel_.lose_edges("gpiochip4", kFloat, 3);  // the last of which left it low
  kernel_.chip("gpiochip4").lines[kFloat].high = false;
  move(true);
  move(false);
  EXPECT_EQ(read(*contact), 1) << "not the clear that the first edge kept by the kernel went to";
}

TEST_F(GpioContactTest, AChipThatGoesIsAnEdgeAFaultAndFoundAgain) {
  const auto contact = make();
  Edges edges;
  contact->watch(edges.counter());
  EXPECT_EQ(read(*contact), 0);
  kernel_.remove("gpiochip4");
  ASSERT_TRUE(edges.reach(1)) << "the hub must not wait for its next turn";
  EXPECT_EQ(read(*contact), std::nullopt);
  EXPECT_THAT(contact->trouble(), HasSubstr("is not there"));
  kernel_.add("gpiochip9", "pinctrl-board", 32).lines[kFloat].high = false;
  EXPECT_EQ(read(*contact), 1);
  EXPECT_EQ(contact->trouble(), "");
}

TEST_F(GpioContactTest, AChipThatGoesBetweenBeginAndFinishIsAFault) {
  const auto contact = make();
  ASSERT_EQ(contact->begin().fault, Fault::none);
  kernel_.remove("gpiochip4");
  Deliveries out;
  contact->finish(out);
  ASSERT_EQ(out.size(), 1u);
  EXPECT_FALSE(out[0].value);
  EXPECT_THAT(contact->trouble(), HasSubstr("cannot be read: No such device"));
}

TEST_F(GpioContactTest, ALineThatAnotherHoldsNamesTheHolder) {
  kernel_.chip("gpiochip4").lines[kFloat].consumer = "gpio-keys";
  const auto contact = make();
  EXPECT_EQ(read(*contact), std::nullopt);
  EXPECT_THAT(contact->trouble(), HasSubstr("is held by \"gpio-keys\""));
}

TEST_F(GpioContactTest, AReadOfAnExpanderThatFailsIsAFaultAndNoEndlessOne) {
  const auto contact = make();
  EXPECT_EQ(read(*contact), 0);
  kernel_.chip("gpiochip4").refuse_values = EIO;
  EXPECT_EQ(read(*contact), std::nullopt);
  kernel_.chip("gpiochip4").refuse_values = 0;
  EXPECT_EQ(read(*contact), 0);
}

}  // namespace
}  // namespace neap::drivers
