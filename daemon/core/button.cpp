#include "daemon/core/button.h"

#include <algorithm>
#include <utility>

#include "daemon/core/watch.h"

namespace neap {
namespace {

bool unacknowledged(const AlarmRecord& record) {
  return record.state == AlarmState::unacknowledged || record.state == AlarmState::returned;
}

// `seen`: how long readings said so. Where some are missing the press was shorter than its ends
// say.
Press judged(Millis length, Millis seen) {
  if (length < kShortPress) return Press::brief;
  const bool held = length >= kLongPress && seen >= kShortPress && length < kStuckPress;
  return held ? Press::held : Press::none;
}

}  // namespace

bool flood_under_way(const State& state) {
  return state.flood.phase == FloodPhase::fill || state.flood.phase == FloodPhase::soak ||
         state.flood.retry_pending;
}

void note_refusal(State& state, const Events& events, Instant now) {
  for (const Event& event : events)
    if (event.kind == EventKind::request && event.request_id == kButtonRequest && !event.accepted)
      state.button.refused_at = now;
}

Press follow_button(const Plan& plan, State& state, Instant now) {
  ButtonWatch& button = state.button;
  const PointWatch& watch = state.points[Point::button_pressed];
  const ContactWatch& contact = watch.contact;
  switch (float_seen(plan, state, Point::button_pressed)) {
    case FloatSeen::not_fitted:
    case FloatSeen::unknown:
      button.down.reset();
      button.was_up = false;
      return Press::none;
    case FloatSeen::set:
      if (!button.down) button.down = contact.since;
      button.seen_down = watch.reading.taken();
      return Press::none;
    case FloatSeen::clear:
      break;
  }
  const bool believed = button.was_up && !chatters(contact, now);
  const std::optional<Instant> down = std::exchange(button.down, std::nullopt);
  button.was_up = true;
  return down && believed ? judged(contact.since - *down, button.seen_down - *down) : Press::none;
}

bool waits_to_be_let_go(const ButtonWatch& button, Instant now) {
  return button.down && button.was_up && button.seen_down - *button.down >= kLongPress &&
         !is_stuck(button, now);
}

bool is_stuck(const ButtonWatch& button, Instant now) {
  return button.down && now - *button.down >= kStuckPress;
}

bool shows_refusal(const ButtonWatch& button, Instant now) {
  return button.refused_at && now - *button.refused_at < kRefusalShown;
}

bool calls_for_a_person(const AlarmRecord& record, Alarm alarm) {
  return info(alarm).priority >= Priority::high &&
         (unacknowledged(record) || record.state == AlarmState::acknowledged);
}

Requests asked_by_brief_press(const Plan& plan, const State& state, Instant now) {
  Requests asked;
  for (std::size_t i = 0; i < kAlarmCount; ++i) {
    const auto alarm = static_cast<Alarm>(i);
    const AlarmRecord& record = state.kept.alarms[i];
    if (unacknowledged(record) && calls_for_a_person(record, alarm))
      asked.push({.kind = RequestKind::acknowledge, .alarm = alarm});
  }
  const bool floods = drives(plan, Output::pump) && flood_under_way(state);
  const bool pumps = state.last.commands[Output::pump].level > kStopped;
  if (!asked.empty() && !floods && !pumps) return asked;
  // Whatever else the finger meant, water that moves stops first.
  const Hold& held = state.holds[Output::pump];
  Requests hold;
  if (floods) hold.push({.kind = RequestKind::flood_stop});
  hold.push({.kind = RequestKind::hold,
             .output = Output::pump,
             .level = kStopped,
             .duration = held.active && held.level == kStopped
                             ? std::max(kFloodsHeld, held.until - now)
                             : kFloodsHeld});
  return hold;
}

Instant next_button_deadline(const ButtonWatch& button, Instant now) {
  Instant next = Instant::max();
  const auto consider = [&](std::optional<Instant> from, Millis after) {
    if (from && *from + after > now) next = std::min(next, *from + after);
  };
  consider(button.down, kLongPress);
  consider(button.down, kStuckPress);
  consider(button.refused_at, kRefusalShown);
  return next;
}

}  // namespace neap
