#include "tests/bench/climate/scenarios.h"

#include <algorithm>
#include <array>
#include <cstdio>
#include <map>

#include "daemon/core/psychrometrics.h"

namespace neap::arena {
namespace {

// Lines are indented as they stand in the file.
constexpr std::string_view kTwelve = R"(      lights_on: "06:00"
      light: 12 h
)";
constexpr std::string_view kSixteen = R"(      lights_on: "06:00"
      light: 16 h
)";
constexpr std::string_view kBand = R"(      vpd_day: 0.8..1.2 kPa
      vpd_night: 0.8..1.2 kPa
)";
constexpr std::string_view kApart = R"(      vpd_day: 0.8..1.2 kPa
      vpd_night: 0.5..0.9 kPa
)";
constexpr std::string_view kFloods =
    "      floods: {spread: 4, first_after: 45 min, last_before: 2 h, soak: 10 min}\n";
constexpr std::string_view kLimits = "      air: 15..30 C\n      humidity_ceiling: 85 %\n";

constexpr std::string_view kFan = R"(  exhaust_fan:
    driver: simulated
    variable: true
    floor: 20 %
)";
constexpr std::string_view kPlainFan = R"(  exhaust_fan:
    driver: simulated
    min_on: 1 min
    min_off: 1 min
)";
constexpr std::string_view kCompressor = R"(  dehumidifier:
    driver: simulated
    min_on: 5 min
    min_off: 5 min
    starts_per_hour: 6
)";
constexpr std::string_view kGentle = R"(  dehumidifier:
    driver: simulated
    min_on: 10 min
    min_off: 10 min
    starts_per_hour: 3
)";
constexpr std::string_view kPeltier = R"(  dehumidifier:
    driver: simulated
    min_on: 1 min
    min_off: 1 min
)";
constexpr std::string_view kHumidifier = R"(  humidifier:
    driver: simulated
    min_on: 30 s
    min_off: 30 s
)";

constexpr Scenario::Believed kInTent{};
constexpr Scenario::Believed kInRoom{1.9, 150, true, 8, 250, false, false};
constexpr Scenario::Believed kPeltierInTent{1.9, 150, false, 0.35, 250, false, true};
constexpr Scenario::Believed kLeafBand{1.9, 150, false, 3.5, 250, true, false};

std::string join(std::initializer_list<std::string_view> parts) {
  std::string text;
  for (const std::string_view part : parts) text += part;
  return text;
}

std::string parameters(const std::map<std::string, double>& values) {
  std::string text;
  std::array<char, 96> line{};
  for (const auto& [name, value] : values) {
    std::snprintf(line.data(), line.size(), "    %s: %.6g\n", name.c_str(), value);
    text += line.data();
  }
  return text;
}

const std::string kStage = join({kSixteen, kBand, kLimits, kFloods});
const std::string kStageApart = join({kSixteen, kApart, kLimits, kFloods});

