// The journal's reading side: read-only, time-boxed, works with the daemon stopped and for any user
// who may read the file. Every call is one query; a missing or foreign file is an error text.
#pragma once

#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "daemon/core/event.h"
#include "daemon/core/points.h"
#include "daemon/core/reading.h"

namespace neap::journal {

struct Stamp {  // when: tick, and wall time where the clock map knows it
  std::int64_t tick = 0;
  std::optional<std::int64_t> unix_ms;
  std::int32_t utc_offset_s = 0;
};

struct EventRow {
  std::int64_t number = 0;  // gap-free within the journal
  Stamp at;
  Event event;
  std::string name;  // as EventEntry::name
};
struct ReadingRow {
  Stamp at;
  Point point;
  std::optional<double> value;
  Quality quality;
  Fault fault;
};
struct LevelRow {
  std::int64_t tick = 0;
  int permille = 0;
};
struct PointSummary {  // one point over a span
  Point point;
  std::int64_t count = 0;  // with a value
  std::int64_t missing = 0;
  std::optional<double> lowest, mean, highest, latest;
  Stamp latest_at;
};
struct Rolled {              // one point between two ticks; figures say something when count > 0
  std::int64_t count = 0;    // usable
  std::int64_t missing = 0;  // rows that say why there is no value
  double lowest = 0, mean = 0, highest = 0, last = 0;
  std::int64_t last_tick = 0;  // of `last`
  bool ended_missing = false;  // the last row of all had no usable value
};
struct CycleEntry {
  Stamp started;
  CycleRow row;
};
struct DayEntry {
  Stamp began;
  DayTally tally;
};
struct AlarmSpan {  // one raising of an alarm
  Alarm alarm;
  Stamp raised;
  std::optional<Stamp> cleared;
  bool acknowledged = false;
  Because because;
};
struct MeasurementRow {
  Stamp taken;
  std::string quantity;
  double value = 0;  // as it is known now
  std::string note;
  std::int64_t number = 0;
  std::string id;  // by which it is corrected or withdrawn
  std::string photo;
  std::optional<double> first_value;  // as it was told, where it was corrected since
  bool withdrawn = false;
  std::string reason;  // of the correction or withdrawal
};
struct CalibrationRow {
  Stamp at;
  Point point = Point::solution_ph;
  std::string readings;
  double temperature_c = 0;
  double zero = 0;
  double slope = 0;
};
struct DiaryRow {
  Stamp happened;
  std::string kind;  // DiaryKindInfo::name (diary.h)
  std::string subject;
  std::optional<double> figure;
  std::string mark;
  std::string says;
  std::string id;           // by which it is withdrawn
  std::int64_t number = 0;  // 0: not in the journal yet
};
struct DaySummary {  // of one closed photoperiod; what is not known is absent
  std::int64_t began = 0;
  std::optional<double> level_first_l, level_last_l;  // of the reservoir, no flood under way
  struct PointDay {
    Point point;
    std::int64_t usable = 0;
    std::int64_t missing = 0;
    std::optional<double> lowest, mean, highest;
  };
  std::vector<PointDay> points;
};
struct SettingsRow {
  Stamp at;
  std::uint64_t hash = 0;
  bool accepted = true;
  std::string note;
};
struct BootRow {
  Stamp at;
  std::string version;
  bool clean_before = false;
};

// Ticks; open ends are all of it. Wall-time ranges are turned into ticks by tick_at().
struct Span {
  std::optional<std::int64_t> from;
  std::optional<std::int64_t> to;
};

class Reader {
 public:
  // nullptr and `error` when there is no such journal, or it is newer than this program.
  static std::unique_ptr<Reader> open(const std::string& path, std::string& error);
  virtual ~Reader() = default;

  virtual std::optional<std::int64_t> first_tick() = 0;
  virtual std::optional<std::int64_t> last_tick() = 0;
  virtual std::optional<std::int64_t> tick_at(std::int64_t unix_ms) = 0;
  virtual Stamp stamp(std::int64_t tick) = 0;
  // Newest `limit` of the span, oldest first. `kinds` empty: all.
  virtual std::vector<EventRow> events(const Span& span, const std::vector<EventKind>& kinds,
                                       int limit) = 0;
  // What one output was at the span's beginning, and each change; a start and a stop of the daemon
  // are its stop.
  virtual std::vector<LevelRow> levels(Output output, const Span& span) = 0;
  // Raw rows of one point, or one row a `bucket_ms` (mean) when that is > 0.
  virtual std::vector<ReadingRow> readings(Point point, const Span& span, std::int64_t bucket_ms,
                                           int limit) = 0;
  // Every reading of the span in order of time, one by one, so that a year needs no more memory
  // than a day.
  virtual void each_reading(const Span& span,
                            const std::function<void(const ReadingRow&)>& take) = 0;
  virtual std::vector<PointSummary> summaries(const Span& span) = 0;
  // For each of `points` one Rolled for each pair of neighbours in `edges`, ticks that do not fall:
  // readings from the one on and before the other. Reads the rows once and keeps none of them.
  virtual std::vector<std::vector<Rolled>> roll_up(const std::vector<Point>& points,
                                                   const std::vector<std::int64_t>& edges) = 0;
  virtual std::vector<CycleEntry> cycles(const Span& span) = 0;
  virtual std::vector<DayEntry> days(const Span& span) = 0;
  virtual std::vector<AlarmSpan> alarms(const Span& span) = 0;
  // As they are known now; withdrawn ones only when asked for.
  virtual std::vector<MeasurementRow> measurements(const Span& span,
                                                   bool withdrawn_too = false) = 0;
  virtual std::vector<CalibrationRow> calibrations(Point point) = 0;  // oldest first
  // All that was told and not withdrawn, in the order in which it happened.
  virtual std::vector<DiaryRow> diary() = 0;
  virtual std::vector<DaySummary> day_summaries(const Span& span) = 0;  // days begun in the span
  virtual std::vector<SettingsRow> settings(const Span& span) = 0;
  virtual std::vector<BootRow> boots(const Span& span) = 0;
  // The accepted texts in force during the span: the one that its beginning found, and each that
  // followed, with the tick from which on it was in force.
  struct SettingsText {
    std::int64_t from = 0;
    std::string text;
  };
  virtual std::vector<SettingsText> settings_texts(std::int64_t from, std::int64_t to) = 0;
  virtual std::string settings_in_force() = 0;  // text of the newest accepted revision

  // Why the last call's answer is incomplete (cut short after 5 s, file unreadable); empty when it
  // is whole.
  virtual std::string trouble() const { return {}; }
};

}  // namespace neap::journal
