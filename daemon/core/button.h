// The one button at the tent (point button.pressed), for wet hands and no laptop. A short press
// stops the water and keeps it stopped for a while, or acknowledges what calls for a person; one
// that is held floods once, by the same path and past the same permissives as `neap flood`.
//
// Nothing happens before the button is let go: one that sticks, is leaned on or has a wire that
// chafed through never does anything but become an alarm. Between short and long lies a second that
// means nothing, so that a reading a second late never makes a flood of a short press. The length
// is told by the times of the readings that said so: a contact on a GPIO line is read at its edges.
#pragma once

#include "daemon/core/event.h"
#include "daemon/core/plan.h"
#include "daemon/core/request.h"
#include "daemon/core/state.h"

namespace neap {

// Choices, no source: a press takes 0.1 to 1 s, and nobody rests a hand on a button for half a
// minute.
constexpr Millis kShortPress = seconds{2};   // shorter than this
constexpr Millis kLongPress = seconds{3};    // at least this
constexpr Millis kStuckPress = seconds{30};  // from here on it is stuck
// Read at least this often: a second is what lies between short and long.
constexpr Millis kButtonEvery = seconds{1};
constexpr Millis kFloodsHeld = minutes{20};
constexpr Millis kRefusalShown = seconds{5};

enum class Press : std::uint8_t { none = 0, brief = 1, held = 2 };

// What the newest reading makes of the button; a press is told once, when it is over. A button that
// was pressed at the start, could not be read meanwhile or chatters told nothing.
Press follow_button(const Plan& plan, State& state, Instant now);

// Pressed long enough: it may be let go.
bool waits_to_be_let_go(const ButtonWatch& button, Instant now);
bool is_stuck(const ButtonWatch& button, Instant now);
// Of the last press, in the last kRefusalShown.
bool shows_refusal(const ButtonWatch& button, Instant now);

// What calls for a person at the tent, as lamp and buzzer do: alarms of high priority and above.
bool calls_for_a_person(const AlarmRecord& record, Alarm alarm);

// Could it be stopped?
bool flood_under_way(const State& state);

// What the events of this scan say of the button's last wish.
void note_refusal(State& state, const Events& events, Instant now);

// What a brief press asks for. It never shortens a hold that somebody made longer, and in another
// hand there is no water that it could stop.
Requests asked_by_brief_press(const Plan& plan, const State& state, Instant now);

Instant next_button_deadline(const ButtonWatch& button, Instant now);

}  // namespace neap