std::vector<Scenario> the_ten() {
  const auto both = [](std::string_view dryer) { return join({kFan, dryer}); };
  return {
      {"S1", "mild room, compressor in the tent", Group::ten, true, kInTent, kStage,
       both(kCompressor), "",
       parameters({{"building_c", 21},
                   {"building_w_g_kg", 7},
                   {"room_air_changes_h", 1.5},
                   {"dehumidifier_l_per_day", 3.5}})},
      {"S2", "humid summer, weak fan", Group::ten, true, kInTent, kStage, both(kCompressor), "",
       parameters({{"building_c", 26},
                   {"building_w_g_kg", 13.5},
                   {"fan_max_m3h", 130},
                   {"dehumidifier_l_per_day", 3.2}})},
      {"S3", "dry winter, humidifier", Group::ten, true, kInTent, kStage, join({kFan, kHumidifier}),
       "",
       parameters({{"building_c", 20},
                   {"building_w_g_kg", 3},
                   {"leaf_area_index", 0.8},
                   {"humidifier_g_per_h", 300}})},
      {"S4", "cold basement, dehumidifier in the room", Group::ten, true, kInRoom, kStage,
       both(kCompressor), "",
       parameters({{"building_c", 15},
                   {"building_w_g_kg", 7.4},
                   {"room_volume_m3", 40},
                   {"dehumidifier_in_room", 1},
                   {"dehumidifier_l_per_day", 8},
                   {"dehumidifier_l_per_kwh", 1.4}})},
      {"S5", "hot attic, humidifier, compressor in the tent", Group::ten, true, kInTent, kStage,
       join({kFan, kCompressor, kHumidifier}), "",
       parameters({{"building_c", 27},
                   {"building_swing_c", 5.5},
                   {"building_w_g_kg", 10},
                   {"humidifier_g_per_h", 300},
                   {"dehumidifier_l_per_day", 3.7}})},
      {"S6", "big canopy, 12 h light, dehumidifier in the room", Group::ten, true, kInRoom,
       join({kTwelve, kBand, kLimits, kFloods}), both(kCompressor), "",
       parameters({{"leaf_area_index", 5},
                   {"room_air_changes_h", 0.7},
                   {"building_w_g_kg", 8},
                   {"building_c", 21},
                   {"dehumidifier_in_room", 1},
                   {"dehumidifier_l_per_day", 8},
                   {"dehumidifier_l_per_kwh", 1.4}})},
      {"S7", "seedlings, low band, humidifier", Group::ten, true, kInTent,
       join({kSixteen, "      vpd_day: 0.4..0.8 kPa\n      vpd_night: 0.4..0.8 kPa\n", kLimits,
             "      floods: {spread: 2, first_after: 45 min, last_before: 2 h, soak: 5 min}\n"}),
       join({kFan, kHumidifier}), "",
       parameters({{"building_c", 21},
                   {"building_w_g_kg", 7},
                   {"leaf_area_index", 0.15},
                   {"light_w", 80},
                   {"humidifier_g_per_h", 200}})},
      {"S8", "ten floods a day from warm water, open tray", Group::ten, true, kInTent,
       join({kSixteen, kBand, kLimits,
             "      floods: {spread: 10, first_after: 45 min, last_before: 90 min, "
             "soak: 14 min}\n"}),
       both(kCompressor), "",
       parameters({{"building_c", 21},
                   {"building_w_g_kg", 7},
                   {"room_air_changes_h", 1.5},
                   {"splash_factor", 4},
                   {"medium_open_wet", 1},
                   {"dehumidifier_l_per_day", 3.5},
                   {"water_heater_w", 150},
                   {"water_heater_c", 25}})},
      {"S9", "slow and noisy probes", Group::ten, true, kInTent, kStage, both(kCompressor), "",
       parameters({{"building_c", 23},
                   {"building_w_g_kg", 10.5},
                   {"sensor_noise_c", 0.3},
                   {"sensor_noise_pct", 2},
                   {"sensor_lag_temperature_s", 240},
                   {"sensor_lag_humidity_s", 120},
                   {"sensor_mixing_s", 60},
                   {"sensor_dropout", 0.02},
                   {"canopy_humidity_bias_pct", 2},
                   {"dehumidifier_l_per_day", 3.5}})},
      {"S10", "Peltier dehumidifier in a humid room", Group::ten, true, kPeltierInTent, kStage,
       both(kPeltier), "",
       parameters({{"building_c", 23.5},
                   {"building_w_g_kg", 12.3},
                   {"leaf_area_index", 3},
                   {"dehumidifier_l_per_day", 0.35},
                   {"dehumidifier_l_per_kwh", 0.22},
                   {"dehumidifier_kind", 1}})},
      {"S11", "S2 without a dehumidifier", Group::infeasible, false, kInTent, kStage,
       std::string(kFan), "",
       parameters({{"building_c", 26}, {"building_w_g_kg", 13.5}, {"fan_max_m3h", 130}})},
      {"S12", "S3 without a humidifier", Group::infeasible, false, kInTent, kStage,
       std::string(kFan), "",
       parameters({{"building_c", 20}, {"building_w_g_kg", 3}, {"leaf_area_index", 0.8}})},
  };
}

