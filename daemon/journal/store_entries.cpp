// How each kind of entry becomes rows.
#include <algorithm>
#include <vector>

#include "daemon/journal/store.h"

namespace neap::journal {
namespace {

// These say that the one entry is at fault and the file is well: trying again would fail for ever.
bool is_entry_at_fault(int code) {
  const int primary = code & 0xff;
  return primary == SQLITE_CONSTRAINT || primary == SQLITE_MISMATCH || primary == SQLITE_TOOBIG;
}

template <class T>
std::optional<std::int64_t> number_if(bool wanted, T value) {
  if (!wanted) return std::nullopt;
  return static_cast<std::int64_t>(value);
}

std::optional<double> real_if(bool wanted, double value) {
  if (!wanted) return std::nullopt;
  return value;
}

// An argument of a reason; most are 0, which is stored as NULL and takes no space.
std::optional<double> argument(const Because& because, std::size_t index) {
  return real_if(because.args[index] != 0, because.args[index]);
}

}  // namespace

int Store::store_all(const Batch& batch, std::uint64_t& refused) {
  for (const Entry& entry : batch.entries) {
    const int code = std::visit([this](const auto& e) { return store(e); }, entry);
    if (is_entry_at_fault(code))
      ++refused;
    else if (code != SQLITE_OK)
      return code;
  }
  for (const PackedReading& r : batch.readings)
    if (const int code = reading_.run(r.k, r.v, r.q); code != SQLITE_OK) return code;
  if (!batch.readings.empty())
    for (const auto tidy : {&Store::pack_old_hours, &Store::drop_old_blocks})
      if (const int code = (this->*tidy)(); code != SQLITE_OK) return code;
  if (at_.days_open && !batch.readings.empty())
    if (const int code = summarise_days(tick_of_key(batch.readings.back().k)); code != SQLITE_OK)
      return code;

  const Losses& lost = batch.losses;
  if (lost.any() || refused > 0) {
    const std::string why =
        lost.why.empty() ? std::string("entries that could not be stored") : lost.why;
    const int code =
        loss_.run(batch.newest_tick, lost.readings, lost.events + refused, std::string_view(why));
    if (code != SQLITE_OK) return code;
  }
  return batch.entries.empty() && !lost.any() ? SQLITE_OK : batch_.run(batch.writer, batch.number);
}

int Store::store(const EventEntry& entry) {
  const Event& e = entry.event;
  int code = SQLITE_OK;
  if (e.kind == EventKind::cycle_closed || e.kind == EventKind::cycle_settled)
    code = store_cycle(e.cycle);
  else if (e.kind == EventKind::day_closed)
    code = store_day(e.day, entry.tick);
  else if (e.kind == EventKind::alarm)
    code = store_alarm_change(entry);
  if (code == SQLITE_OK) code = store_event_row(entry);
  if (code == SQLITE_OK) ++at_.next_event;
  return code;
}

int Store::store_event_row(const EventEntry& entry) {
  static const Event kBlank{};
  const Event& e = entry.event;
  const unsigned own = columns_of(e.kind);
  const auto has = [own](ColumnGroup group) { return (own & group) != 0; };
  const bool output = has(kOutputGroup) || e.output != kBlank.output || e.level != kBlank.level;
  const bool alarm = has(kAlarmGroup) || e.alarm != kBlank.alarm ||
                     e.alarm_from != kBlank.alarm_from || e.alarm_to != kBlank.alarm_to;
  const bool slot = has(kSlotGroup) || !(e.slot == kBlank.slot);
  const bool request =
      has(kRequestGroup) || e.request_id != kBlank.request_id || e.accepted != kBlank.accepted;
  return event_.run(
      at_.next_event, tick_ms(entry.tick), static_cast<int>(e.kind),
      static_cast<int>(e.because.reason), argument(e.because, 0), argument(e.because, 1),
      argument(e.because, 2), number_if(output, e.output), number_if(output, e.level.value),
      number_if(has(kPointGroup) || e.point != kBlank.point, e.point), number_if(alarm, e.alarm),
      number_if(alarm, e.alarm_from), number_if(alarm, e.alarm_to),
      number_if(has(kLatchGroup) || e.latch != kBlank.latch, e.latch),
      number_if(has(kPhaseGroup) || e.phase != kBlank.phase, e.phase), number_if(slot, e.slot.date),
      number_if(slot, e.slot.number), number_if(has(kCycleGroup), e.cycle.started_tick),
      number_if(has(kDayGroup), e.day.began_tick),
      number_if(has(kValueGroup) || e.number != kBlank.number, e.number),
      number_if(request, e.request_id), number_if(request, e.accepted),
      entry.name.empty() ? std::nullopt : std::optional(std::string_view(entry.name)));
}

int Store::store_cycle(const CycleRow& row) {
  return cycle_.run(
      row.started_tick, row.slot.date, row.slot.number, static_cast<int>(row.origin),
      static_cast<int>(row.outcome), row.fill.count(), row.soak.count(), row.drain.count(),
      row.pump_on.count(), real_if(row.litres_known, row.litres_out),
      real_if(row.litres_known, row.litres_back), real_if(row.dip_known, row.vpd_before_kpa),
      real_if(row.dip_known, row.vpd_lowest_kpa), row.recovery.count(), row.recovered);
}

int Store::store_day(const DayTally& t, Instant closed) {
  at_.days_open = true;
  return day_.run(t.began_tick, tick_ms(closed), t.date, t.day_known.count(), t.day_in_band.count(),
                  t.night_known.count(), t.night_in_band.count(), t.below.count(), t.above.count(),
                  t.kpa_h_out, t.humid.count(), t.floods_planned, t.floods_started,
                  t.floods_complete, t.litres_out, t.litres_back, t.pump_on.count(),
                  t.dehumidifier_on.count(), t.dehumidifier_starts, t.humidifier_on.count(),
                  t.fan_hours, t.fan_moves, real_if(t.any_vpd, t.vpd_lowest),
                  real_if(t.any_vpd, t.vpd_highest));
}

std::optional<std::int64_t> Store::newest_raising(Alarm alarm, bool cleared_too) {
  std::optional<std::int64_t> number;
  alarm_newest_.start(static_cast<int>(alarm), cleared_too);
  if (alarm_newest_.step() == SQLITE_ROW) number = alarm_newest_.integer(0);
  alarm_newest_.stop();
  return number;
}

// A raising lasts until its condition clears, with or without an acknowledgement; shelving and a
// service change who is told, not whether it lasts.
int Store::store_alarm_change(const EventEntry& entry) {
  const Event& e = entry.event;
  const int alarm = static_cast<int>(e.alarm);
  const std::int64_t tick = tick_ms(entry.tick);
  const bool active =
      e.alarm_to == AlarmState::unacknowledged || e.alarm_to == AlarmState::acknowledged;
  const bool over = e.alarm_to == AlarmState::normal || e.alarm_to == AlarmState::returned;

  int code = SQLITE_OK;
  std::optional<std::int64_t> open = newest_raising(e.alarm, false);
  if (active && !open) {
    code = alarm_raise_.run(alarm, tick, at_.next_event);
    open = sqlite3_last_insert_rowid(db_.get());
  }
  if (code == SQLITE_OK && e.alarm_to == AlarmState::acknowledged)
    code = alarm_acknowledge_.run(tick, open);
  if (code == SQLITE_OK && e.alarm_from == AlarmState::returned && e.alarm_to == AlarmState::normal)
    code = alarm_acknowledge_.run(tick, newest_raising(e.alarm, true));
  if (code == SQLITE_OK && over && open) code = alarm_clear_.run(tick, open);
  return code;
}

// An unset clock says nothing about wall time; it is kept as it was read, and that is all. The
// first clock of a better quality than before corrects all that went before it in this boot.
int Store::store(const ClockEntry& entry) {
  const WallTime& wall = entry.wall;
  const int code = clock_.run(tick_ms(entry.tick), at_.boot, wall.unix_ms, wall.utc_offset_s,
                              static_cast<int>(wall.quality));
  if (code != SQLITE_OK || wall.quality == TimeQuality::unset) return code;
  if (wall.quality > at_.best_quality) return rebuild_spans();
  return store_span(tick_ms(entry.tick), entry);
}

int Store::store_span(std::int64_t from_tick, const ClockEntry& clock) {
  return span_.run(from_tick, clock.wall.unix_ms - tick_ms(clock.tick), clock.wall.utc_offset_s);
}

int Store::rebuild_spans() {
  const std::int64_t beginning = at_.boot_tick.value_or(-kFurthestTick);
  std::vector<ClockEntry> clocks;
  TimeQuality best = TimeQuality::unset;
  clocks_since_.start(beginning);
  while (clocks_since_.step() == SQLITE_ROW) {
    const auto quality = static_cast<TimeQuality>(clocks_since_.integer(3));
    clocks.push_back(
        {instant(Millis{clocks_since_.integer(0)}),
         {clocks_since_.integer(1), static_cast<std::int32_t>(clocks_since_.integer(2)), quality}});
    best = std::max(best, quality);
  }
  clocks_since_.stop();
  at_.best_quality = best;

  int code = clear_spans_.run(beginning);
  if (code == SQLITE_OK) code = span_.run(beginning, std::nullopt, 0);  // until something is known
  bool reached_best = false;
  for (const ClockEntry& clock : clocks) {
    if (code != SQLITE_OK) return code;
    if (clock.wall.quality == TimeQuality::unset) continue;
    if (!reached_best && clock.wall.quality != best) continue;
    code = store_span(reached_best ? tick_ms(clock.tick) : beginning, clock);
    reached_best = true;
  }
  return code;
}

int Store::store(const BootEntry& entry) {
  const std::int64_t tick = tick_ms(entry.tick);
  const int code =
      boot_.run(at_.boot + 1, tick, std::string_view(entry.version), entry.clean_before);
  if (code != SQLITE_OK) return code;
  ++at_.boot;
  at_.boot_tick = tick;
  // The clock may have been read before the boot was recorded.
  if (const int adopted = adopt_clocks_.run(at_.boot, tick); adopted != SQLITE_OK) return adopted;
  return rebuild_spans();
}

int Store::store(const StopEntry& entry) {
  return stop_.run(tick_ms(entry.tick), std::string_view(entry.why), at_.boot);
}

int Store::store(const SettingsEntry& entry) {
  return settings_.run(tick_ms(entry.tick), static_cast<std::int64_t>(entry.hash), entry.accepted,
                       std::string_view(entry.note), std::string_view(entry.text));
}

int Store::store(const MeasurementEntry& entry) {
  return measurement_.run(std::string_view(entry.id), tick_ms(entry.tick), entry.taken_unix_ms,
                          std::string_view(entry.quantity), entry.value,
                          std::string_view(entry.note), std::string_view(entry.photo));
}

int Store::store(const AmendmentEntry& entry) {
  return amendment_.run(std::string_view(entry.id), tick_ms(entry.tick), std::string_view(entry.of),
                        entry.value, std::string_view(entry.reason));
}

int Store::store(const CalibrationEntry& entry) {
  return calibration_.run(tick_ms(entry.tick), static_cast<int>(entry.point),
                          std::string_view(entry.readings), entry.temperature_c, entry.zero,
                          entry.slope);
}

int Store::store(const DiaryEntry& entry) {
  return diary_.run(std::string_view(entry.id), tick_ms(entry.tick), entry.happened_unix_ms,
                    std::string_view(entry.kind), std::string_view(entry.subject), entry.figure,
                    std::string_view(entry.mark), std::string_view(entry.says));
}

int Store::store(const ClientEntry& entry) {
  return client_.run(tick_ms(entry.tick), entry.uid, entry.pid, std::string_view(entry.verb),
                     entry.accepted, std::string_view(entry.detail));
}

}  // namespace neap::journal
