#include <array>
#include <string_view>

#include "daemon/core/alarm.h"
#include "daemon/core/event.h"
#include "daemon/core/interlock.h"
#include "daemon/core/outputs.h"
#include "daemon/core/points.h"
#include "daemon/core/reason.h"
#include "daemon/journal/pack.h"
#include "daemon/journal/schema.h"
#include "daemon/words/words.h"

namespace neap::journal {
namespace {

struct Word {
  std::string_view family;
  int number;
  std::string_view name;
};

template <class Enum>
constexpr Word word(std::string_view family, Enum value, std::string_view name) {
  return {family, static_cast<int>(value), name};
}

// The small enums of the journal, in the words of the project. Latches come from their own table.
constexpr std::array kWords{
    word("quality", Quality::bad, "bad"),
    word("quality", Quality::uncertain, "uncertain"),
    word("quality", Quality::good, "good"),
    word("fault", Fault::none, "none"),
    word("fault", Fault::not_fitted, "not fitted"),
    word("fault", Fault::never_read, "never read"),
    word("fault", Fault::no_answer, "no answer"),
    word("fault", Fault::corrupt, "corrupt"),
    word("fault", Fault::out_of_range, "out of range"),
    word("fault", Fault::jump, "jump"),
    word("fault", Fault::stale, "too old"),
    word("fault", Fault::frozen, "frozen"),
    word("fault", Fault::power_on_value, "power-on value"),
    word("fault", Fault::saturated, "saturated"),
    word("fault", Fault::erratic, "erratic"),
    word("fault", Fault::unconfirmed, "unconfirmed"),
    word("fault", Fault::absent, "absent"),
    word("fault", Fault::denied, "denied"),
    word("fault", Fault::taken, "taken"),
    word("fault", Fault::hung, "hung"),
    word("fault", Fault::ambiguous, "ambiguous"),
    word("fault", Fault::not_ready, "not ready"),
    word("fault", Fault::open_wire, "open wire"),
    word("fault", Fault::short_wire, "short wire"),
    word("event", EventKind::actuation, "actuation"),
    word("event", EventKind::alarm, "alarm"),
    word("event", EventKind::latch_set, "latch set"),
    word("event", EventKind::latch_reset, "latch reset"),
    word("event", EventKind::flood_phase, "flood phase"),
    word("event", EventKind::cycle_closed, "cycle closed"),
    word("event", EventKind::cycle_settled, "cycle settled"),
    word("event", EventKind::slot_skipped, "slot skipped"),
    word("event", EventKind::stage, "stage"),
    word("event", EventKind::targets, "targets"),
    word("event", EventKind::reading_state, "reading"),
    word("event", EventKind::request, "request"),
    word("event", EventKind::time, "time"),
    word("event", EventKind::service, "service"),
    word("event", EventKind::day_closed, "day closed"),
    word("event", EventKind::boot, "boot"),
    word("event", EventKind::settings, "settings"),
    word("event", EventKind::client, "client"),
    word("event", EventKind::fault, "fault"),
    word("event", EventKind::step_test, "step test"),
    word("event", EventKind::proof_test, "proof test"),
    word("event", EventKind::hand_measurement, "hand measurement"),
    word("event", EventKind::would_actuate, "would do"),
    word("event", EventKind::would_flood, "would flood"),
    word("event", EventKind::calibration, "calibration"),
    word("alarm_state", AlarmState::normal, "normal"),
    word("alarm_state", AlarmState::unacknowledged, "unacknowledged"),
    word("alarm_state", AlarmState::acknowledged, "acknowledged"),
    word("alarm_state", AlarmState::returned, "returned"),
    word("alarm_state", AlarmState::shelved, "shelved"),
    word("alarm_state", AlarmState::suppressed, "suppressed"),
    word("phase", FloodPhase::idle, "idle"),
    word("phase", FloodPhase::fill, "fill"),
    word("phase", FloodPhase::soak, "soak"),
    word("phase", FloodPhase::drain, "drain"),
    word("phase", FloodPhase::rest, "rest"),
    word("origin", FloodOrigin::slot, "schedule"),
    word("origin", FloodOrigin::catch_up, "catch-up"),
    word("origin", FloodOrigin::operator_request, "operator"),
    word("origin", FloodOrigin::retry, "retry"),
    word("origin", FloodOrigin::by_time, "by time"),
    word("origin", FloodOrigin::another_hand, "another hand"),
    word("outcome", FloodOutcome::running, "running"),
    word("outcome", FloodOutcome::complete, "complete"),
    word("outcome", FloodOutcome::stopped, "stopped"),
    word("outcome", FloodOutcome::no_effect, "no effect"),
    word("outcome", FloodOutcome::fill_failed, "fill failed"),
    word("outcome", FloodOutcome::lost_water, "lost water"),
    word("outcome", FloodOutcome::tripped, "tripped"),
    word("outcome", FloodOutcome::interrupted, "interrupted"),
    word("outcome", FloodOutcome::slow_drain, "slow drain"),
    word("priority", Priority::advisory, "advisory"),
    word("priority", Priority::low, "low"),
    word("priority", Priority::medium, "medium"),
    word("priority", Priority::high, "high"),
    word("priority", Priority::critical, "critical"),
    word("time_quality", TimeQuality::unset, "unset"),
    word("time_quality", TimeQuality::restored, "restored"),
    word("time_quality", TimeQuality::synced, "synced"),
};

// Keeps the first failure of a series of statements.
class FirstFailure {
 public:
  void note(int code) {
    if (code_ == SQLITE_OK) code_ = code;
  }
  int code() const { return code_; }

