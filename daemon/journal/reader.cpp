#include "daemon/journal/reader.h"

#include <algorithm>
#include <chrono>
#include <limits>

#include "daemon/journal/clock_map.h"
#include "daemon/journal/connect.h"
#include "daemon/journal/pack.h"
#include "daemon/journal/rows.h"

namespace neap::journal {
namespace {

using Steady = std::chrono::steady_clock;

constexpr auto kTimeBox = std::chrono::seconds{5};
constexpr int kStepsBetweenLooks = 5000;  // of SQLite's virtual machine, some 0.1 ms

std::int64_t first_of(const Span& span) {
  return clamp_tick(span.from.value_or(std::numeric_limits<std::int64_t>::min()));
}
std::int64_t last_of(const Span& span) {
  return clamp_tick(span.to.value_or(std::numeric_limits<std::int64_t>::max()));
}
std::int64_t first_key_of(const Span& span) { return first_key(first_of(span)); }
std::int64_t last_key_of(const Span& span) { return first_key(last_of(span)) + (kPointsInKey - 1); }

std::string list_of(const std::vector<EventKind>& kinds) {
  std::string list;
  for (const EventKind kind : kinds)
    list += (list.empty() ? "" : ", ") + std::to_string(static_cast<int>(kind));
  return list;
}

constexpr const char* kAllTicks =
    "(SELECT min(k) >> 8 AS lo, max(k) >> 8 AS hi FROM reading UNION ALL "
    "SELECT min(tick), max(tick) FROM event UNION ALL "
    "SELECT min(tick), max(tick) FROM clock_map UNION ALL "
    "SELECT min(tick), max(max(tick), coalesce(max(stopped_tick), 0)) FROM boot)";

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
  std::vector<ReadingRow> readings(Point point, const Span& span, std::int64_t bucket_ms,
                                   int limit) override;
  std::vector<PointSummary> summaries(const Span& span) override;
  std::vector<CycleEntry> cycles(const Span& span) override;
  std::vector<DayEntry> days(const Span& span) override;
  std::vector<AlarmSpan> alarms(const Span& span) override;
  std::vector<MeasurementRow> measurements(const Span& span, bool withdrawn_too) override;
  std::vector<CalibrationRow> calibrations(Point point) override;
  std::vector<SettingsRow> settings(const Span& span) override;
  std::vector<BootRow> boots(const Span& span) override;
  std::vector<SettingsText> settings_texts(std::int64_t from, std::int64_t to) override;
  std::string settings_in_force() override;
  std::string trouble() const override { return trouble_; }

 private:
  bool knows_solution();  // the journal was opened by a daemon that has migration 4
  void begin();           // of every call: the time-box starts, the clock map is that of now
  // Calls `take(row)` for each row of the query.
  template <class Take, class... Args>
  void each(const std::string& sql, Take&& take, const Args&... args);
  std::vector<ReadingRow> raw(Point point, const Span& span, int limit);
  std::vector<ReadingRow> means(Point point, const Span& span, std::int64_t bucket_ms, int limit);

