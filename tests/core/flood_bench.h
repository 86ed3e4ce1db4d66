// A flood table in a bathtub's physics, and the cycle stepped over it in virtual time: the pump
// fills at its rate, the standpipe returns what is too much, the tray drains at a constant rate.
#pragma once

#include <algorithm>
#include <cmath>
#include <optional>
#include <vector>

#include "daemon/core/flood.h"
#include "daemon/core/limits.h"
#include "tests/core/plans.h"

namespace neap::test {

struct Tub {
  double reservoir_l = 70;
  double tray_l = 0;
  double floor_l = 0;
  double standpipe_l = 24;
  double pump_part = 1;   // of the pump's rating; 0 = dead
  double spilt_part = 0;  // of what is pumped: onto the floor
  double drain_l_per_s = 0.1;

  void second(const TablePlan& table, bool pump, bool valve_open) {
    const double pumped = pump ? std::min(reservoir_l, table.pump_l_per_h / 3600 * pump_part) : 0;
    reservoir_l -= pumped;
    floor_l += pumped * spilt_part;
    tray_l += pumped * (1 - spilt_part);
    const bool drains = table.drain_path == DrainPath::weep_hole ||
                        (table.drain_path == DrainPath::through_pump && !pump) ||
                        (table.drain_path == DrainPath::drain_valve && valve_open);
    give_back(drains ? std::min(tray_l, drain_l_per_s) : 0);
    give_back(std::max(0.0, tray_l - standpipe_l));
  }
  void give_back(double litres) {
    tray_l -= litres;
    reservoir_l += litres;
  }
};

// What was asked of the pump, and when it changed.
struct PumpEdge {
  std::int64_t second;  // since the bench began
  bool running;
  friend bool operator==(const PumpEdge&, const PumpEdge&) = default;
};

class FloodBench {
 public:
  TablePlan table = small_table();
  Tub tub;
  FloodState state;
  FloodLearnt learnt;
  FloodInputs in;
  bool level_fitted = true;
  bool full_fitted = true;
  bool wet_fitted = false;
  bool full_sticks = false;         // the full float stays clear
  Millis level_every = seconds{1};  // between two samples of the level
  bool each_second = true;          // else: only when something is due or was read
  bool pump_obeys = true;           // false: something above the flood refuses the pump
  std::vector<CycleRow> rows;
  std::vector<PumpEdge> pump_edges;
  std::vector<Because> refusals;
  bool raised_fill_expired = false;  // ever shown to the kernel
  bool raised_lost_water = false;
  bool raised_drain_expired = false;
  bool valve_open = true;
  double most_l = 0;  // that the tray ever held
  int steps = 0;

  FloodBench() {
    in.soak = minutes{8};
    in.start_permitted = true;
    state.still.from = now_ - hours{1};
  }

  Instant now() const { return now_; }
  std::int64_t elapsed_s() const { return (now_ - kBegin).count() / 1000; }

  std::vector<FloodOutcome> outcomes() const {
    std::vector<FloodOutcome> all;
    for (const CycleRow& row : rows) all.push_back(row.outcome);
    return all;
  }

  FloodNews step(const FloodStart& start = {}, bool stop = false) {
    read();
    demands_.clear();
    in.pump_is_on = pump_on_;
    const FloodNews news = step_flood(table, state, learnt, in, start, stop, now_, demands_);
    note(news);
    ++steps;
    return news;
  }

  FloodNews start(FloodOrigin origin = FloodOrigin::slot) {
    return step({true, SlotId{20000, 2}, origin});
  }
  FloodNews stop() { return step({}, true); }

  void run(Millis span) {
    for (const Instant end = now_ + span; now_ < end;) second();
  }
  // Runs until the phase is `phase`, at most four hours; false when it never was.
  bool run_to(FloodPhase phase) {
    for (const Instant end = now_ + hours{4}; now_ < end && state.phase != phase;) second();
    return state.phase == phase;
  }

 private:
  static constexpr Instant kBegin = instant(Millis{4294967000});

  void second() {
    tub.second(table, pump_on_, valve_open);
    most_l = std::max(most_l, tub.tray_l);
    now_ += seconds{1};
    const FloatSeen full = in.tray_full;
    const FloatSeen wet = in.tray_wet;
    const Instant taken = in.reservoir.taken();
    read();
    const bool news = full != in.tray_full || wet != in.tray_wet || taken != in.reservoir.taken();
    if (each_second || news || now_ >= next_flood_deadline(table, state, learnt, in)) step();
  }

  static FloatSeen seen(bool fitted, bool water) {
    if (!fitted) return FloatSeen::not_fitted;
    return water ? FloatSeen::set : FloatSeen::clear;
  }

  void read() {
    in.tray_full = seen(full_fitted, !full_sticks && tub.tray_l > tub.standpipe_l - 0.5);
    if (in.tray_full != FloatSeen::set)
      in.full_since.reset();
    else if (!in.full_since)
      in.full_since = now_;
    in.tray_wet = seen(wet_fitted, tub.tray_l > 0.5);
    if (!level_fitted)
      in.reservoir = Reading<Litres>::absent(Fault::not_fitted);
    else if ((now_ - kBegin) % level_every == Millis{0})
      in.reservoir = Reading<Litres>::of(Litres{tub.reservoir_l}, Quality::good, now_);
  }

  void note(const FloodNews& news) {
    if (news.row_closed) rows.push_back(news.row);
    if (news.refused.reason != Reason::none) refusals.push_back(news.refused);
    raised_fill_expired |= state.fill_expired;
    raised_lost_water |= state.lost_water;
    raised_drain_expired |= state.drain_expired;
    for (const Demand& demand : demands_) {
      const bool on = demand.level == kRunning;
      if (demand.output == Output::drain_valve) valve_open = on;
      if (demand.output != Output::pump) continue;
      const bool granted = on && pump_obeys && !in.pump_tripped;
      if (granted != pump_on_) pump_edges.push_back({elapsed_s(), granted});
      pump_on_ = granted;
    }
  }

  Instant now_ = kBegin;
  Demands demands_;
  bool pump_on_ = false;
};

}  // namespace neap::test
