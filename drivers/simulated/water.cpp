#include "drivers/simulated/water.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "drivers/simulated/moist_air.h"

namespace neap::drivers::simulated {
namespace {

constexpr double kWaterDensity = 1000.0;
constexpr double kLitresPerHour = 1.0 / 3.6e6;  // in m3/s
constexpr double kEmptyReservoirHeat = 2000.0;  // J/K, the box itself; an assumption
constexpr double kHoseFriction = 0.029;         // Darcy factor; Blasius 0.316 Re^-0.25 at Re 14000
constexpr double kUptakeSeconds = 120.0;        // medium under water fills up; an assumption
constexpr double kFloatHysteresis = 0.002;      // m
constexpr double kReachesFloorProbe = 60.0;     // s, water spreads to the probe; an assumption
constexpr double kWetsProbe = 0.01;             // kg beside a probe
constexpr double kProbePuddleMost = 0.1;        // kg that stays beside a probe
constexpr double kFloorDries = 0.03 / 3600.0;   // kg/s, small puddle in a room; an assumption

double bore_area(double bore_m) { return std::numbers::pi * bore_m * bore_m / 4; }

void take_from_reservoir(State& s, double kg) {
  s.reservoir_kg -= kg;
  s.ledger.heat_in_j -= kWaterHeat * kg * s.reservoir_c;
}

// Solution that has left the reservoir or the tray takes its salt along.
void lose(State& s, double kg) {
  const double left = solution_kg(s);
  s.salt *= left / (left + kg);
  s.ledger.spilled_kg += kg;
}

void spill(State& s, double kg, double& seen_kg) {
  if (kg <= 0) return;
  lose(s, kg);
  s.floor_kg += kg;
  seen_kg = std::min(kProbePuddleMost, seen_kg + kg);
}

// Out of the tray into the reservoir, with its warmth.
void give_back(State& s, double kg) {
  s.reservoir_c +=
      kWaterHeat * kg * (s.medium_c - s.reservoir_c) / (reservoir_heat(s) + kWaterHeat * kg);
  s.tray_kg -= kg;
  s.reservoir_kg += kg;
}

void pump(State& s, const Parameters& p, const Hydraulics& h, const Acting& a) {
  if (!a.pump) return;
  s.ledger.pump_s += 1;
  s.reservoir_c += p.pump_w / reservoir_heat(s);
  s.ledger.heat_in_j += p.pump_w;
  const double drawn_down =
      (p.reservoir_start_l - s.reservoir_kg) / kWaterDensity / p.reservoir_area_m2;
  const double head = p.pump_lift_m + drawn_down + (a.hose_whole ? h.depth_m(s.tray_kg) : 0.0);
  const double above_intake = std::max(0.0, s.reservoir_kg - p.pump_intake_l);
  const double kg = std::min(above_intake, kWaterDensity * h.pump_m3_s(head, a.pump_strength));
  s.ledger.pumped_kg += kg;
  if (!a.hose_whole) {
    take_from_reservoir(s, kg);
    spill(s, kg, s.seen_rack_kg);
    return;
  }
  s.medium_c +=
      kWaterHeat * kg * (s.reservoir_c - s.medium_c) / (medium_heat(s, p) + kWaterHeat * kg);
  s.reservoir_kg -= kg;
  s.tray_kg += kg;
}

void drain(State& s, const Hydraulics& h, const Acting& a, double depth) {
  const bool open = h.drains_through_pump() ? !a.pump : !h.drains_by_valve() || a.valve_open;
  if (!open) return;
  const double kg = std::min(s.tray_kg, kWaterDensity * a.drain_opening * h.drain_m3_s(depth));
  s.ledger.drained_kg += kg;
  if (h.drains_through_pump() && !a.hose_whole) {
    take_from_medium(s, kg);
    spill(s, kg, s.seen_rack_kg);
  } else {
    give_back(s, kg);
  }
}

void run_over(State& s, const Parameters& p, const Hydraulics& h, const Acting& a, double depth) {
  if (a.standpipe_free) {
    const double kg =
        std::min(s.tray_kg, kWaterDensity * h.standpipe_m3_s(depth - h.standpipe_m()));
    s.ledger.overflowed_kg += kg;
    give_back(s, kg);
  }
  const double over_rim = h.depth_m(s.tray_kg) - p.tray_rim_mm / 1000;
  if (over_rim > 0) {
    const double kg = s.tray_kg * over_rim / h.depth_m(s.tray_kg);
    take_from_medium(s, kg);
    spill(s, kg, s.seen_rack_kg);
  }
}

void soak_medium(State& s, const Parameters& p, const Hydraulics& h, double depth) {
  const double covered = std::min(1.0, depth / h.standpipe_m());
  const double kg =
      std::min(s.tray_kg, covered * (p.medium_capacity_l - s.medium_kg) / kUptakeSeconds);
  s.tray_kg -= kg;
  s.medium_kg += kg;
  s.wetness += covered * (1.0 - s.wetness) / 40.0;
}

void leak_and_brim(State& s, const Parameters& p, const Acting& a) {
  const double leaks = std::min(s.reservoir_kg, a.leak_kg_s);
  const double over = std::max(0.0, s.reservoir_kg - leaks - p.reservoir_capacity_l);
  if (leaks + over <= 0) return;
  take_from_reservoir(s, leaks + over);
  spill(s, leaks + over, s.seen_reservoir_kg);
}

// Into the floor itself, and out of the room.
void seep(State& s, const Acting& a) {
  const double kg = std::min(s.reservoir_kg, a.seep_kg_s);
  if (kg <= 0) return;
  take_from_reservoir(s, kg);
  lose(s, kg);
  s.ledger.water_in_kg -= kg;
}

// A float closes at its height and opens a little below it.
void move_float(bool& is_set, double depth, double height, double hysteresis) {
  is_set = depth >= (is_set ? height - hysteresis : height);
}

// A pump's inrush draws the board's supply down for so long, fault supply_sags.
constexpr int kInrushLasts = 2;  // s

void move_floats(State& s, const Parameters& p, const Hydraulics& h, const Acting& a) {
  const double depth = h.depth_m(s.tray_kg);
  const double wet = p.tray_wet_mm / 1000;
  move_float(s.floats.tray_wet, depth, wet, wet / 3);
  move_float(s.floats.tray_full, depth, p.tray_full_mm / 1000, kFloatHysteresis);
  move_float(s.floats.tray_high, depth, p.tray_high_mm / 1000, kFloatHysteresis);
  const double slack = kFloatHysteresis * kWaterDensity * p.reservoir_area_m2;
  s.floats.reservoir_low =
      s.reservoir_kg < p.reservoir_low_l + (s.floats.reservoir_low ? slack : 0.0);
  s.floats.pump_running = a.pump;
  s.floats.air_pump_running = a.air_pump;
  s.pump_turns_s = a.pump ? s.pump_turns_s + 1 : 0;
  s.floats.board_undervoltage =
      s.faults[TentFault::supply_sags] && a.pump && s.pump_turns_s <= kInrushLasts;
}

void wet_the_floor(State& s) {
  s.seen_floor_kg += (s.floor_kg - s.seen_floor_kg) / kReachesFloorProbe;
  const double dries = std::min(s.floor_kg, kFloorDries);
  s.floor_kg -= dries;
  s.ledger.water_in_kg -= dries;  // it leaves with the room's draught
  s.seen_rack_kg = std::max(0.0, s.seen_rack_kg - kFloorDries);
  s.seen_reservoir_kg = std::max(0.0, s.seen_reservoir_kg - kFloorDries);
  s.floats.leak_floor = s.seen_floor_kg > kWetsProbe;
  s.floats.leak_rack = s.seen_rack_kg > kWetsProbe;
  s.floats.leak_reservoir = s.seen_reservoir_kg > kWetsProbe;
}

}  // namespace

Hydraulics::Hydraulics(const Parameters& p)
    : path_(static_cast<int>(p.drain_path)),
      kg_per_m_(kWaterDensity * p.tray_area_m2 * p.medium_porosity),
      shutoff_m_(p.pump_shutoff_m),
      lift_m_(p.pump_lift_m),
      standpipe_m_(p.standpipe_height_mm / 1000),
      standpipe_bore_m_(p.standpipe_bore_mm / 1000) {
  const double most = p.pump_flow_l_per_h * kLitresPerHour;
  pump_curve_ = shutoff_m_ / (most * most);
  const double bore = p.hose_bore_mm / 1000;
  const double area = bore_area(bore);
  const double loss = kHoseFriction * p.hose_length_m / bore + p.hose_fittings + 1;
  hose_curve_ = loss / (2 * kGravity * area * area);
  hole_ = p.drain_coefficient * bore_area(p.drain_bore_mm / 1000) * std::sqrt(2 * kGravity);
  fall_ = area * std::sqrt(2 * kGravity / (loss + p.pump_idle_loss));
}

double Hydraulics::pump_m3_s(double static_head_m, double strength) const {
  if (static_head_m >= shutoff_m_ || strength <= 0) return 0;
  return std::sqrt((shutoff_m_ - static_head_m) /
                   (pump_curve_ / (strength * strength) + hose_curve_));
}

double Hydraulics::standpipe_m3_s(double over_rim_m) const {
  if (over_rim_m <= 0) return 0;
  const double root = std::sqrt(over_rim_m);
  const double weir = 1.84 * std::numbers::pi * standpipe_bore_m_ * over_rim_m * root;
  const double orifice = 0.6 * bore_area(standpipe_bore_m_) * std::sqrt(2 * kGravity) * root;
  return std::min(weir, orifice);
}

double Hydraulics::drain_m3_s(double depth_m) const {
  if (depth_m <= 0) return 0;
  return drains_through_pump() ? fall_ * std::sqrt(depth_m + lift_m_) : hole_ * std::sqrt(depth_m);
}

bool step_water(State& s, const Parameters& p, const Hydraulics& h, const Acting& a) {
  const bool moves = a.pump || s.tray_kg > 0;
  if (moves) {
    const double depth = h.depth_m(s.tray_kg);
    pump(s, p, h, a);
    if (depth > 0) {
      soak_medium(s, p, h, depth);
      drain(s, h, a, depth);
      run_over(s, p, h, a, depth);
    }
  }
  leak_and_brim(s, p, a);
  seep(s, a);
  wet_the_floor(s);
  move_floats(s, p, h, a);
  return moves;
}

void mop(State& s) {
  s.ledger.water_in_kg -= s.floor_kg;
  s.floor_kg = s.seen_floor_kg = s.seen_rack_kg = s.seen_reservoir_kg = 0;
}

void grower_round(State& s, const Parameters& p) {
  if (p.refill_below_l <= 0 || s.faults[TentFault::reservoir_not_refilled]) return;
  mop(s);
  s.ledger.water_in_kg -= s.bucket_kg;
  s.bucket_kg = 0;
  if (s.reservoir_kg >= p.refill_below_l) return;
  const double kg = p.reservoir_start_l - s.reservoir_kg;
  const double before = solution_kg(s);
  s.ph = (s.ph * before + p.feed_ph * kg) / (before + kg);
  s.salt += p.feed_ec * kg;
  s.reservoir_c +=
      kWaterHeat * kg * (s.room_c - s.reservoir_c) / (reservoir_heat(s) + kWaterHeat * kg);
  s.reservoir_kg += kg;
  s.ledger.refilled_kg += kg;
  s.ledger.water_in_kg += kg;
  s.ledger.heat_in_j += kWaterHeat * kg * s.room_c;
}

double medium_heat(const State& s, const Parameters& p) {
  return 1000 * p.medium_dry_kj_k + kWaterHeat * (s.medium_kg + s.tray_kg);
}

double reservoir_heat(const State& s) { return kEmptyReservoirHeat + kWaterHeat * s.reservoir_kg; }

double solution_kg(const State& s) { return s.reservoir_kg + s.tray_kg + s.medium_kg; }

double solution_ec(const State& s) {
  const double kg = solution_kg(s);
  return kg > 0 ? s.salt / kg : 0.0;
}

void take_from_medium(State& s, double kg) {
  const double from_tray = std::min(s.tray_kg, kg);
  s.tray_kg -= from_tray;
  s.medium_kg -= kg - from_tray;
  s.ledger.heat_in_j -= kWaterHeat * kg * s.medium_c;
}

}  // namespace neap::drivers::simulated
