// pH of the solution: what a glass electrode should give, what buffers are worth at their
// temperature, and what two or three buffers say of an electrode.
//
// An electrode gives E = offset - slope (pH - 7), mV, positive in acid. The slope of a perfect one
// is ln 10 R T / F (Nernst; CODATA 2018: R = 8.314462618 J/(mol K), F = 96485.33212 C/mol). A
// calibration keeps the slope as a part of that, so that it holds at every temperature.
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string_view>
#include <variant>

#include "daemon/core/units.h"

namespace neap::solution {

// mV for a pH, 54.2 at 0 C to 62.1 at 40 C.
double nernst_slope_mv(Celsius temperature);

// Buffers by what the bottle says. 4.00, 7.00 and 10.01 are technical buffers; 4.01, 6.86 and 9.18
// are the primary standards (phthalate, phosphate, borax). A label 4.01 and a label 4.00 are two
// recipes 0.006 to 0.01 apart.
enum class Buffer : std::uint8_t {
  technical_4_00,
  phthalate_4_01,
  phosphate_6_86,
  technical_7_00,
  borax_9_18,
  technical_10_01,
};

// The buffer that a person means by 4, 4.01, 6.86, 7, 9.18, 10 or 10.01; none for other numbers.
std::optional<Buffer> find_buffer(double label);
// Its pH at a temperature, 0..40 C; none outside. Technical buffers and phosphate below 15 C as the
// process pH manual MI 611-211 (October 2005) tables them; phthalate by Hetzer, Durst, Robinson and
// Bates 1977 (J. Res. NBS 81A); phosphate and borax as Bates 1962 (J. Res. NBS 66A:179) has them,
// the third decimal from memory. Between rows of 5 K by a straight line.
std::optional<double> buffer_ph(Buffer buffer, Celsius temperature);

// What makes a reading of a pH of what a probe shows.
struct PhCalibration {
  double slope = 1;      // part of Nernst's, 0.85..1.05 for an electrode fit for use
  double offset_mv = 0;  // what it gives at pH 7
  friend bool operator==(const PhCalibration&, const PhCalibration&) = default;
};

// `indicated` is a pH made with a perfect electrode's slope at `compensated_for`: 25 C for a probe
// that knows no temperature. No bound is put on the result: it is judged where readings are.
double millivolts_of(double indicated, Celsius compensated_for);
double ph_of(const PhCalibration& calibration, double millivolts, Celsius solution);
// Both: what was shown for a solution of this temperature, corrected.
double corrected_ph(const PhCalibration& calibration, double indicated, Celsius compensated_for,
                    Celsius solution);

struct PhPoint {
  Buffer buffer = Buffer::technical_7_00;
  double millivolts = 0;  // millivolts_of() where a pH was shown
  Celsius temperature{25};
};

// A buffer is 0.05 off the line of two others: worth a word (a vendor's note). Off by four times
// that, one of the three is not what its bottle says (common practice, no source).
constexpr double kThirdBufferOff = 0.05;
constexpr double kThirdBufferWrong = 0.2;
// Slope of an electrode fit for use (from memory; makers say 85 or 90 to 102 or 105 %), and of one
// about to wear out. Offset: 30 mV is what makers promise of a new one (from memory), beyond twice
// that it is no ageing but a leak of the reference or a wrong buffer (common practice, no source).
constexpr double kSlopeLowest = 0.85;
constexpr double kSlopeHighest = 1.05;
constexpr double kSlopeTired = 0.92;
constexpr double kSlopeDead = 0.2;
constexpr double kOffsetTired = 30;
constexpr double kOffsetMost = 60;
// Two buffers nearer than this make a slope of their own errors: 6.86 and 7.00 (common practice).
constexpr double kBuffersApart = 1.5;
// A perfect electrode gives 435 mV at pH 14 and 40 C; what shows more is not one.
constexpr double kMillivoltsMost = 600;

enum class PhFault : std::uint8_t {
  too_few,         // one buffer: no slope
  too_many,        // more than three
  too_close,       // two buffers nearer than kBuffersApart
  no_table,        // a temperature outside 0..40 C; `value` is it
  no_reading,      // more mV than glass can give; `value` is it
  swapped,         // the slope has the wrong sign: one buffer was taken for another
  dead,            // the same in both buffers; `value` is the slope
  worn,            // slope below kSlopeLowest
  too_steep,       // slope above kSlopeHighest
  offset,          // beyond kOffsetMost; `value` is it, mV
  third_disagrees  // by more than kThirdBufferWrong; `value` is how much, pH
};
struct PhFaultInfo {
  PhFault fault;
  std::string_view key;     // stable word for JSON
  std::string_view what;    // the rule that was broken
  std::string_view remedy;  // what to do next
};
const PhFaultInfo& info(PhFault fault);

struct PhRefusal {
  PhFault fault = PhFault::too_few;
  std::optional<double> value;  // as its fault says
};

struct PhFit {
  PhCalibration calibration;
  Celsius temperature{25};             // mean of the buffers the line goes through
  std::optional<double> third_buffer;  // shown minus true, pH, where a third one was measured
  bool tired = false;                  // fit for use, soon not: slope or offset near their limits
};

// The line goes through the two most acid buffers, between which a nutrient solution lies; a third
// one is not averaged in but checked. Points in any order.
std::variant<PhFit, PhRefusal> fit_ph(std::span<const PhPoint> points);

}  // namespace neap::solution
