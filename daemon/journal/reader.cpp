#include <algorithm>

#include "daemon/journal/connect.h"
#include "daemon/journal/file_reader.h"
#include "daemon/journal/rows.h"

namespace neap::journal {
namespace {

constexpr auto kTimeBox = std::chrono::seconds{5};

std::string list_of(const std::vector<EventKind>& kinds) {
  std::string list;
  for (const EventKind kind : kinds)
    list += (list.empty() ? "" : ", ") + std::to_string(static_cast<int>(kind));
  return list;
}

}  // namespace

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
  return query_integer(db_.get(), kFirstTick);
}

std::optional<std::int64_t> FileReader::last_tick() {
  begin();
  return query_integer(db_.get(), kLastTick);
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

std::vector<LevelRow> FileReader::levels(Output output, const Span& span) {
  begin();
  std::vector<LevelRow> found;
  // The output stands in the text, and not as a parameter, for the index of one that is asked
  // often.
  const std::string changes = "(SELECT tick, level FROM event WHERE kind = 1 AND output = " +
                              std::to_string(static_cast<int>(output)) + " AND tick ";
  const std::string stops =
      " UNION ALL SELECT tick, 0 AS level FROM boot UNION ALL "
      "SELECT stopped_tick, 0 FROM boot WHERE stopped_tick IS NOT NULL)";
  const auto take = [&](const Statement& row) {
    found.push_back({row.integer(0), static_cast<int>(row.integer(1))});
  };
  each("SELECT ?1, level FROM (SELECT * FROM " + changes + "<= ?1 ORDER BY tick DESC LIMIT 1)" +
           stops + " WHERE tick <= ?1 ORDER BY tick DESC LIMIT 1",
       take, first_of(span));
  each("SELECT tick, level FROM (SELECT * FROM " + changes + "> ?1 AND tick <= ?2)" + stops +
           " WHERE tick > ?1 AND tick <= ?2 ORDER BY tick",
       take, first_of(span), last_of(span));
  return found;
}

std::vector<ReadingRow> FileReader::readings(Point point, const Span& span, std::int64_t bucket_ms,
                                             int limit) {
  begin();
  auto found = bucket_ms > 0 ? means(point, span, bucket_ms, limit) : raw(point, span, limit);
  std::reverse(found.begin(), found.end());
  return found;
}

// Of columns k, v, q.
ReadingRow FileReader::read_reading(const Statement& row) const {
  const std::int64_t key = row.integer(0);
  ReadingRow made{clock_.stamp(tick_of_key(key)), point_of_key(key), std::nullopt,
                  quality_of(row.integer(2)), fault_of(row.integer(2))};
  if (!row.is_null(1)) made.value = unpack(made.point, row.integer(1));
  return made;
}

void FileReader::each_reading(const Span& span,
                              const std::function<void(const ReadingRow&)>& take) {
  begin();
  each(
      "SELECT k, v, q FROM reading WHERE k BETWEEN ?1 AND ?2 ORDER BY k",
      [&](const Statement& row) { take(read_reading(row)); }, first_key_of(span),
      last_key_of(span));
}

std::vector<ReadingRow> FileReader::raw(Point point, const Span& span, int limit) {
  std::vector<ReadingRow> found;
  each(
      "SELECT k, v, q FROM reading WHERE k BETWEEN ?1 AND ?2 AND k & 255 = ?3 "
      "ORDER BY k DESC LIMIT ?4",
      [&](const Statement& row) { found.push_back(read_reading(row)); }, first_key_of(span),
      last_key_of(span), slot(point), limit);
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

std::unique_ptr<Reader> Reader::open(const std::string& path, std::string& error) {
  Database db = connect_read_only(path, error);
  if (!db) return nullptr;
  return std::make_unique<FileReader>(std::move(db));
}

}  // namespace neap::journal
