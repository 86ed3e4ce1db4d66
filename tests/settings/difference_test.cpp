// What a reload would change, and what it may not.
#include <gtest/gtest.h>

#include "tests/settings/files.h"

namespace neap::settings {
namespace {

using Lines = std::vector<std::string>;

Loaded load(const std::string& text) {
  auto result = load_text(text);
  EXPECT_TRUE(result.loaded.has_value()) << render_all("changed.yaml", text, result.problems);
  return result.loaded ? *result.loaded : Loaded{};
}

Lines change(const std::string& from, const std::string& to) {
  const std::string demo = shipped("demo.yaml");
  return difference(load(demo), load(with(demo, from, to)));
}

std::vector<Problem> obstacles(const std::string& from, const std::string& to) {
  const std::string demo = shipped("demo.yaml");
  return reload_obstacles(load(demo), load(with(demo, from, to)));
}

TEST(Difference, of_a_file_with_itself_is_nothing) {
  EXPECT_EQ(change("neap: 1", "neap: 1"), Lines{});
}

TEST(Difference, is_one_line_a_value_in_the_words_of_the_settings) {
  EXPECT_EQ(change("soak_limit: 20 min", "soak_limit: 15 min"),
            (Lines{"table.soak_limit: 20 min -> 15 min"}));
  EXPECT_EQ(change("light_level: 60 %", "light_level: 70 %"),
            (Lines{"programme.stages[establishing].light_level: 60 % -> 70 %"}));
}

TEST(Difference, ignores_spelling_comments_and_order) {
  EXPECT_EQ(change("soak_limit: 20 min", "soak_limit: 1200 s"), Lines{});
  EXPECT_EQ(change("neap: 1", "neap: 1  # same"), Lines{});
  EXPECT_EQ(
      change("with: {place: canopy}\n    every: 10 s", "every: 10 s\n    with: {place: canopy}"),
      Lines{});
}

TEST(Difference, knows_defaults) {
  EXPECT_EQ(change("  soak_limit: 20 min\n", ""), Lines{}) << "20 min is the default";
  EXPECT_EQ(change("  hysteresis: 25 %\n", ""), Lines{});
  EXPECT_EQ(change("    with: {place: canopy}\n", ""), Lines{}) << "a default of the driver";
  EXPECT_EQ(change("  shed_light_above: 34 C\n", ""),
            (Lines{"tent.shed_light_above: 34 C -> 35 C"}));
}

TEST(Difference, tells_what_comes_and_what_goes) {
  EXPECT_EQ(change("  leaf_offset: -1.4 K\n", ""), (Lines{"tent.leaf_offset: -1.4 K -> absent"}));
  EXPECT_EQ(change("    frozen_after: 30 min\n", "    bad_after: 2 min\n"),
            (Lines{"sensors.canopy.bad_after: absent -> 2 min",
                   "sensors.canopy.frozen_after: 30 min -> absent"}));
}

TEST(Difference, tells_a_changed_list_and_a_changed_depth) {
  EXPECT_EQ(
      change("[45 min, 4 h, 7 h, 10 h]", "[45 min, 4 h, 10 h]"),
      (Lines{"programme.stages[flowering].floods.after_lights_on: [45 min, 4 h, 7 h, 10 h] -> "
             "[45 min, 4 h, 10 h]"}));
  EXPECT_EQ(change("depth: 15 L", "depth: float"),
            (Lines{"programme.stages[establishing].floods.depth: 15 L -> float"}));
}

TEST(Reload, may_change_targets_and_limits) {
  EXPECT_TRUE(obstacles("soak_limit: 20 min", "soak_limit: 15 min").empty());
  EXPECT_TRUE(obstacles("quiet_ceiling: 70 %", "quiet_ceiling: 60 %").empty());
  EXPECT_TRUE(obstacles("every: 30 s", "every: 20 s").empty());
}

TEST(Reload, may_not_change_an_outputs_driver) {
  const auto problems = obstacles("  humidifier:\n    driver: simulated\n",
                                  "  humidifier:\n    driver: level_file\n    with: {path: x}\n");
  ASSERT_EQ(problems.size(), 1U);
  EXPECT_EQ(problems[0].key, "outputs.humidifier.driver");
  EXPECT_EQ(problems[0].message,
            "driver of humidifier changes from simulated to level_file; a running neapd keeps its "
            "drivers");
  EXPECT_GT(problems[0].line, 0);
  EXPECT_FALSE(problems[0].remedy.empty());
}

TEST(Reload, may_not_add_or_drop_an_output) {
  const auto gone = obstacles("  air_pump:\n    driver: simulated\n", "");
  ASSERT_EQ(gone.size(), 1U);
  EXPECT_EQ(gone[0].message,
            "output air_pump goes; a running neapd keeps the outputs it began with");
  const std::string demo = shipped("demo.yaml");
  const auto back =
      reload_obstacles(load(with(demo, "  air_pump:\n    driver: simulated\n", "")), load(demo));
  ASSERT_EQ(back.size(), 1U);
  EXPECT_EQ(back[0].key, "outputs.air_pump");
}

TEST(Reload, may_not_change_an_address_or_polarity) {
  const std::string starter = shipped("starter.yaml");
  const auto address =
      reload_obstacles(load(starter), load(with(starter, "line: GPIO17", "line: GPIO27")));
  ASSERT_EQ(address.size(), 1U);
  EXPECT_EQ(address[0].key, "outputs.pump.with");
  const auto polarity = reload_obstacles(
      load(starter),
      load(with(starter, "line: GPIO17, active: high", "line: GPIO17, active: low")));
  ASSERT_EQ(polarity.size(), 1U);
  EXPECT_GT(polarity[0].line, 0);
}

TEST(Reload, may_not_change_the_line_of_the_enable_pulse) {
  const auto starter = [](const std::string& more) {
    return load(with(shipped("starter.yaml"), "line: GPIO17, active: high}\n",
                     "line: GPIO17, active: high}\n" + more));
  };
  const std::string pulse = "    enable_pulse: {chip: pinctrl-bcm2711, line: GPIO13}\n";
  const auto moved = reload_obstacles(starter(pulse), starter(with(pulse, "GPIO13}", "GPIO14}")));
  ASSERT_EQ(moved.size(), 1U);
  EXPECT_EQ(moved[0].key, "outputs.pump.enable_pulse");
  EXPECT_GT(moved[0].line, 0);
  EXPECT_EQ(reload_obstacles(starter(""), starter(pulse)).size(), 1U);
  EXPECT_TRUE(reload_obstacles(starter(pulse), starter(pulse)).empty());
}

// The gate cannot let go of one line and prove the others untouched.
TEST(Reload, may_not_change_the_hand_of_an_output) {
  const auto given = obstacles("  light:\n    driver: simulated\n",
                               "  light:\n    driver: simulated\n    hand: another\n");
  ASSERT_EQ(given.size(), 1U);
  EXPECT_EQ(given[0].key, "outputs.light.hand");
  EXPECT_FALSE(given[0].remedy.empty());
}

TEST(Reload, tells_a_changed_mode_once_with_the_outputs_that_change_hands) {
  const auto found = obstacles("mode: control", "mode: observe");
  ASSERT_EQ(found.size(), 1U);
  EXPECT_EQ(found[0].key, "mode");
  EXPECT_GT(found[0].line, 0);
  EXPECT_NE(found[0].message.find("pump"), std::string::npos);
  EXPECT_NE(found[0].message.find("light"), std::string::npos);
}

TEST(Reload, may_not_change_the_simulated_tent) {
  EXPECT_EQ(obstacles("seed: 7", "seed: 8").size(), 1U);
  EXPECT_EQ(obstacles("leaf_area_index: 2.5", "leaf_area_index: 2").size(), 1U);
  EXPECT_EQ(obstacles("lasts: 10 min", "lasts: 11 min").size(), 1U);
}

}  // namespace
}  // namespace neap::settings
