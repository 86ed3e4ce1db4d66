// One step of the cycle: the arguments of step_flood() or see_flood(), and a function a decision.
// Private to flood.cpp, which drives a cycle, and flood_seen.cpp, which follows another hand's.
#pragma once

#include <optional>

#include "daemon/core/flood.h"
#include "daemon/core/flood_proof.h"

namespace neap {

class Step {
 public:
  Step(const TablePlan& table, FloodState& state, FloodLearnt& learnt, const FloodInputs& in,
       Instant now)
      : table_(table), state_(state), learnt_(learnt), in_(in), now_(now) {}

  void take_readings();
  void watch_still_water();
  void stop_by_operator();
  void advance();
  void start(const FloodStart& start);
  void start_retry();
  void follow_another_hand();  // instead of all of these: flood_seen.cpp
  void push(Demands& demands) const;
  const FloodNews& news() const { return news_; }

 private:
  struct Sign {  // that somebody pumps
    Because what;
    Instant since{};
  };
  void enter(FloodPhase phase);
  void begin(SlotId slot, FloodOrigin origin);
  bool water_is_back();

  void follow_resting_level();
  std::optional<Sign> sign_of_water() const;
  void seen_to_begin(const Sign& sign);
  void see_fill();
  void see_soak();
  void judge_short_flood();
  bool rises() const;
  bool runs_back() const;

  void step_fill();
  void step_soak();
  void step_drain();
  bool stopped_by_interlock();
  bool full_by_float();
  void filled(Reason by);
  void lost_water(const Because& why);
  void nothing_moved();
  void fill_ran_out();
  void plan_retry();
  void stop_pump();
  void end_cycle(FloodOutcome outcome, const Because& why);
  void end_drain(proof::Drained how);
  void close_row();
  void settle_retry();
  void settle_row();
  bool is_seen() const { return state_.row.origin == FloodOrigin::another_hand; }
  void learn_from_row(proof::Drained how);

  const TablePlan& table_;
  FloodState& state_;
  FloodLearnt& learnt_;
  const FloodInputs& in_;
  const Instant now_;
  FloodNews news_;
};

}  // namespace neap
