#include "daemon/journal/rows.h"

namespace neap::journal {
namespace {

// Takes one column after the other, so that a reader below follows its list of columns.
class Columns {
 public:
  Columns(const Statement& row, int first) : row_(row), at_(first) {}

  // Leaves `target` as it is, at its default, when the column is NULL.
  template <class T>
  void into(T& target) {
    if (!row_.is_null(at_)) target = static_cast<T>(row_.integer(at_));
    ++at_;
  }
  void into(double& target) {
    if (!row_.is_null(at_)) target = row_.real(at_);
    ++at_;
  }
  void into(bool& target) {
    if (!row_.is_null(at_)) target = row_.integer(at_) != 0;
    ++at_;
  }
  void into(Millis& target) { target = Millis{row_.integer(at_++)}; }
  bool is_null() const { return row_.is_null(at_); }

 private:
  const Statement& row_;
  int at_;
};

}  // namespace

Because read_because(const Statement& row, int first) {
  Because because;
  Columns next(row, first);
  next.into(because.reason);
  for (double& argument : because.args) next.into(argument);
  return because;
}

Event read_event(const Statement& row, int first) {
  constexpr int kKind = 2;
  constexpr int kReason = 3;
  constexpr int kOutput = 7;
  Event e;
  e.kind = static_cast<EventKind>(row.integer(first + kKind));
  e.because = read_because(row, first + kReason);
  Columns next(row, first + kOutput);
  next.into(e.output);
  next.into(e.level.value);
  next.into(e.point);
  next.into(e.alarm);
  next.into(e.alarm_from);
  next.into(e.alarm_to);
  next.into(e.latch);
  next.into(e.phase);
  next.into(e.slot.date);
  next.into(e.slot.number);
  next.into(e.number);
  next.into(e.request_id);
  next.into(e.accepted);
  return e;
}

CycleRow read_cycle(const Statement& row, int first) {
  CycleRow c;
  Columns next(row, first);
  next.into(c.started_tick);
  next.into(c.slot.date);
  next.into(c.slot.number);
  next.into(c.origin);
  next.into(c.outcome);
  next.into(c.fill);
  next.into(c.soak);
  next.into(c.drain);
  next.into(c.pump_on);
  c.litres_known = !next.is_null();
  next.into(c.litres_out);
  next.into(c.litres_back);
  c.dip_known = !next.is_null();
  next.into(c.vpd_before_kpa);
  next.into(c.vpd_lowest_kpa);
  next.into(c.recovery);
  next.into(c.recovered);
  return c;
}

DayTally read_day(const Statement& row, int first) {
  DayTally d;
  Columns next(row, first);
  next.into(d.began_tick);
  next.into(d.date);
  next.into(d.day_known);
  next.into(d.day_in_band);
  next.into(d.night_known);
  next.into(d.night_in_band);
  next.into(d.below);
  next.into(d.above);
  next.into(d.kpa_h_out);
  next.into(d.humid);
  next.into(d.floods_planned);
  next.into(d.floods_started);
  next.into(d.floods_complete);
  next.into(d.litres_out);
  next.into(d.litres_back);
  next.into(d.pump_on);
  next.into(d.dehumidifier_on);
  next.into(d.dehumidifier_starts);
  next.into(d.humidifier_on);
  next.into(d.fan_hours);
  next.into(d.fan_moves);
  d.any_vpd = !next.is_null();
  next.into(d.vpd_lowest);
  next.into(d.vpd_highest);
  return d;
}

}  // namespace neap::journal
