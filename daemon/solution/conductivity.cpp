#include "daemon/solution/conductivity.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

#include "daemon/solution/table.h"

namespace neap::solution {
namespace {

constexpr std::array kPerKg{0.77292, 0.89096, 1.01395, 1.14145, 1.27303, 1.40823, 1.54663, 1.68779};
// The printed 1667 uS/cm at 35 C lies under the line of the other rows and is left out.
constexpr std::array kPerLitre{0.896, 1.020, 1.147, 1.278, 1.413, 1.552};
constexpr std::array kTenfold{8.22, 9.33, 10.48, 11.67, 12.88, 14.12, 15.39};

struct StandardRow {
  Standard standard;
  double label;  // mS/cm at 25 C
  double first;  // C, of a table with rows of 5 K
  std::span<const double> rows;
};
constexpr std::array<StandardRow, 3> kStandards{{
    {Standard::kcl_0_01_per_kg, 1.408, 0, kPerKg},
    {Standard::kcl_0_01_per_l, 1.413, 5, kPerLitre},
    {Standard::kcl_0_1_per_l, 12.88, 5, kTenfold},
}};

constexpr std::array<EcFaultInfo, 10> kFaults{{
    {EcFault::none_given, "none_given", "a dry cell tells the zero, not the gain",
     "measure a standard: 1413 uS/cm is next to a nutrient solution"},
    {EcFault::too_many, "too_many", "a cell has a gain and a zero: two points tell both",
     "give one standard, or two (air counts as one)"},
    {EcFault::alike, "alike", "both points are of the same standard",
     "take a second standard, or a dry cell as 0"},
    {EcFault::no_table, "no_table", "the standard is not tabled at this temperature",
     "measure between 15 and 30 C, and give the temperature"},
    {EcFault::no_reading, "no_reading", "a cell shows 0 to 200 mS/cm",
     "look at the plug and at the driver's curve"},
    {EcFault::unit, "unit", "the reading is a thousandfold of the standard",
     "give mS/cm: 1.41, not 1410"},
    {EcFault::swapped, "swapped", "the reading is lower in the stronger standard",
     "the standards were exchanged: rinse the probe and measure each again"},
    {EcFault::dead, "dead", "the cell shows nearly nothing in a standard",
     "look whether the electrodes are covered and free of bubbles; else replace the probe"},
    {EcFault::gain, "gain", "the cell constant is not within 70 to 140 % of the probe's own",
     "clean the electrodes and use a fresh standard; check the constant in the probe's settings"},
    {EcFault::zero, "zero", "the zero is more than 0.1 mS/cm",
     "dry the cell, or measure the standards again at one temperature"},
}};

struct Known {
  double due;  // what a perfect cell would show
  double indicated;
};

std::optional<double> due(const EcPoint& point, const EcShown& shown) {
  const auto ec = standard_ec(point.standard, point.temperature);
  if (!ec || !shown.compensated) return ec;
  return ec_at_25(*ec, point.temperature, shown.per_kelvin);
}

std::optional<EcRefusal> judge(const EcPoint& point, double due) {
  if (due > 0 && point.indicated > 300 * due) return EcRefusal{EcFault::unit, point.indicated};
  if (!(point.indicated >= 0 && point.indicated <= 200))
    return EcRefusal{EcFault::no_reading, point.indicated};
  if (due > 0 && point.indicated < 0.1 * due)
    return EcRefusal{EcFault::dead, point.indicated / due};
  return std::nullopt;
}

}  // namespace

std::optional<double> ec_at_25(double ec, Celsius temperature, double per_kelvin) {
  const double divisor = 1 + per_kelvin * (temperature.value - 25);
  if (!(divisor > 0.2)) return std::nullopt;
  return ec / divisor;
}

double ec_at(double ec25, Celsius temperature, double per_kelvin) {
  return ec25 * (1 + per_kelvin * (temperature.value - 25));
}

std::optional<Standard> find_standard(double label) {
  if (label == 0) return Standard::air;
  for (const StandardRow& row : kStandards)
    for (const double scale : {1.0, 1000.0})
      if (std::abs(label / (row.label * scale) - 1) < 1e-4) return row.standard;
  return std::nullopt;
}

std::optional<double> standard_ec(Standard standard, Celsius temperature) {
  if (standard == Standard::air) return 0.0;
  for (const StandardRow& row : kStandards) {
    if (row.standard != standard) continue;
    const double last = row.first + 5 * static_cast<double>(row.rows.size() - 1);
    if (!(temperature.value >= row.first && temperature.value <= last)) return std::nullopt;
    return on_parabola(row.rows, row.first, 5, temperature.value);
  }
  return std::nullopt;
}

const EcFaultInfo& info(EcFault fault) { return kFaults[static_cast<std::size_t>(fault)]; }

std::variant<EcCalibration, EcRefusal> fit_ec(std::span<const EcPoint> points,
                                              const EcShown& shown) {
  if (points.empty()) return EcRefusal{EcFault::none_given, {}};
  if (points.size() > 2) return EcRefusal{EcFault::too_many, {}};
  std::vector<Known> known;
  for (const EcPoint& point : points) {
    const auto should = due(point, shown);
    if (!should) return EcRefusal{EcFault::no_table, point.temperature.value};
    if (const auto refusal = judge(point, *should)) return *refusal;
    known.push_back({*should, point.indicated});
  }
  std::sort(known.begin(), known.end(),
            [](const Known& a, const Known& b) { return a.due < b.due; });
  if (known.back().due == 0) return EcRefusal{EcFault::none_given, {}};
  EcCalibration line;
  if (known.size() == 1) {
    line.gain = known[0].due / known[0].indicated;
  } else {
    if (points[0].standard == points[1].standard) return EcRefusal{EcFault::alike, {}};
    const double rise = known[1].indicated - known[0].indicated;
    if (!(rise > 0)) return EcRefusal{EcFault::swapped, {}};
    line.gain = (known[1].due - known[0].due) / rise;
    line.zero = known[0].indicated - known[0].due / line.gain;
  }
  if (!(line.gain >= kGainLowest && line.gain <= kGainHighest))
    return EcRefusal{EcFault::gain, line.gain};
  if (std::abs(line.zero) > kZeroMost) return EcRefusal{EcFault::zero, line.zero};
  return line;
}

std::optional<double> compensation_error(Standard standard, Celsius temperature,
                                         double per_kelvin) {
  const auto there = standard_ec(standard, temperature);
  const auto here = standard_ec(standard, Celsius{25});
  if (!there || !here || *here == 0) return std::nullopt;
  const auto shown = ec_at_25(*there, temperature, per_kelvin);
  if (!shown) return std::nullopt;
  return *shown / *here - 1;
}

}  // namespace neap::solution
