#include "daemon/core/arbiter.h"

#include <algorithm>
#include <optional>

#include "daemon/core/dwell.h"
#include "daemon/core/interlock.h"
#include "daemon/core/limits.h"

namespace neap {
namespace {

// The strongest, of equals the last; null without one.
const Demand* winner(const Demands& demands, Output output) {
  const Demand* best = nullptr;
  for (const Demand& demand : demands)
    if (demand.output == output && (best == nullptr || demand.precedence >= best->precedence))
      best = &demand;
  return best;
}

// What the plan makes of a level: two positions, floor and ceiling, quiet hours. A person's hold is
// above quiet hours; a flood under way is not cut by them (its slot was moved out of their way).
Permille bounded(const OutputPlan& plan, const Demand& demand, bool quiet) {
  Permille level = demand.level;
  if (level == kStopped) return level;
  const bool bind = quiet && demand.precedence < Precedence::sequence;
  const Permille ceiling = bind ? std::min(plan.ceiling, plan.quiet_ceiling) : plan.ceiling;
  if (ceiling == kStopped) return kStopped;
  if (!plan.variable) return kRunning;
  return std::clamp(level, std::min(plan.floor, ceiling), ceiling);
}

// One slew step towards `wanted`, on the grid only. Starts and stops are not slewed: a fan that
// creeps through its stall region starts worse than one that jumps to its floor.
Permille slewed(const OutputPlan& plan, Permille from, Permille wanted, Instant before,
                Instant now) {
  if (!plan.variable || plan.slew_per_min <= 0 || from == kStopped || wanted == kStopped)
    return wanted;
  if (tick_ms(now) / kSlewStep.count() == tick_ms(before) / kSlewStep.count()) return from;
  const int step = std::max(1, static_cast<int>(plan.slew_per_min * kSlewStep.count() / 60'000));
  return Permille{std::clamp(wanted.value, from.value - step, from.value + step)};
}

bool kicks(const OutputPlan& plan) { return plan.variable && plan.start_for > Millis{0}; }

// A motor that is held slow may not start by itself: for a moment it is given more than is asked.
// It is no level that the slope knows, neither on its way up nor down.
std::optional<Instant> kicked_until(const OutputPlan& plan, const Dwell& dwell, Permille before,
                                    Permille wanted, Instant now) {
  if (!kicks(plan) || wanted == kStopped || wanted >= plan.start_level) return std::nullopt;
  const Instant until = (before == kStopped ? now : dwell.changed) + plan.start_for;
  return now < until ? std::optional(until) : std::nullopt;
}

void grant(const OutputPlan& plan, const Dwell& dwell, const Demand& demand, const Verdict& verdict,
           Permille before, bool quiet, Instant last_scan, Instant now, Command& command) {
  command.wanted = bounded(plan, demand, quiet);
  command.wanted_because = demand.level != kStopped && command.wanted == kStopped
                               ? because(Reason::quiet_hours)
                               : demand.because;
  command.level = permitted(demand.output, command.wanted, before, verdict, plan.safe);
  command.precedence = demand.precedence;
  command.blink = demand.blink;
  command.because = command.wanted_because;
  if (verdict.trip || command.level != command.wanted) {
    command.precedence = Precedence::interlock;
    command.because = verdict.because;
  }
  // Water is never held back from stopping, nor the valve from opening, by a dwell.
  if (verdict.trip || moves_water(demand.output)) return;
  const bool was_kicked =
      kicks(plan) && before > kStopped && last_scan < dwell.changed + plan.start_for;
  const Because wait = dwell_forbids(plan, dwell, before, command.level, now);
  if (wait.reason != Reason::none) {
    command.level = was_kicked && plan.floor > kStopped ? plan.floor : before;
    command.because = wait;
    return;
  }
  if (kicked_until(plan, dwell, before, command.level, now)) {
    Demand kick = demand;
    kick.level = plan.start_level;
    command.level = std::max(command.level, std::min(bounded(plan, kick, quiet), verdict.cap));
    command.because =
        because(Reason::start_kick, static_cast<double>(plan.start_for.count()) / 1000);
    return;
  }
  command.level = slewed(plan, was_kicked ? kStopped : before, command.level, last_scan, now);
}

// Granted to nobody: the level stays safe, and `wanted` says what neap would have given it.
Command observed(const OutputPlan& plan, const Command& would, Instant now) {
  Command command;
  command.level = plan.safe;
  command.because = because(Reason::observing);
  command.wanted = would.level;
  command.wanted_because = would.because;
  command.until = now;
  return command;
}

}  // namespace

void arbitrate(const Plan& plan, State& state, const Demands& demands, const Verdicts& verdicts,
               bool quiet, Instant now, OutputImage& image) {
  for (const OutputInfo& row : kOutputs) {
    const auto& fitted = plan.outputs[row.output];
    image.driven[row.output] = drives(plan, row.output);
    if (!fitted) {
      image.commands[row.output] =
          Command{row.safe, Precedence::safe_default,    because(Reason::not_fitted),
                  row.safe, because(Reason::not_fitted), now};
      continue;
    }
    Command& command = fitted->driven ? image.commands[row.output] : image.would[row.output];
    const Permille before = command.level;
    Dwell& dwell = state.kept.dwell[row.output];
    const Demand none{row.output, fitted->safe, Precedence::safe_default,
                      because(Reason::safe_state)};
    const Demand* const best = winner(demands, row.output);
    grant(*fitted, dwell, best != nullptr ? *best : none, verdicts.of[row.output], before, quiet,
          state.last_scan, now, command);
    if ((before == kStopped) != (command.level == kStopped))
      note_change(dwell, command.level > kStopped, now);
    command.until = now + limits::lease_of(row.output);
    if (!fitted->driven) image.commands[row.output] = observed(*fitted, command, now);
  }
}

Instant next_arbiter_deadline(const Plan& plan, const State& state, const OutputImage& image,
                              Instant now) {
  Instant next = Instant::max();
  for (const OutputInfo& row : kOutputs) {
    const auto& fitted = plan.outputs[row.output];
    const bool ours = image.driven[row.output];
    const Command& command = ours ? image.commands[row.output] : image.would[row.output];
    if (!fitted || command.level == command.wanted) continue;
    const Dwell& dwell = state.kept.dwell[row.output];
    if (const auto until = kicked_until(*fitted, dwell, command.level, command.wanted, now)) {
      next = std::min(next, *until);
      continue;
    }
    const bool start = command.level == kStopped;
    if (start || command.wanted == kStopped) {
      const Instant at = dwell_permits_at(*fitted, dwell, start, now);
      if (at > now) next = std::min(next, at);
    } else if (fitted->slew_per_min > 0) {
      const std::int64_t step = kSlewStep.count();
      next = std::min(next, instant(Millis{(tick_ms(now) / step + 1) * step}));
    }
  }
  return next;
}

}  // namespace neap
