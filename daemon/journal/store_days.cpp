// What a photoperiod's readings came to, kept for when the readings themselves are thinned.
// Readings come to the file in the order of time, so a day is whole once one of after its end has
// come; days of an older file, or of a run that was killed, get theirs as soon as the next readings
// come.
#include "daemon/journal/store.h"

namespace neap::journal {
namespace {

// A reading may be queued this much after a later one: it waits for the scan that follows it.
constexpr std::int64_t kSettled = Millis{seconds{10}}.count();

}  // namespace

int Store::prepare_summaries() {
  open_day_ = Statement(db_.get(),
                        "SELECT began, closed FROM day WHERE began NOT IN "
                        "(SELECT began FROM day_summary) ORDER BY began LIMIT 1");
  // The last of two hours that was read with no flood under way: a tray holds what a level misses.
  resting_level_ =
      Statement(db_.get(),
                "SELECT r.v / p.per_unit FROM reading r JOIN point p ON p.number = ?2 "
                "WHERE r.k > (?1 - 7200000) * 256 AND r.k < ?1 * 256 AND r.k & 255 = ?2 "
                "AND r.v IS NOT NULL AND r.q & 3 > 0 AND NOT EXISTS (SELECT 1 FROM cycle c "
                "WHERE c.started BETWEEN (r.k >> 8) - 14400000 AND (r.k >> 8) "
                "AND c.started + c.fill_ms + c.soak_ms + c.drain_ms >= (r.k >> 8)) "
                "ORDER BY r.k DESC LIMIT 1");
  // A flood has its row once it is over; one that is under way is known by its phases alone.
  flood_began_ =
      Statement(db_.get(),
                "SELECT tick FROM event WHERE tick BETWEEN ?1 - 14400000 AND ?1 AND kind = ?2 "
                "AND phase = ?3 AND (SELECT phase BETWEEN ?3 AND ?4 FROM event "
                "WHERE tick BETWEEN ?1 - 14400000 AND ?1 AND kind = ?2 ORDER BY number DESC "
                "LIMIT 1) ORDER BY number DESC LIMIT 1");
  day_summary_ = Statement(db_.get(), "INSERT OR REPLACE INTO day_summary VALUES (?1, ?2, ?3)");
  day_points_ = Statement(
      db_.get(),
      "INSERT OR REPLACE INTO day_point "
      "SELECT ?1, r.k & 255, count(v) FILTER (WHERE q & 3 > 0), "
      "count(*) - count(v) FILTER (WHERE q & 3 > 0), min(v) FILTER (WHERE q & 3 > 0) / per_unit, "
      "avg(v) FILTER (WHERE q & 3 > 0) / per_unit, max(v) FILTER (WHERE q & 3 > 0) / per_unit "
      "FROM reading r JOIN point p ON p.number = r.k & 255 WHERE r.k BETWEEN ?2 AND ?3 "
      "GROUP BY r.k & 255");
  for (const Statement* each :
       {&open_day_, &resting_level_, &flood_began_, &day_summary_, &day_points_})
    if (each->code() != SQLITE_OK) return each->code();
  return SQLITE_OK;
}

int Store::summarise_days(std::int64_t stored_until) {
  for (int i = 0; i < days_a_batch_; ++i) {
    open_day_.start();
    const int got = open_day_.step();
    const std::int64_t began = got == SQLITE_ROW ? open_day_.integer(0) : 0;
    const std::int64_t closed = got == SQLITE_ROW ? open_day_.integer(1) : 0;
    open_day_.stop();
    if (got == SQLITE_DONE) at_.days_open = false;
    if (got != SQLITE_ROW) return got == SQLITE_DONE ? SQLITE_OK : got;
    if (closed + kSettled > stored_until) return SQLITE_OK;
    if (const int code = summarise_day(began, closed); code != SQLITE_OK) return code;
  }
  return SQLITE_OK;
}

int Store::summarise_day(std::int64_t began, std::int64_t closed) {
  const int code = day_points_.run(began, first_key(began), first_key(closed) - 1);
  if (code != SQLITE_OK) return code;
  return day_summary_.run(began, resting_level(began), resting_level(closed));
}

std::optional<double> Store::resting_level(std::int64_t before) {
  flood_began_.start(before, static_cast<int>(EventKind::flood_phase),
                     static_cast<int>(FloodPhase::fill), static_cast<int>(FloodPhase::drain));
  if (flood_began_.step() == SQLITE_ROW) before = flood_began_.integer(0);
  flood_began_.stop();
  std::optional<double> level;
  resting_level_.start(before, slot(Point::reservoir_level));
  if (resting_level_.step() == SQLITE_ROW) level = resting_level_.maybe_real(0);
  resting_level_.stop();
  return level;
}

}  // namespace neap::journal
