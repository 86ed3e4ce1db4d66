// Goal: `neap probe` says what a find means for water, with what to write where, in 80 columns.
#include "daemon/client/probe.h"

#include <fstream>

#include "tests/client/support.h"
#include "tests/places.h"

namespace neap::client {
namespace {

using drivers::Survey;
using ::testing::AllOf;
using testing::Directory;
using ::testing::HasSubstr;
using testing::neap;
using ::testing::Not;

const std::string kConfig = places::in_project("config/");

Survey board() {
  Survey s;
  s.board = "Raspberry Pi 4 Model B Rev 1.4";
  s.kernel = "6.12.20+rpt-rpi-v8";
  drivers::GpioChip chip;
  chip.path = "/dev/gpiochip0";
  chip.label = "pinctrl-bcm2711";
  chip.lines = {{16, "GPIO16", "", false, false},
                {17, "GPIO17", "neapd", true, true},
                {27, "", "", true, false},
                {26, "GPIO26", "other", true, true}};
  s.gpio_chips.push_back(chip);
  s.i2c_buses.push_back({"/dev/i2c-1", "bcm2835 (i2c@7e804000)", "i2c-1", true});
  s.hwmon.push_back({"class/hwmon/hwmon2", "sht4x", "1-0044", true});
  s.one_wire.push_back({"bus/w1/devices/28-01", "28-01", "28-01", true});
  s.pwm_chips.push_back({"class/pwm/pwmchip0", "2 channels", "fe20c000.pwm", true});
  s.watchdogs.push_back({"/dev/watchdog0", "Broadcom BCM2835 Watchdog timer", 15, true});
  s.gpio_persists = false;
  s.undervoltage = false;
  s.time_synchronised = true;
  return s;
}

std::string told(const Survey& survey, const Asker& asker = {}) {
  std::string text;
  for (const Advice& one : advise(survey, asker))
    if (one.weight != Advice::Weight::good) text += one.text + " -> " + one.remedy + "\n";
  return text;
}

TEST(Probe, OfASoundBoardWarnsOfNothing) {
  for (const Advice& one : advise(board(), {}))
    EXPECT_NE(one.weight, Advice::Weight::warning) << one.text;
}

TEST(Probe, OutputsThatOutliveTheirProgramAreAWarningWithTheLineToWrite) {
  Survey s = board();
  s.gpio_persists = true;
  EXPECT_THAT(told(s), AllOf(HasSubstr("would leave the pump running"),
                             HasSubstr("dtparam=strict_gpiod in /boot/firmware/config.txt")));
  s.gpio_persists.reset();
  EXPECT_THAT(told(s), HasSubstr("kill -9"));
}

TEST(Probe, GivingPinsBackIsAdvisedOnlyWithItsCondition) {
  Survey s = board();
  s.gpio_persists = true;
  EXPECT_THAT(
      told(s),
      AllOf(HasSubstr("only where each relay rests at its pin's pull"),
            HasSubstr("neapd's unit runs (deploy/boot.md), covers a crash, not a hung board")));
}

TEST(Probe, AWatchdogThatNobodyFeedsIsAWarning) {
  Survey s = board();
  s.watchdogs[0].armed = false;
  EXPECT_THAT(told(s), AllOf(HasSubstr("nobody feeds it"), HasSubstr("RuntimeWatchdogSec=15 in")));
}

std::string resting(const std::string& from, const std::string& to) {
  std::ifstream file(kConfig + "starter.yaml");
  std::string text{std::istreambuf_iterator<char>(file), {}};
  text.replace(text.find(from), from.size(), to);
  const auto loaded = settings::load_text(text).loaded;
  EXPECT_TRUE(loaded.has_value());
  std::string all;
  if (loaded)
    for (const Advice& one : advise_rest(*loaded)) all += one.text + " -> " + one.remedy + "\n";
  return all;
}

TEST(Probe, ARelayThatItsPinsPullWouldCloseIsAWarning) {
  const std::string pump = "line: GPIO17, active: high";
  EXPECT_EQ(resting(pump, pump), "") << "each relay of the starter rests at its safe level";
  EXPECT_THAT(resting(pump, "line: GPIO17, active: low"),
              AllOf(HasSubstr("outputs.pump: GPIO17 is pulled down while nothing drives it, which "
                              "is running"),
                    HasSubstr("10 kohm to 3.3 V")));
  EXPECT_THAT(resting(pump, "line: GPIO8, active: high"), HasSubstr("10 kohm to ground"));
  EXPECT_EQ(resting(pump, "line: GPIO8, active: low"), "");
  EXPECT_THAT(resting(pump, "line: GPIO9, active: low"), HasSubstr("GPIO9 is pulled down"));
  EXPECT_THAT(resting("line: GPIO26, active: low", "line: GPIO26, active: high"),
              HasSubstr("outputs.air_pump: GPIO26 is pulled down while nothing drives it, which is "
                        "stopped"));
}

TEST(Probe, AConverterIsKnownByEitherNameOfTheKernel) {
  std::ifstream file(kConfig + "starter.yaml");
  std::string text{std::istreambuf_iterator<char>(file), {}};
  const std::string at = "driver: hwmon\n    with: {chip: sht4x, device: 1-0045}";
  text.replace(text.find(at), at.size(), "driver: iio\n    with: {chip: ads1115, device: 1-0048}");
  const auto loaded = settings::load_text(text).loaded;
  ASSERT_TRUE(loaded.has_value());
  Survey s = board();
  s.iio.push_back({"bus/iio/devices/iio:device0", "ads1015", "1-0048", true});
  const auto parts = look_for(s, *loaded, [](const std::string&) { return false; });
  const auto room = std::find_if(parts.begin(), parts.end(), [](const NamedPart& part) {
    return part.entry == "sensors.room";
  });
  ASSERT_NE(room, parts.end());
  EXPECT_TRUE(room->present) << room->remedy;
}

TEST(Probe, AnExpanderKeepsItsLevelWhateverTheKernelSays) {
  Survey s = board();
  s.gpio_chips[0].label = "pca9535";
  EXPECT_THAT(told(s), HasSubstr("pca9535 keep their level"));
}

TEST(Probe, WhatMayNotBeOpenedNamesTheGroup) {
  Survey s = board();
  s.gpio_chips[0].error = "Permission denied";
  s.i2c_buses[0].usable = false;
  EXPECT_THAT(told(s, {false, "anna", {}}),
              AllOf(HasSubstr("usermod -aG gpio anna"), HasSubstr("usermod -aG i2c anna")));
}

TEST(Probe, WhatIsMissingNamesItsOverlay) {
  Survey s = board();
  s.i2c_buses.clear();
  s.one_wire.clear();
  s.pwm_chips.clear();
  s.watchdogs.clear();
  EXPECT_THAT(told(s), AllOf(HasSubstr("dtparam=i2c_arm=on"), HasSubstr("dtoverlay=w1-gpio"),
                             HasSubstr("dtoverlay=pwm-2chan"), HasSubstr("dtparam=watchdog=on")));
  s.board = "some other board";
  EXPECT_THAT(told(s), AllOf(Not(HasSubstr("dtoverlay=w1")), HasSubstr("softdog")));
}

TEST(Probe, AClockThatNobodySetIsAWarning) {
  Survey s = board();
  s.time_synchronised = false;
  EXPECT_THAT(told(s), HasSubstr("the clock is not synchronised"));
  s.time_synchronised.reset();
  EXPECT_THAT(told(s), HasSubstr("is not known"));
  EXPECT_THAT(told(s, {false, "", true}), Not(HasSubstr("clock is")));
}

TEST(Probe, PartsOfTheSettingsAreLookedFor) {
  const auto loaded = settings::load_file(kConfig + "starter.yaml").loaded;
  ASSERT_TRUE(loaded.has_value());
  const auto parts = look_for(board(), *loaded, [](const std::string&) { return false; });
  const auto find = [&](const std::string& entry) {
    for (const NamedPart& part : parts)
      if (part.entry == entry) return part;
    return NamedPart{};
  };
  EXPECT_TRUE(find("outputs.pump").present) << "GPIO17, held by neapd itself";
  EXPECT_TRUE(find("outputs.exhaust_fan").present) << "a PWM chip of that device";
  EXPECT_FALSE(find("outputs.light").present) << "this board has no GPIO23";
  EXPECT_FALSE(find("outputs.air_pump").present);
  EXPECT_THAT(find("outputs.air_pump").remedy, HasSubstr("held by other"));
  EXPECT_TRUE(find("sensors.canopy").present) << "sht4x at 1-0044";
  EXPECT_FALSE(find("sensors.room").present) << "sht4x at 1-0045";
  EXPECT_THAT(find("sensors.room").remedy, HasSubstr("sht4x at 1-0044"));
}

TEST(Probe, TheLineOfAnEnablePulseIsLookedForToo) {
  auto loaded = settings::load_file(kConfig + "starter.yaml").loaded;
  ASSERT_TRUE(loaded.has_value());
  const auto seen = [&](const std::string& line) {
    drivers::Params& pulse = loaded->hardware.outputs.front().enable_pulse.emplace();
    pulse.set("chip", "pinctrl-bcm2711");
    pulse.set("line", line);
    for (const NamedPart& part :
         look_for(board(), *loaded, [](const std::string&) { return false; }))
      if (part.entry == "outputs.pump.enable_pulse") return part;
    return NamedPart{};
  };
  EXPECT_TRUE(seen("GPIO16").present);
  EXPECT_FALSE(seen("GPIO26").present);
  EXPECT_THAT(seen("GPIO26").remedy, HasSubstr("held by other"));
}

TEST(Probe, ABusIsLookedForByTheNameOfItsAdapterToo) {
  auto loaded = settings::load_file(kConfig + "starter.yaml").loaded;
  ASSERT_TRUE(loaded.has_value());
  const auto seen = [&](const std::string& bus) {
    auto setup = loaded->hardware.sensors.front();
    setup.name = "air";
    setup.driver = "sht3x";
    setup.params = {};
    setup.params.set("bus", bus);
    loaded->hardware.sensors = {setup};
    for (const NamedPart& part :
         look_for(board(), *loaded, [](const std::string&) { return false; }))
      if (part.entry == "sensors.air") return part;
    return NamedPart{};
  };
  EXPECT_TRUE(seen("bcm2835 (i2c@7e804000)").present);
  EXPECT_TRUE(seen("1").present);
  const NamedPart other = seen("bcm2835 (i2c@7e205000)");
  EXPECT_EQ(other.entry, "sensors.air");
  EXPECT_FALSE(other.present);
  EXPECT_THAT(other.remedy, HasSubstr("bcm2835 (i2c@7e804000)"));
  EXPECT_EQ(seen("fe804000.i2c").entry, "") << "a piece of a path is the driver's to find";
}

TEST(Probe, FitsEightyColumnsAndNamesWhoHoldsALine) {
  const auto loaded = settings::load_file(kConfig + "starter.yaml").loaded;
  const auto parts = look_for(board(), *loaded, [](const std::string&) { return false; });
  const std::string text = render_probe(board(), advise(board(), {}), parts, Look{});
  EXPECT_LE(testing::widest(text), kPageWidth) << text;
  EXPECT_THAT(text, AllOf(HasSubstr("(output of neapd)"), HasSubstr("27 (input of the kernel)"),
                          HasSubstr("missing")));
}

TEST(Probe, OfAFolderReadsItAndEndsWithOneWhenAPartIsMissing) {
  const Directory dir;
  std::filesystem::create_directories(dir.path() / "sys/class/pwm/pwmchip0");
  std::filesystem::create_directories(dir.path() / "sys/devices/platform/soc/fe20c000.pwm");
  std::filesystem::create_directory_symlink("../../../devices/platform/soc/fe20c000.pwm",
                                            dir.path() / "sys/class/pwm/pwmchip0/device");
  const auto said =
      neap({"probe", kConfig + "starter.yaml", "--root", dir.path().string(), "--json"});
  EXPECT_EQ(said.code, kExitRefused);
  const auto result = testing::json::parse(said.out);
  EXPECT_EQ(result["parts"][0]["entry"], "outputs.pump");
  EXPECT_FALSE(result["parts"][0]["present"]);
  EXPECT_EQ(result["parts"][1]["entry"], "outputs.exhaust_fan");
  EXPECT_TRUE(result["parts"][1]["present"]);
  EXPECT_EQ(neap({"probe", "--root", dir.path().string(), "--settings", "/nowhere/t.yaml"}).code,
            kExitDone);
  EXPECT_EQ(neap({"probe", "--root", "/nowhere/at/all"}).code, kExitUsage);
}

}  // namespace
}  // namespace neap::client
