// A fake sysfs tree shaped as the kernel's: class links to devices, one number a file.
#include "drivers/sensors/hwmon.h"

#include <gtest/gtest.h>

#include "drivers/bus/sysfs.h"
#include "tests/drivers/temporary_folder.h"

namespace neap::drivers {
namespace {

namespace fs = std::filesystem;

class HwmonTest : public testing::Test {
 protected:
  // hwmon<number> of `chip` on the I2C bus at `device`, such as 1-0044.
  void plug_in(int number, const std::string& chip, const std::string& device,
               const std::string& temperature = "23498\n",
               const std::string& humidity = "61248\n") {
    const std::string name = "hwmon" + std::to_string(number);
    const fs::path folder = fs::path{"devices/platform/i2c-1"} / device / "hwmon" / name;
    sys_.write(folder / "name", chip + "\n");
    sys_.write(folder / "temp1_input", temperature);
    sys_.write(folder / "humidity1_input", humidity);
    fs::create_directories(sys_ / "class/hwmon");
    fs::create_directory_symlink(sys_.path() / folder, sys_ / "class/hwmon" / name);
  }
  fs::path device_folder(const std::string& device, int number) const {
    return sys_ / "devices/platform/i2c-1" / device / "hwmon" / ("hwmon" + std::to_string(number));
  }

  std::unique_ptr<Sensor> open(const std::string& chip, const std::string& device = "") {
    Params params;
    params.set("chip", chip);
    if (!device.empty()) params.set("device", device);
    Context context;
    context.sysfs_root = sys_.path().string();
    return kHwmon.make(params, context);
  }

  static Deliveries read(Sensor& sensor) {
    Deliveries out;
    sensor.begin();
    sensor.finish(out);
    return out;
  }

