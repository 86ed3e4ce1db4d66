// Plans for tests, built by hand: what settings would make of a small strawberry tent.
#pragma once

#include "daemon/core/limits.h"
#include "daemon/core/plan.h"

namespace neap::test {

inline PointPlan sampled_every(Millis period) {
  PointPlan plan;
  plan.period = period;
  plan.uncertain_after = limits::kUncertainAfter;
  plan.bad_after = limits::kBadAfter;
  return plan;
}

inline StagePlan leafing_stage() {
  StagePlan stage;
  stage.name = "leafing";
  stage.days = 21;
  stage.lights_on_s = 6 * 3600;
  stage.light_length_s = 16 * 3600;
  stage.vpd_day = {Kilopascal{0.8}, Kilopascal{1.2}};
  stage.vpd_night = {Kilopascal{0.5}, Kilopascal{1.1}};
  stage.floods.rule = SlotRule::spread;
  stage.floods.count = 4;
  stage.floods.first_after_s = 1800;
  stage.floods.last_before_s = 7200;
  stage.floods.soak = minutes{8};
  return stage;
}

inline StagePlan fallow_stage() {
  StagePlan stage;
  stage.name = "fallow";
  stage.fallow = true;
  stage.vpd_day = {Kilopascal{0.4}, Kilopascal{1.6}};
  stage.vpd_night = stage.vpd_day;
  return stage;
}

inline TablePlan small_table() {
  TablePlan table;
  table.tray_capacity = Litres{60};
  table.flood_volume = Litres{24};
  table.reservoir_capacity = Litres{80};
  table.reservoir_minimum = Litres{30};
  table.pump_l_per_h = 720;
  table.fill_limit = minutes{6};
  table.soak_limit = minutes{20};
  table.drain_limit = minutes{25};
  table.min_gap = minutes{40};
  table.max_on_per_flood = minutes{25};
  table.max_on_per_hour = minutes{40};
  table.max_on_per_day = hours{3};
  table.max_floods_per_hour = 2;
  return table;
}

inline OutputPlan two_position(Permille safe) {
  OutputPlan plan;
  plan.safe = safe;
  plan.fallback = safe;
  return plan;
}

inline Plan strawberry_plan() {
  Plan plan;
  plan.table = small_table();
  plan.programme.start_date = 20000;
  plan.programme.stages = {leafing_stage(), fallow_stage()};
  for (const OutputInfo& row : kOutputs) plan.outputs[row.output] = two_position(row.safe);
  plan.outputs[Output::drain_valve].reset();
  for (const Output output : {Output::humidifier, Output::pump_series, Output::sensor_rail,
                              Output::water_heater, Output::water_chiller})
    plan.outputs[output].reset();
  OutputPlan& fan = *plan.outputs[Output::exhaust_fan];
  fan.variable = true;
  fan.floor = Permille{200};
  fan.fallback = Permille{400};
  OutputPlan& dehumidifier = *plan.outputs[Output::dehumidifier];
  dehumidifier.min_on = limits::kCompressorMinOn;
  dehumidifier.min_off = limits::kCompressorMinOff;
  dehumidifier.starts_per_hour = limits::kCompressorStartsPerHour;
  for (const Point point :
       {Point::canopy_temperature, Point::canopy_humidity, Point::room_temperature,
        Point::room_humidity, Point::reservoir_level, Point::reservoir_low, Point::tray_full,
        Point::tray_high, Point::leak_floor, Point::bucket_full})
    plan.points[point] = sampled_every(seconds{10});
  return plan;
}

}  // namespace neap::test
