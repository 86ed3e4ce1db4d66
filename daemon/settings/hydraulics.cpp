#include "daemon/settings/hydraulics.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace neap::settings::hydraulics {
namespace {

constexpr double kGravity = 9.81;       // m/s2
constexpr double kWeir = 1.84;          // m^0.5/s
constexpr double kOrifice = 0.6;        // discharge coefficient of a sharp edge
constexpr double kViscosity = 1.0e-6;   // m2/s, water at 20 C
constexpr double kLaminarBelow = 2300;  // Reynolds
constexpr double kFittings = 4.2;       // velocity heads: bends, inlet, connectors
constexpr double kRestingPump = 25;     // velocity heads
constexpr double kEmptyDepth = 0.003;   // m; what is left runs out of the medium for long
constexpr int kSlices = 200;            // of the tray's depth
constexpr int kHalvings = 60;           // of an interval that holds the answer

double circle(double bore_m) { return std::numbers::pi * bore_m * bore_m / 4; }

// The root of a function that rises from `low` to `high`.
template <class Rising>
double root(double low, double high, Rising&& f) {
  for (int i = 0; i < kHalvings; ++i) {
    const double middle = (low + high) / 2;
    (f(middle) < 0 ? low : high) = middle;
  }
  return (low + high) / 2;
}

double loss_m(const Hose& hose, double flow_m3_s, double more_velocity_heads) {
  if (flow_m3_s <= 0) return 0;
  const double velocity = flow_m3_s / circle(hose.bore_m);
  const double friction =
      friction_factor(velocity * hose.bore_m / kViscosity) * hose.length_m / hose.bore_m;
  constexpr double kOutlet = 1;
  return (friction + kFittings + more_velocity_heads + kOutlet) * velocity * velocity /
         (2 * kGravity);
}

// The flow that uses up `head_m` on the way back: between none and that of a hose without loss.
double back_flow_m3_s(const Hose& hose, double head_m) {
  const double most = circle(hose.bore_m) * std::sqrt(2 * kGravity * head_m);
  return root(0, most, [&](double q) { return loss_m(hose, q, kRestingPump) - head_m; });
}

}  // namespace

double standpipe_m3_s(double bore_m, double head_m) {
  if (head_m <= 0) return 0;
  const double weir = kWeir * std::numbers::pi * bore_m * std::pow(head_m, 1.5);
  const double orifice = kOrifice * circle(bore_m) * std::sqrt(2 * kGravity * head_m);
  return std::min(weir, orifice);
}

double standpipe_head_m(double bore_m, double flow_m3_s) {
  const double weir = std::pow(flow_m3_s / (kWeir * std::numbers::pi * bore_m), 2.0 / 3);
  const double speed = flow_m3_s / (kOrifice * circle(bore_m));
  return std::max(weir, speed * speed / (2 * kGravity));
}

double standpipe_bore_m(double head_m, double flow_m3_s) {
  const double weir = flow_m3_s / (kWeir * std::numbers::pi * std::pow(head_m, 1.5));
  const double area = flow_m3_s / (kOrifice * std::sqrt(2 * kGravity * head_m));
  return std::max(weir, std::sqrt(4 * area / std::numbers::pi));
}

double friction_factor(double reynolds) {
  return reynolds < kLaminarBelow ? 64 / reynolds : 0.316 * std::pow(reynolds, -0.25);
}

double hose_loss_m(const Hose& hose, double flow_m3_s) { return loss_m(hose, flow_m3_s, 0); }

double pump_m3_s(const Pump& pump, const std::optional<Hose>& hose, double head_m) {
  if (head_m >= pump.shut_off_m) return 0;
  return root(0, pump.free_m3_s, [&](double q) {
    const double part = q / pump.free_m3_s;
    const double left = pump.shut_off_m * (1 - part * part) - head_m;
    return (hose ? hose_loss_m(*hose, q) : 0) - left;
  });
}

std::optional<double> fill_s(const Pump& pump, const std::optional<Hose>& hose, double lift_m,
                             const Tray& tray) {
  double total = 0;
  for (int i = 0; i < kSlices; ++i) {
    const double depth = tray.depth_m * (i + 0.5) / kSlices;
    const double flow = pump_m3_s(pump, hose, lift_m + depth);
    if (flow <= 0) return std::nullopt;
    total += tray.volume_m3 / kSlices / flow;
  }
  return total;
}

double drain_by_hole_s(const Tray& tray, double bore_m) {
  const double area = tray.volume_m3 / tray.depth_m;
  const double fall = std::sqrt(tray.depth_m) - std::sqrt(std::min(kEmptyDepth, tray.depth_m));
  return 2 * area * fall / (kOrifice * circle(bore_m) * std::sqrt(2 * kGravity));
}

std::optional<double> drain_by_hose_s(const Tray& tray, const Hose& hose, double fall_m) {
  if (fall_m <= 0) return std::nullopt;
  const double span = std::max(0.0, tray.depth_m - kEmptyDepth);
  double total = 0;
  for (int i = 0; i < kSlices; ++i) {
    const double depth = kEmptyDepth + span * (i + 0.5) / kSlices;
    total += tray.volume_m3 / tray.depth_m * span / kSlices / back_flow_m3_s(hose, fall_m + depth);
  }
  return total;
}

}  // namespace neap::settings::hydraulics
