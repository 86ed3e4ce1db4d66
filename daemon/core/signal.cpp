#include "daemon/core/signal.h"

#include "daemon/core/button.h"

namespace neap {
namespace {

Demand shown(Output output, Permille level, Blink blink, Because why) {
  return {output, level, Precedence::schedule, why, blink};
}

// The latch or the alarm that calls; none when all is well.
Because calls(const State& state) {
  for (const LatchInfo& row : kLatches)
    if (state.kept.kernel.latched[static_cast<std::size_t>(row.latch)])
      return because(Reason::latched, static_cast<double>(row.latch));
  for (std::size_t i = 0; i < kAlarmCount; ++i) {
    const AlarmRecord& record = state.kept.alarms[i];
    if (!record.at_rest() && calls_for_a_person(record, static_cast<Alarm>(i)))
      return because(Reason::lamp_calls, static_cast<double>(i));
  }
  return {};
}

Because floods_are_held(const State& state) {
  if (state.service) return because(Reason::service_holds);
  const Hold& pump = state.holds[Output::pump];
  return pump.active && pump.level == kStopped ? because(Reason::lamp_held) : Because{};
}

Demand lamp(const State& state, bool safe_mode, Instant now) {
  if (waits_to_be_let_go(state.button, now))
    return shown(Output::lamp, kStopped, Blink::steady, because(Reason::button_let_go));
  if (safe_mode) return shown(Output::lamp, kRunning, Blink::fast, because(Reason::safe_mode));
  if (const Because why = calls(state); why.reason != Reason::none)
    return shown(Output::lamp, kRunning, Blink::fast, why);
  if (shows_refusal(state.button, now))
    return shown(Output::lamp, kRunning, Blink::fast, because(Reason::button_refused));
  if (const Because why = floods_are_held(state); why.reason != Reason::none)
    return shown(Output::lamp, kRunning, Blink::slow, why);
  return shown(Output::lamp, kRunning, Blink::steady, because(Reason::lamp_well));
}

Demand buzzer(const State& state, Instant now) {
  if (shows_refusal(state.button, now))
    return shown(Output::buzzer, kRunning, Blink::fast, because(Reason::button_refused));
  for (std::size_t i = 0; i < kAlarmCount; ++i) {
    const auto alarm = static_cast<Alarm>(i);
    const bool heard = state.kept.alarms[i].state == AlarmState::unacknowledged &&
                       info(alarm).priority >= Priority::high &&
                       (wakes_people(alarm) || !state.targets.quiet);
    if (heard)
      return shown(Output::buzzer, kRunning, Blink::tone,
                   because(Reason::lamp_calls, static_cast<double>(i)));
  }
  return shown(Output::buzzer, kStopped, Blink::steady, because(Reason::lamp_well));
}

bool says(const Command& command, const Demand& demand) {
  return command.level == demand.level && command.blink == demand.blink &&
         command.because == demand.because;
}

}  // namespace

void ask_signals(const Plan& plan, const State& state, bool safe_mode, Instant now,
                 Demands& demands) {
  if (plan.outputs[Output::lamp]) demands.push(lamp(state, safe_mode, now));
  if (plan.outputs[Output::buzzer]) demands.push(buzzer(state, now));
}

bool signals_lag(const Plan& plan, const State& state, bool safe_mode, Instant now) {
  const auto lags = [&](const Demand& demand) {
    const Command& command = drives(plan, demand.output) ? state.last.commands[demand.output]
                                                         : state.last.would[demand.output];
    return command.precedence <= Precedence::schedule && !says(command, demand);
  };
  return (plan.outputs[Output::lamp] && lags(lamp(state, safe_mode, now))) ||
         (plan.outputs[Output::buzzer] && lags(buzzer(state, now)));
}

}  // namespace neap
