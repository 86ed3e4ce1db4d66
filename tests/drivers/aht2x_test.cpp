// An AHT20 over a model of its seven bytes.
#include "drivers/sensors/aht2x.h"

#include <gtest/gtest.h>

#include "drivers/bus/i2c.h"
#include "tests/drivers/fake_kernel.h"

namespace neap::drivers {
namespace {

using test::whole_read;

class Chip final : public test::FakeChip {
 public:
  std::array<std::uint8_t, 7> answer{};
  std::vector<std::uint8_t> command;

  void say(std::uint8_t state, unsigned humidity, unsigned temperature) {
    const auto byte = [](unsigned bits) { return static_cast<std::uint8_t>(bits & 0xFF); };
    answer = {state,
              byte(humidity >> 12),
              byte(humidity >> 4),
              byte((humidity & 0xF) << 4 | temperature >> 16),
              byte(temperature >> 8),
              byte(temperature),
              0};
    answer[6] = i2c::crc8(std::span{answer}.first(6));
  }
  bool written(std::span<const std::uint8_t> bytes) override {
    command.assign(bytes.begin(), bytes.end());
    return true;
  }
  bool read(std::span<std::uint8_t> bytes) override {
    std::copy_n(answer.begin(), bytes.size(), bytes.begin());
    return true;
  }
};

class Aht2xTest : public testing::Test {
 protected:
  Aht2xTest() {
    kernel->chips[{"i2c-1", 0x38}] = chip;
    context.kernel = kernel;
  }
  Deliveries read() { return whole_read(*kAht2x.make({}, context)); }

  Context context;
  std::shared_ptr<Chip> chip = std::make_shared<Chip>();
  std::shared_ptr<test::FakeKernel> kernel = std::make_shared<test::FakeKernel>();
};

// The formulas of the data sheet at eighths of full scale, where they are exact.
TEST_F(Aht2xTest, ConvertsTwentyBitsEach) {
  chip->say(0x18, 5U << 17, 3U << 17);
  const auto out = read();
  EXPECT_DOUBLE_EQ(out[0].value.value(), 25);
  EXPECT_DOUBLE_EQ(out[1].value.value(), 62.5);
  chip->say(0x18, 1, 1);
  EXPECT_DOUBLE_EQ(read()[0].value.value(), -50 + 200.0 / 1048576);
  EXPECT_DOUBLE_EQ(read()[1].value.value(), 100.0 / 1048576);
}

TEST_F(Aht2xTest, MeasuresOnItsCommandAndIsResetByItsOwn) {
  const auto sensor = kAht2x.make({}, context);
  EXPECT_GE(sensor->begin().ready_after, Millis{80});
  EXPECT_EQ(chip->command, (std::vector<std::uint8_t>{0xAC, 0x33, 0x00}));
  EXPECT_TRUE(sensor->revive());
  EXPECT_EQ(chip->command, std::vector<std::uint8_t>{0xBA});
}

TEST_F(Aht2xTest, ADamagedBitAnywhereIsDamage) {
  chip->say(0x18, 5U << 17, 3U << 17);
  for (std::size_t byte = 0; byte < chip->answer.size(); ++byte) {
    chip->answer[byte] = static_cast<std::uint8_t>(chip->answer[byte] ^ 0x04);
    for (const Delivery& delivery : read()) EXPECT_EQ(delivery.fault, Fault::corrupt) << byte;
    chip->answer[byte] = static_cast<std::uint8_t>(chip->answer[byte] ^ 0x04);
  }
}

TEST_F(Aht2xTest, AChipThatIsBusyOrNotCalibratedHasNoValue) {
  for (const int state : {0x98, 0x10}) {
    chip->say(static_cast<std::uint8_t>(state), 5U << 17, 3U << 17);
    for (const Delivery& delivery : read()) {
      EXPECT_FALSE(delivery.value);
      EXPECT_EQ(delivery.fault, Fault::not_ready);
    }
  }
}

TEST_F(Aht2xTest, AChipThatIsGoneKeepsNoValue) {
  chip->say(0x18, 5U << 17, 3U << 17);
  const auto sensor = kAht2x.make({}, context);
  EXPECT_TRUE(whole_read(*sensor)[0].value);
  kernel->chips.clear();
  EXPECT_EQ(whole_read(*sensor)[0].fault, Fault::no_answer);
}

}  // namespace
}  // namespace neap::drivers
