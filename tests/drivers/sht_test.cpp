// SHT3x and SHT4x over a model of the chip. Outside values: the CRC example of the data sheets, and
// the arithmetic of the kernel's own drivers (Linux 6.1, drivers/hwmon/sht3x.c and sht4x.c), which
// divide by 65536 where the data sheets say 65535.
#include <gtest/gtest.h>

#include "drivers/bus/i2c.h"
#include "drivers/sensors/sht3x.h"
#include "drivers/sensors/sht4x.h"
#include "tests/drivers/sht_model.h"

namespace neap::drivers {
namespace {

using test::whole_read;

struct Kind {
  const SensorInfo* info;
  std::vector<std::uint8_t> measure;
  std::vector<std::uint8_t> reset;
  Millis slowest;  // longest measurement of the data sheet
  double (*kernel_percent)(int word);
};

std::ostream& operator<<(std::ostream& out, const Kind& kind) { return out << kind.info->name; }

class Sht : public testing::TestWithParam<Kind> {
 protected:
  Sht() { kernel->chips[{"i2c-1", 0x44}] = chip; }

  std::unique_ptr<Sensor> open(Params params = {}) {
    Context context;
    context.kernel = kernel;
    return GetParam().info->make(params, context);
  }
  void say(std::uint16_t temperature, std::uint16_t humidity) const {
    const auto put = [this](std::size_t at, std::uint16_t word) {
      chip->words[at] = static_cast<std::uint8_t>(word >> 8);
      chip->words[at + 1] = static_cast<std::uint8_t>(word & 0xFF);
      chip->words[at + 2] = i2c::crc8(std::span{chip->words}.subspan(at, 2));
    };
    put(0, temperature);
    put(3, humidity);
  }

