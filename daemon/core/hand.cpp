#include "daemon/core/hand.h"

#include "daemon/core/event.h"
#include "daemon/core/state.h"

namespace neap {
namespace {

// In the order of Hand, for the watched ones.
constexpr std::array<Reason, kWatchedHands> kTold{Reason::hand_ph, Reason::hand_ec,
                                                  Reason::hand_level, Reason::hand_temperature};

// Two clocks may differ by this.
constexpr std::int64_t kSkewMs = Millis{minutes{1}}.count();

// Dated by a clock that was ahead, as one knows that tells the time by others now. What is told
// later could never follow it.
bool dated_ahead(const WallTime& wall, std::int64_t unix_ms) {
  return wall.quality == TimeQuality::synced && unix_ms > wall.unix_ms + kSkewMs;
}

void remember(HandReading& kept, const HandNote& note, const WallTime& wall) {
  const bool same = kept.known && kept.id == note.id;
  if (note.amends) {
    if (!same) return;
    kept.known = note.value.has_value();
    kept.value = note.value.value_or(0);
    return;
  }
  if (same || !note.value) return;
  const bool newer_stands =
      note.taken_unix_ms < kept.taken_unix_ms && !dated_ahead(wall, kept.taken_unix_ms);
  if (kept.known && newer_stands) return;
  kept = {true, *note.value, note.taken_unix_ms, note.id};
}

}  // namespace

void take_hand_note(State& state, const HandNote& note, Events& events) {
  SolutionAge& age = state.kept.solution_age;
  if (age.known && dated_ahead(state.last_wall, age.changed_unix_ms))
    age = {false, 0, 0, age.replaced_l, age.topup_id};
  follow_solution_age(age, note);
  const auto number = static_cast<std::size_t>(note.hand);
  if (number >= kWatchedHands) return;
  remember(state.kept.hands[number], note, state.last_wall);
  Event event;
  event.kind = EventKind::hand_measurement;
  event.number = static_cast<std::int32_t>(note.hand);
  event.because =
      note.value ? because(kTold[number], *note.value) : because(Reason::hand_withdrawn);
  events.push(event);
}

}  // namespace neap
