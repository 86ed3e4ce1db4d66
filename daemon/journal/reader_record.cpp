// What a person told: measurements, calibrations, the diary; and what was made of days.
#include <algorithm>

#include "daemon/journal/file_reader.h"

namespace neap::journal {
namespace {

constexpr int kSolution = 4;
constexpr int kRecord = 5;

constexpr const char* kMeasurements =
    "SELECT m.tick, m.taken_unix_ms, m.quantity, m.value, m.note, m.number, m.id, m.photo, "
    "a.number, a.value, a.reason FROM measurement m LEFT JOIN amendment a "
    "ON a.number = (SELECT max(number) FROM amendment WHERE of = m.id) ORDER BY m.number";
constexpr const char* kMeasurementsOnce =
    "SELECT tick, taken_unix_ms, quantity, value, note, number, id, '', NULL, NULL, NULL "
    "FROM measurement ORDER BY number";

}  // namespace

bool FileReader::knows(int migration) {
  return query_integer(db_.get(), "PRAGMA user_version").value_or(0) >= migration;
}

// A measurement belongs to the time it was taken at, which may be long before it was handed in.
std::vector<MeasurementRow> FileReader::measurements(const Span& span, bool withdrawn_too) {
  begin();
  std::vector<MeasurementRow> found;
  each(knows(kSolution) ? kMeasurements : kMeasurementsOnce, [&](const Statement& row) {
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
  if (!knows(kSolution)) return found;
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

// As a measurement: it belongs to the time at which it happened.
std::vector<DiaryRow> FileReader::diary() {
  begin();
  std::vector<DiaryRow> found;
  if (!knows(kRecord)) return found;
  each(
      "SELECT tick, happened_unix_ms, kind, subject, figure, mark, says, id, number FROM diary "
      "WHERE kind <> 'withdrawal' AND id NOT IN (SELECT subject FROM diary "
      "WHERE kind = 'withdrawal') ORDER BY happened_unix_ms, number",
      [&](const Statement& row) {
        const std::int64_t happened = row.integer(1);
        const std::int64_t tick = clock_.tick_at(happened).value_or(row.integer(0));
        found.push_back({{tick, happened, clock_.stamp(tick).utc_offset_s},
                         row.text(2),
                         row.text(3),
                         row.maybe_real(4),
                         row.text(5),
                         row.text(6),
                         row.text(7),
                         row.integer(8)});
      });
  return found;
}

std::vector<DaySummary> FileReader::day_summaries(const Span& span) {
  begin();
  std::vector<DaySummary> found;
  if (!knows(kRecord)) return found;
  each(
      "SELECT s.began, s.level_first_l, s.level_last_l, p.point, p.usable, p.missing, p.lowest, "
      "p.mean, p.highest FROM day_summary s LEFT JOIN day_point p ON p.began = s.began "
      "WHERE s.began BETWEEN ?1 AND ?2 ORDER BY s.began, p.point",
      [&](const Statement& row) {
        if (found.empty() || found.back().began != row.integer(0))
          found.push_back({row.integer(0), row.maybe_real(1), row.maybe_real(2), {}});
        if (row.is_null(3)) return;
        found.back().points.push_back({static_cast<Point>(row.integer(3)), row.integer(4),
                                       row.integer(5), row.maybe_real(6), row.maybe_real(7),
                                       row.maybe_real(8)});
      },
      first_of(span), last_of(span));
  return found;
}

}  // namespace neap::journal
