#include "daemon/identify/identify.h"

#include <algorithm>
#include <cmath>
#include <functional>

#include "daemon/core/tent_model.h"
#include "daemon/identify/thermal.h"

namespace neap::identify {
namespace {

constexpr double kLeastHours = 24;
constexpr double kLeastSeen = 0.5;       // of all windows
constexpr std::size_t kLeastFloods = 3;  // weighed
constexpr double kLeastDryingHours = 3;
constexpr int kLeastDryingStarts = 4;
constexpr double kLeastMistHours = 1;
// What the curve of capacity, the coil and the run-up of one make may differ from another's; from
// random tents that had none of these wrong, and errors of 10 % all the same.
constexpr double kDryingCurve = 0.12;
// A second, slower part of what a probe and the air around it do; from random tents likewise.
constexpr double kLagCurve = 0.15;
// What the fit takes for granted of the air: the fan's curve, its dead band, the air's density.
constexpr double kFlowCurve = 0.04;
constexpr double kMuchSharper = 0.6;  // spread after the record over the one before it
constexpr double kWide = 0.15;        // likewise where a step test would be worth its hour
constexpr double kVague = 0.4;        // half an interval over the estimate

constexpr std::array<PropertyInfo, kProperties> kInfos{{
    {Property::exhaust_flow, "exhaust_flow", "exhaust flow at full level", "m3/h", 0,
     "more days with floods; by day `neap step-test fan`, 30 min"},
    {Property::exchange_high, "exchange_at_80", "air exchange at 80 %", "m3/h", 0,
     "by day `neap step-test fan`, 30 min"},
    {Property::exchange_low, "exchange_at_30", "air exchange at 30 %", "m3/h", 0,
     "by day `neap step-test fan`, 30 min"},
    {Property::exchange_mean, "exchange_mean", "air exchange at the mean level", "m3/h", 0,
     "more days with floods"},
    {Property::evaporation_lit, "evaporation_lit", "evaporation by light", "g/h", 0,
     "more floods by day"},
    {Property::evaporation_dark, "evaporation_dark", "evaporation in the dark", "g/h", 0,
     "a flood soon after lights-on, which weighs the night"},
    {Property::evaporation_daily, "evaporation_daily", "evaporation a day", "L/d", 2,
     "more days with floods"},
    {Property::flood_vapour, "flood_vapour", "evaporation after a flood", "mL", 0,
     "steady fan and light for two hours after a flood"},
    {Property::flood_fades, "flood_fades", "fading of that", "min", 0,
     "steady fan and light for two hours after a flood"},
    {Property::drying, "dehumidifier_capacity", "dehumidifier at 26.7 C and 60 %", "L/d", 2,
     "tonight `neap step-test dehumidifier`, 60 min"},
    {Property::mist, "humidifier_output", "humidifier", "mL/h", 0,
     "by day, the fan held at 30% for 30m and the humidifier stopped and running by turns, 5m "
     "each"},
    {Property::probe_offset, "probe_offset", "canopy humidity over the room's", "%", 1,
     "both probes side by side for half an hour"},
    {Property::probe_lag, "probe_lag", "lag of the canopy humidity", "s", 0,
     "by day `neap step-test fan`, 30 min"},
    {Property::warming, "warming", "thermal time constant", "min", 1,
     "light edges without a flood near them"},
}};

// Estimate and interval of what follows from the unknowns, by its gradient.
class Teller {
 public:
  explicit Teller(const Fit& fit) : fit_(fit) {}

