// Electrical conductivity of the solution, mS/cm: standards at their temperature, compensation to
// 25 C, and what one or two standards say of a cell.
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string_view>
#include <variant>

#include "daemon/core/units.h"

namespace neap::solution {

// Linear compensation: EC25 = EC_T / (1 + a (T - 25)), a in 1/K, as meters have it. 2.0 %/K is what
// most of them take. KCl of 0.01 mol/kg asks for 1.81 %/K at 0 C to 1.99 at 35 C (the NIST values
// below), so that with 2.0 its reading is 1.3 % too high at 15 C and 0.2 % too low at 30 C.
constexpr double kCompensation = 0.020;
constexpr double kCompensationLowest = 0.015;
constexpr double kCompensationHighest = 0.025;
// None where the divisor would be 0.2 or less: no solution is measured there.
std::optional<double> ec_at_25(double ec, Celsius temperature, double per_kelvin = kCompensation);
// The inverse: what a cell without compensation shows.
double ec_at(double ec25, Celsius temperature, double per_kelvin = kCompensation);

enum class Standard : std::uint8_t {
  air,              // a dry cell: nothing
  kcl_0_01_per_kg,  // '1408': 0.01 mol KCl in a kg of water
  kcl_0_01_per_l,   // '1413': 0.01 mol in a litre, what most bottles hold
  kcl_0_1_per_l,    // '12.88'
};
// The standard a person means by 0, 1408, 1413, 12880 (uS/cm) or 1.408, 1.413, 12.88 (mS/cm).
std::optional<Standard> find_standard(double label);
// mS/cm at a temperature; none outside the standard's table. 1408, 0..35 C: Wu, Koch and Pratt
// 1991 (J. Res. NIST 96:191) by the CRC Handbook, uncertainty 0.03 %. 1413, 5..30 C, and 12.88,
// 5..35 C: the standards table of a laboratory meter's manual.
std::optional<double> standard_ec(Standard standard, Celsius temperature);

// EC = gain (shown - zero). `gain` is the cell constant as a part of the one the probe assumes.
struct EcCalibration {
  double gain = 1;
  double zero = 0;  // mS/cm that a dry cell shows
  friend bool operator==(const EcCalibration&, const EcCalibration&) = default;
};
constexpr double corrected_ec(const EcCalibration& calibration, double indicated) {
  return calibration.gain * (indicated - calibration.zero);
}

struct EcPoint {
  Standard standard = Standard::kcl_0_01_per_l;
  double indicated = 0;  // mS/cm
  Celsius temperature{25};
};
// How the probe came to what it shows.
struct EcShown {
  bool compensated = true;  // brought to 25 C
  double per_kelvin = kCompensation;
};

// A cell further from its makers' constant is dirty, half dry, or set to another constant; a zero
// of more than this is a wet or short cell (common practice, no source).
constexpr double kGainLowest = 0.7;
constexpr double kGainHighest = 1.4;
constexpr double kZeroMost = 0.1;

enum class EcFault : std::uint8_t {
  none_given,  // no standard, or air alone
  too_many,    // more than two
  alike,       // the same standard twice
  no_table,    // no value of the standard at this temperature; `value` is it
  no_reading,  // negative, or over 200 mS/cm, more than brine
  unit,        // a thousandfold of what is due: uS/cm were given
  swapped,     // shows less in the stronger standard
  dead,        // nothing in a standard; `value` is the share of it that is shown
  gain,        // outside kGainLowest..kGainHighest; `value` is it
  zero,        // beyond kZeroMost; `value` is it, mS/cm
};
struct EcFaultInfo {
  EcFault fault;
  std::string_view key;
  std::string_view what;
  std::string_view remedy;
};
const EcFaultInfo& info(EcFault fault);

struct EcRefusal {
  EcFault fault = EcFault::none_given;
  std::optional<double> value;  // as its fault says
};
// One standard gives the gain, two give gain and zero.
std::variant<EcCalibration, EcRefusal> fit_ec(std::span<const EcPoint> points,
                                              const EcShown& shown);

// What is off in a compensated reading of a standard because its coefficient is not `per_kelvin`:
// a part of the reading. None outside its table.
std::optional<double> compensation_error(Standard standard, Celsius temperature, double per_kelvin);

}  // namespace neap::solution
