#include "daemon/core/probe_calibration.h"

#include "daemon/core/event.h"
#include "daemon/core/plan.h"
#include "daemon/core/schedule.h"
#include "daemon/core/state.h"

namespace neap {
namespace {

constexpr double kKelvin = 273.15;
constexpr double kReference = 25;  // C
constexpr double kNeutral = 7;     // pH

constexpr std::size_t number(SolutionProbe probe) { return static_cast<std::size_t>(probe); }

// Of the solution now; a thermometer that fell silent leaves its last word, since a reservoir warms
// slowly.
std::optional<double> solution_celsius(const Plan& plan, const State& state) {
  const PointWatch& watch = state.points[Point::solution_temperature];
  if (!plan.points[Point::solution_temperature] || !watch.any_good) return std::nullopt;
  return watch.last_good;
}

Correction of_ph(const Calibration& made, double celsius) {
  const double gain = 1 / (made.slope * (celsius + kKelvin) / (kReference + kKelvin));
  return {gain, kNeutral - made.zero * gain};
}

Correction of_ec(const Plan& plan, const Calibration* made, std::optional<double> celsius) {
  const double slope = made == nullptr ? 1 : made->slope;
  const double zero = made == nullptr ? 0 : made->zero;
  const double per_kelvin = plan.calibration.ec_per_kelvin;
  // No solution is so far from 25 C that this is not well above nothing (points.h: 0 to 50 C).
  const double to_25 = celsius ? 1 / (1 + per_kelvin * (*celsius - kReference)) : 1;
  return {to_25 / slope, -zero * to_25 / slope};
}

}  // namespace

const Calibration* calibration_in_force(const Plan& plan, const State& state, SolutionProbe probe) {
  const Calibration& kept = state.kept.calibrations[number(probe)];
  const bool same = kept.hardware == plan.calibration.hardware[number(probe)].value_or(0);
  return kept.made && same ? &kept : nullptr;
}

Correction correction_of(const Plan& plan, const State& state, Point point) {
  Correction out;
  const Calibration* made = nullptr;
  if (point == Point::solution_ph) {
    made = calibration_in_force(plan, state, SolutionProbe::ph);
    if (made != nullptr) out = of_ph(*made, solution_celsius(plan, state).value_or(made->celsius));
  } else if (point == Point::solution_ec) {
    made = calibration_in_force(plan, state, SolutionProbe::ec);
    out = of_ec(plan, made, solution_celsius(plan, state));
  }
  // Standards were told as the probe shows them: nothing else may correct what they corrected.
  if (made != nullptr && plan.points[point]) out.offset -= plan.points[point]->offset;
  return out;
}

Because take_calibration(const Plan& plan, State& state, const ProbeFit& fit) {
  if (!plan.points[info(fit.probe).point]) return because(Reason::not_fitted);
  const bool known = state.last_wall.quality != TimeQuality::unset;
  Calibration& kept = state.kept.calibrations[number(fit.probe)];
  kept = {true,
          fit.zero,
          fit.slope,
          fit.celsius,
          known,
          known ? state.last_wall.unix_ms : 0,
          plan.calibration.hardware[number(fit.probe)].value_or(0)};
  return {};
}

Event calibration_event(SolutionProbe probe, const Calibration& calibration) {
  Event event;
  event.kind = EventKind::calibration;
  event.point = info(probe).point;
  event.because =
      because(probe == SolutionProbe::ph ? Reason::ph_calibrated : Reason::ec_calibrated,
              probe == SolutionProbe::ph ? calibration.slope * 100 : 1 / calibration.slope,
              calibration.zero);
  return event;
}

void date_calibrations(State& state) {
  if (state.last_wall.quality == TimeQuality::unset) return;
  for (Calibration& kept : state.kept.calibrations)
    if (kept.made && !kept.dated) {
      kept.dated = true;
      kept.at_unix_ms = state.last_wall.unix_ms;
    }
}

Because calibration_due(const Plan& plan, const State& state) {
  for (const ProbeInfo& row : kProbes) {
    const Millis every = plan.calibration.every[number(row.probe)];
    if (!plan.calibration.hardware[number(row.probe)] || every == Millis{0}) continue;
    const Calibration* made = calibration_in_force(plan, state, row.probe);
    const auto point = static_cast<double>(slot(row.point));
    if (made == nullptr) return because(Reason::never_calibrated, point);
    if (!made->dated || !time_is_known(state.last_wall)) continue;
    const Millis age{state.last_wall.unix_ms - made->at_unix_ms};
    if (age >= every)
      return because(Reason::calibration_due, point, static_cast<double>(age / hours{24}));
  }
  return {};
}

}  // namespace neap