  // `several` gives numbers at once, from the first `count` unknowns or from all.
  using Several = std::function<std::vector<double>(const std::vector<double>&)>;
  std::vector<Finding> tell(const Several& several, std::size_t count) const {
    const std::vector<double> here = several(fit_.unknown);
    std::vector<std::vector<double>> gradients(here.size(),
                                               std::vector<double>(fit_.unknown.size()));
    std::vector<double> moved = fit_.unknown;
    for (std::size_t k = 0; k < count; ++k) {
      const double nudge = 1e-2 * std::sqrt(fit_.covariance.at(k, k));
      moved[k] += nudge;
      const std::vector<double> there = several(moved);
      for (std::size_t i = 0; i < here.size(); ++i) gradients[i][k] = (there[i] - here[i]) / nudge;
      moved[k] = fit_.unknown[k];
    }
    std::vector<Finding> found;
    for (std::size_t i = 0; i < here.size(); ++i) found.push_back(around(here[i], gradients[i]));
    return found;
  }
  std::vector<Finding> tell(const Several& several) const {
    return tell(several, fit_.unknown.size());
  }
  // One that no knot has a part in, and that is positive.
  Finding tell(const std::function<double(const std::vector<double>&)>& of) const {
    return tell([&](const std::vector<double>& x) { return std::vector<double>{of(x)}; },
                kUnknowns)[0];
  }
  // An unknown itself, if the record says much more of it than was believed.
  Finding tell(const Balance& balance, Unknown which, double times) const {
    Finding found =
        tell([&](const std::vector<double>& x) { return times * balance.value(which, x); });
    if (!sharper(balance, which)) found.lack = Lack::too_vague;
    return found;
  }
  bool sharper(const Balance& balance, Unknown which) const {
    return spread(which) <= kMuchSharper * balance.prior_spread(which);
  }
  double spread(Unknown which) const {
    std::vector<double> gradient(fit_.unknown.size());
    gradient[static_cast<std::size_t>(which)] = 1;
    return std::sqrt(fit_.variance_of(gradient));
  }
  double times() const { return t90(std::max(1, fit_.blocks - 1)); }

 private:
  // A positive number is uncertain by a factor.
  Finding around(double value, const std::vector<double>& gradient) const {
    const double factor = std::exp(times() * std::sqrt(fit_.variance_of(gradient)) / value);
    return {Lack::nothing, value, value / factor, value * factor};
  }

