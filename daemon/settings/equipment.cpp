#include "daemon/settings/equipment.h"

#include <yaml-cpp/yaml.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>

#include "drivers/simulated/parameters.h"

namespace neap::settings {
namespace {

constexpr const char* kSimulated = "simulated";
// Litres of water per kWh: a small compressor in a tent, a larger one in a room (labels of makers;
// no source).
constexpr double kTentLitresPerKwh = 1.15;
constexpr double kRoomLitresPerKwh = 1.4;

std::string figure(double value) {
  std::array<char, 40> text{};
  std::snprintf(text.data(), text.size(), "%.6g", value);
  return text.data();
}
std::string with_unit(double value, const char* unit) { return figure(value) + " " + unit; }

double parameter(const Loaded& loaded, std::string_view name) {
  const auto& given = loaded.hardware.simulation->parameters;
  if (const auto found = given.find(name); found != given.end()) return found->second;
  const auto row =
      std::find_if(drivers::simulated::kParameters.begin(), drivers::simulated::kParameters.end(),
                   [&](const auto& each) { return each.name == name; });
  return row->fallback;
}

// Emitted with its keys in their order, so that `end` stays last.
std::string text_of(const YAML::Node& root) {
  YAML::Emitter out;
  out << root;
  return std::string(out.c_str()) + "\n";
}

void fit(YAML::Node outputs, const char* output, bool fitted, const YAML::Node& usual) {
  if (!fitted) {
    outputs.remove(output);
  } else if (!outputs[output]) {
    outputs[output] = usual;
  }
}

YAML::Node usual_compressor() {
  YAML::Node node;
  node["driver"] = kSimulated;
  node["min_on"] = node["min_off"] = "5 min";
  node["starts_per_hour"] = "6";
  return node;
}

YAML::Node usual_humidifier() {
  YAML::Node node;
  node["driver"] = kSimulated;
  node["min_on"] = node["min_off"] = "30 s";
  return node;
}

void believe(YAML::Node root, const Equipment& equipment) {
  root["tent"]["exhaust_flow"] = with_unit(equipment.fan_m3_per_h, "m3/h");
  YAML::Node climate = root["climate"];
  if (equipment.drying_l_per_day) {
    climate["dehumidifier_in"] = equipment.place == DehumidifierPlace::room ? "room" : "tent";
    climate["dehumidifier_kind"] = "compressor";
    climate["dehumidifier_capacity"] = with_unit(*equipment.drying_l_per_day, "L/d");
  }
  if (equipment.mist_ml_per_h)
    climate["humidifier_output"] = with_unit(*equipment.mist_ml_per_h, "mL/h");
}

void make_true(YAML::Node parameters, const Equipment& equipment) {
  const bool in_room = equipment.place == DehumidifierPlace::room;
  parameters["fan_max_m3h"] = figure(equipment.fan_m3_per_h);
  if (equipment.drying_l_per_day) {
    parameters["dehumidifier_l_per_day"] = figure(*equipment.drying_l_per_day);
    parameters["dehumidifier_in_room"] = in_room ? "1" : "0";
    parameters["dehumidifier_kind"] = "0";
    parameters["dehumidifier_l_per_kwh"] = figure(in_room ? kRoomLitresPerKwh : kTentLitresPerKwh);
  }
  if (equipment.mist_ml_per_h) parameters["humidifier_g_per_h"] = figure(*equipment.mist_ml_per_h);
}

constexpr std::string_view kSimulatedSensors = R"(
canopy:
  driver: simulated_air
  with: {place: canopy}
  every: 10 s
  points: {temperature: canopy.temperature, humidity: canopy.humidity}
room:
  driver: simulated_air
  with: {place: room}
  every: 30 s
  points: {temperature: room.temperature, humidity: room.humidity}
reservoir: {driver: simulated_level, every: 10 s, points: {level: reservoir.level}}
contacts:
  driver: simulated_contacts
  every: 1 s
  points:
    tray_full: tray.full
    tray_high: tray.high
    reservoir_low: reservoir.low
    leak_floor: leak.floor
)";

}  // namespace

Equipment equipment_of(const Loaded& loaded) {
  const ClimatePlan& believed = loaded.plan.climate;
  const bool simulated = loaded.hardware.simulation.has_value();
  Equipment equipment;
  equipment.place = believed.dehumidifier_place;
  equipment.fan_m3_per_h = simulated ? parameter(loaded, "fan_max_m3h") : believed.fan_m3_per_h;
  if (loaded.plan.outputs[Output::dehumidifier])
    equipment.drying_l_per_day = simulated ? parameter(loaded, "dehumidifier_l_per_day")
                                           : believed.dehumidifier_g_per_h * 24 / 1000;
  if (loaded.plan.outputs[Output::humidifier])
    equipment.mist_ml_per_h =
        simulated ? parameter(loaded, "humidifier_g_per_h") : believed.humidifier_g_per_h;
  return equipment;
}

std::string with_equipment(std::string_view text, const Equipment& equipment) {
  YAML::Node root = YAML::Load(std::string(text));
  fit(root["outputs"], "dehumidifier", equipment.drying_l_per_day.has_value(), usual_compressor());
  fit(root["outputs"], "humidifier", equipment.mist_ml_per_h.has_value(), usual_humidifier());
  const YAML::Node end = root["end"];
  root.remove("end");
  believe(root, equipment);
  root["simulation"].remove("faults");
  make_true(root["simulation"]["parameters"], equipment);
  root["end"] = end;
  return text_of(root);
}

std::string with_simulated_tent(const Loaded& loaded, const RoomAir& room) {
  YAML::Node root = YAML::Load(loaded.text);
  root["mode"] = "control";
  for (auto output : root["outputs"]) {
    output.second["driver"] = kSimulated;
    output.second.remove("with");
    output.second.remove("enable_pulse");
  }
  root["sensors"] = YAML::Load(std::string(kSimulatedSensors));
  root.remove("end");
  const double pressure = 0.6108 * std::exp(17.27 * room.celsius / (room.celsius + 237.3)) *
                          room.percent / 100;  // kPa, FAO-56 eq. 11
  YAML::Node parameters;
  parameters["reservoir_capacity_l"] = figure(loaded.plan.table.reservoir_capacity.value);
  parameters["reservoir_start_l"] = figure(0.8 * loaded.plan.table.reservoir_capacity.value);
  parameters["tent_volume_m3"] = figure(loaded.plan.climate.tent_m3);
  parameters["building_c"] = figure(room.celsius);
  parameters["building_w_g_kg"] = figure(621.945 * pressure / (101.325 - pressure));
  root["simulation"]["parameters"] = parameters;
  root["end"] = true;
  return with_equipment(text_of(root), equipment_of(loaded));
}

}  // namespace neap::settings