std::vector<Scenario> our_own() {
  const std::map<std::string, double> closed{{"room_volume_m3", 12},
                                             {"room_air_changes_h", 0.4},
                                             {"building_c", 20},
                                             {"building_w_g_kg", 8}};
  const auto with = [](std::map<std::string, double> base, std::map<std::string, double> more) {
    base.merge(more);
    return parameters(base);
  };
  return {
      {"R1", "small closed room, dehumidifier in the room", Group::own, true, kInRoom, kStageApart,
       join({kFan, kCompressor}), "",
       with(closed, {{"dehumidifier_in_room", 1},
                     {"dehumidifier_l_per_day", 8},
                     {"dehumidifier_l_per_kwh", 1.4}})},
      {"R2", "small closed room, exhaust ducted out", Group::own, true, kInTent, kStageApart,
       join({kFan, kCompressor}), "",
       with(closed, {{"exhaust_ducted_out", 1}, {"dehumidifier_l_per_day", 3.5}})},
      {"R3", "humid summer, day and night apart", Group::own, true, kInTent, kStageApart,
       join({kFan, kCompressor}), "",
       parameters({{"building_c", 26},
                   {"building_w_g_kg", 13.5},
                   {"fan_max_m3h", 130},
                   {"dehumidifier_l_per_day", 3.2}})},
      {"R4", "humid summer, gentler compressor", Group::own, true, kInTent, kStage,
       join({kFan, kGentle}), "",
       parameters({{"building_c", 26},
                   {"building_w_g_kg", 13.5},
                   {"fan_max_m3h", 130},
                   {"dehumidifier_l_per_day", 3.2}})},
      {"R5", "late fruiting, humidity at most 72 %", Group::own, true, kInTent,
       join({kTwelve, kApart, "      air: 12..28 C\n      humidity_ceiling: 72 %\n", kFloods}),
       join({kFan, kCompressor}), "",
       parameters({{"building_c", 22}, {"building_w_g_kg", 9.5}, {"dehumidifier_l_per_day", 3.5}})},
      {"R6", "fan without speeds", Group::own, true, kInTent, kStageApart,
       join({kPlainFan, kCompressor}), "",
       parameters({{"building_c", 21},
                   {"building_w_g_kg", 8},
                   {"fan_max_m3h", 120},
                   {"dehumidifier_l_per_day", 2}})},
      {"R7", "quiet nights, fan at most 40 %", Group::own, true, kInTent, kStageApart,
       join({kFan, "    quiet_ceiling: 40 %\n", kCompressor}),
       "  quiet_hours: {from: \"22:30\", to: \"06:30\"}\n",
       parameters({{"building_c", 22}, {"building_w_g_kg", 9}, {"dehumidifier_l_per_day", 2}})},
      {"R8", "band of the leaf", Group::own, true, kLeafBand,
       join({kSixteen, "      vpd_day: 0.5..0.9 kPa\n      vpd_night: 0.4..0.8 kPa\n", kLimits,
             kFloods}),
       join({kFan, kCompressor}), "",
       parameters({{"building_c", 22}, {"building_w_g_kg", 9}, {"dehumidifier_l_per_day", 2}})},
  };
}

// SplitMix64 (Steele, Lea, Flood 2014): the same numbers on every machine.
class Draw {
 public:
  explicit Draw(std::uint64_t seed) : state_(seed) {}
  double between(double low, double high) {
    state_ += 0x9e3779b97f4a7c15u;
    std::uint64_t z = state_;
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    z ^= z >> 31;
    return low + (high - low) * (static_cast<double>(z >> 11) * 0x1.0p-53);
  }
  bool chance(double part) { return between(0, 1) < part; }

 private:
  std::uint64_t state_;
};

// Humidity ratio at 101.325 kPa.
double grams_per_kilogram(double celsius, double percent) {
  const double e = vapour_pressure(Celsius{celsius}, PercentRh{percent})->value;
  return 622 * e / (101.325 - e);
}

std::string text_of(const char* format, double value) {
  std::array<char, 96> line{};
  std::snprintf(line.data(), line.size(), format, value);
  return line.data();
}

}  // namespace

std::span<const Scenario> scenarios() {
  static const std::vector<Scenario> all = [] {
    std::vector<Scenario> rows = the_ten();
    for (Scenario& row : our_own()) rows.push_back(std::move(row));
    return rows;
  }();
  return all;
}

const Scenario* find_scenario(std::string_view id) {
  const auto all = scenarios();
  const auto found =
      std::find_if(all.begin(), all.end(), [&](const Scenario& row) { return row.id == id; });
  return found == all.end() ? nullptr : &*found;
}