  const Fit& fit_;
};

// A spread that no record shows, beside the one that it does; `relative` is a standard deviation.
void blur(Finding& found, double relative) {
  const double seen = std::log(found.high / found.value);
  const double all = std::hypot(seen, t90(1000) * relative);
  found.low = found.value / std::exp(all);
  found.high = found.value * std::exp(all);
}

void drop_vague(Finding& found) {
  if (found.lack == Lack::nothing && found.high - found.low > 2 * kVague * std::abs(found.value))
    found.lack = Lack::too_vague;
}

// What no fit can make up for.
Lack lack_of(const Record& record, const Balance& balance) {
  std::size_t canopy = 0, room = 0, level = 0;
  for (const Step& step : record.steps) {
    canopy += step.canopy ? 1 : 0;
    room += step.room ? 1 : 0;
    level += step.level_l ? 1 : 0;
  }
  const auto seldom = [&](std::size_t count) {
    return static_cast<double>(count) < kLeastSeen * static_cast<double>(record.steps.size());
  };
  if (hours_of(record) < kLeastHours) return Lack::too_short;
  if (seldom(canopy)) return Lack::no_canopy;
  if (seldom(room)) return Lack::no_room;
  if (seldom(level)) return Lack::no_level;
  if (balance.floods_weighed() < kLeastFloods) return Lack::few_floods;
  return Lack::nothing;
}

Lack lack_of_dehumidifier(const Balance& balance, const Beliefs& beliefs, const Fitted& fitted) {
  if (!fitted.dehumidifier) return Lack::not_fitted;
  if (beliefs.labels.dehumidifier_place == DehumidifierPlace::room) return Lack::in_the_room;
  const bool often =
      balance.hours_drying() >= kLeastDryingHours && balance.drying_starts() >= kLeastDryingStarts;
  if (!often && balance.drying_tests() == 0) return Lack::seldom_used;
  return Lack::nothing;
}

void tell_air(const Balance& balance, const Teller& teller, Findings& findings) {
  const double warmer = balance.mean_warmer_k();
  const auto exchange = [&](double level) {
    return teller.tell(
        [&](const std::vector<double>& x) { return balance.flow_m3_per_h(level, warmer, x); });
  };
  findings[Property::exhaust_flow] = exchange(1);
  findings[Property::exchange_high] = exchange(0.8);
  findings[Property::exchange_low] = exchange(0.3);
  findings[Property::exchange_mean] = exchange(balance.mean_fan());
  for (const Property p : {Property::exhaust_flow, Property::exchange_high, Property::exchange_low,
                           Property::exchange_mean}) {
    blur(findings[p], kFlowCurve);
    drop_vague(findings[p]);
  }
}

void tell_water(const Balance& balance, const Teller& teller, Findings& findings) {
  const double hours = balance.hours_lit() + balance.hours_dark();
  const auto found = teller.tell([&](const std::vector<double>& x) {
    const Balance::Vapour v = balance.vapour(x);
    const double grams =
        v.lit_g_per_h * balance.hours_lit() + v.dark_g_per_h * balance.hours_dark();
    return std::vector<double>{v.lit_g_per_h, v.dark_g_per_h, 0.024 * grams / hours, v.flood_ml};
  });
  findings[Property::evaporation_lit] = found[0];
  findings[Property::evaporation_dark] = found[1];
  findings[Property::evaporation_daily] = found[2];
  findings[Property::flood_vapour] = found[3];
  findings[Property::flood_fades] = teller.tell(balance, Unknown::fades, 1.0 / 60);
  if (balance.hours_lit() <= 0) findings[Property::evaporation_lit].lack = Lack::few_edges;
  if (balance.hours_dark() <= 0) findings[Property::evaporation_dark].lack = Lack::few_edges;
  for (const Property p : {Property::evaporation_lit, Property::evaporation_dark,
                           Property::evaporation_daily, Property::flood_vapour})
    drop_vague(findings[p]);
}

void tell_devices(const Balance& balance, const Teller& teller, const Beliefs& beliefs,
                  const Fitted& fitted, Findings& findings) {
  Finding& drying = findings[Property::drying];
  drying = teller.tell(balance, Unknown::drying, beliefs.labels.dehumidifier_g_per_h * 0.024);
  blur(drying, kDryingCurve);
  drop_vague(drying);
  if (const Lack lack = lack_of_dehumidifier(balance, beliefs, fitted); lack != Lack::nothing)
    drying.lack = lack;
  Finding& mist = findings[Property::mist];
  mist = teller.tell(balance, Unknown::mist, beliefs.labels.humidifier_g_per_h);
  drop_vague(mist);
  if (!fitted.humidifier)
    mist.lack = Lack::not_fitted;
  else if (balance.hours_misting() < kLeastMistHours)
    mist.lack = Lack::seldom_used;
  Finding& lag = findings[Property::probe_lag];
  lag = teller.tell([&](const std::vector<double>& x) { return balance.probe_lag_s(x); });
  if (!teller.sharper(balance, Unknown::lag)) lag.lack = Lack::too_vague;
  blur(lag, kLagCurve);
  drop_vague(lag);
}

// Canopy over room. Of compared probes there is nothing left to find.
Finding offset_of(const Balance& balance, const Fit& fit, const Teller& teller,
                  const Beliefs& beliefs) {
  const double value = balance.value(Unknown::offset, fit.unknown);
  const double half = teller.times() * teller.spread(Unknown::offset);
  const bool known = !beliefs.probes_compared && teller.sharper(balance, Unknown::offset);
  return {known ? Lack::nothing : Lack::too_vague, value, value - half, value + half};
}

Finding warming_of(const Record& record, const Balance& balance, const Fit& fit,
                   const Beliefs& beliefs) {
  const auto flow = [&](double level, double warmer_k) {
    return balance.flow_m3_per_h(level, warmer_k, fit.unknown);
  };
  const auto capacity = heat_capacity(record, beliefs.labels, flow);
  if (!capacity) return {Lack::few_edges};
  const double loss = tent_model::kAirDensity * flow(balance.mean_fan(), balance.mean_warmer_k()) *
                          tent_model::kAirHeat / 3600 +
                      tent_model::kWallWattPerKelvin;
  const double minutes = 60 * capacity->wh_per_k / loss;
  const double spread = 60 * t90(capacity->degrees) * capacity->spread / loss;
  Finding found{Lack::nothing, minutes, minutes - spread, minutes + spread};
  drop_vague(found);
  return found;
}

}  // namespace

const PropertyInfo& info(Property property) { return kInfos[static_cast<std::size_t>(property)]; }

std::string_view text(Lack lack) {
  switch (lack) {
    case Lack::nothing:
      return "found";
    case Lack::too_short:
      return "less than a day of readings";
    case Lack::no_canopy:
      return "too few readings of canopy temperature and humidity";
    case Lack::no_room:
      return "too few readings of room temperature and humidity";
    case Lack::no_level:
      return "too few readings of the reservoir level";
    case Lack::few_floods:
      return "fewer than three times from one complete flood to the next";
    case Lack::not_fitted:
      return "not fitted";
    case Lack::seldom_used:
      return "it ran too little";
    case Lack::in_the_room:
      return "it stands in the room, whose own air exchange is not known";
    case Lack::few_edges:
      return "too few light edges";
    case Lack::too_vague:
      return "the readings say little more of it than was believed before";
  }
  return {};
}

bool would_sharpen(const Findings& findings, Property property) {
  const Finding& found = findings[property];
  if (found.lack == Lack::too_vague || found.lack == Lack::seldom_used) return true;
  if (found.lack != Lack::nothing || found.high - found.low <= 2 * kWide * found.value)
    return false;
  return (property == Property::drying && findings.drying_tests == 0) ||
         (property == Property::probe_lag && findings.fan_tests == 0);
}

Findings identify(const Record& record, const Beliefs& beliefs, const Fitted& fitted) {
  Findings findings;
  findings.hours = hours_of(record);
  Balance balance(record, beliefs);
  findings.floods_weighed = static_cast<int>(balance.floods_weighed());
  findings.windows = static_cast<int>(balance.windows());
  findings.fan_tests = balance.fan_tests();
  findings.drying_tests = balance.drying_tests();
  findings.mean_fan = balance.mean_fan();
  const Lack lack = lack_of(record, balance);
  for (Finding& finding : findings.of) finding.lack = lack;
  if (lack != Lack::nothing) return findings;
  const auto linearise = [&](const std::vector<double>& x) { return balance.linearise(x); };
  auto fit = least_squares(linearise, balance.layout(), balance.start());
  if (fit) {
    balance.widen(fit->residual);
    fit = least_squares(linearise, balance.layout(), fit->unknown);
  }
  for (Finding& finding : findings.of) finding.lack = Lack::too_vague;
  if (!fit) return findings;
  findings.blocks = fit->blocks;
  const Teller teller(*fit);
  tell_air(balance, teller, findings);
  tell_water(balance, teller, findings);
  tell_devices(balance, teller, beliefs, fitted, findings);
  findings[Property::probe_offset] = offset_of(balance, *fit, teller, beliefs);
  findings[Property::warming] = warming_of(record, balance, *fit, beliefs);
  return findings;
}

std::vector<Proposal> proposals(const Findings& findings, const Beliefs& beliefs) {
  constexpr double kWorthSaying = 0.1;
  std::vector<Proposal> list;
  if (!beliefs.probes_compared) return list;
  const neap::Beliefs& believed = beliefs.labels;
  const auto add = [&](Property property, std::string_view group, std::string_view key, int digits,
                       double was) {
    const Finding& found = findings[property];
    if (found.lack != Lack::nothing) return;
    const bool aside = found.low > was || found.high < was;
    list.push_back({group, key, info(property).unit, digits, was, found,
                    aside && std::abs(found.value - was) >= kWorthSaying * was});
  };
  add(Property::exhaust_flow, "tent", "exhaust_flow", 0, believed.fan_m3_per_h);
  add(Property::drying, "climate", "dehumidifier_capacity", 2,
      believed.dehumidifier_g_per_h * 0.024);
  add(Property::mist, "climate", "humidifier_output", 0, believed.humidifier_g_per_h);
  return list;
}

}  // namespace neap::identify
