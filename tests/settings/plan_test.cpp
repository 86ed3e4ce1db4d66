// What stands in the file arrives in the plan, each value in its own field: all values here differ
// from their defaults and from each other.
#include <gtest/gtest.h>

#include "tests/settings/files.h"

namespace neap::settings {
namespace {

constexpr const char* kFull = R"(neap: 1
name: attic
mode: observe
display: us
time_zone: UTC
altitude: 1000 ft
tent: {volume: 2.5 m3, exhaust_flow: 180 m3/h, vpd_of: leaf, leaf_offset: -1.5 K,
  dew_point_margin: 3 K, shed_light_above: 36 C}
table:
  name: upper
  drain_path: drain_valve
  tray_capacity: 51 L
  flood_volume: 22 L
  reservoir_capacity: 81 L
  reservoir_minimum: 17 L
  pump_flow: 700 L/h
  fill_limit: 7 min
  soak_limit: 21 min
  drain_limit: 23 min
  min_gap: 31 min
  pump_budget: {per_flood: 29 min, per_hour: 43 min, per_day: 5 h, floods_per_hour: 3}
climate: {law: fixed_fan, fixed_fan_level: 55 %, hysteresis: 30 %, drying_delay: 4 min,
  dehumidifier_in: room}
programme:
  start: 2026-03-02
  quiet_hours: {from: "22:15", to: "05:45"}
  slot_grace: 11 min
  catch_up_within: 3 h
  stages:
    - name: first
      days: 13
      lights_on: "06:30"
      light: 15 h
      light_level: 70 %
      light_ramp: 25 min
      vpd_day: 0.6..1.1 kPa
      vpd_night: 0.4..0.8 kPa
      band_ramp: 40 min
      air: 14..28 C
      humidity_ceiling: 86 %
      floods: {spread: 4, first_after: 35 min, last_before: 2 h, soak: 9 min, depth: 12 L}
    - name: second
      lights_on: "07:00"
      light: 14 h
      vpd_day: 0.7..1.2 kPa
      vpd_night: 0.5..0.9 kPa
      floods: {after_lights_on: [1 h, 6 h], soak: 10 min}
    - name: third
      lights_on: "08:00"
      light: 12 h
      vpd_day: 0.7..1.2 kPa
      vpd_night: 0.5..0.9 kPa
      floods: {at: ["09:00", "15:30"], soak: 11 min}
    - {name: rest, fallow: true}
outputs:
  pump: {driver: level_file, with: {path: a, running: 2}}
  drain_valve: {driver: level_file, with: {path: b}}
  exhaust_fan: {driver: level_file, with: {path: c, variable: true, running: 0xFF}, variable: true,
    safe: 65 %, floor: 25 %, ceiling: 95 %, quiet_ceiling: 60 %, fallback: 45 %, slew: 20 %/min,
    min_on: 2 min, min_off: 3 min, starts_per_hour: 9}
  light: {driver: level_file, with: {path: d, variable: true}, variable: true}
  dehumidifier: {driver: level_file, with: {path: e}, quiet_ceiling: stopped}
sensors:
  canopy: {driver: hwmon, with: {chip: sht4x}, every: 20 s, uncertain_after: 50 s, bad_after: 90 s,
    frozen_after: 45 min, points: {temperature: canopy.temperature, humidity: canopy.humidity}}
  slow: {driver: hwmon, with: {chip: sht3x, device: 1-0045}, every: 60 s,
    points: {temperature: room.temperature}}
  contacts: {driver: simulated_contacts, every: 1 s,
    points: {tray_full: tray.full, reservoir_low: reservoir.low, leak_rack: leak.rack}}
calibration: {offsets: {canopy.humidity: -1.5 %, room.temperature: 0.9 F}}
simulation:
  seed: 99
  weather: csv
  csv: {path: w.csv, time: t, temperature: c, humidity: h, of: room, start: "2013-06-01"}
  parameters: {leaf_area_index: 1.75}
  faults: [{fault: leak, at: 3 h, lasts: 10 min, severity: 0.5}, {fault: pump_dead, at: 5 h}]
end: true
)";

// The text above breaks braces over lines, which YAML allows; each value stands on one line.
Loaded full() {
  auto result = load_text(kFull);
  EXPECT_TRUE(result.loaded.has_value()) << render_all("full.yaml", kFull, result.problems);
  return result.loaded ? *result.loaded : Loaded{};
}

TEST(Plan, has_the_root_and_the_tent) {
  const Plan plan = full().plan;
  EXPECT_EQ(plan.name, "attic");
  EXPECT_EQ(plan.mode, Mode::observe);
  EXPECT_FALSE(plan.metric);
  EXPECT_EQ(plan.time_zone, "UTC");
  EXPECT_NEAR(plan.altitude_m, 304.8, 1e-9);
  EXPECT_DOUBLE_EQ(plan.climate.tent_m3, 2.5);
  EXPECT_DOUBLE_EQ(plan.climate.fan_m3_per_h, 180);
  EXPECT_EQ(plan.climate.band_of, BandOf::leaf);
  EXPECT_TRUE(plan.climate.leaf_offset_set);
  EXPECT_DOUBLE_EQ(plan.climate.leaf_offset.value, -1.5);
  EXPECT_DOUBLE_EQ(plan.climate.dew_point_margin.value, 3);
  EXPECT_DOUBLE_EQ(plan.climate.shed_above.value, 36);
}

TEST(Plan, has_the_table) {
  const TablePlan table = full().plan.table;
  EXPECT_EQ(table.name, "upper");
  EXPECT_EQ(table.drain_path, DrainPath::drain_valve);
  EXPECT_DOUBLE_EQ(table.tray_capacity.value, 51);
  EXPECT_DOUBLE_EQ(table.flood_volume.value, 22);
  EXPECT_DOUBLE_EQ(table.reservoir_capacity.value, 81);
  EXPECT_DOUBLE_EQ(table.reservoir_minimum.value, 17);
  EXPECT_DOUBLE_EQ(table.pump_l_per_h, 700);
  EXPECT_EQ(table.fill_limit, minutes{7});
  EXPECT_EQ(table.soak_limit, minutes{21});
  EXPECT_EQ(table.drain_limit, minutes{23});
  EXPECT_EQ(table.min_gap, minutes{31});
  EXPECT_EQ(table.max_on_per_flood, minutes{29});
  EXPECT_EQ(table.max_on_per_hour, minutes{43});
  EXPECT_EQ(table.max_on_per_day, hours{5});
  EXPECT_EQ(table.max_floods_per_hour, 3);
}

TEST(Plan, has_the_climate) {
  const ClimatePlan climate = full().plan.climate;
  EXPECT_EQ(climate.law, LawChoice::fixed_fan);
  EXPECT_EQ(climate.fixed_fan_level, Permille{550});
  EXPECT_DOUBLE_EQ(climate.hysteresis, 0.3);
  EXPECT_EQ(climate.drying_delay, minutes{4});
  EXPECT_EQ(climate.dehumidifier_place, DehumidifierPlace::room);
}

TEST(Plan, has_the_programme) {
  const ProgrammePlan programme = full().plan.programme;
  EXPECT_EQ(programme.start_date, 20514);
  EXPECT_TRUE(programme.quiet.fitted);
  EXPECT_EQ(programme.quiet.from_s, 22 * 3600 + 15 * 60);
  EXPECT_EQ(programme.quiet.to_s, 5 * 3600 + 45 * 60);
  EXPECT_EQ(programme.slot_grace_s, 660);
  EXPECT_EQ(programme.catch_up_within_s, 10800);
  ASSERT_EQ(programme.stages.size(), 4U);
  const StagePlan& stage = programme.stages[0];
  EXPECT_EQ(stage.name, "first");
  EXPECT_EQ(stage.days, 13);
  EXPECT_FALSE(stage.fallow);
  EXPECT_EQ(stage.lights_on_s, 23400);
  EXPECT_EQ(stage.light_length_s, 54000);
  EXPECT_EQ(stage.light_level, Permille{700});
  EXPECT_EQ(stage.light_ramp_s, 1500);
  EXPECT_EQ(stage.vpd_day, (Band{Kilopascal{0.6}, Kilopascal{1.1}}));
  EXPECT_EQ(stage.vpd_night, (Band{Kilopascal{0.4}, Kilopascal{0.8}}));
  EXPECT_EQ(stage.band_ramp_s, 2400);
  EXPECT_DOUBLE_EQ(stage.air_lowest.value, 14);
  EXPECT_DOUBLE_EQ(stage.air_highest.value, 28);
  EXPECT_DOUBLE_EQ(stage.humidity_ceiling.value, 86);
}

TEST(Plan, has_the_floods_by_each_rule) {
  const auto stages = full().plan.programme.stages;
  ASSERT_EQ(stages.size(), 4U);
  const FloodPlan& spread = stages[0].floods;
  EXPECT_EQ(spread.rule, SlotRule::spread);
  EXPECT_EQ(spread.count, 4);
  EXPECT_EQ(spread.first_after_s, 2100);
  EXPECT_EQ(spread.last_before_s, 7200);
  EXPECT_EQ(spread.soak, minutes{9});
  EXPECT_EQ(spread.depth, Depth::by_litres);
  EXPECT_DOUBLE_EQ(spread.litres.value, 12);
  const FloodPlan& after = stages[1].floods;
  EXPECT_EQ(after.rule, SlotRule::after_lights_on);
  EXPECT_EQ(after.times_s, (std::vector<std::int32_t>{3600, 21600}));
  EXPECT_EQ(after.depth, Depth::by_float);
  const FloodPlan& at = stages[2].floods;
  EXPECT_EQ(at.rule, SlotRule::at_times);
  EXPECT_EQ(at.times_s, (std::vector<std::int32_t>{32400, 55800}));
  EXPECT_TRUE(stages[3].fallow);
  EXPECT_EQ(stages[3].floods.rule, SlotRule::none);
  EXPECT_EQ(stages[3].light_length_s, 0);
}

TEST(Plan, has_the_outputs) {
  const auto loaded = full();
  const auto& fan = loaded.plan.outputs[Output::exhaust_fan];
  ASSERT_TRUE(fan.has_value());
  EXPECT_EQ(fan->driver, "level_file");
  EXPECT_TRUE(fan->variable);
  EXPECT_EQ(fan->safe, Permille{650});
  EXPECT_EQ(fan->floor, Permille{250});
  EXPECT_EQ(fan->ceiling, Permille{950});
  EXPECT_EQ(fan->quiet_ceiling, Permille{600});
  EXPECT_EQ(fan->fallback, Permille{450});
  EXPECT_EQ(fan->slew_per_min, 200);
  EXPECT_EQ(fan->min_on, minutes{2});
  EXPECT_EQ(fan->min_off, minutes{3});
  EXPECT_EQ(fan->starts_per_hour, 9);
  EXPECT_FALSE(loaded.plan.outputs[Output::humidifier].has_value());
  const auto& setups = loaded.hardware.outputs;
  ASSERT_EQ(setups.size(), 5U);
  EXPECT_EQ(setups[0].output, Output::pump);
  EXPECT_EQ(setups[0].params.text("path"), "a");
  EXPECT_EQ(setups[0].params.integer("running"), 2);
  EXPECT_EQ(setups[2].params.integer("running"), 255);
  EXPECT_EQ(setups[1].params.integer("stopped"), 0) << "the driver's own default";
}

TEST(Plan, gives_a_dehumidifier_the_dwells_of_a_compressor) {
  const auto loaded = full();
  const auto& dehumidifier = loaded.plan.outputs[Output::dehumidifier];
  ASSERT_TRUE(dehumidifier.has_value());
  EXPECT_EQ(dehumidifier->min_on, minutes{5});
  EXPECT_EQ(dehumidifier->min_off, minutes{5});
  EXPECT_EQ(dehumidifier->starts_per_hour, 6);
  EXPECT_EQ(dehumidifier->quiet_ceiling, kStopped);
}

TEST(Plan, without_a_fallback_falls_back_to_the_safe_level) {
  const auto result =
      load_text(with(with(kFull, "fallback: 45 %, ", ""), "safe: 65 %", "safe: 35 %"));
  ASSERT_TRUE(result.loaded.has_value());
  EXPECT_EQ(result.loaded->plan.outputs[Output::exhaust_fan]->fallback, Permille{350});
}

TEST(Plan, has_the_points_with_their_ages) {
  const auto plan = full().plan;
  const auto& canopy = plan.points[Point::canopy_humidity];
  ASSERT_TRUE(canopy.has_value());
  EXPECT_EQ(canopy->period, seconds{20});
  EXPECT_EQ(canopy->uncertain_after, seconds{50});
  EXPECT_EQ(canopy->bad_after, seconds{90});
  EXPECT_EQ(canopy->frozen_after, minutes{45});
  EXPECT_DOUBLE_EQ(canopy->offset, -1.5);
  const auto& room = plan.points[Point::room_temperature];
  ASSERT_TRUE(room.has_value());
  EXPECT_EQ(room->uncertain_after, seconds{90}) << "a slow sensor: one and a half periods";
  EXPECT_EQ(room->bad_after, seconds{180}) << "three periods";
  EXPECT_EQ(room->frozen_after, Millis{0});
  EXPECT_NEAR(room->offset, 0.5, 1e-9);
  const auto& leak = plan.points[Point::leak_rack];
  ASSERT_TRUE(leak.has_value());
  EXPECT_EQ(leak->uncertain_after, seconds{30});
  EXPECT_EQ(leak->bad_after, seconds{60});
  EXPECT_FALSE(plan.points[Point::leak_floor].has_value());
}

TEST(Plan, has_the_sensors_and_the_simulated_tent) {
  const auto hardware = full().hardware;
  ASSERT_EQ(hardware.sensors.size(), 3U);
  EXPECT_EQ(hardware.sensors[0].name, "canopy");
  EXPECT_EQ(hardware.sensors[1].params.text("device"), "1-0045");
  EXPECT_EQ(hardware.sensors[1].period, minutes{1});
  EXPECT_EQ(hardware.sensors[2].uses.size(), 3U);
  ASSERT_TRUE(hardware.simulation.has_value());
  const auto& simulation = *hardware.simulation;
  EXPECT_EQ(simulation.seed, 99U);
  EXPECT_EQ(simulation.weather, "csv");
  EXPECT_EQ(simulation.weather_csv, "w.csv");
  EXPECT_EQ(simulation.csv_time, "t");
  EXPECT_EQ(simulation.csv_temperature, "c");
  EXPECT_EQ(simulation.csv_humidity, "h");
  EXPECT_TRUE(simulation.csv_is_room);
  EXPECT_EQ(simulation.csv_start, "2013-06-01");
  EXPECT_DOUBLE_EQ(simulation.parameters.at("leaf_area_index"), 1.75);
  ASSERT_EQ(simulation.faults.size(), 2U);
  EXPECT_EQ(simulation.faults[0].fault, "leak");
  EXPECT_EQ(simulation.faults[0].at, hours{3});
  EXPECT_EQ(simulation.faults[0].lasts, minutes{10});
  EXPECT_DOUBLE_EQ(simulation.faults[0].severity, 0.5);
  EXPECT_EQ(simulation.faults[1].lasts, Millis{0}) << "for ever";
}

TEST(Plan, keeps_text_and_hash) {
  const auto loaded = full();
  EXPECT_EQ(loaded.text, kFull);
  EXPECT_NE(loaded.hash, load_text(with(kFull, "attic", "attik")).loaded->hash);
}

}  // namespace
}  // namespace neap::settings