  test::TemporaryFolder sys_;
};

void expect_all(const Deliveries& out, Fault fault) {
  ASSERT_EQ(out.size(), kHwmon.channels.size()) << "one delivery a channel";
  for (const Delivery& delivery : out) {
    EXPECT_FALSE(delivery.value) << *delivery.value;
    EXPECT_EQ(delivery.fault, fault);
  }
}

TEST_F(HwmonTest, ReadsThousandthsOfDegreesAndPercent) {
  plug_in(3, "sht4x", "1-0044");
  const auto sensor = open("sht4x");
  const Started started = sensor->begin();
  EXPECT_EQ(started.fault, Fault::none);
  EXPECT_EQ(started.ready_after, Millis{0});
  Deliveries out;
  sensor->finish(out);
  ASSERT_EQ(out.size(), 2u);
  EXPECT_EQ(out[0].channel, 0);
  EXPECT_DOUBLE_EQ(out[0].value.value(), 23.498);
  EXPECT_EQ(out[0].fault, Fault::none);
  EXPECT_EQ(out[1].channel, 1);
  EXPECT_DOUBLE_EQ(out[1].value.value(), 61.248);
}

TEST_F(HwmonTest, ReadsTheFractionThatNewerKernelsPrint) {
  plug_in(0, "sht4x", "1-0044", "23500.000000000\n", "61255.859375000\n");
  const auto out = read(*open("sht4x"));
  EXPECT_DOUBLE_EQ(out[0].value.value(), 23.5);
  EXPECT_DOUBLE_EQ(out[1].value.value(), 61.255859375);
}

TEST_F(HwmonTest, ReadsBelowZero) {
  plug_in(0, "sht4x", "1-0044", "-3500\n");
  EXPECT_DOUBLE_EQ(read(*open("sht4x"))[0].value.value(), -3.5);
}

TEST_F(HwmonTest, KeepsZeroAsAValue) {
  plug_in(0, "sht4x", "1-0044", "0\n");
  EXPECT_DOUBLE_EQ(read(*open("sht4x"))[0].value.value(), 0.0);
}

TEST_F(HwmonTest, TakesAnEmptyReadForNoAnswer) {
  plug_in(0, "sht4x", "1-0044", "", "61248\n");
  const auto out = read(*open("sht4x"));
  EXPECT_FALSE(out[0].value);
  EXPECT_EQ(out[0].fault, Fault::no_answer);
  EXPECT_DOUBLE_EQ(out[1].value.value(), 61.248) << "the other channel is not to blame";
}

TEST_F(HwmonTest, TakesALoneNewlineForNoAnswer) {
  plug_in(0, "sht4x", "1-0044", "\n");
  EXPECT_EQ(read(*open("sht4x"))[0].fault, Fault::no_answer);
}

TEST_F(HwmonTest, CallsTextThatIsNoNumberCorrupt) {
  plug_in(0, "sht4x", "1-0044");
  for (const char* text : {"nan\n", "inf\n", "garbage\n", "235 00\n", "23500x\n", "0x5bcc\n",
                           "2.35e4\n", "+23500\n", "-\n", "23500\n23500\n", " 23500\n", "23,5\n"}) {
    SCOPED_TRACE(text);
    sys_.write(device_folder("1-0044", 0) / "temp1_input", text);
    const auto out = read(*open("sht4x"));
    EXPECT_FALSE(out[0].value);
    EXPECT_EQ(out[0].fault, Fault::corrupt);
  }
}

TEST_F(HwmonTest, CallsATextLongerThanAnyAttributeCorrupt) {
  std::string digits(200, '1');
  digits.back() = '\n';
  plug_in(0, "sht4x", "1-0044", digits);
  EXPECT_EQ(read(*open("sht4x"))[0].fault, Fault::corrupt);
}

TEST_F(HwmonTest, IsAbsentWithoutAHwmonFolder) {
  const auto sensor = open("sht4x");
  EXPECT_EQ(sensor->begin().fault, Fault::absent);
  Deliveries out;
  sensor->finish(out);
  expect_all(out, Fault::absent);
}

TEST_F(HwmonTest, IsAbsentWhenOnlyOtherChipsAreThere) {
  plug_in(0, "lm75", "1-0048");
  plug_in(1, "sht4", "1-0045");
  EXPECT_EQ(open("sht4x")->begin().fault, Fault::absent);
}

TEST_F(HwmonTest, FindsTheChipAgainUnderAnotherNumber) {
  plug_in(1, "sht4x", "1-0044", "20000\n");
  const auto sensor = open("sht4x");
  EXPECT_DOUBLE_EQ(read(*sensor)[0].value.value(), 20.0);
  fs::remove_all(sys_ / "class/hwmon");
  fs::remove_all(sys_ / "devices");
  plug_in(7, "sht4x", "1-0044", "21000\n");
  EXPECT_DOUBLE_EQ(read(*sensor)[0].value.value(), 21.0);
}

TEST_F(HwmonTest, IsAbsentWhenTheDeviceVanishesBetweenBeginAndFinish) {
  plug_in(0, "sht4x", "1-0044");
  const auto sensor = open("sht4x");
  EXPECT_EQ(sensor->begin().fault, Fault::none);
  fs::remove_all(sys_ / "devices");
  Deliveries out;
  sensor->finish(out);
  expect_all(out, Fault::absent);
}

TEST_F(HwmonTest, DoesNotGuessBetweenTwins) {
  plug_in(0, "sht4x", "1-0044", "20000\n");
  plug_in(1, "sht4x", "1-0045", "30000\n");
  const auto sensor = open("sht4x");
  EXPECT_EQ(sensor->begin().fault, Fault::ambiguous);
  Deliveries out;
  sensor->finish(out);
  expect_all(out, Fault::ambiguous);
}

TEST_F(HwmonTest, TellsTwinsApartByDevice) {
  plug_in(0, "sht4x", "1-0044", "20000\n");
  plug_in(1, "sht4x", "1-0045", "30000\n");
  EXPECT_DOUBLE_EQ(read(*open("sht4x", "1-0045"))[0].value.value(), 30.0);
  EXPECT_DOUBLE_EQ(read(*open("sht4x", "i2c-1/1-0044"))[0].value.value(), 20.0);
}

TEST_F(HwmonTest, TakesDeviceAsWholeComponentsOnly) {
  plug_in(0, "sht4x", "11-0044", "20000\n");
  EXPECT_EQ(open("sht4x", "1-0044")->begin().fault, Fault::absent);
  EXPECT_EQ(open("sht4x", "11-004")->begin().fault, Fault::absent);
  EXPECT_EQ(open("sht4x", "11-0044")->begin().fault, Fault::none);
}

TEST_F(HwmonTest, SaysAbsentForAChannelTheChipHasNot) {
  plug_in(0, "lm75", "1-0048", "25000\n");
  fs::remove(device_folder("1-0048", 0) / "humidity1_input");
  const auto out = read(*open("lm75"));
  EXPECT_DOUBLE_EQ(out[0].value.value(), 25.0);
  EXPECT_EQ(out[1].fault, Fault::absent);
}

TEST_F(HwmonTest, HasOneStrandAChip) {
  Params params;
  params.set("chip", "sht4x");
  EXPECT_EQ(kHwmon.strand(params), "hwmon:sht4x");
}

}  // namespace
}  // namespace neap::drivers
