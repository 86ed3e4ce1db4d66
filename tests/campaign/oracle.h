// What must hold whatever comes, judged by the plant's truth and the pins, never by what the daemon
// believes. Numbers are those of the project's list of invariants (DEVELOPERS.md).
#pragma once

#include <array>
#include <cstdint>
#include <deque>
#include <optional>
#include <string>
#include <vector>

#include "daemon/core/scan.h"
#include "drivers/simulated/tent.h"
#include "tests/campaign/world.h"

namespace neap::campaign {

struct Violation {
  int invariant = 0;
  double at_s = 0;
  std::string what;
};

// The pins and the world at one moment, and the scan that has just been, if one has.
struct Moment {
  double now_s = 0;                                  // of world time
  double since_s = 0;                                // since the moment before
  bool powered = true;                               // the board has power and the process runs
  bool proven = false;                               // outputs were proven since the start
  const drivers::simulated::State* truth = nullptr;  // a litre of solution weighs 1 kg
  const drivers::simulated::Contacts* contacts = nullptr;  // null while nobody reads them
  bool contacts_heard = true;  // at least once since they can be read again
  double contacts_age_s = 0;
  const drivers::simulated::FaultsNow* faults = nullptr;
  const PerOutput<Permille>* pins = nullptr;
  const State* state = nullptr;      // null while nothing runs
  const Outcome* outcome = nullptr;  // of a scan at this moment
  bool other_settings = false;       // whose slots have the same numbers and are others
  double clock_ahead_s = 0;          // of the true time
};

class Oracle {
 public:
  Oracle(const World& world, const Plan& plan);

  void moment(const Moment& m);
  void began();  // the daemon starts
  // It is gone, by power or by signal. What a card did not take is forgotten: `unsaved`.
  void crashed(bool unsaved);
  // Until the next scan nobody can have stopped by the new limits.
  void settings_changed(const TablePlan& before);
  void reset_granted(Latch latch) { latched_[static_cast<std::size_t>(latch)] = false; }
  void ended(double now_s);

  const std::vector<Violation>& violations() const { return violations_; }
  int floods_complete() const { return floods_complete_; }

 private:
  void fail(int invariant, double at_s, std::string what);
  void water(const Moment& m);
  void pump(const Moment& m);
  void compressor(const Moment& m);
  void tempering(const Moment& m);
  void latches(const Moment& m);
  void told(const Moment& m);
  void pump_switch(const Moment& m);
  void button(const Moment& m);
  void roots(const Moment& m);
  void events(const Moment& m);
  void calm(const Moment& m);
  bool energised(const Moment& m) const;
  bool held_on(const Moment& m) const;
  bool water_fault(const Moment& m) const;

  const World& world_;
  const Plan& plan_;
  const double healed_s_;
  std::vector<Violation> violations_;
  std::array<bool, 34> failed_{};  // an invariant is told once a run

  struct Run {
    double began_s, lasted_s;
  };
  std::deque<Run> runs_;  // of the pump, in the last 24 h
  bool pumping_ = false;
  double dry_s_ = 0;
  double uncovered_s_ = 0, blind_s_ = 0;
  double tray_before_l_ = 0;
  double flood_before_s_ = 0, day_before_s_ = 0;
  double watered_s_ = 0;
  double state_lost_s_ = -1e9;
  double wet_s_ = 0, weld_s_ = 0, series_s_ = 0;
  bool was_wet_ = false, turned_ = false, held_ = false;
  double welded_s_ = -1e9;
  bool was_down_ = false;
  double down_s_ = 0, let_go_s_ = -1e9, pressed_for_s_ = 0;
  int crashes_ = 0;

  bool drying_ = false;
  double compressor_changed_s_ = -1e9;
  bool crashed_since_ = true;

  std::array<bool, kLatchCount> latched_{};
  std::deque<double> flood_starts_;
  struct Fired {
    SlotId slot;
    bool other_settings;
    double at_s, ahead_s;
  };
  std::vector<Fired> fired_;
  bool mute_ = false;
  int floods_complete_ = 0;
  bool complete_after_heal_ = false;
};

}  // namespace neap::campaign