  std::shared_ptr<test::FakeKernel> kernel = std::make_shared<test::FakeKernel>();
  std::shared_ptr<test::ShtModel> chip = std::make_shared<test::ShtModel>(GetParam().measure);
};

constexpr double kOneMilli = 0.001;

TEST_P(Sht, MeasuresOnItsCommandAndAnswersWhenTheSlowestChipIsReady) {
  say(26214, 39321);  // two fifths and three fifths of full scale
  const auto sensor = open();
  const Started started = sensor->begin();
  EXPECT_EQ(started.fault, Fault::none);
  EXPECT_GE(started.ready_after, GetParam().slowest);
  EXPECT_EQ(chip->last_command, GetParam().measure);
  Deliveries out;
  sensor->finish(out);
  ASSERT_EQ(out.size(), 2u);
  EXPECT_EQ(out[0].channel, 0);
  EXPECT_NEAR(out[0].value.value(), 25, 1e-9);
  EXPECT_EQ(out[1].channel, 1);
  EXPECT_NEAR(out[1].value.value(), GetParam().info == &kSht3x ? 60 : 69, 1e-9);
}

TEST_P(Sht, AgreesWithTheKernelsArithmeticOverTheWholeScale) {
  const auto sensor = open();
  for (int word = 0; word <= 0xFFFF; word += 257) {
    say(static_cast<std::uint16_t>(word), static_cast<std::uint16_t>(word));
    const auto out = whole_read(*sensor);
    const double kernel_celsius = ((21875 * word >> 13) - 45000) / 1000.0;
    // 175 C over 65536 instead of 65535, and a thousandth that the kernel drops.
    ASSERT_NEAR(out[0].value.value(), kernel_celsius, 175.0 / 65536 + kOneMilli) << word;
    const double kernel_percent = std::clamp(GetParam().kernel_percent(word), 0.0, 100.0);
    ASSERT_NEAR(out[1].value.value(), kernel_percent, 125.0 / 65536 + kOneMilli) << word;
  }
}

TEST_P(Sht, ADamagedWordSpoilsItsOwnChannelAlone) {
  say(26214, 39321);
  for (std::size_t byte = 0; byte < chip->words.size(); ++byte)
    for (int bit = 0; bit < 8; ++bit) {
      const auto flip = static_cast<std::uint8_t>(1U << bit);
      chip->words[byte] = static_cast<std::uint8_t>(chip->words[byte] ^ flip);
      const auto out = whole_read(*open());
      chip->words[byte] = static_cast<std::uint8_t>(chip->words[byte] ^ flip);
      const std::size_t hit = byte / 3;
      EXPECT_FALSE(out[hit].value);
      EXPECT_EQ(out[hit].fault, Fault::corrupt);
      EXPECT_TRUE(out[1 - hit].value);
    }
}

TEST_P(Sht, ABusThatReadsAllOnesOrAllZerosIsDamage) {
  for (const std::uint8_t byte : std::array<std::uint8_t, 2>{0x00, 0xFF}) {
    chip->words.fill(byte);
    for (const Delivery& delivery : whole_read(*open())) EXPECT_EQ(delivery.fault, Fault::corrupt);
  }
}

TEST_P(Sht, SaysNoAnswerAtAnotherAddress) {
  Params elsewhere;
  elsewhere.set("address", "0x45");
  const auto sensor = open(elsewhere);
  EXPECT_EQ(sensor->begin().fault, Fault::no_answer);
  Deliveries out;
  sensor->finish(out);
  ASSERT_EQ(out.size(), 2u);
  for (const Delivery& delivery : out) EXPECT_EQ(delivery.fault, Fault::no_answer);
}

TEST_P(Sht, SaysNoAnswerWhenTheChipRestartedBetweenCommandAndRead) {
  say(26214, 39321);
  const auto sensor = open();
  sensor->begin();
  kernel->chips[{"i2c-1", 0x44}] = std::make_shared<test::ShtModel>(GetParam().measure);
  Deliveries out;
  sensor->finish(out);
  EXPECT_EQ(out[0].fault, Fault::no_answer);
  EXPECT_FALSE(out[0].value);
}

TEST_P(Sht, KeepsNoValueOfAnEarlierRead) {
  say(26214, 39321);
  const auto sensor = open();
  EXPECT_TRUE(whole_read(*sensor)[0].value);
  kernel->bus_fault = Fault::hung;
  for (const Delivery& delivery : whole_read(*sensor)) {
    EXPECT_FALSE(delivery.value);
    EXPECT_EQ(delivery.fault, Fault::hung);
  }
}

TEST_P(Sht, IsRevivedByItsResetCommand) {
  EXPECT_TRUE(open()->revive());
  EXPECT_EQ(chip->last_command, GetParam().reset);
  kernel->chips.clear();
  EXPECT_FALSE(open()->revive()) << "nobody is there to be reset";
}

TEST_P(Sht, SharesAStrandWithAllOfItsBus) {
  Params params;
  params.set("bus", "fe804000.i2c");
  EXPECT_EQ(GetParam().info->strand(params), "i2c:fe804000.i2c");
}

INSTANTIATE_TEST_SUITE_P(Kinds, Sht,
                         testing::Values(Kind{&kSht3x,
                                              {0x24, 0x00},
                                              {0x30, 0xA2},
                                              Millis{15},
                                              [](int w) { return (12500 * w >> 13) / 1000.0; }},
                                         Kind{&kSht4x,
                                              {0xFD},
                                              {0x94},
                                              Millis{9},
                                              [](int w) {
                                                return ((15625 * w >> 13) - 6000) / 1000.0;
                                              }}),
                         [](const auto& kind) { return std::string{kind.param.info->name}; });

TEST(ShtCrc, IsTheExampleOfTheDataSheets) {
  const std::array<std::uint8_t, 3> example{0xBE, 0xEF, 0x92};
  EXPECT_EQ(i2c::crc8(std::span{example}.first(2)), 0x92);
  EXPECT_EQ(i2c::checked_word(example), 0xBEEF);
}

}  // namespace
}  // namespace neap::drivers
