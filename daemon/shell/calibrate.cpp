#include "daemon/shell/calibrate.h"

#include <array>
#include <charconv>
#include <cmath>

#include "daemon/shell/status_json.h"
#include "daemon/solution/conductivity.h"
#include "daemon/solution/ph.h"
#include "daemon/words/figures.h"
#include "daemon/words/words.h"

namespace neap::shell {
namespace {

using nlohmann::json;

constexpr Celsius kReference{25};
constexpr std::size_t kMostStandards = 3;
// Closer together, raw and corrected are one within what a display shows (common practice, no
// source).
constexpr double kPhApart = 0.05;
constexpr double kEcApart = 0.02;  // part of the raw value

struct Shown {  // in one standard
  double label = 0;
  double value = 0;
};
struct Asked {
  const ProbeInfo* probe = nullptr;
  std::vector<Shown> shown;
  Celsius temperature = kReference;
};

void refuse(Call& call, const std::string& code, const std::string& message,
            const std::string& remedy) {
  call.reply.fail(code, message, remedy, json::object());
}

std::optional<double> number_at(const json& object, const char* key) {
  const auto found = object.find(key);
  if (found == object.end() || !found->is_number()) return std::nullopt;
  const double value = found->get<double>();
  return std::isfinite(value) ? std::optional(value) : std::nullopt;
}

// The arguments, or an error.
std::string read(const json& args, Asked& asked) {
  const std::string name = args.value("probe", json()).is_string() ? args["probe"] : "";
  for (const ProbeInfo& row : kProbes)
    if (row.name == name) asked.probe = &row;
  if (asked.probe == nullptr) return "probe must be ph or ec";
  const auto list = args.find("shown");
  if (list == args.end() || !list->is_array() || list->empty() || list->size() > kMostStandards)
    return "shown must be a list of one to three standards";
  for (const json& one : *list) {
    const auto label = one.is_object() ? number_at(one, "standard") : std::nullopt;
    const auto value = one.is_object() ? number_at(one, "value") : std::nullopt;
    if (!label || !value) return "each of shown must have a standard and a value";
    asked.shown.push_back({*label, *value});
  }
  if (!args.contains("temperature_c")) return {};
  const auto warm = number_at(args, "temperature_c");
  if (!warm || *warm < 0 || *warm > 50) return "temperature_c must be a number from 0 to 50";
  asked.temperature = Celsius{*warm};
  return {};
}

// The shortest that reads back the same: 7, 4.01.
std::string plain(double value) {
  std::array<char, 32> text{};
  const auto [end, error] = std::to_chars(text.data(), text.data() + text.size(), value);
  return error == std::errc{} ? std::string(text.data(), end) : std::string();
}

std::string standards_text(const Asked& asked) {
  std::string text;
  for (const Shown& one : asked.shown)
    text += (text.empty() ? "" : " ") + plain(one.label) + "=" + plain(one.value);
  return text;
}

// A fit to be put in force, with what the person is told of it; or it was refused.
struct Fitted {
  ProbeFit fit;
  json told;
};

template <class Info>
std::optional<Fitted> refused(Call& call, const Info& row, std::optional<double> value) {
  refuse(call, "refused",
         std::string(row.what) + (value ? " (" + words::decimals(*value, 3) + ")" : std::string()),
         std::string(row.remedy));
  return std::nullopt;
}

std::optional<Fitted> fit_ph(Call& call, const Asked& asked) {
  std::vector<solution::PhPoint> points;
  for (const Shown& one : asked.shown) {
    const auto buffer = solution::find_buffer(one.label);
    if (!buffer) {
      refuse(call, "bad_request", "no buffer is called " + plain(one.label),
             "use 4, 4.01, 6.86, 7, 9.18 or 10 as the bottle says");
      return std::nullopt;
    }
    points.push_back({*buffer, solution::millivolts_of(one.value, kReference), asked.temperature});
  }
  const auto result = solution::fit_ph(points);
  if (const auto* no = std::get_if<solution::PhRefusal>(&result))
    return refused(call, solution::info(no->fault), no->value);
  const auto& fit = std::get<solution::PhFit>(result);
  const double zero = 7 - fit.calibration.offset_mv / solution::nernst_slope_mv(kReference);
  json told = {{"slope_pct", fit.calibration.slope * 100},
               {"offset_mv", fit.calibration.offset_mv},
               {"tired", fit.tired},
               {"third_off", nullptr}};
  if (fit.third_buffer) told["third_off"] = *fit.third_buffer;
  return Fitted{{SolutionProbe::ph, zero, fit.calibration.slope, fit.temperature.value}, told};
}

std::optional<Fitted> fit_ec(Call& call, const Asked& asked) {
  std::vector<solution::EcPoint> points;
  for (const Shown& one : asked.shown) {
    const auto standard = solution::find_standard(one.label);
    if (!standard) {
      refuse(call, "bad_request", "no EC standard is called " + plain(one.label),
             "use 0 (dry), 1408, 1413 or 12880 uS/cm as the bottle says");
      return std::nullopt;
    }
    points.push_back({*standard, one.value, asked.temperature});
  }
  const double per_kelvin = call.daemon.loaded().plan.calibration.ec_per_kelvin;
  solution::EcShown shown;
  shown.compensated = per_kelvin == 0;
  if (!shown.compensated) shown.per_kelvin = per_kelvin;
  const auto result = solution::fit_ec(points, shown);
  if (const auto* no = std::get_if<solution::EcRefusal>(&result))
    return refused(call, solution::info(no->fault), no->value);
  const auto& fit = std::get<solution::EcCalibration>(result);
  return Fitted{{SolutionProbe::ec, fit.zero, 1 / fit.gain, asked.temperature.value},
                {{"gain", fit.gain}, {"zero_ms_per_cm", fit.zero}}};
}

// A calibration is fitted to raw values; one that is in force shows corrected ones everywhere but
// in `neap calibrate`. Whoever types such a one would correct twice. The probe is in one standard
// now: what was typed of the others lies far from both of its values.
std::optional<double> corrected_one(const Call& call, const Asked& asked) {
  const State& state = call.daemon.state();
  const PointWatch& watch = state.points[asked.probe->point];
  const Plan& plan = call.daemon.loaded().plan;
  if (calibration_in_force(plan, state, asked.probe->probe) == nullptr || !watch.reading.usable())
    return std::nullopt;
  const double apart = std::abs(*watch.reading - watch.raw_same);
  const bool ph = asked.probe->probe == SolutionProbe::ph;
  if (apart <= (ph ? kPhApart : kEcApart * std::abs(watch.raw_same))) return std::nullopt;
  for (const Shown& one : asked.shown)
    if (std::abs(one.value - *watch.reading) < apart / 2) return one.value;
  return std::nullopt;
}

}  // namespace

void do_calibrate(Call& call) {
  Asked asked;
  if (const std::string error = read(call.args, asked); !error.empty())
    return refuse(call, "bad_request", error, "see `neap calibrate --help`");
  if (const auto value = corrected_one(call, asked))
    return refuse(call, "refused",
                  words::decimals(*value, 2) + " is what the probe shows corrected by the " +
                      "calibration in force",
                  "give what the probe shows uncorrected: `neap calibrate` alone lists it");
  auto fitted = asked.probe->probe == SolutionProbe::ph ? fit_ph(call, asked) : fit_ec(call, asked);
  if (!fitted) return;
  Request request;
  request.kind = RequestKind::calibrate;
  request.fit = fitted->fit;
  call.daemon.ask(request, [reply = call.reply, &daemon = call.daemon, asked,
                            fitted = *fitted](const Answer& answer) {
    if (!answer.accepted)
      return reply.fail("refused",
                        answer.because.reason == Reason::not_fitted
                            ? "no " + std::string(info(asked.probe->point).title) +
                                  " probe is fitted, so there is nothing to calibrate"
                            : words::sentence(answer.because),
                        words::remedy(answer.because), {{"reason", because_json(answer.because)}});
    daemon.journal().put(journal::CalibrationEntry{daemon.now(), asked.probe->point,
                                                   standards_text(asked), asked.temperature.value,
                                                   fitted.fit.zero, fitted.fit.slope});
    json result = fitted.told;
    result["probe"] = asked.probe->name;
    result["temperature_c"] = asked.temperature.value;
    result["now"] = nullptr;
    if (const auto& reading = daemon.state().points[asked.probe->point].reading; reading.usable())
      result["now"] = *reading;
    reply.ok(result);
  });
}

namespace {

// How an EC probe that does not do so itself is brought to 25 C; null where nothing is set.
json to_25_json(const Plan& plan, const State& state) {
  if (!(plan.calibration.ec_per_kelvin > 0)) return nullptr;
  const PointWatch& warm = state.points[Point::solution_temperature];
  const bool known = plan.points[Point::solution_temperature] && warm.any_good;
  return {{"per_kelvin", plan.calibration.ec_per_kelvin},
          {"celsius", known ? json(warm.last_good) : json(nullptr)}};
}

}  // namespace

// What is in force, and what each probe shows without it.
void do_calibrations(Call& call) {
  const Plan& plan = call.daemon.loaded().plan;
  const State& state = call.daemon.state();
  json list = json::array();
  for (const ProbeInfo& row : kProbes) {
    const auto i = static_cast<std::size_t>(row.probe);
    const bool fitted = plan.points[row.point].has_value();
    const PointWatch& watch = state.points[row.point];
    json one = {{"probe", row.name},
                {"fitted", fitted},
                {"every_s", static_cast<double>(plan.calibration.every[i].count()) / 1000},
                {"shown", nullptr},
                {"to_25_c", row.probe == SolutionProbe::ec ? to_25_json(plan, state) : json()},
                {"in_force", nullptr},
                {"void", state.kept.calibrations[i].made}};
    if (fitted && watch.reading.usable()) one["shown"] = watch.raw_same;
    if (const Calibration* made = calibration_in_force(plan, state, row.probe)) {
      one["void"] = false;
      one["in_force"] = {{"zero", made->zero},
                         {"slope", made->slope},
                         {"temperature_c", made->celsius},
                         {"at_unix_ms", made->dated ? json(made->at_unix_ms) : json(nullptr)}};
    }
    list.push_back(one);
  }
  call.reply.ok({{"calibrations", list}});
}

}  // namespace neap::shell
