#include "tests/campaign/drawn_settings.h"

#include <array>
#include <cstdio>

#include "tests/campaign/draw.h"

namespace neap::campaign {
namespace {

// Never two draws in one expression: their order would be the compiler's, and a seed another world.
std::string format(const char* text, double value) {
  std::array<char, 128> line{};
  std::snprintf(line.data(), line.size(), text, value);
  return line.data();
}

// When the floods are, but for their soak.
std::string times_of(Draw& draw, bool by_night, bool by_demand) {
  if (by_demand) {
    std::string text = format("by_demand: %.1f kPa h", draw.between(1, 4));
    text += format(", no_sooner: %.0f min", draw.between(150, 240));
    return text + format(", no_later: %.0f min, last_before: 2 h", draw.between(300, 600));
  }
  switch (draw.below(3)) {
    case 0:
      return format("spread: %.0f", draw.between(2, 6)) + ", first_after: 45 min, last_before: 2 h";
    case 1:
      return "after_lights_on: [45 min, 4 h, 8 h]";
    default:
      return by_night ? "at: [\"20:50\", \"02:30\", \"06:00\"]"
                      : "at: [\"07:45\", \"11:00\", \"16:00\"]";
  }
}

std::string floods_of(Draw& draw, bool valve, bool by_night, bool by_demand) {
  const double soak = draw.between(2, 15);
  const std::string how = times_of(draw, by_night, by_demand);
  std::string depth;
  if (valve && draw.chance(0.4)) depth = format(", depth: %.0f L", draw.between(12, 26));
  return "      floods: {" + how + format(", soak: %.0f min", soak) + depth + "}\n";
}

std::string laws_of(Draw& draw) {
  const double p = draw.between(0, 1);
  return p < 0.02 ? "predictive" : p < 0.15 ? "rule" : p < 0.25 ? "fixed_fan" : "two_position";
}

struct Fitted {
  bool level, tray_wet, tray_high, rack, reservoir_probe, proof, dehumidifier, humidifier,
      second_contact, air_proof, supply, rail, hand_switch, button;
  bool heater, chiller;
};

// What tempers the water is drawn in a channel of its own.
Fitted fitted_of(Draw& draw, Draw& water) {
  Fitted f{draw.chance(0.8), draw.chance(0.6), draw.chance(0.8),  draw.chance(0.5),
           draw.chance(0.5), draw.chance(0.6), draw.chance(0.7),  draw.chance(0.4),
           draw.chance(0.4), draw.chance(0.5), draw.chance(0.5),  draw.chance(0.5),
           draw.chance(0.5), draw.chance(0.5), water.chance(0.2), water.chance(0.15)};
  f.second_contact = f.second_contact && f.proof;
  return f;
}

std::string sensors_text(const Fitted& f, int air_every_s) {
  std::string text = "sensors:\n  canopy:\n    driver: simulated_air\n    with: {place: canopy}\n";
  text += format("    every: %.0f s\n", air_every_s);
  if (f.rail) text += "    on_rail: true\n";
  text +=
      "    points: {temperature: canopy.temperature, humidity: canopy.humidity}\n"
      "    frozen_after: 30 min\n"
      "  room:\n    driver: simulated_air\n    with: {place: room}\n    every: 30 s\n"
      "    points: {temperature: room.temperature, humidity: room.humidity}\n";
  if (f.level)
    text +=
        "  reservoir:\n    driver: simulated_level\n    every: 10 s\n"
        "    points: {level: reservoir.level}\n";
  if (f.heater || f.chiller)
    text +=
        "  solution:\n    driver: simulated_solution\n    every: 10 s\n"
        "    points: {temperature: solution.temperature}\n";
  text +=
      "  contacts:\n    driver: simulated_contacts\n    every: 10 s\n    points:\n"
      "      tray_full: tray.full\n      reservoir_low: reservoir.low\n"
      "      leak_floor: leak.floor\n";
  if (f.tray_high) text += "      tray_high: tray.high\n";
  if (f.tray_wet) text += "      tray_wet: tray.wet\n";
  if (f.rack) text += "      leak_rack: leak.rack\n";
  if (f.reservoir_probe) text += "      leak_reservoir: leak.reservoir\n";
  if (f.dehumidifier) text += "      bucket_full: bucket.full\n";
  if (f.air_proof) text += "      air_pump_running: air_pump.running\n";
  if (f.supply) text += "      board_undervoltage: board.undervoltage\n";
  if (f.button)
    text +=
        "  button:\n    driver: simulated_contacts\n    every: 1 s\n"
        "    points: {button_pressed: button.pressed}\n";
  if (f.proof)
    text +=
        "  proof:\n    driver: simulated_contacts\n    every: 1 s\n"
        "    points: {pump_running: pump.running" +
        std::string(f.hand_switch ? ", pump_auto: pump.auto" : "") + "}\n";
  return text;
}

std::string outputs_text(const Fitted& f, bool valve) {
  std::string text =
      "outputs:\n  pump: {driver: simulated}\n  air_pump: {driver: simulated}\n"
      "  exhaust_fan: {driver: simulated, variable: true, floor: 20 %, fallback: 40 %}\n"
      "  circulation_fan: {driver: simulated, variable: true, floor: 30 %}\n"
      "  light: {driver: simulated, variable: true}\n";
  if (f.dehumidifier)
    text +=
        "  dehumidifier: {driver: simulated, min_on: 5 min, min_off: 5 min, starts_per_hour: 6}\n";
  if (f.humidifier) text += "  humidifier: {driver: simulated, min_on: 1 min, min_off: 1 min}\n";
  if (valve) text += "  drain_valve: {driver: simulated}\n";
  if (f.second_contact) text += "  pump_series: {driver: simulated}\n";
  if (f.rail) text += "  sensor_rail: {driver: simulated}\n";
  if (f.heater) text += "  water_heater: {driver: simulated}\n";
  if (f.chiller) text += "  water_chiller: {driver: simulated, min_on: 3 min, min_off: 3 min}\n";
  if (f.button) text += "  lamp: {driver: simulated}\n  buzzer: {driver: simulated}\n";
  return text;
}

// The stage's band of the water: its edges far enough from what the room makes of it.
std::string water_text(const Fitted& f, Draw& water) {
  if (!f.heater && !f.chiller) return "";
  const double low = f.heater ? water.between(15, 19) : 5;
  const double high = f.chiller ? water.between(20.5, 23) : 33;
  return format("      water: %.1f", low) + format("..%.1f C\n", high);
}

std::string appliances_text(const Fitted& f) {
  return std::string(f.heater ? "    water_heater_w: 200\n" : "") +
         (f.chiller ? "    water_chiller_w: 250\n" : "");
}

}  // namespace

std::string settings_text(std::uint64_t seed, const char* plan, bool calm) {
  Draw grow(seed, plan);
  Draw draw(seed, "settings");
  Draw water(seed, "water");
  const bool valve = draw.chance(0.3);
  const Fitted f = fitted_of(draw, water);
  std::string text = "neap: 1\nname: campaign\nmode: control\ntime_zone: ";
  text += draw.chance(0.5) ? "Europe/Brussels" : "Etc/UTC";
  text +=
      "\ntent: {volume: 1.9 m3, exhaust_flow: 150 m3/h, leaf_offset: -1.4 K, "
      "shed_light_above: 34 C}\ntable:\n  name: table\n";
  text += valve ? "  drain_path: drain_valve\n" : "  drain_path: through_pump\n";
  text +=
      "  tray_capacity: 45 L\n  flood_volume: 29 L\n  reservoir_capacity: 95 L\n"
      "  reservoir_minimum: 12 L\n  pump_flow: 600 L/h\n  fill_limit: 6 min\n"
      "  soak_limit: 20 min\n  drain_limit: 25 min\n  min_gap: 40 min\n";
  text += format("  pump_budget: {per_flood: 25 min, per_hour: %.0f min, ", grow.between(40, 60));
  text += format("per_day: %.0f min, floods_per_hour: 2}\n", grow.between(150, 240));
  if (f.level && (f.heater || f.chiller))
    text += format("water: {covered_at: %.0f L}\n", water.between(15, 32));
  text += "climate:\n  law: " + laws_of(draw) + "\n";
  text += f.dehumidifier ? "  dehumidifier_in: tent\n" : "";
  const bool by_night = draw.chance(0.25);
  text += "programme:\n  start: 2026-02-20\n";
  if (!by_night) text += "  quiet_hours: {from: \"22:30\", to: \"06:30\"}\n";
  text += "  stages:\n    - name: growing\n";
  text += by_night ? "      lights_on: \"20:00\"\n" : "      lights_on: \"06:00\"\n";
  text += format("      light: %.0f h\n", grow.between(12, 16));
  text +=
      "      vpd_day: 0.7..1.1 kPa\n      vpd_night: 0.5..0.9 kPa\n      air: 12..29 C\n"
      "      humidity_ceiling: 88 %\n";
  text += water_text(f, water);
  text += floods_of(grow, valve, by_night, water.chance(0.15));
  text += outputs_text(f, valve) + sensors_text(f, 10 * (1 + draw.below(6)));
  text += format("simulation:\n  seed: %.0f\n  parameters:\n", static_cast<double>(seed % 100000));
  text += format("    leaf_area_index: %.2f\n", draw.between(0.5, 4));
  text += format("    building_c: %.1f\n", draw.between(17, 25));
  text += format("    building_w_g_kg: %.1f\n", draw.between(5, 12));
  text += "    reservoir_capacity_l: 95\n";
  // A few litres over what a flood and the pump's minimum need, where a week without a refill is to
  // be felt; and enough of them where nothing may be.
  const double full = calm ? draw.between(56, 65) : draw.between(48, 60);
  text += format("    reservoir_start_l: %.0f\n", full) +
          format("    refill_below_l: %.0f\n", full - 2);
  if (valve) text += "    drain_path: 2\n";
  text += appliances_text(f);
  return text + "end: true\n";
}

}  // namespace neap::campaign
