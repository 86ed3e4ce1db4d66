// Rules of heater and chiller in the reservoir: what they are guarded by, and bands they can hold.
#include <algorithm>
#include <array>
#include <string>

#include "daemon/settings/advice.h"
#include "daemon/settings/checks.h"
#include "daemon/settings/value.h"

namespace neap::settings {
namespace {

constexpr std::array kDevices{Output::water_heater, Output::water_chiller};

std::string celsius(double value) { return format(Kind::temperature, value); }
std::string kelvin(double value) { return format(Kind::temperature_difference, value); }

const std::optional<Range>& band_of(const StagePlan& stage) {
  return stage.solution[static_cast<std::size_t>(Hand::temperature)];
}

void check_guards(const Draft& d, Report& report, Output output) {
  const std::string path = "outputs." + std::string(info(output).name);
  const auto has = [&](Point point) { return d.plan.points[point].has_value(); };
  const auto missing = [&](const std::string& points, const char* remedy) {
    report.add(
        d.place_of(path), path,
        "no sensor provides " + points + "; a " + std::string(info(output).title) + " must have it",
        remedy);
  };
  if (!has(Point::solution_temperature))
    missing("solution.temperature", "fit a thermometer in the reservoir and map it");
  if (!has(Point::reservoir_low) && !has(Point::reservoir_level))
    missing("reservoir.low or reservoir.level",
            "fit a low float above it: out of water a heater burns what it touches");
  if (!has(Point::leak_floor) && !has(Point::leak_rack) && !has(Point::leak_reservoir))
    missing("leak.floor, leak.rack or leak.reservoir",
            "fit one on the floor at the lowest place: mains and spilled water do not go together");
}

void check_bands(const Draft& d, Report& report) {
  const WaterPlan& water = d.plan.water;
  const bool heater = d.plan.outputs[Output::water_heater].has_value();
  const bool both = heater && d.plan.outputs[Output::water_chiller];
  const double narrowest = water.differential.value * (both ? 2 : 1);
  for (std::size_t i = 0; i < d.plan.programme.stages.size(); ++i) {
    const auto& band = band_of(d.plan.programme.stages[i]);
    const std::string path = d.stage_paths[i] + ".water";
    if (!band || !d.is_sound(path)) continue;
    const std::string said = "water is " + format_number(band->low) + ".." + celsius(band->high);
    if (band->high - band->low < narrowest - 1e-9)
      report.add(d.place_of(path), path,
                 said + "; must be at least " + kelvin(narrowest) + " wide for " +
                     (both ? "heater and chiller, each with" : "a heater or chiller with") +
                     " the differential of " + kelvin(water.differential.value),
                 "widen the band, or write a smaller water.differential");
    else if (heater && Celsius{band->low} + water.differential >= water.hottest)
      report.add(d.place_of(path), path,
                 said + "; a heater would warm it to " +
                     celsius((Celsius{band->low} + water.differential).value) +
                     ", which must be under the water.hottest of " + celsius(water.hottest.value),
                 "lower the band, or raise water.hottest");
  }
}

void check_cover(const Draft& d, Report& report) {
  const std::string path = "water.covered_at";
  if (!d.plan.water.covered_at || !d.is_sound(path)) return;
  const Litres covered = *d.plan.water.covered_at;
  if (!d.plan.points[Point::reservoir_level])
    report.add(d.place_of(path), path,
               "covered_at is a level, and no sensor provides reservoir.level",
               "delete it and hang the float of reservoir.low above heater and chiller");
  else if (d.is_sound("table.reservoir_capacity") && covered >= d.plan.table.reservoir_capacity)
    report.add(d.place_of(path), path,
               "covered_at is " + format(Kind::volume, covered.value) +
                   "; must be under the reservoir_capacity of " +
                   format(Kind::volume, d.plan.table.reservoir_capacity.value),
               "hang heater and chiller lower");
}

}  // namespace

void check_tempered_water(const Draft& draft, Report& report) {
  bool any = false;
  for (const Output output : kDevices) {
    if (!draft.plan.outputs[output]) continue;
    any = true;
    check_guards(draft, report, output);
  }
  if (any && draft.is_sound("water.differential") && draft.is_sound("water.hottest"))
    check_bands(draft, report);
  check_cover(draft, report);
}

std::vector<Advice> advise(const Plan& plan) {
  std::vector<Advice> advice;
  for (const Output output : kDevices) {
    if (!plan.outputs[output]) continue;
    for (const StagePlan& stage : plan.programme.stages)
      if (!stage.fallow && !band_of(stage))
        advice.push_back({std::string(info(output).name),
                          "stays off in stage " + stage.name + ", which has no band \"water\"",
                          "write for example \"water: 18..22 C\" in the stage"});
  }
  return advice;
}

}  // namespace neap::settings
