// Settings, reference.yaml and the hub trust what drivers say of themselves; these tests hold every
// driver to it, so a new driver is held to it by being listed.
#include <gtest/gtest.h>

#include <charconv>
#include <set>
#include <sstream>
#include <string>

#include "daemon/core/points.h"
#include "drivers/driver.h"

namespace neap::drivers {
namespace {

bool is_word(std::string_view name) {
  return !name.empty() &&
         name.find_first_not_of("abcdefghijklmnopqrstuvwxyz0123456789_") == name.npos;
}

void expect_number_within_bounds(const ParamSpec& spec) {
  EXPECT_LT(spec.lowest, spec.highest);
  if (spec.fallback.empty()) return;
  const bool hexadecimal = spec.fallback.starts_with("0x");  // as addresses are written
  const char* begin = spec.fallback.data() + (hexadecimal ? 2 : 0);
  const char* end = spec.fallback.data() + spec.fallback.size();
  double value = 0;
  const auto [stop, error] = std::from_chars(
      begin, end, value, hexadecimal ? std::chars_format::hex : std::chars_format::general);
  ASSERT_TRUE(error == std::errc{} && stop == end) << spec.fallback << " is no number";
  EXPECT_GE(value, spec.lowest);
  EXPECT_LE(value, spec.highest);
}

void expect_fallback_among_choices(const ParamSpec& spec) {
  std::istringstream words{std::string{spec.choices}};
  std::set<std::string> choices;
  for (std::string word; words >> word;)
    EXPECT_TRUE(choices.insert(word).second) << word << " stands twice";
  EXPECT_GE(choices.size(), 2u);
  EXPECT_TRUE(spec.required || choices.contains(std::string{spec.fallback})) << spec.fallback;
}

void expect_sound(const ParamSpec& spec) {
  EXPECT_TRUE(is_word(spec.name));
  EXPECT_FALSE(spec.why.empty());
  EXPECT_TRUE(!spec.required || spec.fallback.empty()) << "required: no fallback is ever used";
  switch (spec.kind) {
    case ParamKind::integer:
    case ParamKind::number:
      expect_number_within_bounds(spec);
      break;
    case ParamKind::choice:
      expect_fallback_among_choices(spec);
      break;
    case ParamKind::truth:
      EXPECT_TRUE(spec.required || spec.fallback == "true" || spec.fallback == "false");
      break;
    case ParamKind::text:
    case ParamKind::path:
    case ParamKind::words:
      EXPECT_TRUE(spec.choices.empty());
      break;
  }
}

template <class Info>
void expect_sound_params(const Info& driver) {
  std::set<std::string_view> names;
  for (const ParamSpec& spec : driver.params) {
    SCOPED_TRACE(std::string{driver.name} + "." + std::string{spec.name});
    EXPECT_TRUE(names.insert(spec.name).second);
    expect_sound(spec);
  }
}

bool some_point_has_unit(std::string_view unit) {
  for (const PointInfo& point : kPoints)
    if (point.kind != PointKind::derived && point.unit == unit) return true;
  return false;
}

TEST(Registry, HasNoTwoSensorDriversOfOneName) {
  std::set<std::string_view> names;
  for (const SensorInfo* driver : sensor_drivers())
    EXPECT_TRUE(is_word(driver->name) && names.insert(driver->name).second) << driver->name;
  EXPECT_EQ(names, (std::set<std::string_view>{"aht2x",
                                               "analog_ec",
                                               "analog_level",
                                               "analog_ph",
                                               "gpio_contact",
                                               "hwmon",
                                               "iio",
                                               "leak_rope",
                                               "one_wire",
                                               "program",
                                               "sht3x",
                                               "sht4x",
                                               "simulated_air",
                                               "simulated_contacts",
                                               "simulated_leaf",
                                               "simulated_level",
                                               "simulated_light",
                                               "simulated_solution",
                                               "tachometer",
                                               "text_ec",
                                               "text_ph"}));
}

TEST(Registry, HasNoTwoOutputDriversOfOneName) {
  std::set<std::string_view> names;
  for (const OutputDriverInfo* driver : output_drivers())
    EXPECT_TRUE(is_word(driver->name) && names.insert(driver->name).second) << driver->name;
  EXPECT_EQ(names, (std::set<std::string_view>{"dac", "gpio_relay", "level_file", "program",
                                               "pwm_fan", "pwm_light", "simulated"}));
}

TEST(Registry, FindsEachDriverByItsNameAndNothingElse) {
  for (const SensorInfo* driver : sensor_drivers())
    EXPECT_EQ(find_sensor_driver(driver->name), driver);
  for (const OutputDriverInfo* driver : output_drivers())
    EXPECT_EQ(find_output_driver(driver->name), driver);
  EXPECT_EQ(find_sensor_driver("hwmo"), nullptr);
  EXPECT_EQ(find_sensor_driver("level_file"), nullptr) << "an output is no sensor";
  EXPECT_EQ(find_output_driver(""), nullptr);
}

TEST(Registry, EverySensorDriverSaysWhatItMeasuresInUnitsOfThePoints) {
  for (const SensorInfo* driver : sensor_drivers()) {
    SCOPED_TRACE(std::string{driver->name});
    EXPECT_FALSE(driver->about.empty());
    ASSERT_FALSE(driver->channels.empty());
    EXPECT_LE(driver->channels.size(), Deliveries::capacity()) << "a delivery would be lost";
    std::set<std::string_view> names;
    for (const ChannelSpec& channel : driver->channels) {
      EXPECT_TRUE(is_word(channel.name) && names.insert(channel.name).second) << channel.name;
      EXPECT_TRUE(some_point_has_unit(channel.unit)) << channel.name << " in " << channel.unit;
      EXPECT_LT(channel.lowest, channel.highest);
    }
    EXPECT_GT(driver->fastest_period, Millis{0});
    EXPECT_GT(driver->deadline, Millis{0});
    EXPECT_NE(driver->make, nullptr);
    ASSERT_NE(driver->strand, nullptr);
    EXPECT_FALSE(driver->strand(Params{}).empty());
  }
}

TEST(Registry, EveryOutputDriverSaysWhatItIs) {
  for (const OutputDriverInfo* driver : output_drivers()) {
    SCOPED_TRACE(std::string{driver->name});
    EXPECT_FALSE(driver->about.empty());
    EXPECT_NE(driver->make, nullptr);
    EXPECT_NE(driver->resource, nullptr);
    ASSERT_NE(driver->strand, nullptr);
    EXPECT_FALSE(driver->strand(Params{}).empty());
  }
}

TEST(Registry, EveryParameterHasAReasonAndAFallbackThatItsOwnRulesAllow) {
  for (const SensorInfo* driver : sensor_drivers()) expect_sound_params(*driver);
  for (const OutputDriverInfo* driver : output_drivers()) expect_sound_params(*driver);
}

TEST(Registry, MakingADriverTouchesNoHardware) {
  Context nowhere;
  nowhere.sysfs_root = "/nonexistent";
  for (const SensorInfo* driver : sensor_drivers())
    EXPECT_NE(driver->make(Params{}, nowhere), nullptr) << driver->name;
  for (const OutputDriverInfo* driver : output_drivers())
    EXPECT_NE(driver->make(Params{}, Output::pump, nowhere), nullptr) << driver->name;
}

}  // namespace
}  // namespace neap::drivers
