#include "drivers/simulated/parameters.h"

#include <cmath>
#include <cstdio>

namespace neap::drivers::simulated {
namespace {

std::string shown(double value) {
  std::array<char, 32> text{};
  std::snprintf(text.data(), text.size(), "%g", value);
  return text.data();
}

const ParameterInfo* find(std::string_view name) {
  for (const ParameterInfo& row : kParameters)
    if (row.name == name) return &row;
  return nullptr;
}

std::string set_one(Parameters& into, std::string_view name, double value) {
  const ParameterInfo* row = find(name);
  if (row == nullptr)
    return "simulation.parameters: the simulated tent has no parameter '" + std::string(name) +
           "'; config/reference.yaml lists those it has";
  if (!std::isfinite(value) || value < row->lowest || value > row->highest)
    return "simulation.parameters: " + std::string(name) + " is " + shown(value) + "; must be " +
           shown(row->lowest) + " to " + shown(row->highest) + (row->unit.empty() ? "" : " ") +
           std::string(row->unit);
  into.*row->member = value;
  return {};
}

// Pairs of which the first must stay below the second, or the tent would contradict itself.
struct Order {
  std::string_view lower;
  std::string_view upper;
};
constexpr std::array kOrders{
    Order{"tray_wet_mm", "tray_full_mm"},         Order{"tray_full_mm", "standpipe_height_mm"},
    Order{"standpipe_height_mm", "tray_high_mm"}, Order{"tray_high_mm", "tray_rim_mm"},
    Order{"pump_lift_m", "pump_shutoff_m"},       Order{"pump_intake_l", "reservoir_start_l"},
    Order{"refill_below_l", "reservoir_start_l"},
};

std::string contradiction(const Parameters& p) {
  for (const Order& order : kOrders) {
    const double lower = p.*find(order.lower)->member;
    const double upper = p.*find(order.upper)->member;
    if (lower < upper) continue;
    return "simulation.parameters: " + std::string(order.lower) + " is " + shown(lower) + " and " +
           std::string(order.upper) + " is " + shown(upper) +
           "; the first must be less: change either";
  }
  if (p.reservoir_start_l > p.reservoir_capacity_l)
    return "simulation.parameters: reservoir_start_l is " + shown(p.reservoir_start_l) +
           ", more than reservoir_capacity_l " + shown(p.reservoir_capacity_l) +
           "; start with less or enlarge the reservoir";
  // One step is 1 s and explicit: the air may not change hands within it.
  const double exchanged = 1.2 * 1006 * p.fan_max_m3h / 3600 +
                           p.wall_inside_w_m2k * p.wall_area_m2 +
                           3 * p.floor_area_m2 * 1207 / p.leaf_resistance_s_m;
  if (exchanged > 0.8 * 1.2 * 1006 * p.tent_volume_m3)
    return "simulation.parameters: tent_volume_m3 is " + shown(p.tent_volume_m3) +
           "; too little air for this fan, walls and canopy: enlarge it or lessen fan_max_m3h";
  if (p.light_radiant + p.light_convective > 1)
    return "simulation.parameters: light_radiant and light_convective add up to " +
           shown(p.light_radiant + p.light_convective) + "; they are parts of one: at most 1";
  if (p.water_heater_w > 0 && p.water_chiller_w > 0 && p.water_chiller_c - p.water_heater_c < 1)
    return "simulation.parameters: water_heater_c is " + shown(p.water_heater_c) +
           " and water_chiller_c is " + shown(p.water_chiller_c) +
           "; heater and chiller would work against each other: keep them 1 K apart or more";
  for (const std::string_view name :
       {"dehumidifier_in_room", "dehumidifier_kind", "water_chiller_in_room", "exhaust_ducted_out",
        "drain_path"}) {
    const double value = p.*find(name)->member;
    if (value != std::floor(value))
      return "simulation.parameters: " + std::string(name) + " is " + shown(value) +
             "; a choice: a whole number";
  }
  return {};
}

}  // namespace

Parameters parameters_from(const std::map<std::string, double, std::less<>>& settings,
                           std::string& error) {
  Parameters result = default_parameters();
  error.clear();
  for (const auto& [name, value] : settings) {
    error = set_one(result, name, value);
    if (!error.empty()) return result;
  }
  error = contradiction(result);
  return result;
}

}  // namespace neap::drivers::simulated