Scenario random_tent(std::uint64_t number) {
  Draw draw(number);
  Scenario tent;
  tent.id = "T" + std::to_string(number);
  tent.what = "random tent";
  tent.group = Group::random;
  std::map<std::string, double> p;
  const double floor = draw.between(0.6, 1.5);
  p["floor_area_m2"] = floor;
  p["tent_volume_m3"] = floor * draw.between(1.7, 2.1);
  p["wall_area_m2"] = 8.6 * floor;
  p["tray_area_m2"] = 0.64;
  p["leaf_area_index"] = draw.between(0.3, 5);
  p["light_w"] = floor * draw.between(80, 220);
  p["fan_max_m3h"] = draw.between(90, 220);
  p["leakage_m3h"] = draw.between(2, 9);
  p["surface_heat_kj_k"] = draw.between(12, 30);
  p["building_c"] = draw.between(16, 26);
  p["building_swing_c"] = draw.between(0.5, 3);
  const double percent = draw.between(30, 65);
  p["building_w_g_kg"] = grams_per_kilogram(p["building_c"], percent);
  p["room_volume_m3"] = draw.between(15, 45);
  p["room_air_changes_h"] = draw.between(0.5, 3);
  p["splash_factor"] = draw.between(1.2, 4);
  p["medium_open_wet"] = draw.between(0.4, 1);
  p["sensor_lag_temperature_s"] = draw.between(20, 180);
  p["sensor_lag_humidity_s"] = draw.between(10, 90);
  p["sensor_noise_c"] = draw.between(0.03, 0.2);
  p["sensor_noise_pct"] = draw.between(0.2, 1.5);
  p["canopy_humidity_bias_pct"] = draw.between(-1.5, 1.5);
  const bool in_room = draw.chance(0.35);
  p["dehumidifier_in_room"] = in_room ? 1 : 0;
  p["dehumidifier_l_per_day"] = in_room ? draw.between(6, 12) : floor * draw.between(1.2, 4);
  p["humidifier_g_per_h"] = draw.between(150, 400);
  const double wrong_flow = draw.between(0.75, 1.25);
  const double wrong_drying = draw.between(0.75, 1.25);
  tent.parameters = parameters(p);
  tent.believed = {p["tent_volume_m3"],
                   p["fan_max_m3h"] * wrong_flow,
                   in_room,
                   p["dehumidifier_l_per_day"] * wrong_drying,
                   p["humidifier_g_per_h"] * wrong_drying,
                   false,
                   false};
  tent.stage = draw.chance(0.5) ? kStage : kStageApart;
  tent.outputs = join({kFan, kCompressor, kHumidifier});
  return tent;
}

std::string settings_text(const Scenario& s, std::uint64_t seed, const Beliefs& beliefs) {
  const Scenario::Believed& b = s.believed;
  std::string text = R"(neap: 1
name: arena
mode: control
time_zone: Etc/UTC
tent:
  leaf_offset: -1.4 K
  dew_point_margin: 2 K
  shed_light_above: 36 C
)";
  text += text_of("  volume: %.2f m3\n", b.tent_m3);
  text += text_of("  exhaust_flow: %.0f m3/h\n", b.flow_m3_per_h * beliefs.flow);
  text += b.leaf_band ? "  vpd_of: leaf\n" : "  vpd_of: air\n";
  text += R"(table:
  name: table
  drain_path: through_pump
  tray_capacity: 45 L
  flood_volume: 29 L
  reservoir_capacity: 140 L
  reservoir_minimum: 12 L
  pump_flow: 600 L/h
  fill_limit: 6 min
  soak_limit: 20 min
  drain_limit: 25 min
  min_gap: 40 min
  pump_budget: {per_flood: 25 min, per_hour: 40 min, per_day: 5 h, floods_per_hour: 2}
climate:
)";
  text += b.dehumidifier_in_room ? "  dehumidifier_in: room\n" : "  dehumidifier_in: tent\n";
  if (b.peltier) text += "  dehumidifier_kind: peltier\n";
  text += text_of("  dehumidifier_capacity: %.3f L/d\n", b.drying_l_per_day * beliefs.drying);
  text += text_of("  humidifier_output: %.0f mL/h\n", b.mist_ml_per_h);
  text += "programme:\n  start: 2026-03-02\n" + s.quiet + "  stages:\n    - name: bench\n";
  text += s.stage;
  text +=
      "outputs:\n  pump: {driver: simulated}\n  light: {driver: simulated, variable: true}\n"
      "  circulation_fan: {driver: simulated}\n";
  text += s.outputs;
  text += R"(sensors:
  canopy: {driver: simulated_air, with: {place: canopy}, every: 10 s,
           points: {temperature: canopy.temperature, humidity: canopy.humidity}}
  room: {driver: simulated_air, with: {place: room}, every: 30 s,
         points: {temperature: room.temperature, humidity: room.humidity}}
  reservoir: {driver: simulated_level, every: 10 s, points: {level: reservoir.level}}
  contacts:
    driver: simulated_contacts
    every: 1 s
    points: {tray_full: tray.full, tray_high: tray.high, reservoir_low: reservoir.low,
             leak_floor: leak.floor}
simulation:
  seed: )";
  text += std::to_string(seed) +
          "\n  parameters:\n    reservoir_capacity_l: 140\n    reservoir_start_l: 90\n";
  text += s.parameters;
  return text + "end: true\n";
}

}  // namespace neap::arena
