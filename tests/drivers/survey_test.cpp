// Goal: a survey finds what a machine has, by its files. Method: a fake root with the files that
// kernels 6.1 and 6.12 were seen to have; GPIO chips by a function, as ioctls cannot be faked
// there.
#include "drivers/bus/survey.h"

#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>

#include "tests/drivers/temporary_folder.h"

namespace neap::drivers {
namespace {

namespace fs = std::filesystem;

class SurveyTest : public testing::Test {
 protected:
  void put(const std::string& name, const std::string& text) {
    const fs::path file = root() / name;
    fs::create_directories(file.parent_path());
    std::ofstream(file) << text;
  }
  void link(const std::string& from, const std::string& to) {
    fs::create_directories((root() / from).parent_path());
    fs::create_directories(root() / to);
    fs::create_directory_symlink(root() / to, root() / from);
  }
  Survey look() {
    return survey(root().string(), [](const std::string& path) {
      GpioChip chip;
      if (path.ends_with("gpiochip1")) chip.error = "Permission denied";
      chip.label = "pinctrl-bcm2711";
      chip.lines = {{17, "GPIO17", "neapd", true, true}, {18, "GPIO18", "", false, false}};
      return chip;
    });
  }
  fs::path root() const { return folder_.path(); }

 private:
  neap::test::TemporaryFolder folder_;
};

TEST_F(SurveyTest, OfAnEmptyTreeFindsNothingAndDoesNotFail) {
  const Survey found = look();
  EXPECT_TRUE(found.gpio_chips.empty());
  EXPECT_TRUE(found.hwmon.empty());
  EXPECT_TRUE(found.watchdogs.empty());
  EXPECT_FALSE(found.gpio_persists.has_value());
  EXPECT_FALSE(found.undervoltage.has_value());
  EXPECT_FALSE(found.time_synchronised.has_value());
}

TEST_F(SurveyTest, NamesChipsInTheOrderOfTheirNumbers) {
  for (const char* chip : {"dev/gpiochip10", "dev/gpiochip1", "dev/gpiochip0"}) put(chip, "");
  const Survey found = look();
  ASSERT_EQ(found.gpio_chips.size(), 3u);
  EXPECT_EQ(found.gpio_chips[0].path, "/dev/gpiochip0");
  EXPECT_EQ(found.gpio_chips[0].lines[0].consumer, "neapd");
  EXPECT_EQ(found.gpio_chips[1].error, "Permission denied");
  EXPECT_EQ(found.gpio_chips[2].path, "/dev/gpiochip10");
}

TEST_F(SurveyTest, KnowsAChipByItsNameAndItsDeviceNotByItsNumber) {
  put("sys/class/hwmon/hwmon3/name", "sht4x\n");
  link("sys/class/hwmon/hwmon3/device", "sys/devices/platform/i2c-1/1-0044");
  put("sys/devices/platform/i2c-1/1-0048/iio:device0/name", "ads1015\n");
  link("sys/bus/iio/devices/iio:device0", "sys/devices/platform/i2c-1/1-0048/iio:device0");
  put("sys/bus/i2c/devices/1-0044/name", "sht4x\n");
  fs::create_directories(root() / "sys/bus/i2c/devices/1-0044/driver");
  put("sys/bus/i2c/devices/1-0050/name", "eeprom\n");
  put("sys/bus/i2c/devices/i2c-1/name", "bcm2835 (i2c@7e804000)\n");
  const Survey found = look();
  ASSERT_EQ(found.hwmon.size(), 1u);
  EXPECT_EQ(found.hwmon[0].name, "sht4x");
  EXPECT_EQ(found.hwmon[0].device, "1-0044");
  ASSERT_EQ(found.i2c_devices.size(), 1u) << "neither a bus nor a chip without a driver";
  EXPECT_EQ(found.i2c_devices[0].device, "1-0044");
  ASSERT_EQ(found.iio.size(), 1u);
  EXPECT_EQ(found.iio[0].path, "bus/iio/devices/iio:device0");
  EXPECT_EQ(found.iio[0].device, "1-0048") << "it hangs on a bus and has no link to its device";
}

TEST_F(SurveyTest, ReadsTheSettingsOfTheKernelThatMatter) {
  put("proc/device-tree/model", std::string("Raspberry Pi 4 Model B\0", 23));
  put("proc/sys/kernel/osrelease", "6.12.20-rpi\n");
  put("sys/module/pinctrl_bcm2835/parameters/persist_gpio_outputs", "Y\n");
  put("sys/class/hwmon/hwmon1/name", "rpi_volt\n");
  put("sys/class/hwmon/hwmon1/in0_lcrit_alarm", "1\n");
  put("sys/class/watchdog/watchdog0/identity", "Broadcom BCM2835 Watchdog timer\n");
  put("sys/class/watchdog/watchdog0/timeout", "15\n");
  put("sys/class/watchdog/watchdog0/state", "inactive\n");
  put("run/systemd/timesync/synchronized", "");
  put("sys/bus/w1/devices/28-0123456789ab/name", "28-0123456789ab\n");
  put("sys/bus/w1/devices/w1_bus_master1/name", "w1_bus_master1\n");
  put("sys/class/pwm/pwmchip0/npwm", "4\n");
  const Survey found = look();
  EXPECT_EQ(found.board, "Raspberry Pi 4 Model B");
  EXPECT_EQ(found.kernel, "6.12.20-rpi");
  EXPECT_EQ(found.gpio_persists, true);
  EXPECT_EQ(found.undervoltage, true);
  ASSERT_EQ(found.watchdogs.size(), 1u);
  EXPECT_EQ(found.watchdogs[0].timeout_s, 15);
  EXPECT_EQ(found.watchdogs[0].armed, false);
  EXPECT_EQ(found.time_synchronised, true);
  ASSERT_EQ(found.one_wire.size(), 1u);
  EXPECT_EQ(found.one_wire[0].name, "28-0123456789ab");
  ASSERT_EQ(found.pwm_chips.size(), 1u);
  EXPECT_EQ(found.pwm_chips[0].name, "4 channels");
}

TEST_F(SurveyTest, TakesNoGarbageForAnAnswer) {
  put("sys/module/pinctrl_bcm2835/parameters/persist_gpio_outputs", "perhaps\n");
  put("sys/class/watchdog/watchdog0/timeout", "15x\n");
  put("sys/class/hwmon/hwmon1/name", "rpi_volt\n");
  put("sys/class/hwmon/hwmon1/in0_lcrit_alarm", "");
  fs::create_directories(root() / "run/systemd/timesync");
  const Survey found = look();
  EXPECT_FALSE(found.gpio_persists.has_value());
  EXPECT_FALSE(found.watchdogs.at(0).timeout_s.has_value());
  EXPECT_FALSE(found.undervoltage.has_value());
  EXPECT_EQ(found.time_synchronised, false) << "timesyncd runs and has not set the clock";
}

TEST_F(SurveyTest, AChipThatIsNoneSaysWhatTheSystemSays) {
  put("dev/gpiochip0", "");
  EXPECT_EQ(read_gpio_chip((root() / "dev/gpiochip0").string()).error,
            "Inappropriate ioctl for device");
  EXPECT_EQ(read_gpio_chip((root() / "dev/gpiochip9").string()).error, "No such file or directory");
}

}  // namespace
}  // namespace neap::drivers
