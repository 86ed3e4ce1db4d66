// Which proof tests a plan asks for (daemon/core/proof_tests.h), and of which hardware.
#include <string>

#include "daemon/settings/checks.h"
#include "daemon/settings/hash.h"
#include "drivers/driver.h"

namespace neap::settings {
namespace {

// A simulated part, or one whose program the virtual clock waits for, is no water.
bool is_real(const std::string& driver, const drivers::Params& params) {
  return !driver.starts_with("simulated") && !params.truth("lockstep");
}

// Driver and address as written; what only repeats a default is left out, so that a driver which
// learns a new parameter does not make every part an untested one.
std::string written_as(const std::string& driver, const drivers::Params& params,
                       std::span<const drivers::ParamSpec> specs) {
  std::string text = driver;
  for (const auto& [name, value] : params.scalars()) {
    bool is_default = false;
    for (const auto& spec : specs) is_default |= spec.name == name && spec.fallback == value;
    if (!is_default) text += "\n" + name + "=" + value;
  }
  for (const auto& [name, words] : params.all_words()) {
    text += "\n" + name + ":";
    for (const std::string& word : words) text += "\n " + word;
  }
  return text;
}

std::optional<std::string> output_text(const Draft& draft, Output output) {
  for (const auto& setup : draft.hardware.outputs) {
    const auto* driver = drivers::find_output_driver(setup.driver);
    if (setup.output != output || driver == nullptr || !is_real(setup.driver, setup.params))
      continue;
    std::string text = written_as(setup.driver, setup.params, driver->params);
    if (setup.enable_pulse) text += "\n" + written_as("enable_pulse", *setup.enable_pulse, {});
    return text;
  }
  return std::nullopt;
}

// The pump's current goes through both contacts where there are two.
std::optional<std::uint64_t> output_hash(const Draft& draft, Output output) {
  std::optional<std::string> text = output_text(draft, output);
  if (!text) return std::nullopt;
  if (output == Output::pump)
    if (const auto series = output_text(draft, Output::pump_series)) *text += "\n" + *series;
  return fnv1a(*text);
}

std::optional<std::uint64_t> point_hash(const Draft& draft, Point point) {
  for (const auto& sensor : draft.hardware.sensors) {
    const auto* driver = drivers::find_sensor_driver(sensor.driver);
    if (driver == nullptr || !is_real(sensor.driver, sensor.params)) continue;
    for (const auto& use : sensor.uses)
      if (use.point == point)
        return fnv1a(written_as(sensor.driver, sensor.params, driver->params) + "\n" +
                     std::to_string(use.channel));
  }
  return std::nullopt;
}

}  // namespace

void plan_calibrations(Draft& draft) {
  for (const ProbeInfo& row : kProbes)
    draft.plan.calibration.hardware[static_cast<std::size_t>(row.probe)] =
        point_hash(draft, row.point);
}

void plan_proofs(Draft& draft) {
  ProofPlan& proofs = draft.plan.proofs;
  const auto pump = output_hash(draft, Output::pump);
  if (draft.proven_by_hand || in_another_hand(draft.plan, Output::pump) || !pump) return;
  for (const ProofTestInfo& row : kProofTests) {
    auto& wanted = proofs.hardware[static_cast<std::size_t>(row.test)];
    wanted = row.output  ? output_hash(draft, *row.output)
             : row.point ? point_hash(draft, *row.point)
                         : pump;
  }
}

}  // namespace neap::settings
