// The oracle of the settings' mutants can see: each of its ceilings is broken here in turn.
#include "tests/settings/ceilings.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <functional>
#include <limits>

#include "tests/settings/files.h"

namespace neap::settings {
namespace {

Loaded demo() { return *load_text(shipped("demo.yaml")).loaded; }

struct Spoil {
  std::string_view breaks;
  std::function<void(Plan&, drivers::Hardware&)> how;
};

FloodPlan& floods(Plan& p) { return p.programme.stages.front().floods; }
OutputPlan& output(Plan& p, Output o) { return *p.outputs[o]; }

const std::vector<Spoil>& spoils() {
  using Hw = drivers::Hardware;
  static const std::vector<Spoil> rows{
      {"no run of the pump is over an hour",
       [](Plan& p, Hw&) { p.table.max_on_per_flood = minutes{60} + Millis{1}; }},
      {"an hour's budget holds a flood's and fits the hour",
       [](Plan& p, Hw&) { p.table.max_on_per_hour = p.table.max_on_per_flood - Millis{1}; }},
      {"a day's budget holds an hour's and half a day at most",
       [](Plan& p, Hw&) { p.table.max_on_per_day = hours{12} + Millis{1}; }},
      {"floods an hour are few", [](Plan& p, Hw&) { p.table.max_floods_per_hour = 7; }},
      {"a fill ends in half an hour", [](Plan& p, Hw&) { p.table.fill_limit = seconds{1801}; }},
      {"a fill has the time that its water takes",
       [](Plan& p, Hw&) { p.table.fill_limit = seconds{100}; }},
      {"no soak is over an hour", [](Plan& p, Hw&) { p.table.soak_limit = seconds{3601}; }},
      {"a tray must be empty within two hours",
       [](Plan& p, Hw&) { p.table.drain_limit = seconds{7201}; }},
      {"floods keep a gap", [](Plan& p, Hw&) { p.table.min_gap = seconds{299}; }},
      {"a flood fits the tray", [](Plan& p, Hw&) { p.table.flood_volume = Litres{45.1}; }},
      {"a full reservoir has a flood over its minimum",
       [](Plan& p, Hw&) { p.table.reservoir_minimum = Litres{31.1}; }},
      {"the pump's flow is a pump's",
       [](Plan& p, Hw&) { p.table.pump_l_per_h = std::numeric_limits<double>::quiet_NaN(); }},
      {"roots wait an hour at least and three days at most",
       [](Plan& p, Hw&) { p.table.dry_out = hours{73}; }},
      {"the light is shed before 45 C", [](Plan& p, Hw&) { p.climate.shed_above = Celsius{45.1}; }},
      {"thresholds stand apart and within the band",
       [](Plan& p, Hw&) { p.climate.hysteresis = 0.51; }},
      {"margins are small", [](Plan& p, Hw&) { p.climate.leaf_offset = Celsius{-5.1}; }},
      {"a tent and its devices have sizes",
       [](Plan& p, Hw&) { p.climate.tent_m3 = std::numeric_limits<double>::infinity(); }},
      {"no soak is over the soak limit",
       [](Plan& p, Hw&) { floods(p).soak = p.table.soak_limit + Millis{1}; }},
      {"a flood's pump time is in its budget",
       [](Plan& p, Hw&) { p.table.max_on_per_flood = minutes{10}; }},
      {"a day's pump time is in its budget",
       [](Plan& p, Hw&) { p.table.max_on_per_day = minutes{40}; }},
      {"a day has 48 floods at most", [](Plan& p, Hw&) { floods(p).count = 49; }},
      {"floods by demand have an amount and bounds in order",
       [](Plan& p, Hw&) {
         floods(p).rule = SlotRule::by_demand;
         floods(p).demand_kpa_h = 3;
         floods(p).no_sooner = hours{5};
         floods(p).no_later = hours{4};
       }},
      {"each flood ends before the next", [](Plan& p, Hw&) { p.table.min_gap = hours{10}; }},
      {"floods are in the light",
       [](Plan& p, Hw&) {
         floods(p).rule = SlotRule::at_times;
         floods(p).times_s = {23 * 3600};
         p.programme.quiet.fitted = false;
       }},
      {"a depth fits under the standpipe", [](Plan& p, Hw&) { floods(p).litres = Litres{29.1}; }},
      {"a flood by float has its float", [](Plan& p, Hw&) { p.points[Point::tray_full].reset(); }},
      {"floods have a pump", [](Plan& p, Hw&) { p.outputs[Output::pump].reset(); }},
      {"a fallow stage is dark and dry",
       [](Plan& p, Hw&) { p.programme.stages.front().fallow = true; }},
      {"the light's day is a day",
       [](Plan& p, Hw&) { p.programme.stages.front().light_length_s = 86401; }},
      {"bands are bands",
       [](Plan& p, Hw&) { p.programme.stages.front().vpd_night.low = Kilopascal{0.9}; }},
      {"the air's limits stay under the shedding of the light",
       [](Plan& p, Hw&) { p.programme.stages.front().air_highest = Celsius{34}; }},
      {"a fixed safe state stays", [](Plan& p, Hw&) { output(p, Output::pump).safe = kRunning; }},
      {"levels are levels",
       [](Plan& p, Hw&) { output(p, Output::exhaust_fan).ceiling = Permille{1001}; }},
      {"what runs or stands takes no share",
       [](Plan& p, Hw&) { output(p, Output::dehumidifier).fallback = Permille{500}; }},
      {"no dwell holds water", [](Plan& p, Hw&) { output(p, Output::pump).min_on = Millis{1}; }},
      {"a compressor rests",
       [](Plan& p, Hw&) { output(p, Output::dehumidifier).min_off = seconds{119}; }},
      {"a dwell ends within the hour",
       [](Plan& p, Hw&) { output(p, Output::humidifier).min_on = seconds{3601}; }},
      {"a value lives from doubt to loss",
       [](Plan& p, Hw&) { p.points[Point::room_temperature]->bad_after = seconds{1}; }},
      {"what stops the pump is news",
       [](Plan& p, Hw&) { p.points[Point::leak_floor]->bad_after = seconds{61}; }},
      {"an offset corrects and does not make up",
       [](Plan& p, Hw&) { p.points[Point::canopy_humidity]->offset = -20.1; }},
      {"a pump has a leak probe",
       [](Plan& p, Hw&) {
         for (const Point point : {Point::leak_floor, Point::leak_rack, Point::leak_reservoir})
           p.points[point].reset();
       }},
      {"a pump has a sensor of its reservoir",
       [](Plan& p, Hw&) {
         p.points[Point::reservoir_level].reset();
         p.points[Point::reservoir_low].reset();
       }},
      {"a drain valve is the drain path, and the drain path is there",
       [](Plan& p, Hw&) { p.table.drain_path = DrainPath::drain_valve; }},
      {"what dries or mists has the air's readings",
       [](Plan& p, Hw&) { p.points[Point::canopy_humidity].reset(); }},
      {"a programme has stages, each with its own name",
       [](Plan& p, Hw&) { p.programme.stages[1].name = p.programme.stages[0].name; }},
      {"a late slot is late by hours at most",
       [](Plan& p, Hw&) { p.programme.slot_grace_s = 7201; }},
      {"every output and sensor has its driver", [](Plan&, Hw& hw) { hw.outputs.pop_back(); }},
      {"no two outputs share a wire",
       [](Plan&, Hw& hw) {
         for (std::size_t i : {0U, 1U}) {
           hw.outputs[i].driver = "level_file";
           hw.outputs[i].params.set("path", "class/leds/pump/brightness");
         }
       }},
      {"each point has one sensor",
       [](Plan&, Hw& hw) { hw.sensors.push_back(hw.sensors.front()); }},
      {"a simulated driver has a simulated tent", [](Plan&, Hw& hw) { hw.simulation.reset(); }},
  };
  return rows;
}

TEST(Ceilings, of_the_demo_are_kept) {
  const Loaded loaded = demo();
  for (const Breach& breach : breaches(loaded.plan, loaded.hardware))
    ADD_FAILURE() << breach.ceiling << ' ' << breach.where;
}

TEST(Ceilings, are_each_seen_when_broken) {
  for (const Spoil& spoil : spoils()) {
    Loaded loaded = demo();
    spoil.how(loaded.plan, loaded.hardware);
    const auto found = breaches(loaded.plan, loaded.hardware);
    EXPECT_TRUE(std::any_of(found.begin(), found.end(), [&](const Breach& breach) {
      return breach.ceiling == spoil.breaks;
    })) << spoil.breaks;
  }
}

TEST(Ceilings, are_all_broken_here) {
  for (const std::string_view name : ceiling_names())
    EXPECT_TRUE(std::any_of(spoils().begin(), spoils().end(), [&](const Spoil& spoil) {
      return spoil.breaks == name;
    })) << name;
}

}  // namespace
}  // namespace neap::settings
