// Settings with other climate equipment: they load, they say what was asked for, and they change
// nothing else.
#include "daemon/settings/equipment.h"

#include <gtest/gtest.h>

#include "tests/settings/files.h"

namespace neap::settings {
namespace {

Loaded load(const std::string& text) {
  auto result = load_text(text);
  EXPECT_TRUE(result.loaded.has_value()) << render_all("made", text, result.problems);
  return result.loaded ? std::move(*result.loaded) : Loaded{};
}

class Equipped : public testing::TestWithParam<std::string> {};
INSTANTIATE_TEST_SUITE_P(settings, Equipped, testing::Values("demo.yaml", "july.yaml"),
                         [](const auto& test) {
                           return test.param.substr(0, test.param.find('.'));
                         });

TEST_P(Equipped, text_loads_and_says_what_was_asked_for) {
  const std::string text = shipped(GetParam());
  for (const Equipment& equipment : {Equipment{DehumidifierPlace::tent, {}, {}, 80},
                                     Equipment{DehumidifierPlace::tent, 0.7, 120.0, 180},
                                     Equipment{DehumidifierPlace::room, 8.0, {}, 250}}) {
    Equipment made = equipment_of(load(with_equipment(text, equipment)));
    if (!equipment.drying_l_per_day) made.place = equipment.place;
    EXPECT_TRUE(made == equipment);
  }
}

TEST_P(Equipped, text_changes_nothing_but_the_equipment) {
  const std::string text = shipped(GetParam());
  const Loaded after = load(with_equipment(text, {DehumidifierPlace::room, 8.0, 333.0, 222}));
  for (const std::string& line : difference(load(text), after)) {
    const bool known = line.rfind("tent.exhaust_flow", 0) == 0 || line.rfind("climate.", 0) == 0 ||
                       line.rfind("simulation.", 0) == 0;
    EXPECT_TRUE(known) << line;
  }
  EXPECT_DOUBLE_EQ(after.plan.climate.dehumidifier_g_per_h, 8000.0 / 24);
  EXPECT_TRUE(after.hardware.simulation->faults.empty());
}

TEST_P(Equipped, text_with_its_own_equipment_is_the_same_equipment) {
  const Loaded before = load(shipped(GetParam()));
  const Equipment own = equipment_of(before);
  EXPECT_TRUE(equipment_of(load(with_equipment(before.text, own))) == own);
}

TEST(SimulatedTent, of_settings_that_drive_devices_loads_and_controls) {
  const Loaded real = load(shipped("starter.yaml"));
  ASSERT_FALSE(real.hardware.simulation.has_value());
  const Loaded made = load(with_simulated_tent(real, {24, 60}));
  ASSERT_TRUE(made.hardware.simulation.has_value());
  EXPECT_EQ(made.plan.mode, Mode::control);
  EXPECT_EQ(made.hardware.simulation->parameters.at("building_c"), 24);
  // 24 C and 60 %: 11.2 g/kg (ASHRAE psychrometric chart 1, read to a tenth).
  EXPECT_NEAR(made.hardware.simulation->parameters.at("building_w_g_kg"), 11.2, 0.1);
  EXPECT_EQ(made.hardware.simulation->parameters.at("fan_max_m3h"), 120);
  for (const auto& output : made.hardware.outputs) EXPECT_EQ(output.driver, "simulated");
}

}  // namespace
}  // namespace neap::settings
