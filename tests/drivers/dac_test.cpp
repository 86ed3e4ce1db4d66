#include "drivers/outputs/dac.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/drivers/temporary_folder.h"

namespace neap::drivers {
namespace {

using testing::HasSubstr;

class DacTest : public testing::Test {
 protected:
  DacTest() {
    context_.sysfs_root = folder_.path().string();
    add("iio:device0", "1-0060", "mcp4725");
  }
  void add(const std::string& number, const std::string& device, const std::string& name) {
    const std::string where = "devices/i2c-1/" + device + "/" + number;
    folder_.write(where + "/name", name + "\n");
    folder_.write(where + "/out_voltage0_raw", "2048\n");
    std::filesystem::create_directories(folder_ / "bus/iio/devices");
    std::filesystem::create_directory_symlink(folder_ / where,
                                              folder_ / ("bus/iio/devices/" + number));
  }
  std::unique_ptr<OutputDriver> make(
      std::initializer_list<std::pair<const char*, const char*>> more = {}) {
    Params given;
    given.set("chip", "mcp4725");
    for (const auto& [name, value] : more) given.set(name, value);
    return kDac.make(given, Output::light, context_);
  }
  std::string raw(const std::string& number = "iio:device0") {
    std::string text = folder_.read("bus/iio/devices/" + number + "/out_voltage0_raw");
    return text.substr(0, text.find('\n'));
  }

  test::TemporaryFolder folder_;
  Context context_;
};

TEST_F(DacTest, WritesStepsOfTheDac) {
  const auto lamp = make();
  EXPECT_EQ(lamp->write(kRunning), Fault::none);
  EXPECT_EQ(raw(), "4095");
  EXPECT_EQ(lamp->write(Permille{500}), Fault::none);
  EXPECT_EQ(raw(), "2048");  // 2047.5, rounded away from zero
  EXPECT_EQ(lamp->write(kStopped), Fault::none);
  EXPECT_EQ(raw(), "0");
}

TEST_F(DacTest, ReadsBackEveryLevelThatItWroteInEitherDirection) {
  for (const auto& [running, stopped] : {std::pair{"4095", "0"}, {"0", "4095"}}) {
    const auto lamp = make({{"running", running}, {"stopped", stopped}, {"lowest", "10"}});
    for (int level = 0; level <= 1000; ++level) {
      ASSERT_EQ(lamp->write(Permille{level}), Fault::none);
      ASSERT_EQ(lamp->read_back(), Permille{level});
    }
  }
}

TEST_F(DacTest, ANumberThatNoLevelHasIsNobodysLevel) {
  const auto lamp = make({{"lowest", "10"}});
  folder_.write("devices/i2c-1/1-0060/iio:device0/out_voltage0_raw", "200\n");
  EXPECT_EQ(lamp->read_back(), std::nullopt) << "between none and the lowest";
  folder_.write("devices/i2c-1/1-0060/iio:device0/out_voltage0_raw", "x\n");
  EXPECT_EQ(lamp->read_back(), std::nullopt);
}

TEST_F(DacTest, TwinsAreToldApartOrNotTouched) {
  add("iio:device1", "1-0061", "mcp4725");
  const auto either = make();
  EXPECT_EQ(either->write(kRunning), Fault::ambiguous);
  EXPECT_THAT(either->trouble(), HasSubstr("tell twins apart by `device`"));
  EXPECT_EQ(make({{"device", "1-0061"}})->write(kRunning), Fault::none);
  EXPECT_EQ(raw("iio:device0"), "2048");
  EXPECT_EQ(raw("iio:device1"), "4095");
}

TEST_F(DacTest, AChannelThatTheDacHasNotIsNamed) {
  const auto lamp = make({{"channel", "3"}});
  EXPECT_NE(lamp->write(kRunning), Fault::none);
  EXPECT_THAT(lamp->trouble(), HasSubstr("out_voltage3_raw does not take 4095"));
}

TEST_F(DacTest, CheckRefusesTwoEqualNumbers) {
  Params given;
  given.set("chip", "mcp4725");
  EXPECT_EQ(kDac.check(given), "");
  given.set("running", "0");
  EXPECT_THAT(kDac.check(given), HasSubstr("must differ"));
}

}  // namespace
}  // namespace neap::drivers
