// The points: every signal that neap knows by name, listed once. Settings map a driver's channel to
// a point; the journal stores the point's number, so numbers are written out and never reused.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <string_view>

namespace neap {

enum class Point : std::uint8_t {
  canopy_temperature = 1,
  canopy_humidity = 2,
  canopy_b_temperature = 3,
  canopy_b_humidity = 4,
  room_temperature = 5,
  room_humidity = 6,
  leaf_temperature = 7,
  solution_temperature = 8,
  solution_ph = 9,
  solution_ec = 10,
  reservoir_level = 11,
  reservoir_low = 12,
  tray_full = 13,
  tray_high = 14,
  tray_wet = 15,
  leak_floor = 16,
  leak_rack = 17,
  leak_reservoir = 18,
  pump_running = 19,
  bucket_full = 20,
  light_level = 21,
  outdoor_temperature = 22,
  outdoor_humidity = 23,
  board_undervoltage = 24,
  air_pump_running = 25,
  button_pressed = 29,
  pump_auto = 30,
  exhaust_fan_speed = 31,
  // Derived by the scan from the readings above; never provided by a driver.
  canopy_vpd = 32,
  leaf_vpd = 33,
  canopy_dew_point = 34,
  canopy_vapour_density = 35,
  room_vpd = 36,
  room_dew_point = 37,
};

enum class PointKind : std::uint8_t {
  analog,   // a number in the point's unit
  contact,  // a water contact or switch, see Contact
  derived,  // computed by the scan
};

// What a contact says. Stored and sent as this number. Water contacts are set while wet: tray.full
// at the standpipe's rim, tray.high above it, tray.wet at the tray's floor. reservoir.low is set
// while water lifts the float and clear when the reservoir is low, so that a broken wire withholds.
enum class Contact : std::uint8_t {
  clear = 0,   // dry, or switch open
  set = 1,     // wet, or switch closed
  damp = 2,    // a leak probe between dry and wet: condensation
  faulty = 3,  // wire open or short, where the probe has an end-of-line resistor
};

struct PointInfo {
  Point point;
  std::string_view name;   // canopy.temperature
  std::string_view title;  // for people: "canopy temperature"
  std::string_view unit;   // "C", "%", "kPa", "L", "mS/cm", "pH", "g/m3", "lx", "" for contacts
  PointKind kind;
  double lowest;  // physically possible; outside is bad, never clamped
  double highest;
  double quantum;   // the journal stores whole multiples of this
  double max_step;  // largest believable change in kStepWindow between good samples; 0 = any
};

inline constexpr std::array kPoints{
    PointInfo{Point::canopy_temperature, "canopy.temperature", "canopy temperature", "C",
              PointKind::analog, -20, 60, 0.01, 6},
    PointInfo{Point::canopy_humidity, "canopy.humidity", "canopy humidity", "%", PointKind::analog,
              0, 100, 0.01, 30},
    PointInfo{Point::canopy_b_temperature, "canopy_b.temperature", "second canopy temperature", "C",
              PointKind::analog, -20, 60, 0.01, 6},
    PointInfo{Point::canopy_b_humidity, "canopy_b.humidity", "second canopy humidity", "%",
              PointKind::analog, 0, 100, 0.01, 30},
    PointInfo{Point::room_temperature, "room.temperature", "room temperature", "C",
              PointKind::analog, -20, 60, 0.01, 6},
    PointInfo{Point::room_humidity, "room.humidity", "room humidity", "%", PointKind::analog, 0,
              100, 0.01, 30},
    PointInfo{Point::leaf_temperature, "leaf.temperature", "leaf temperature", "C",
              PointKind::analog, -20, 60, 0.01, 10},
    PointInfo{Point::solution_temperature, "solution.temperature", "solution temperature", "C",
              PointKind::analog, 0, 50, 0.01, 10},
    PointInfo{Point::solution_ph, "solution.ph", "solution pH", "pH", PointKind::analog, 0, 14,
              0.001, 0},
    PointInfo{Point::solution_ec, "solution.ec", "solution EC", "mS/cm", PointKind::analog, 0, 20,
              0.001, 0},
    PointInfo{Point::reservoir_level, "reservoir.level", "reservoir level", "L", PointKind::analog,
              0, 1000, 0.01, 0},
    PointInfo{Point::reservoir_low, "reservoir.low", "reservoir float", "", PointKind::contact, 0,
              3, 1, 0},
    PointInfo{Point::tray_full, "tray.full", "tray level float", "", PointKind::contact, 0, 3, 1,
              0},
    PointInfo{Point::tray_high, "tray.high", "tray overflow float", "", PointKind::contact, 0, 3, 1,
              0},
    PointInfo{Point::tray_wet, "tray.wet", "tray floor contact", "", PointKind::contact, 0, 3, 1,
              0},
    PointInfo{Point::leak_floor, "leak.floor", "leak probe on the floor", "", PointKind::contact, 0,
              3, 1, 0},
    PointInfo{Point::leak_rack, "leak.rack", "leak probe under the rack", "", PointKind::contact, 0,
              3, 1, 0},
    PointInfo{Point::leak_reservoir, "leak.reservoir", "leak probe by the reservoir", "",
              PointKind::contact, 0, 3, 1, 0},
    PointInfo{Point::pump_running, "pump.running", "pump proof", "", PointKind::contact, 0, 3, 1,
              0},
    PointInfo{Point::bucket_full, "bucket.full", "dehumidifier bucket", "", PointKind::contact, 0,
              3, 1, 0},
    PointInfo{Point::light_level, "light.level", "light level", "lx", PointKind::analog, 0, 200000,
              1, 0},
    PointInfo{Point::outdoor_temperature, "outdoor.temperature", "outdoor temperature", "C",
              PointKind::analog, -60, 60, 0.01, 0},
    PointInfo{Point::outdoor_humidity, "outdoor.humidity", "outdoor humidity", "%",
              PointKind::analog, 0, 100, 0.01, 0},
    PointInfo{Point::board_undervoltage, "board.undervoltage", "low supply of the board", "",
              PointKind::contact, 0, 3, 1, 0},
    PointInfo{Point::air_pump_running, "air_pump.running", "air pump proof", "", PointKind::contact,
              0, 3, 1, 0},
    PointInfo{Point::button_pressed, "button.pressed", "button at the tent", "", PointKind::contact,
              0, 3, 1, 0},
    PointInfo{Point::pump_auto, "pump.auto", "switch at the pump", "", PointKind::contact, 0, 3, 1,
              0},
    PointInfo{Point::exhaust_fan_speed, "exhaust_fan.speed", "exhaust fan speed", "rpm",
              PointKind::analog, 0, 30000, 1, 0},
    PointInfo{Point::canopy_vpd, "canopy.vpd", "air VPD", "kPa", PointKind::derived, 0, 20, 0.001,
              0},
    PointInfo{Point::leaf_vpd, "leaf.vpd", "leaf VPD", "kPa", PointKind::derived, -20, 20, 0.001,
              0},
    PointInfo{Point::canopy_dew_point, "canopy.dew_point", "canopy dew point", "C",
              PointKind::derived, -80, 60, 0.01, 0},
    PointInfo{Point::canopy_vapour_density, "canopy.vapour_density", "canopy vapour density",
              "g/m3", PointKind::derived, 0, 200, 0.01, 0},
    PointInfo{Point::room_vpd, "room.vpd", "room VPD", "kPa", PointKind::derived, 0, 20, 0.001, 0},
    PointInfo{Point::room_dew_point, "room.dew_point", "room dew point", "C", PointKind::derived,
              -80, 60, 0.01, 0},
};

constexpr std::size_t kPointSlots = 40;  // arrays are indexed by the point's own number

constexpr std::size_t slot(Point p) { return static_cast<std::size_t>(p); }

constexpr const PointInfo* find_point(std::string_view name) {
  for (const auto& info : kPoints)
    if (info.name == name) return &info;
  return nullptr;
}

constexpr const PointInfo& info(Point p) {
  for (const auto& row : kPoints)
    if (row.point == p) return row;
  return kPoints[0];  // unreachable: every enumerator has its row (tests/core/points_test)
}

template <class T>
class PerPoint {  // one T a point
 public:
  T& operator[](Point p) { return items_[slot(p)]; }
  const T& operator[](Point p) const { return items_[slot(p)]; }

 private:
  std::array<T, kPointSlots> items_{};
};

}  // namespace neap
