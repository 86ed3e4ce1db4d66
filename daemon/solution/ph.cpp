#include "daemon/solution/ph.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <vector>

#include "daemon/solution/table.h"

namespace neap::solution {
namespace {

constexpr double kGasConstant = 8.314462618;
constexpr double kFaraday = 96485.33212;
constexpr double kZeroCelsius = 273.15;
constexpr Celsius kLowest{0};
constexpr Celsius kHighest{40};

// Values at 0, 5, 10 ... 40 C.
using Rows = std::array<double, 9>;
struct BufferRow {
  Buffer buffer;
  double label;
  double other_label;  // as people also say it
  Rows ph;
};
constexpr std::array<BufferRow, 5> kTabled{{
    {Buffer::technical_4_00, 4.00, 4.0, {4.00, 4.00, 4.00, 4.00, 4.00, 4.00, 4.01, 4.02, 4.03}},
    {Buffer::phosphate_6_86,
     6.86,
     6.865,
     {6.984, 6.951, 6.923, 6.900, 6.881, 6.865, 6.853, 6.844, 6.838}},
    {Buffer::technical_7_00, 7.00, 7.0, {7.12, 7.09, 7.06, 7.04, 7.02, 7.00, 6.99, 6.99, 6.98}},
    {Buffer::borax_9_18,
     9.18,
     9.2,
     {9.464, 9.395, 9.332, 9.276, 9.225, 9.180, 9.139, 9.102, 9.068}},
    {Buffer::technical_10_01,
     10.01,
     10.0,
     {10.32, 10.25, 10.18, 10.12, 10.06, 10.01, 9.97, 9.93, 9.89}},
}};

constexpr std::array<PhFaultInfo, 11> kFaults{{
    {PhFault::too_few, "too_few", "one buffer tells the offset, not the slope",
     "measure two buffers at least: 7 and 4"},
    {PhFault::too_many, "too_many", "two buffers make the line and a third checks it",
     "give two or three buffers"},
    {PhFault::too_close, "too_close", "two of the buffers are less than 1.5 pH apart",
     "take 4 and 7, or 4.01 and 6.86; 10.01 or 9.18 as a third"},
    {PhFault::no_table, "no_table", "the worth of a buffer is known from 0 to 40 C",
     "measure near room temperature, and give that temperature"},
    {PhFault::no_reading, "no_reading", "glass gives no more than 600 mV",
     "look at plug and cable, and at the driver's curve, before the probe"},
    {PhFault::swapped, "swapped", "the reading rises where the buffers fall",
     "the buffers were exchanged: rinse the probe and measure each again"},
    {PhFault::dead, "dead", "the probe shows nearly the same in both buffers",
     "look whether it stands in the liquid with its cap off; else it is broken: replace it"},
    {PhFault::worn, "worn", "the slope is under 85 % of a perfect electrode's",
     "clean the glass, soak it an hour in 3 M KCl, use fresh buffers; else replace the probe"},
    {PhFault::too_steep, "too_steep", "the slope is over 105 % of a perfect electrode's",
     "no electrode does that: a buffer is spoilt or the temperature is wrong; use fresh ones"},
    {PhFault::offset, "offset", "the offset at pH 7 is over 60 mV, about one pH",
     "a buffer is not what it says, or the reference is spoilt: fresh buffers, then a new probe"},
    {PhFault::third_disagrees, "third_disagrees", "the third buffer is over 0.2 pH off the line",
     "one of the three is spoilt (10.01 takes up carbon dioxide): use a fresh bottle"},
}};

// Hetzer et al. 1977; the molality is 0.05 mol/kg.
double phthalate(Celsius temperature) {
  const double k = temperature.value + kZeroCelsius;
  return 2073.44 / k - 13.3270 + 0.045199 * k - 3.4846e-5 * k * k;
}

struct Known {
  double ph;
  double millivolts;
  Celsius temperature;
};

// The points with what their buffers are worth, the most acid first.
std::variant<std::vector<Known>, PhRefusal> know(std::span<const PhPoint> points) {
  if (points.size() < 2) return PhRefusal{PhFault::too_few, {}};
  if (points.size() > 3) return PhRefusal{PhFault::too_many, {}};
  std::vector<Known> known;
  for (const PhPoint& point : points) {
    const auto ph = buffer_ph(point.buffer, point.temperature);
    if (!ph) return PhRefusal{PhFault::no_table, point.temperature.value};
    if (!(std::abs(point.millivolts) <= kMillivoltsMost))
      return PhRefusal{PhFault::no_reading, point.millivolts};
    known.push_back({*ph, point.millivolts, point.temperature});
  }
  std::sort(known.begin(), known.end(), [](const Known& a, const Known& b) { return a.ph < b.ph; });
  for (std::size_t i = 1; i < known.size(); ++i)
    if (known[i].ph - known[i - 1].ph < kBuffersApart) return PhRefusal{PhFault::too_close, {}};
  return known;
}

// Slope as a part of Nernst's between two points, each at its own temperature.
double slope_between(const Known& acid, const Known& basic) {
  const double span = nernst_slope_mv(acid.temperature) * (7 - acid.ph) -
                      nernst_slope_mv(basic.temperature) * (7 - basic.ph);
  return (acid.millivolts - basic.millivolts) / span;
}

std::optional<PhRefusal> judge(const PhCalibration& line) {
  if (line.slope < -kSlopeDead) return PhRefusal{PhFault::swapped, line.slope};
  if (line.slope < kSlopeDead) return PhRefusal{PhFault::dead, line.slope};
  if (line.slope < kSlopeLowest) return PhRefusal{PhFault::worn, line.slope};
  if (line.slope > kSlopeHighest) return PhRefusal{PhFault::too_steep, line.slope};
  if (std::abs(line.offset_mv) > kOffsetMost) return PhRefusal{PhFault::offset, line.offset_mv};
  return std::nullopt;
}

}  // namespace

double nernst_slope_mv(Celsius temperature) {
  return 1000 * std::numbers::ln10 * kGasConstant * (temperature.value + kZeroCelsius) / kFaraday;
}

std::optional<Buffer> find_buffer(double label) {
  if (std::abs(label - 4.01) < 0.0005) return Buffer::phthalate_4_01;
  for (const BufferRow& row : kTabled)
    if (std::abs(label - row.label) < 0.0005 || std::abs(label - row.other_label) < 0.0005)
      return row.buffer;
  return std::nullopt;
}

std::optional<double> buffer_ph(Buffer buffer, Celsius temperature) {
  if (!(temperature >= kLowest && temperature <= kHighest)) return std::nullopt;
  if (buffer == Buffer::phthalate_4_01) return phthalate(temperature);
  for (const BufferRow& row : kTabled)
    if (row.buffer == buffer) return between_rows(row.ph, kLowest.value, 5, temperature.value);
  return std::nullopt;
}

double millivolts_of(double indicated, Celsius compensated_for) {
  return (7 - indicated) * nernst_slope_mv(compensated_for);
}

double ph_of(const PhCalibration& calibration, double millivolts, Celsius solution) {
  return 7 - (millivolts - calibration.offset_mv) / (calibration.slope * nernst_slope_mv(solution));
}

double corrected_ph(const PhCalibration& calibration, double indicated, Celsius compensated_for,
                    Celsius solution) {
  return ph_of(calibration, millivolts_of(indicated, compensated_for), solution);
}

const PhFaultInfo& info(PhFault fault) { return kFaults[static_cast<std::size_t>(fault)]; }

std::variant<PhFit, PhRefusal> fit_ph(std::span<const PhPoint> points) {
  auto judged = know(points);
  if (const auto* refusal = std::get_if<PhRefusal>(&judged)) return *refusal;
  const auto& known = std::get<std::vector<Known>>(judged);
  // Any two neighbours the wrong way round are a swap, also where the third one hides it.
  for (std::size_t i = 1; i < known.size(); ++i)
    if (const double slope = slope_between(known[i - 1], known[i]); slope < -kSlopeDead)
      return PhRefusal{PhFault::swapped, slope};
  PhFit fit;
  const Known& acid = known[0];
  const Known& basic = known[1];
  fit.calibration.slope = slope_between(acid, basic);
  fit.calibration.offset_mv = basic.millivolts - fit.calibration.slope *
                                                     nernst_slope_mv(basic.temperature) *
                                                     (7 - basic.ph);
  if (const auto refusal = judge(fit.calibration)) return *refusal;
  fit.temperature = (acid.temperature + basic.temperature) * 0.5;
  fit.tired =
      fit.calibration.slope < kSlopeTired || std::abs(fit.calibration.offset_mv) > kOffsetTired;
  if (known.size() == 3) {
    const Known& third = known[2];
    fit.third_buffer = ph_of(fit.calibration, third.millivolts, third.temperature) - third.ph;
    if (std::abs(*fit.third_buffer) > kThirdBufferWrong)
      return PhRefusal{PhFault::third_disagrees, fit.third_buffer};
  }
  return fit;
}

}  // namespace neap::solution
