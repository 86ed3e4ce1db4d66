#include "daemon/core/hand.h"

#include "daemon/core/event.h"
#include "daemon/core/state.h"

namespace neap {
namespace {

// In the order of Hand, for the watched ones.
constexpr std::array<Reason, kWatchedHands> kTold{Reason::hand_ph, Reason::hand_ec,
                                                  Reason::hand_level, Reason::hand_temperature};

void remember(HandReading& kept, const HandNote& note) {
  const bool same = kept.known && kept.id == note.id;
  if (note.amends) {
    if (!same) return;
    kept.known = note.value.has_value();
    kept.value = note.value.value_or(0);
    return;
  }
  if (same || !note.value) return;
  if (kept.known && note.taken_unix_ms < kept.taken_unix_ms) return;
  kept = {true, *note.value, note.taken_unix_ms, note.id};
}

}  // namespace

void take_hand_note(State& state, const HandNote& note, Events& events) {
  follow_solution_age(state.kept.solution_age, note);
  const auto number = static_cast<std::size_t>(note.hand);
  if (number >= kWatchedHands) return;
  remember(state.kept.hands[number], note);
  Event event;
  event.kind = EventKind::hand_measurement;
  event.number = static_cast<std::int32_t>(note.hand);
  event.because =
      note.value ? because(kTold[number], *note.value) : because(Reason::hand_withdrawn);
  events.push(event);
}

}  // namespace neap
