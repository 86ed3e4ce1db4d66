// The reader of a journal's file; private to daemon/journal/reader*.cpp.
#pragma once

#include <chrono>
#include <limits>
#include <string>
#include <vector>

#include "daemon/journal/clock_map.h"
#include "daemon/journal/history.h"
#include "daemon/journal/pack.h"
#include "daemon/journal/reader.h"
#include "daemon/journal/sqlite.h"

namespace neap::journal {

inline std::int64_t first_of(const Span& span) {
  return clamp_tick(span.from.value_or(std::numeric_limits<std::int64_t>::min()));
}
inline std::int64_t last_of(const Span& span) {
  return clamp_tick(span.to.value_or(std::numeric_limits<std::int64_t>::max()));
}

// A minimum or a maximum by itself is one step of an index; both at once, or one of an expression,
// read the whole table, which after some months is longer than the reader's time.
inline constexpr const char* kFirstTick =
    "SELECT min(tick) FROM (SELECT min(k) >> 8 AS tick FROM reading UNION ALL "
    "SELECT min(tick) FROM event UNION ALL SELECT min(tick) FROM clock_map UNION ALL "
    "SELECT min(tick) FROM boot)";
inline constexpr const char* kFirstPackedTick =
    "SELECT min(hour * 3600000 + first_ms) FROM reading_hour "
    "WHERE hour = (SELECT min(k) FROM reading_block) >> 8 AND point IN (SELECT number FROM point)";
// The newest readings are never packed.
inline constexpr const char* kLastTick =
    "SELECT max(tick) FROM (SELECT max(k) >> 8 AS tick FROM reading UNION ALL "
    "SELECT max(tick) FROM event UNION ALL SELECT max(tick) FROM clock_map UNION ALL "
    "SELECT max(tick) FROM boot UNION ALL SELECT max(stopped_tick) FROM boot)";

class FileReader final : public Reader {
 public:
  explicit FileReader(Database db) : db_(std::move(db)) {
    sqlite3_progress_handler(
        db_.get(), kStepsBetweenLooks,
        [](void* self) { return Steady::now() >= static_cast<FileReader*>(self)->until_ ? 1 : 0; },
        this);
  }

  std::optional<std::int64_t> first_tick() override;
  std::optional<std::int64_t> last_tick() override;
  std::optional<std::int64_t> tick_at(std::int64_t unix_ms) override;
  Stamp stamp(std::int64_t tick) override;
  std::vector<EventRow> events(const Span& span, const std::vector<EventKind>& kinds,
                               int limit) override;
  std::vector<LevelRow> levels(Output output, const Span& span) override;
  std::vector<ReadingRow> readings(Point point, const Span& span, std::int64_t bucket_ms,
                                   int limit) override;
  void each_reading(const Span& span, const std::function<void(const ReadingRow&)>& take) override;
  std::vector<PointSummary> summaries(const Span& span) override;
  std::vector<std::vector<Rolled>> roll_up(const std::vector<Point>& points,
                                           const std::vector<std::int64_t>& edges) override;
  std::vector<CycleEntry> cycles(const Span& span) override;
  std::vector<DayEntry> days(const Span& span) override;
  std::vector<AlarmSpan> alarms(const Span& span) override;
  std::vector<MeasurementRow> measurements(const Span& span, bool withdrawn_too) override;
  std::vector<CalibrationRow> calibrations(Point point) override;
  std::vector<DiaryRow> diary() override;
  std::vector<DaySummary> day_summaries(const Span& span) override;
  std::vector<SettingsRow> settings(const Span& span) override;
  std::vector<BootRow> boots(const Span& span) override;
  std::vector<SettingsText> settings_texts(std::int64_t from, std::int64_t to) override;
  std::string settings_in_force() override;
  std::string trouble() const override { return trouble_; }

 private:
  using Steady = std::chrono::steady_clock;
  static constexpr int kStepsBetweenLooks = 5000;  // of SQLite's virtual machine, some 0.1 ms

  bool knows(int migration);  // the journal was opened by a daemon that has it
  void begin();               // of every call: the time-box starts, the clock map is that of now
  void begin_with_clock();    // of those that need nothing but the clock map: or of just now
  void look_at_clock();
  void fail(int code);  // says in trouble_ what SQLite's code means
  // Calls `take(row)` for each row of the query.
  template <class Take, class... Args>
  void each(const std::string& sql, Take&& take, const Args&... args);
  ReadingRow row_of(Point point, const PackedReading& reading) const;
  // Calls `take(history)` for each hour of a point, until it says false.
  template <class Take>
  void through(const std::vector<std::int64_t>& points, std::int64_t from, std::int64_t to,
               History::Order order, Take&& take);
  std::vector<ReadingRow> raw(Point point, const Span& span, int limit);
  std::vector<ReadingRow> means(Point point, const Span& span, std::int64_t bucket_ms, int limit);

  Database db_;
  Steady::time_point until_ = Steady::time_point::max();
  std::optional<std::int64_t> data_version_;
  ClockMap clock_;
  Steady::time_point clock_looked_at_{};
  std::string trouble_;
};

template <class Take, class... Args>
void FileReader::each(const std::string& sql, Take&& take, const Args&... args) {
  Statement statement(db_.get(), sql);
  statement.start(args...);
  int code = statement.step();
  for (; code == SQLITE_ROW; code = statement.step()) take(statement);
  if (code != SQLITE_DONE) fail(code);
}

template <class Take>
void FileReader::through(const std::vector<std::int64_t>& points, std::int64_t from,
                         std::int64_t to, History::Order order, Take&& take) {
  if (from > to) return;
  History history(db_.get(), points, from, to, order);
  while (history.next() && take(history)) continue;
  if (!history.problem().empty()) trouble_ = history.problem();
  if (history.code() != SQLITE_OK) fail(history.code());
}

inline void FileReader::fail(int code) {
  trouble_ = (code & 0xff) == SQLITE_INTERRUPT
                 ? "the question took longer than 5 s and was cut short; ask for a shorter time"
                 : std::string("the journal could not be read: ") + sqlite3_errmsg(db_.get());
}

}  // namespace neap::journal