  Database db_;
  Steady::time_point until_ = Steady::time_point::max();
  std::optional<std::int64_t> data_version_;
  ClockMap clock_;
  std::string trouble_;
};

template <class Take, class... Args>
void FileReader::each(const std::string& sql, Take&& take, const Args&... args) {
  Statement statement(db_.get(), sql);
  statement.start(args...);
  int code = statement.step();
  for (; code == SQLITE_ROW; code = statement.step()) take(statement);
  if (code == SQLITE_DONE) return;
  trouble_ = (code & 0xff) == SQLITE_INTERRUPT
                 ? "the question took longer than 5 s and was cut short; ask for a shorter time"
                 : std::string("the journal could not be read: ") + sqlite3_errmsg(db_.get());
}

void FileReader::begin() {
  trouble_.clear();
  until_ = Steady::now() + kTimeBox;
  const auto version = query_integer(db_.get(), "PRAGMA data_version");
  if (version == data_version_) return;
  data_version_ = version;
  std::vector<ClockSpan> spans;
  each("SELECT from_tick, ahead_ms, utc_offset_s FROM clock_span ORDER BY from_tick",
       [&](const Statement& row) {
         spans.push_back(
             {row.integer(0), row.maybe_integer(1), static_cast<std::int32_t>(row.integer(2))});
       });
  clock_ = ClockMap(std::move(spans));
}

std::optional<std::int64_t> FileReader::first_tick() {
  begin();
  return query_integer(db_.get(), (std::string("SELECT min(lo) FROM ") + kAllTicks).c_str());
}

std::optional<std::int64_t> FileReader::last_tick() {
  begin();
  return query_integer(db_.get(), (std::string("SELECT max(hi) FROM ") + kAllTicks).c_str());
}

std::optional<std::int64_t> FileReader::tick_at(std::int64_t unix_ms) {
  begin();
  return clock_.tick_at(unix_ms);
}

Stamp FileReader::stamp(std::int64_t tick) {
  begin();
  return clock_.stamp(tick);
}

std::vector<EventRow> FileReader::events(const Span& span, const std::vector<EventKind>& kinds,
                                         int limit) {
  begin();
  constexpr int kCycleAt = kEventColumnCount;
  constexpr int kDayAt = kCycleAt + kCycleColumnCount;
  std::vector<EventRow> found;
  each(
      "SELECT " + kEventColumns + ", " + kCycleColumns + ", " + kDayColumns +
          " FROM event e LEFT JOIN cycle c ON c.started = e.cycle "
          "LEFT JOIN day d ON d.began = e.day WHERE e.tick BETWEEN ?1 AND ?2" +
          (kinds.empty() ? "" : " AND e.kind IN (" + list_of(kinds) + ")") +
          " ORDER BY e.tick DESC, e.number DESC LIMIT ?3",
      [&](const Statement& row) {
        EventRow made{row.integer(0), clock_.stamp(row.integer(1)), read_event(row, 0),
                      row.text(kEventColumnCount - 1)};
        if (!row.is_null(kCycleAt)) made.event.cycle = read_cycle(row, kCycleAt);
        if (!row.is_null(kDayAt)) made.event.day = read_day(row, kDayAt);
        found.push_back(std::move(made));
      },
      first_of(span), last_of(span), limit);
  std::reverse(found.begin(), found.end());
  return found;
}

std::vector<ReadingRow> FileReader::readings(Point point, const Span& span, std::int64_t bucket_ms,
                                             int limit) {
  begin();
  auto found = bucket_ms > 0 ? means(point, span, bucket_ms, limit) : raw(point, span, limit);
  std::reverse(found.begin(), found.end());
  return found;
}

std::vector<ReadingRow> FileReader::raw(Point point, const Span& span, int limit) {
  std::vector<ReadingRow> found;
  each(
      "SELECT k, v, q FROM reading WHERE k BETWEEN ?1 AND ?2 AND k & 255 = ?3 "
      "ORDER BY k DESC LIMIT ?4",
      [&](const Statement& row) {
        ReadingRow made{clock_.stamp(tick_of_key(row.integer(0))), point, std::nullopt,
                        quality_of(row.integer(2)), fault_of(row.integer(2))};
        if (!row.is_null(1)) made.value = unpack(point, row.integer(1));
        found.push_back(made);
      },
      first_key_of(span), last_key_of(span), slot(point), limit);
  return found;
}

// A bucket is as good as the worst of the readings that its mean was made of; one without any says
// why with the highest fault seen.
std::vector<ReadingRow> FileReader::means(Point point, const Span& span, std::int64_t bucket_ms,
                                          int limit) {
  std::vector<ReadingRow> found;
  each(
      "SELECT (k >> 8) / ?5 AS bucket, avg(v) FILTER (WHERE q & 3 > 0), "
      "min(q & 3) FILTER (WHERE v IS NOT NULL AND q & 3 > 0), max(q >> 2) FROM reading "
      "WHERE k BETWEEN ?1 AND ?2 AND k & 255 = ?3 GROUP BY bucket ORDER BY bucket DESC LIMIT ?4",
      [&](const Statement& row) {
        ReadingRow made{clock_.stamp(row.integer(0) * bucket_ms), point, row.maybe_real(1),
                        Quality::bad, Fault::none};
        if (made.value) {
          *made.value /= per_unit(point);
          made.quality = quality_of(row.integer(2));
        } else {
          made.fault = static_cast<Fault>(row.integer(3));
        }
        found.push_back(made);
      },
      first_key_of(span), last_key_of(span), slot(point), limit, bucket_ms);
  return found;
}

std::vector<PointSummary> FileReader::summaries(const Span& span) {
  begin();
  std::vector<PointSummary> found;
  each(
      "WITH s AS (SELECT k & 255 AS point, count(*) AS n, "
      "count(v) FILTER (WHERE q & 3 > 0) AS usable, min(v) FILTER (WHERE q & 3 > 0) AS lo, "
      "avg(v) FILTER (WHERE q & 3 > 0) AS mean, max(v) FILTER (WHERE q & 3 > 0) AS hi, "
      "max(k) FILTER (WHERE v IS NOT NULL AND q & 3 > 0) AS newest "
      "FROM reading WHERE k BETWEEN ?1 AND ?2 GROUP BY point) "
      "SELECT s.point, s.usable, s.n - s.usable, s.lo, s.mean, s.hi, r.v, r.k "
      "FROM s LEFT JOIN reading r ON r.k = s.newest ORDER BY s.point",
      [&](const Statement& row) {
        PointSummary made;
        made.point = static_cast<Point>(row.integer(0));
        made.count = row.integer(1);
        made.missing = row.integer(2);
        const double unit = per_unit(made.point);
        const auto scaled = [&](int column) {
          auto value = row.maybe_real(column);
          if (value) *value /= unit;
          return value;
        };
        made.lowest = scaled(3);
        made.mean = scaled(4);
        made.highest = scaled(5);
        made.latest = scaled(6);
        if (made.latest) made.latest_at = clock_.stamp(tick_of_key(row.integer(7)));
        found.push_back(made);
      },
      first_key_of(span), last_key_of(span));
  return found;
}

std::vector<CycleEntry> FileReader::cycles(const Span& span) {
  begin();
  std::vector<CycleEntry> found;
  each(
      "SELECT " + kCycleColumns +
          " FROM cycle c WHERE c.started BETWEEN ?1 AND ?2 "
          "ORDER BY c.started",
      [&](const Statement& row) {
        found.push_back({clock_.stamp(row.integer(0)), read_cycle(row, 0)});
      },
      first_of(span), last_of(span));
  return found;
}

// Days that share time with the span.
std::vector<DayEntry> FileReader::days(const Span& span) {
  begin();
  std::vector<DayEntry> found;
  each(
      "SELECT " + kDayColumns +
          " FROM day d WHERE d.closed > ?1 AND d.began <= ?2 "
          "ORDER BY d.began",
      [&](const Statement& row) {
        found.push_back({clock_.stamp(row.integer(0)), read_day(row, 0)});
      },
      first_of(span), last_of(span));
  return found;
}

// Raisings that share time with the span.
std::vector<AlarmSpan> FileReader::alarms(const Span& span) {
  begin();
  std::vector<AlarmSpan> found;
  each(
      "SELECT s.alarm, s.raised, s.cleared, s.acknowledged, e.reason, e.a0, e.a1, e.a2 "
      "FROM alarm_span s LEFT JOIN event e ON e.number = s.event "
      "WHERE s.raised <= ?2 AND (s.cleared IS NULL OR s.cleared >= ?1) ORDER BY s.number",
      [&](const Statement& row) {
        AlarmSpan made{static_cast<Alarm>(row.integer(0)), clock_.stamp(row.integer(1)),
                       std::nullopt, !row.is_null(3), read_because(row, 4)};
        if (!row.is_null(2)) made.cleared = clock_.stamp(row.integer(2));
        found.push_back(made);
      },
      first_of(span), last_of(span));
  return found;
}

bool FileReader::knows_solution() {
  constexpr std::int64_t kSince = 4;
  return query_integer(db_.get(), "PRAGMA user_version").value_or(0) >= kSince;
}

constexpr const char* kMeasurements =
    "SELECT m.tick, m.taken_unix_ms, m.quantity, m.value, m.note, m.number, m.id, m.photo, "
    "a.number, a.value, a.reason FROM measurement m LEFT JOIN amendment a "
    "ON a.number = (SELECT max(number) FROM amendment WHERE of = m.id) ORDER BY m.number";
constexpr const char* kMeasurementsOnce =
    "SELECT tick, taken_unix_ms, quantity, value, note, number, id, '', NULL, NULL, NULL "
    "FROM measurement ORDER BY number";

// A measurement belongs to the time it was taken at, which may be long before it was handed in.
std::vector<MeasurementRow> FileReader::measurements(const Span& span, bool withdrawn_too) {
  begin();
  std::vector<MeasurementRow> found;
  each(knows_solution() ? kMeasurements : kMeasurementsOnce, [&](const Statement& row) {
    const std::int64_t taken_unix_ms = row.integer(1);
    const std::int64_t tick = clock_.tick_at(taken_unix_ms).value_or(row.integer(0));
    if (tick < first_of(span) || tick > last_of(span)) return;
    MeasurementRow made{{tick, taken_unix_ms, clock_.stamp(tick).utc_offset_s},
                        row.text(2),
                        row.real(3),
                        row.text(4),
                        row.integer(5),
                        row.text(6),
                        row.text(7),
                        std::nullopt,
                        !row.is_null(8) && row.is_null(9),
                        row.text(10)};
    if (made.withdrawn && !withdrawn_too) return;
    if (!row.is_null(9)) {
      made.first_value = made.value;
      made.value = row.real(9);
    }
    found.push_back(std::move(made));
  });
  std::stable_sort(
      found.begin(), found.end(),
      [](const MeasurementRow& a, const MeasurementRow& b) { return a.taken.tick < b.taken.tick; });
  return found;
}

std::vector<CalibrationRow> FileReader::calibrations(Point point) {
  begin();
  std::vector<CalibrationRow> found;
  if (!knows_solution()) return found;
  each(
      "SELECT tick, readings, temperature_c, zero, slope FROM calibration WHERE point = ?1 "
      "ORDER BY number",
      [&](const Statement& row) {
        found.push_back({clock_.stamp(row.integer(0)), point, row.text(1), row.real(2), row.real(3),
                         row.real(4)});
      },
      slot(point));
  return found;
}

std::vector<SettingsRow> FileReader::settings(const Span& span) {
  begin();
  std::vector<SettingsRow> found;
  each(
      "SELECT tick, hash, accepted, note FROM settings_revision WHERE tick BETWEEN ?1 AND ?2 "
      "ORDER BY number",
      [&](const Statement& row) {
        found.push_back({clock_.stamp(row.integer(0)), static_cast<std::uint64_t>(row.integer(1)),
                         row.integer(2) != 0, row.text(3)});
      },
      first_of(span), last_of(span));
  return found;
}

std::vector<BootRow> FileReader::boots(const Span& span) {
  begin();
  std::vector<BootRow> found;
  each(
      "SELECT tick, version, clean_before FROM boot WHERE tick BETWEEN ?1 AND ?2 ORDER BY number",
      [&](const Statement& row) {
        found.push_back({clock_.stamp(row.integer(0)), row.text(1), row.integer(2) != 0});
      },
      first_of(span), last_of(span));
  return found;
}

std::vector<Reader::SettingsText> FileReader::settings_texts(std::int64_t from, std::int64_t to) {
  begin();
  std::vector<SettingsText> found;
  each(
      "SELECT tick, text FROM settings_revision WHERE accepted AND tick <= ?2 AND number >= "
      "coalesce((SELECT max(number) FROM settings_revision WHERE accepted AND tick <= ?1), 0) "
      "ORDER BY number",
      [&](const Statement& row) {
        found.push_back({row.integer(0), row.text(1)});
      },
      from, to);
  return found;
}

std::string FileReader::settings_in_force() {
  begin();
  std::string text;
  each("SELECT text FROM settings_revision WHERE accepted ORDER BY number DESC LIMIT 1",
       [&](const Statement& row) { text = row.text(0); });
  return text;
}

}  // namespace

std::unique_ptr<Reader> Reader::open(const std::string& path, std::string& error) {
  Database db = connect_read_only(path, error);
  if (!db) return nullptr;
  return std::make_unique<FileReader>(std::move(db));
}

}  // namespace neap::journal
