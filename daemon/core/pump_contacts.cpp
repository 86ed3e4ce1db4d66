#include "daemon/core/pump_contacts.h"

#include "daemon/core/watch.h"

namespace neap {
namespace {

bool proof_speaks(const Plan& plan, const State& state) {
  const FloatSeen proof = float_seen(plan, state, Point::pump_running);
  return proof == FloatSeen::clear || proof == FloatSeen::set;
}

// By turns, over restarts too: the number of the run decides.
Output to_be_tried(const State& state) {
  return state.kept.budget.run_count % 2 == 0 ? Output::pump : Output::pump_series;
}

void put(OutputImage& granted, Output contact, bool closed, Because why) {
  Command& command = granted.commands[contact];
  command.level = closed ? kRunning : kStopped;
  command.because = why;
}

void try_one(const State& state, OutputImage& granted) {
  const Because why = because(Reason::contact_tried, number_of_tried(state));
  for (const Output contact : {Output::pump, Output::pump_series})
    put(granted, contact, contact != state.pump_proof.tried, why);
}

void open_both(OutputImage& granted) {
  const Because& why = granted.commands[Output::pump].wanted_because;
  for (const Output contact : {Output::pump, Output::pump_series})
    put(granted, contact, false, why);
}

}  // namespace

PumpTold pump_told(const Plan& plan, Permille pump, Permille series) {
  const bool first = pump > kStopped;
  const bool second = plan.outputs[Output::pump_series] ? series > kStopped : first;
  if (first != second) return PumpTold::tried;
  return first ? PumpTold::runs : PumpTold::stopped;
}

PumpTold pump_told(const Plan& plan, const OutputImage& image) {
  return pump_told(plan, image.commands[Output::pump].level,
                   image.commands[Output::pump_series].level);
}

bool pump_runs(const Plan& plan, const OutputImage& image) {
  return pump_told(plan, image) == PumpTold::runs;
}

double number_of_tried(const State& state) {
  return state.pump_proof.tried == Output::pump ? 1 : 2;
}

bool contacts_are_tried(const State& state) {
  return state.pump_proof.told == PumpTold::tried || state.pump_proof.doubted;
}

void join_contacts(const Plan& plan, State& state, Instant now, OutputImage& granted) {
  if (!plan.outputs[Output::pump_series]) return;
  const Command& pump = granted.commands[Output::pump];
  granted.commands[Output::pump_series] = pump;
  if (state.verdicts.of[Output::pump].trip) return;  // both are open

  PumpProof& proof = state.pump_proof;
  const bool seen = proof_speaks(plan, state);
  const bool wanted = pump.level > kStopped;
  switch (proof.told) {
    case PumpTold::runs:
      if (wanted || !seen) return;
      proof.tried = to_be_tried(state);
      proof.told = PumpTold::tried;
      proof.told_since = now;
      return try_one(state, granted);
    case PumpTold::tried:
      if (seen && proof.ran && !proof.doubted && now - proof.told_since < kContactTrial)
        return try_one(state, granted);
      return open_both(granted);
    case PumpTold::stopped:
      if (proof.doubted) open_both(granted);
      return;
  }
}

}  // namespace neap
