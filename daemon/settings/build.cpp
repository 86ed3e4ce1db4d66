#include "daemon/settings/build.h"

#include <cmath>

#include "daemon/core/plan.h"
#include "daemon/settings/hydraulics.h"
#include "daemon/settings/quantity.h"

namespace neap::settings {
namespace {

namespace hy = hydraulics;

// A standpipe that passes the pump's free flow this many times leaves room for algae and roots in
// it: common practice, no source.
constexpr double kStandpipeMargin = 1.3;
// A limit under this part over what is expected stops sound floods; over the second it lets much
// water out of a hose that is off. Choices.
constexpr double kLimitMargin = 1.25;
constexpr double kLimitLoose = 3;
// Calculation and settings further apart than this: one of them is wrong. A choice; a curve between
// two label values and fittings by custom are no better than a quarter.
constexpr double kFlowsAgree = 0.35;

double si_flow(double l_per_h) { return l_per_h / 3.6e6; }
double l_per_h(double m3_s) { return m3_s * 3.6e6; }

std::string whole(double value, std::string_view unit) {
  return format_number(std::round(value)) + " " + std::string(unit);
}
std::string tenths(double value, std::string_view unit) {
  return format_number(std::round(value * 10) / 10) + " " + std::string(unit);
}
std::string flow(double m3_s) { return whole(l_per_h(m3_s), "L/h"); }
std::string mm(double metres) { return whole(std::ceil(metres * 1000), "mm"); }
std::string time(double s) { return format_seconds(static_cast<std::int64_t>(std::lround(s))); }
double seconds_of(Millis length) { return static_cast<double>(length.count()) / 1000; }

struct Check {
  const TablePlan& table;
  const Build& build;
  std::vector<BuildFinding>& found;

  void good(std::string_view part, std::string text) const {
    found.push_back({Weight::good, part, std::move(text), {}});
  }
  void warn(std::string_view part, std::string text, std::string remedy) const {
    found.push_back({Weight::warning, part, std::move(text), std::move(remedy)});
  }
  void missing(std::string_view part, std::string text, std::string remedy) const {
    found.push_back({Weight::missing, part, std::move(text), std::move(remedy)});
  }

