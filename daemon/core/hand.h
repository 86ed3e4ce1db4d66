// Hand measurements: what a person reads off a meter, a scale or a stopwatch and tells neap. One
// table for the command line, the control protocol and the journal. The newest pH, EC, level and
// temperature are part of what the core remembers: targets are judged by them where no probe is
// fitted, and a lost database must not make the tent forget its last check.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <string_view>

#include "daemon/core/fixed.h"
#include "daemon/core/instant.h"
#include "daemon/core/points.h"

namespace neap {

struct State;
struct Event;

// Stored in the state file: numbers stay. The first kWatchedHands are remembered.
enum class Hand : std::uint8_t {
  ph = 0,
  ec = 1,
  level = 2,
  temperature = 3,
  // `neap commission`
  pump_flow = 4,
  fill = 5,
  drain = 6,
  fan_least = 7,
  // what went into the reservoir
  ph_down = 8,
  ph_up = 9,
  stock_a = 10,
  stock_b = 11,
  topup = 12,
  change = 13,  // of the whole solution
};
constexpr std::size_t kHandCount = 14;
constexpr std::size_t kWatchedHands = 4;

struct HandInfo {
  Hand hand;
  std::string_view name;  // in the journal, and what a person types
  std::string_view key;   // in the control protocol: carries the unit
  std::string_view title;
  std::string_view unit;
  double lowest, highest;      // what a hand meter can show, in the unit
  std::optional<Point> probe;  // that measures the same
};
inline constexpr std::array<HandInfo, kHandCount> kHands{{
    {Hand::ph, "ph", "ph", "pH", "", 0, 14, Point::solution_ph},
    {Hand::ec, "ec", "ec", "EC", "mS/cm", 0, 20, Point::solution_ec},
    {Hand::level, "level", "level_l", "level", "L", 0, 1000, Point::reservoir_level},
    {Hand::temperature, "temperature", "temperature_c", "water", "C", 0, 50,
     Point::solution_temperature},
    {Hand::pump_flow, "pump_flow", "pump_flow_l_per_h", "pump flow", "L/h", 1, 20000, std::nullopt},
    {Hand::fill, "fill", "fill_s", "fill", "s", 1, 7200, std::nullopt},
    {Hand::drain, "drain", "drain_s", "drain", "s", 1, 14400, std::nullopt},
    {Hand::fan_least, "fan_least", "fan_least_pct", "least fan level", "%", 0, 100, std::nullopt},
    {Hand::ph_down, "ph_down", "ph_down_ml", "pH down", "mL", 0.01, 500, std::nullopt},
    {Hand::ph_up, "ph_up", "ph_up_ml", "pH up", "mL", 0.01, 500, std::nullopt},
    {Hand::stock_a, "stock_a", "stock_a_ml", "stock solution A", "mL", 0.1, 10000, std::nullopt},
    {Hand::stock_b, "stock_b", "stock_b_ml", "stock solution B", "mL", 0.1, 10000, std::nullopt},
    {Hand::topup, "topup", "topup_l", "top-up", "L", 0.01, 1000, std::nullopt},
    {Hand::change, "change", "change_l", "fresh solution", "L", 0.1, 1000, std::nullopt},
}};
constexpr const HandInfo& info(Hand h) { return kHands[static_cast<std::size_t>(h)]; }

constexpr const HandInfo* find_hand(std::string_view name) {
  for (const HandInfo& row : kHands)
    if (row.name == name) return &row;
  return nullptr;
}

// The newest of a watched quantity.
struct HandReading {
  bool known = false;
  double value = 0;  // in the unit of kHands
  std::int64_t taken_unix_ms = 0;
  std::uint64_t id = 0;  // hash of the journal's id, by which it is corrected or withdrawn
};
using HandReadings = std::array<HandReading, kWatchedHands>;

// What a person tells: a measurement, or what is to become of one that was told before.
struct HandNote {
  Hand hand = Hand::ph;
  std::optional<double> value;  // none: withdrawn
  bool amends = false;          // `id` was told before
  std::int64_t taken_unix_ms = 0;
  std::uint64_t id = 0;
};
using HandNotes = FixedVector<HandNote, 16>;

// Remembers what is newer than what is known; a correction or withdrawal counts when it is of the
// newest one. A withdrawn measurement leaves none: what was known before it is old news.
// An event for each that is of a watched quantity.
void take_hand_note(State& state, const HandNote& note, FixedVector<Event, 64>& events);

}  // namespace neap
