#include "daemon/words/words.h"

namespace neap::words {
namespace {

// For a number that no enumerator has: the journal may be newer than the program that reads it.
constexpr std::string_view kUnknown = "unknown";

}  // namespace

std::string_view name(Quality q) {
  switch (q) {
    case Quality::bad:
      return "bad";
    case Quality::uncertain:
      return "uncertain";
    case Quality::good:
      return "good";
  }
  return kUnknown;
}

std::string_view name(Fault f) {
  switch (f) {
    case Fault::none:
      return "no fault";
    case Fault::not_fitted:
      return "not fitted";
    case Fault::never_read:
      return "not read yet";
    case Fault::no_answer:
      return "no answer";
    case Fault::corrupt:
      return "answer damaged";
    case Fault::out_of_range:
      return "out of range";
    case Fault::jump:
      return "changed too fast";
    case Fault::stale:
      return "too old";
    case Fault::frozen:
      return "stuck at one value";
    case Fault::power_on_value:
      return "power-on value, not a measurement";
    case Fault::saturated:
      return "wet, stuck at 100 %";
    case Fault::erratic:
      return "wild values, not believed";
    case Fault::unconfirmed:
      return "moved fast, not confirmed";
    case Fault::absent:
      return "no such device";
    case Fault::denied:
      return "no right to open it";
    case Fault::taken:
      return "in use by another program or driver";
    case Fault::hung:
      return "bus hung";
    case Fault::ambiguous:
      return "more than one device fits";
    case Fault::not_ready:
      return "no value ready";
    case Fault::open_wire:
      return "wire open";
    case Fault::short_wire:
      return "wires short";
  }
  return kUnknown;
}

std::string_view name(FloodPhase p) {
  switch (p) {
    case FloodPhase::idle:
      return "idle";
    case FloodPhase::fill:
      return "fill";
    case FloodPhase::soak:
      return "soak";
    case FloodPhase::drain:
      return "drain";
    case FloodPhase::rest:
      return "rest";
  }
  return kUnknown;
}

std::string_view name(FloodOutcome o) {
  switch (o) {
    case FloodOutcome::running:
      return "under way";
    case FloodOutcome::complete:
      return "complete";
    case FloodOutcome::stopped:
      return "stopped by an operator";
    case FloodOutcome::no_effect:
      return "nothing moved";
    case FloodOutcome::fill_failed:
      return "did not fill";
    case FloodOutcome::lost_water:
      return "lost water";
    case FloodOutcome::tripped:
      return "stopped by an interlock";
    case FloodOutcome::interrupted:
      return "interrupted";
    case FloodOutcome::slow_drain:
      return "did not drain in time";
  }
  return kUnknown;
}

std::string_view name(FloodOrigin o) {
  switch (o) {
    case FloodOrigin::slot:
      return "schedule";
    case FloodOrigin::catch_up:
      return "catch-up";
    case FloodOrigin::operator_request:
      return "operator";
    case FloodOrigin::retry:
      return "retry";
    case FloodOrigin::by_time:
      return "by time";
    case FloodOrigin::another_hand:
      return "another hand";
  }
  return kUnknown;
}

std::string_view name(AlarmState s) {
  switch (s) {
    case AlarmState::normal:
      return "normal";
    case AlarmState::unacknowledged:
      return "unacknowledged";
    case AlarmState::acknowledged:
      return "acknowledged";
    case AlarmState::returned:
      return "returned";
    case AlarmState::shelved:
      return "shelved";
    case AlarmState::suppressed:
      return "suppressed";
  }
  return kUnknown;
}

std::string_view name(Priority p) {
  switch (p) {
    case Priority::advisory:
      return "advisory";
    case Priority::low:
      return "low";
    case Priority::medium:
      return "medium";
    case Priority::high:
      return "high";
    case Priority::critical:
      return "critical";
  }
  return kUnknown;
}

std::string_view name(Precedence p) {
  switch (p) {
    case Precedence::safe_default:
      return "safe state";
    case Precedence::schedule:
      return "schedule";
    case Precedence::loop:
      return "climate";
    case Precedence::sequence:
      return "flood";
    case Precedence::operator_hold:
      return "operator";
    case Precedence::interlock:
      return "interlock";
  }
  return kUnknown;
}

std::string_view name(EventKind k) {
  switch (k) {
    case EventKind::actuation:
      return "actuation";
    case EventKind::alarm:
      return "alarm";
    case EventKind::latch_set:
      return "latch set";
    case EventKind::latch_reset:
      return "latch reset";
    case EventKind::flood_phase:
      return "flood";
    case EventKind::cycle_closed:
      return "flood ended";
    case EventKind::cycle_settled:
      return "air recovered";
    case EventKind::slot_skipped:
      return "flood skipped";
    case EventKind::stage:
      return "stage";
    case EventKind::targets:
      return "targets";
    case EventKind::reading_state:
      return "reading";
    case EventKind::request:
      return "request";
    case EventKind::time:
      return "time";
    case EventKind::service:
      return "service";
    case EventKind::day_closed:
      return "day";
    case EventKind::boot:
      return "daemon";
    case EventKind::settings:
      return "settings";
    case EventKind::client:
      return "client";
    case EventKind::fault:
      return "fault";
    case EventKind::step_test:
      return "step test";
    case EventKind::proof_test:
      return "proof test";
    case EventKind::hand_measurement:
      return "by hand";
    case EventKind::would_actuate:
      return "would do";
    case EventKind::would_flood:
      return "would flood";
    case EventKind::calibration:
      return "calibration";
  }
  return kUnknown;
}

std::string_view name(Contact c) {
  switch (c) {
    case Contact::clear:
      return "clear";
    case Contact::set:
      return "set";
    case Contact::damp:
      return "damp";
    case Contact::faulty:
      return "faulty";
  }
  return kUnknown;
}

std::string_view name(TimeQuality q) {
  switch (q) {
    case TimeQuality::unset:
      return "not known";
    case TimeQuality::restored:
      return "not confirmed by a time source";
    case TimeQuality::synced:
      return "synchronised";
  }
  return kUnknown;
}

std::string_view name(LawChoice law) {
  switch (law) {
    case LawChoice::two_position:
      return "two_position";
    case LawChoice::fixed_fan:
      return "fixed_fan";
    case LawChoice::predictive:
      return "predictive";
    case LawChoice::rule:
      return "rule";
  }
  return kUnknown;
}

}  // namespace neap::words
