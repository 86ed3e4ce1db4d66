// Calibrations of the pH and EC probes, as a person made them in standards (daemon/solution works
// them out): kept with the state, so that they are in force at once, over a restart and without the
// journal. A calibration belongs to a probe as it is wired and set up: another driver, address or
// curve voids it.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <string_view>

#include "daemon/core/instant.h"
#include "daemon/core/points.h"
#include "daemon/core/reason.h"

namespace neap {

struct Plan;
struct State;
struct Event;

// Stored in the state file: numbers stay.
enum class SolutionProbe : std::uint8_t { ph = 0, ec = 1 };
constexpr std::size_t kProbeCount = 2;

struct ProbeInfo {
  SolutionProbe probe;
  std::string_view name;  // what is typed after `neap calibrate`
  Point point;
};
inline constexpr std::array<ProbeInfo, kProbeCount> kProbes{{
    {SolutionProbe::ph, "ph", Point::solution_ph},
    {SolutionProbe::ec, "ec", Point::solution_ec},
}};

constexpr const ProbeInfo& info(SolutionProbe p) { return kProbes[static_cast<std::size_t>(p)]; }

// pH = 7 + (shown - zero) / (slope T / 298.15 K): the slope of glass follows the absolute
// temperature (Nernst). EC = (shown - zero) / slope.
struct Calibration {
  bool made = false;
  double zero = 0;      // what the probe shows at pH 7; of EC, dry
  double slope = 1;     // of pH: part of the ideal slope; of EC: shown for each mS/cm
  double celsius = 25;  // of the standards: stands in where no thermometer does
  bool dated = false;   // the time of day was known
  std::int64_t at_unix_ms = 0;
  std::uint64_t hardware = 0;
};
// What a person's standards gave.
struct ProbeFit {
  SolutionProbe probe = SolutionProbe::ph;
  double zero = 0;  // as in Calibration
  double slope = 1;
  double celsius = 25;
};
using Calibrations = std::array<Calibration, kProbeCount>;

struct CalibrationPlan {
  // By the fingerprint of driver and address; none where the probe is not fitted or simulated.
  std::array<std::optional<std::uint64_t>, kProbeCount> hardware{};
  // Due again; 0: never. Common practice, no source.
  std::array<Millis, kProbeCount> every{hours{24 * 30}, hours{24 * 60}};
  double ec_per_kelvin = 0;  // of a probe that shows EC as it is: brought to 25 C by this
  friend bool operator==(const CalibrationPlan&, const CalibrationPlan&) = default;
};

// What makes a value of what a probe delivers: value = gain * raw + offset. The settings' own
// offset (PointPlan) comes on top; where a calibration is in force, `offset` takes it off.
struct Correction {
  double gain = 1;
  double offset = 0;
  constexpr double of(double raw) const { return gain * raw + offset; }
};
// Of any point: its calibration and its compensation for temperature. Called in the order of
// kPoints, so that the solution's temperature is known before pH and EC.
Correction correction_of(const Plan& plan, const State& state, Point point);

// The calibration in force: made, and of this very probe.
const Calibration* calibration_in_force(const Plan& plan, const State& state, SolutionProbe probe);

// Puts it in force from this scan on; or why not.
Because take_calibration(const Plan& plan, State& state, const ProbeFit& fit);
Event calibration_event(SolutionProbe probe, const Calibration& calibration);
// Calibrations that were made before the time of day was known are dated once it is.
void date_calibrations(State& state);
// Which probe was never calibrated, or is due again; nothing when none is.
Because calibration_due(const Plan& plan, const State& state);

}  // namespace neap
