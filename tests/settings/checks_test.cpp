// Rules between settings, each at its edge: the last value that is accepted and the first that is
// refused, with the place that is told.
#include <gtest/gtest.h>

#include "tests/settings/files.h"

namespace neap::settings {
namespace {

// The key of the only problem, or what else came out.
std::string refused_at(const std::string& text) {
  const auto result = load_text(text);
  if (result.loaded) return "accepted";
  if (result.problems.size() != 1) return render_all("text", text, result.problems);
  return result.problems[0].key;
}

std::string demo_with(const std::string& from, const std::string& to) {
  return with(shipped("demo.yaml"), from, to);
}

TEST(Volumes, flood_up_to_the_trays_rim) {
  EXPECT_EQ(refused_at(demo_with("tray_capacity: 45 L", "tray_capacity: 29 L")), "accepted");
  EXPECT_EQ(refused_at(demo_with("tray_capacity: 45 L", "tray_capacity: 28.9 L")),
            "table.flood_volume");
}

TEST(Volumes, leave_the_reservoir_its_minimum) {
  EXPECT_EQ(refused_at(demo_with("reservoir_minimum: 12 L", "reservoir_minimum: 31 L")),
            "accepted");
  EXPECT_EQ(refused_at(demo_with("reservoir_minimum: 12 L", "reservoir_minimum: 31.1 L")),
            "table.reservoir_minimum");
}

TEST(Dehumidifier, starts_as_often_as_its_kind_bears) {
  const std::string hasty = with(shipped("demo.yaml"), "min_on: 5 min", "min_on: 30 s");
  EXPECT_EQ(refused_at(hasty), "outputs.dehumidifier.min_on");
  EXPECT_EQ(refused_at(with(hasty, "dehumidifier_in: tent",
                            "dehumidifier_in: tent\n  dehumidifier_kind: peltier")),
            "accepted");
}

TEST(SecondContact, goes_with_a_pump_and_its_proof_each_second) {
  const std::string pump = "  pump:\n    driver: simulated\n";
  const std::string both = demo_with(pump, pump + "  pump_series:\n    driver: simulated\n");
  EXPECT_EQ(refused_at(both), "accepted");
  EXPECT_EQ(refused_at(with(both, "      pump_running: pump.running\n", "")),
            "outputs.pump_series");
  EXPECT_EQ(refused_at(with(both, "    every: 1 s\n", "    every: 2 s\n")), "outputs.pump_series");
  const std::string dry = with(both, pump, "");
  const auto result = load_text(dry);
  EXPECT_NE(render_all("text", dry, result.problems).find("no output pump"), std::string::npos);
}

TEST(SecondContact, is_a_line_of_its_own) {
  const auto level_file = [](const char* output) {
    return std::string("  ") + output +
           ":\n    driver: level_file\n    with: {path: /sys/class/relay1}\n";
  };
  const std::string pump = "  pump:\n    driver: simulated\n";
  EXPECT_EQ(refused_at(demo_with(pump, level_file("pump") + level_file("pump_series"))),
            "outputs.pump_series.with");
}

TEST(Button, is_read_each_second) {
  const std::string frozen = "    frozen_after: 30 min\n";
  const auto every = [&](const char* period) {
    return frozen + "  button:\n    driver: simulated_contacts\n    every: " + period +
           "\n    points: {tray_wet: button.pressed}\n";
  };
  EXPECT_EQ(refused_at(demo_with(frozen, every("2 s"))), "sensors.button.every");
  EXPECT_EQ(refused_at(demo_with(frozen, every("1 s"))), "accepted");
}

TEST(SensorRail, goes_with_the_sensors_that_hang_on_it) {
  const std::string pump = "  pump:\n    driver: simulated\n";
  const std::string rail = pump + "  sensor_rail:\n    driver: simulated\n";
  const std::string frozen = "    frozen_after: 30 min\n";
  EXPECT_EQ(refused_at(demo_with(pump, rail)), "outputs.sensor_rail");
  EXPECT_EQ(refused_at(demo_with(frozen, frozen + "    on_rail: true\n")),
            "sensors.canopy.on_rail");
  EXPECT_EQ(refused_at(with(demo_with(pump, rail), frozen, frozen + "    on_rail: true\n")),
            "accepted");
}

// 29 L at 600 L/h take 174 s, and 1.2 times that is 208.8 s.
TEST(FillLimit, leaves_a_fifth_over_the_nominal_fill) {
  EXPECT_EQ(refused_at(demo_with("fill_limit: 6 min", "fill_limit: 209 s")), "accepted");
  EXPECT_EQ(refused_at(demo_with("fill_limit: 6 min", "fill_limit: 208 s")), "table.fill_limit");
}

// fill_limit 6, soak 8, drain_limit 25 and min_gap 40 min: 79 min.
TEST(Slots, are_a_whole_cycle_and_its_gap_apart) {
  const std::string times = "[45 min, 4 h, 7 h, 10 h]";
  EXPECT_EQ(refused_at(demo_with(times, "[45 min, 124 min]")), "accepted");
  EXPECT_EQ(refused_at(demo_with(times, "[45 min, 7439 s]")),
            "programme.stages[flowering].floods.after_lights_on");
  EXPECT_EQ(refused_at(demo_with(times, "[124 min, 45 min]")), "accepted") << "order is free";
  EXPECT_EQ(refused_at(demo_with(times, "[45 min, 45 min]")),
            "programme.stages[flowering].floods.after_lights_on");
}

TEST(Slots, are_within_the_light) {
  const std::string times = "[45 min, 4 h, 7 h, 10 h]";
  EXPECT_EQ(refused_at(demo_with(times, "[45 min, 719 min]")), "accepted");
  EXPECT_EQ(refused_at(demo_with(times, "[45 min, 12 h]")),
            "programme.stages[flowering].floods.after_lights_on");
  const std::string clock = "[\"07:45\", \"11:00\", \"14:30\", \"18:30\"]";
  EXPECT_EQ(refused_at(demo_with(clock, "[\"07:00\", \"20:59\"]")), "accepted");
  EXPECT_EQ(refused_at(demo_with(clock, "[\"07:00\", \"21:00\"]")),
            "programme.stages[fruiting].floods.at");
  EXPECT_EQ(refused_at(demo_with(clock, "[\"06:59\", \"11:00\"]")),
            "programme.stages[fruiting].floods.at");
}

TEST(Slots, of_a_light_over_midnight_are_seen_in_its_own_day) {
  const std::string night =
      with(demo_with("lights_on: \"07:00\"", "lights_on: \"20:00\""),
           "[\"07:45\", \"11:00\", \"14:30\", \"18:30\"]", "[\"21:00\", OTHER]");
  EXPECT_EQ(refused_at(with(night, "OTHER", "\"09:00\"")), "accepted");
  EXPECT_EQ(refused_at(with(night, "OTHER", "\"12:00\"")), "programme.stages[fruiting].floods.at");
}

// establishing: 6 min of fill and the soak, through the pump.
TEST(PumpBudget, covers_one_flood_with_its_soak) {
  EXPECT_EQ(refused_at(demo_with("per_flood: 25 min", "per_flood: 16 min")), "accepted");
  EXPECT_EQ(refused_at(demo_with("per_flood: 25 min", "per_flood: 959 s")),
            "programme.stages[fruiting].floods.soak");
}

TEST(PumpBudget, covers_the_floods_of_a_day) {
  const std::string demo = demo_with("per_hour: 40 min", "per_hour: 30 min");
  EXPECT_EQ(refused_at(with(demo, "per_day: 3 h", "per_day: 64 min")), "accepted")
      << "fruiting: four times 16 min";
  EXPECT_EQ(refused_at(with(demo, "per_day: 3 h", "per_day: 63 min")),
            "programme.stages[fruiting].floods.at");
}

TEST(PumpBudget, grows_from_flood_to_hour_to_day) {
  EXPECT_EQ(refused_at(demo_with("per_hour: 40 min", "per_hour: 24 min")),
            "table.pump_budget.per_hour");
  EXPECT_EQ(
      refused_at(demo_with("per_day: 3 h", "per_day: 39 min")).substr(0, 200).find("accepted"),
      std::string::npos);
}

// With a valve the pump rests in the soak.
TEST(PumpBudget, does_not_count_the_soak_behind_a_drain_valve) {
  std::string text = demo_with("drain_path: through_pump", "drain_path: drain_valve");
  text = with(text, "outputs:\n", "outputs:\n  drain_valve: {driver: simulated}\n");
  EXPECT_EQ(refused_at(with(text, "per_flood: 25 min", "per_flood: 6 min")), "accepted");
  EXPECT_NE(refused_at(with(text, "per_flood: 25 min", "per_flood: 359 s")), "accepted");
}

TEST(Depth, by_litres_stays_within_a_flood) {
  EXPECT_EQ(refused_at(demo_with("depth: 15 L", "depth: 29 L")), "accepted");
  EXPECT_EQ(refused_at(demo_with("depth: 15 L", "depth: 29.1 L")),
            "programme.stages[establishing].floods.depth");
}

TEST(Band, is_at_least_a_tenth_of_a_kilopascal_wide) {
  EXPECT_EQ(refused_at(demo_with("vpd_day: 0.5..0.9 kPa", "vpd_day: 0.8..0.9 kPa")), "accepted");
  EXPECT_EQ(refused_at(demo_with("vpd_day: 0.5..0.9 kPa", "vpd_day: 0.81..0.9 kPa")),
            "programme.stages[establishing].vpd_day");
}

TEST(Air, stays_under_where_the_light_is_shed) {
  EXPECT_EQ(refused_at(demo_with("shed_light_above: 34 C", "shed_light_above: 32 C")),
            "programme.stages[fallow].air");
  EXPECT_EQ(refused_at(demo_with("shed_light_above: 34 C", "shed_light_above: 32.1 C")),
            "accepted");
}

TEST(Light, that_does_not_dim_has_no_ramp_and_no_level) {
  const auto result = load_text(demo_with("  light:\n    driver: simulated\n    variable: true\n",
                                          "  light:\n    driver: simulated\n"));
  EXPECT_EQ(result.problems.size(), 5U) << "four ramps and a level";
}

TEST(Leaf, vpd_needs_a_leaf_or_an_offset) {
  const std::string leaf = demo_with("vpd_of: air", "vpd_of: leaf");
  EXPECT_EQ(refused_at(leaf), "accepted");
  EXPECT_EQ(refused_at(with(leaf, "  leaf_offset: -1.4 K\n", "")), "tent.vpd_of");
  EXPECT_EQ(refused_at(with(with(leaf, "  leaf_offset: -1.4 K\n", ""), "sensors:\n",
                            "sensors:\n  leaf: {driver: simulated_leaf, points: {temperature: "
                            "leaf.temperature}}\n")),
            "accepted");
}

TEST(Valve, without_its_drain_path_is_refused) {
  EXPECT_EQ(refused_at(demo_with("outputs:\n", "outputs:\n  drain_valve: {driver: simulated}\n")),
            "outputs.drain_valve");
}

TEST(Ages, grow_from_period_to_uncertain_to_bad) {
  const std::string every = "every: 30 s\n    points: {temperature: room";
  EXPECT_EQ(refused_at(demo_with(every, "uncertain_after: 29 s\n    " + every)),
            "sensors.room.uncertain_after");
  EXPECT_EQ(refused_at(demo_with(every, "bad_after: 44 s\n    " + every)),
            "sensors.room.bad_after");
  EXPECT_EQ(
      refused_at(demo_with(every, "uncertain_after: 30 s\n    bad_after: 30 s\n    " + every)),
      "accepted");
}

TEST(Mode, has_no_default) { EXPECT_EQ(refused_at(demo_with("mode: control\n", "")), "mode"); }

}  // namespace
}  // namespace neap::settings
