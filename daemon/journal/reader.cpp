#include <algorithm>

#include "daemon/journal/connect.h"
#include "daemon/journal/file_reader.h"
#include "daemon/journal/rows.h"

namespace neap::journal {
namespace {

constexpr auto kTimeBox = std::chrono::seconds{5};
constexpr auto kClockStands = std::chrono::milliseconds{10};

// One kind alone stands as the indexes of some kinds name it.
std::string is_one_of(const std::vector<EventKind>& kinds) {
  if (kinds.size() == 1) return " AND e.kind = " + std::to_string(static_cast<int>(kinds.front()));
  std::string list;
  for (const EventKind kind : kinds)
    list += (list.empty() ? "" : ", ") + std::to_string(static_cast<int>(kind));
  return list.empty() ? list : " AND e.kind IN (" + list + ")";
}

}  // namespace

void FileReader::begin() {
  trouble_.clear();
  until_ = Steady::now() + kTimeBox;
  look_at_clock();
}

void FileReader::look_at_clock() {
  clock_looked_at_ = Steady::now();
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
  auto first = query_integer(db_.get(), kFirstTick);
  if (!has_blocks(db_.get())) return first;
  const auto packed = query_integer(db_.get(), kFirstPackedTick);
  return packed && (!first || *packed < *first) ? packed : first;
}

std::optional<std::int64_t> FileReader::last_tick() {
  begin();
  return query_integer(db_.get(), kLastTick);
}

// What asks for thousands of times in one answer need not ask the file each time.
void FileReader::begin_with_clock() {
  trouble_.clear();
  if (Steady::now() - clock_looked_at_ < kClockStands) return;
  begin();
}

std::optional<std::int64_t> FileReader::tick_at(std::int64_t unix_ms) {
  begin_with_clock();
  return clock_.tick_at(unix_ms);
}

Stamp FileReader::stamp(std::int64_t tick) {
  begin_with_clock();
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
          is_one_of(kinds) + " ORDER BY e.tick DESC, e.number DESC LIMIT ?3",
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
