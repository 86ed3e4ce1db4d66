// Water in the parts of a flood table: what a standpipe passes, what a pump moves up a hose, how
// long a tray takes to fill and to drain. Pure functions in SI units (m, m3/s, s), steady flow of
// cold water. They belong to `neap check` alone: the scan learns fill and drain from floods.
//
// Sources: weir, J. B. Francis 1883 (Q = 3.33 L h^1.5 in feet, 1.84 in metres), its length the
// circumference, as for any drop inlet; orifice, sharp-edged, Cd 0.6 (Midoux, Mecanique et
// rheologie des fluides); the lower of both counts (SWMM's rule for bottom orifices). Pipe
// friction: Darcy-Weisbach, laminar 64/Re, smooth turbulent 0.316 Re^-0.25 (Blasius 1913).
// Emptying: Torricelli. The pump's curve between its two label values is a parabola, and fittings
// have 4.2 velocity heads together: common practice, no source.
#pragma once

#include <optional>

namespace neap::settings::hydraulics {

// What runs over the rim of a round standpipe of inner diameter `bore_m` when the water stands
// `head_m` over it. Nothing where the head is 0 or less.
double standpipe_m3_s(double bore_m, double head_m);
// The head at which it passes `flow_m3_s`: the freeboard it needs.
double standpipe_head_m(double bore_m, double flow_m3_s);
// The smallest bore that passes `flow_m3_s` at `head_m`.
double standpipe_bore_m(double head_m, double flow_m3_s);

// Darcy's factor of a smooth pipe; Reynolds over 0.
double friction_factor(double reynolds);

struct Hose {
  double bore_m = 0;
  double length_m = 0;
};
// Head that a flow loses in the hose, its fittings and its outlet.
double hose_loss_m(const Hose& hose, double flow_m3_s);

struct Pump {
  double free_m3_s = 0;   // without head, as the label says
  double shut_off_m = 0;  // the head at which it moves nothing, as the label says
};
// What the pump moves up `head_m` through the hose; without a hose as if it were wide. 0 when the
// head is at or over its shut-off.
double pump_m3_s(const Pump& pump, const std::optional<Hose>& hose, double head_m);

struct Tray {
  double volume_m3 = 0;  // to the standpipe's rim, medium in place
  double depth_m = 0;    // the standpipe's rim over the tray's floor
};
// From empty to the standpipe's rim, the pump lifting `lift_m` to the tray's floor. None when the
// pump does not reach the rim.
std::optional<double> fill_s(const Pump& pump, const std::optional<Hose>& hose, double lift_m,
                             const Tray& tray);

// From the rim down to 3 mm, through a hole of `bore_m` in the floor.
double drain_by_hole_s(const Tray& tray, double bore_m);
// The same, back through hose and resting pump, whose loss is 25 velocity heads (assumption), to a
// reservoir `fall_m` under the tray's floor. None when there is no fall.
std::optional<double> drain_by_hose_s(const Tray& tray, const Hose& hose, double fall_m);

}  // namespace neap::settings::hydraulics