 private:
  int code_ = SQLITE_OK;
};

void fill_words(sqlite3* db, FirstFailure& result) {
  Statement insert(db, "INSERT INTO word VALUES (?1, ?2, ?3)");
  for (const Word& w : kWords) result.note(insert.run(w.family, w.number, w.name));
  for (const LatchInfo& row : kLatches)
    result.note(insert.run(std::string_view("latch"), static_cast<int>(row.latch), row.name));
}

// What each contact says, under the point's name: wet or dry, reached or not.
void fill_contacts(sqlite3* db, FirstFailure& result) {
  Statement insert(db, "INSERT INTO word VALUES (?1, ?2, ?3)");
  for (const PointInfo& p : kPoints) {
    if (p.kind != PointKind::contact) continue;
    for (const Contact says : {Contact::clear, Contact::set, Contact::damp, Contact::faulty}) {
      const int number = static_cast<int>(says);
      const std::string name = words::value(p.point, number);
      result.note(insert.run(p.name, number, std::string_view(name)));
    }
  }
}

void fill_points(sqlite3* db, FirstFailure& result) {
  Statement insert(db, "INSERT INTO point VALUES (?1, ?2, ?3, ?4, ?5)");
  for (const PointInfo& p : kPoints)
    result.note(insert.run(slot(p.point), p.name, p.title, p.unit, per_unit(p.point)));
}

void fill_outputs(sqlite3* db, FirstFailure& result) {
  Statement insert(db, "INSERT INTO output VALUES (?1, ?2, ?3, ?4, ?5)");
  for (const OutputInfo& o : kOutputs)
    result.note(insert.run(slot(o.output), o.name, o.title, o.stopped_word, o.running_word));
}

void fill_alarms(sqlite3* db, FirstFailure& result) {
  Statement insert(db, "INSERT INTO alarm VALUES (?1, ?2, ?3, ?4, ?5)");
  for (const AlarmInfo& a : kAlarms)
    result.note(insert.run(static_cast<int>(a.alarm), a.name, a.title, a.remedy,
                           static_cast<int>(a.priority)));
}

// Reasons are sparse numbers; info() answers an unknown one with the row of `none`.
void fill_reasons(sqlite3* db, FirstFailure& result) {
  constexpr int kHighestReason = 1023;
  Statement insert(db, "INSERT INTO reason VALUES (?1, ?2)");
  Statement insert_part(db, "INSERT INTO reason_part VALUES (?1, ?2, ?3, ?4, ?5, ?6)");
  for (int number = 0; number <= kHighestReason; ++number) {
    const ReasonInfo& row = info(static_cast<Reason>(number));
    if (static_cast<int>(row.reason) != number) continue;
    result.note(insert.run(number, row.key));
    int place = 0;
    for (const ReasonPart& part : reason_parts(row.text))
      result.note(insert_part.run(number, ++place, std::string_view(part.words), part.argument,
                                  std::string_view(part.kind), part.needs));
  }
}

}  // namespace

int refill_lookups(sqlite3* db) {
  FirstFailure result;
  result.note(execute(db,
                      "BEGIN IMMEDIATE; DELETE FROM word; DELETE FROM point; DELETE FROM output; "
                      "DELETE FROM alarm; DELETE FROM reason; DELETE FROM reason_part"));
  if (result.code() == SQLITE_OK) {
    fill_words(db, result);
    fill_contacts(db, result);
    fill_points(db, result);
    fill_outputs(db, result);
    fill_alarms(db, result);
    fill_reasons(db, result);
  }
  if (result.code() == SQLITE_OK) result.note(execute(db, "COMMIT"));
  if (result.code() != SQLITE_OK) execute(db, "ROLLBACK");
  return result.code();
}

}  // namespace neap::journal