  std::optional<hy::Pump> pump() const {
    if (!build.pump_free_l_per_h || !build.pump_head_m) return std::nullopt;
    return hy::Pump{si_flow(*build.pump_free_l_per_h), *build.pump_head_m};
  }
  std::optional<hy::Hose> hose() const {
    if (!build.hose_bore_mm || !build.hose_length_m) return std::nullopt;
    return hy::Hose{*build.hose_bore_mm / 1000, *build.hose_length_m};
  }
  std::optional<hy::Tray> tray() const {
    if (!build.standpipe_height_mm) return std::nullopt;
    return hy::Tray{table.flood_volume.value / 1000, *build.standpipe_height_mm / 1000};
  }
};

void check_reservoir(const Check& in) {
  const TablePlan& t = in.table;
  if (!in.build.top_up_l)
    return in.missing("reservoir",
                      "whether the reservoir can take a tray that empties into it is not known",
                      "add build.top_up");
  // The tray may stand at its rim, not only at the standpipe's, when its water comes back.
  const double room = t.reservoir_capacity.value - *in.build.top_up_l;
  const std::string sum =
      "topped up to " + tenths(*in.build.top_up_l, "L") + ", it has room for " + tenths(room, "L");
  // A flood that would leave less than the minimum is cut off, every time.
  const double least = t.flood_volume.value + t.reservoir_minimum.value;
  if (*in.build.top_up_l < least)
    in.warn("reservoir",
            "topped up to " + tenths(*in.build.top_up_l, "L") + ", a flood of " +
                tenths(t.flood_volume.value, "L") + " would leave less than the minimum of " +
                tenths(t.reservoir_minimum.value, "L") + ": every flood is cut off",
            "top up to " + tenths(least, "L") + " at least, or lower table.reservoir_minimum");
  if (room >= t.tray_capacity.value)
    return in.good("reservoir", sum + ": even a full tray of " +
                                    tenths(t.tray_capacity.value, "L") +
                                    " runs back into it, topped up at the worst moment");
  if (room >= t.flood_volume.value)
    return in.good("reservoir",
                   sum + ", a flood of " + tenths(t.flood_volume.value, "L") +
                       " topped up at the worst moment; a tray full to its rim would be more");
  in.warn("reservoir",
          sum + "; topped up while the tray is flooded it runs over when " +
              tenths(t.flood_volume.value, "L") + " come back",
          "top up only while the tray is empty (neap service begin holds the floods), or to " +
              tenths(t.reservoir_capacity.value - t.flood_volume.value, "L") + " at most");
}

double mid_depth_m3_s(const Check& in, const hy::Pump& pump) {
  return hy::pump_m3_s(pump, in.hose(), *in.build.lift_m + *in.build.standpipe_height_mm / 2000);
}

// The flow at mid-depth, if the pump gets there at all.
void check_pump(const Check& in) {
  const auto pump = in.pump();
  if (!pump || !in.build.lift_m || !in.build.standpipe_height_mm)
    return in.missing("pump", "whether the pump reaches the tray is not known",
                      "add build.pump_free_flow, pump_head, lift and standpipe_height");
  const double rim = *in.build.lift_m + *in.build.standpipe_height_mm / 1000;
  const std::string heights = "the standpipe's rim is " + tenths(rim * 100, "cm") +
                              " over the reservoir's water, the pump's head " +
                              tenths(pump->shut_off_m * 100, "cm");
  const double at_rim = hy::pump_m3_s(*pump, in.hose(), rim);
  if (at_rim <= 0)
    return in.warn(
        "pump", heights + ": it never fills the tray",
        "fit a pump of at least " + tenths(rim * 2, "m") + " of head, or raise the reservoir");
  const double expected = mid_depth_m3_s(in, *pump);
  const std::string moves = heights + ": it should move " + flow(expected) + " into the tray";
  const double apart = in.table.pump_l_per_h / l_per_h(expected);
  if (apart > 1 + kFlowsAgree || apart < 1 / (1 + kFlowsAgree))
    return in.warn("pump",
                   moves + ", and table.pump_flow is " + whole(in.table.pump_l_per_h, "L/h"),
                   "measure it with a bucket and a watch at the tray's height, and correct what "
                   "is wrong");
  in.good("pump", moves + (in.hose() ? "" : ", its hose left out"));
}

// The most that may ever come: the pump without head, a burst of it included.
void check_standpipe(const Check& in) {
  const Build& b = in.build;
  if (!b.standpipe_bore_mm || !b.freeboard_mm)
    return in.missing("standpipe", "whether the standpipe passes the pump's flow is not known",
                      "add build.standpipe_bore and freeboard");
  const double most = si_flow(b.pump_free_l_per_h.value_or(in.table.pump_l_per_h));
  const double head = *b.freeboard_mm / 1000;
  const double passes = hy::standpipe_m3_s(*b.standpipe_bore_mm / 1000, head);
  const std::string sum = "passes " + flow(passes) + " with " + whole(*b.freeboard_mm, "mm") +
                          " of freeboard, " + format_number(std::floor(passes / most * 10) / 10) +
                          " times the pump's " + flow(most) +
                          (b.pump_free_l_per_h ? " without head" : " of table.pump_flow");
  if (passes >= kStandpipeMargin * most) return in.good("standpipe", sum);
  const double wanted = kStandpipeMargin * most;
  in.warn("standpipe",
          sum + (passes < most ? ": the tray can run over its rim"
                               : ": little is left for roots and algae in the pipe"),
          "for " + format_number(kStandpipeMargin) + " times the flow fit a standpipe of " +
              mm(hy::standpipe_bore_m(head, wanted)) + " inside, or leave " +
              mm(hy::standpipe_head_m(*b.standpipe_bore_mm / 1000, wanted)) +
              " of freeboard, or throttle the pump");
}

void check_limit(const Check& in, std::string_view part, double expected_s, Millis limit,
                 const std::string& key) {
  const std::string sum =
      "takes about " + time(expected_s) + "; " + key + " is " + time(seconds_of(limit));
  if (seconds_of(limit) >= expected_s * kLimitMargin) return in.good(part, sum);
  in.warn(part, sum + ": sound floods would be stopped or told as slow",
          "measure one, and set " + key + " to " + time(std::ceil(expected_s * 1.5 / 10) * 10) +
              " or what half as much again as measured is");
}

void check_fill(const Check& in) {
  const auto pump = in.pump();
  const auto tray = in.tray();
  if (!pump || !tray || !in.build.lift_m) return;  // said of the pump already
  const auto fill = hy::fill_s(*pump, in.hose(), *in.build.lift_m, *tray);
  if (!fill) return;
  check_limit(in, "fill", *fill, in.table.fill_limit, "table.fill_limit");
  const double spilt = in.table.pump_l_per_h * seconds_of(in.table.fill_limit) / 3600;
  if (seconds_of(in.table.fill_limit) > kLimitLoose * *fill)
    in.warn("fill",
            "table.fill_limit lets " + tenths(spilt, "L") +
                " out of a hose that came off, where nothing else sees it",
            "set it to " + time(std::ceil(*fill * 1.5 / 10) * 10));
}

std::optional<double> drain_time(const Check& in) {
  const auto tray = in.tray();
  if (!tray) return std::nullopt;
  switch (in.table.drain_path) {
    case DrainPath::through_pump:
      if (!in.hose() || !in.build.lift_m) return std::nullopt;
      return hy::drain_by_hose_s(*tray, *in.hose(), *in.build.lift_m);
    case DrainPath::weep_hole:
    case DrainPath::drain_valve:
      if (!in.build.drain_bore_mm) return std::nullopt;
      return hy::drain_by_hole_s(*tray, *in.build.drain_bore_mm / 1000);
  }
  return std::nullopt;
}

void check_drain(const Check& in) {
  const bool by_hose = in.table.drain_path == DrainPath::through_pump;
  if (by_hose && in.build.lift_m && *in.build.lift_m <= 0)
    return in.warn("drain", "the reservoir's water is as high as the tray: it does not drain",
                   "put the reservoir lower");
  const auto expected = drain_time(in);
  if (!expected)
    return in.missing("drain", "how long the tray drains is not known",
                      by_hose ? "add build.standpipe_height, hose_bore, hose_length and lift"
                              : "add build.standpipe_height and drain_bore");
  check_limit(in, "drain", *expected, in.table.drain_limit, "table.drain_limit");
}

}  // namespace

std::optional<double> expected_flow_l_per_h(const std::optional<Build>& build) {
  if (!build || !build->lift_m || !build->standpipe_height_mm) return std::nullopt;
  std::vector<BuildFinding> unused;
  const TablePlan table;
  const Check in{table, *build, unused};
  const auto pump = in.pump();
  if (!pump) return std::nullopt;
  const double flow = mid_depth_m3_s(in, *pump);
  return flow > 0 ? std::optional(l_per_h(flow)) : std::nullopt;
}

std::vector<BuildFinding> check_build(const Plan& plan, const std::optional<Build>& build) {
  std::vector<BuildFinding> found;
  if (!build) return found;
  const Check in{plan.table, *build, found};
  check_reservoir(in);
  check_pump(in);
  check_fill(in);
  check_standpipe(in);
  check_drain(in);
  return found;
}

}  // namespace neap::settings
