// The readings of hours that are over go from rows into blocks, in the transaction of the batch
// that made them old enough: whatever is cut off in the middle of it never was.
#include <map>

#include "daemon/journal/history.h"
#include "daemon/journal/store.h"

namespace neap::journal {
namespace {

// An hour of 20 points at 10 s has 7,200; what takes longer keeps events waiting.
constexpr int kRowsInPacking = 8000;
// An hour of readings is deleted, and the next no sooner than this (of the tick): two days'
// readings a day at most, whatever made them look old.
constexpr std::int64_t kDropEvery = Millis{minutes{30}}.count();

std::optional<std::int64_t> integer_of(Statement& statement) {
  statement.start();
  std::optional<std::int64_t> found;
  if (statement.step() == SQLITE_ROW) found = statement.maybe_integer(0);
  statement.stop();
  return found;
}

}  // namespace

int Store::prepare_packing() {
  oldest_reading_ = Statement(db_.get(), "SELECT min(k) FROM reading");
  packed_ = Statement(db_.get(), "SELECT packed FROM reading_block WHERE k = ?1");
  newest_reading_ = Statement(db_.get(), "SELECT max(k) FROM reading");
  hour_rows_ = Statement(db_.get(), "SELECT k, v, q FROM reading WHERE k < ?1 ORDER BY k LIMIT ?2");
  drop_rows_ = Statement(db_.get(), "DELETE FROM reading WHERE k <= ?1");
  block_ = Statement(db_.get(), "INSERT OR REPLACE INTO reading_block VALUES (?1, ?2)");
  oldest_block_ = Statement(db_.get(), "SELECT min(k) FROM reading_block");
  drop_blocks_ = Statement(db_.get(), "DELETE FROM reading_block WHERE k < ?1");
  hour_figures_ = Statement(db_.get(), "SELECT " + std::string(kHourColumns) +
                                           " FROM reading_hour WHERE point = ?1 AND hour = ?2");
  hour_ = Statement(db_.get(),
                    "INSERT OR REPLACE INTO reading_hour VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, "
                    "?9, ?10, ?11, ?12, ?13, ?14)");
  for (const Statement* each :
       {&oldest_reading_, &newest_reading_, &hour_rows_, &drop_rows_, &packed_, &block_,
        &oldest_block_, &drop_blocks_, &hour_figures_, &hour_})
    if (each->code() != SQLITE_OK) return each->code();
  return SQLITE_OK;
}

// Packs what is old enough, as much as one batch may; the rest has time.
int Store::pack_old_hours() {
  for (int step = 0; step < packings_a_batch_; ++step) {
    const auto oldest = integer_of(oldest_reading_);
    const auto newest = integer_of(newest_reading_);
    if (!oldest || !newest) return SQLITE_OK;
    const std::int64_t hour = hour_of(tick_of_key(*oldest));
    if ((hour + 1) * kHourMs + pack_after_ > tick_of_key(*newest)) return SQLITE_OK;
    if (const int code = pack_rows_of(hour); code != SQLITE_OK) return code;
  }
  return SQLITE_OK;
}

int Store::pack_rows_of(std::int64_t hour) {
  std::map<std::int64_t, std::vector<PackedReading>> by_point;
  std::int64_t last = 0;
  hour_rows_.start(first_key((hour + 1) * kHourMs), kRowsInPacking);
  int got = hour_rows_.step();
  for (; got == SQLITE_ROW; got = hour_rows_.step()) {
    last = hour_rows_.integer(0);
    by_point[static_cast<std::int64_t>(point_of_key(last))].push_back(
        {last, hour_rows_.maybe_integer(1), static_cast<std::uint8_t>(hour_rows_.integer(2))});
  }
  hour_rows_.stop();
  if (got != SQLITE_DONE) return got;
  for (auto& [point, readings] : by_point)
    if (const int code = pack_into_block(block_key(hour, point), readings); code != SQLITE_OK)
      return code;
  return drop_rows_.run(last);
}

// A block of the hour may be there: of the readings before these where an hour has more than one
// packing takes, or these waited out a full disk.
int Store::pack_into_block(std::int64_t key, std::vector<PackedReading>& readings) {
  std::string problem;
  packed_.start(key);
  const int got = packed_.step();
  if (got == SQLITE_ROW)
    if (const auto before = unpack_block(key, packed_.bytes(0), problem))
      readings = merged(readings, *before);
  packed_.stop();
  if (got != SQLITE_ROW && got != SQLITE_DONE) return got;
  HourFigures figures = figures_of(readings);
  const HourFigures known = figures_known(key);
  if (got == SQLITE_DONE && known.any()) {  // its readings were deleted: these count, and go too
    HourFigures both = known;
    both.add(figures);
    return store_hour(key, both);
  }
  if (!problem.empty()) {  // the figures of what cannot be read still count
    if (const int code = loss_.run(figures.last_tick, known.usable + known.missing, 0,
                                   std::string_view(problem));
        code != SQLITE_OK)
      return code;
    HourFigures both = known;
    both.add(figures);
    figures = both;
  }
  if (const int code = block_.run(key, Bytes{pack_block(readings)}); code != SQLITE_OK) return code;
  return store_hour(key, figures);
}

HourFigures Store::figures_known(std::int64_t key) {
  HourFigures known;
  hour_figures_.start(static_cast<std::int64_t>(point_of_key(key)), tick_of_key(key));
  if (hour_figures_.step() == SQLITE_ROW) known = figures_in(hour_figures_);
  hour_figures_.stop();
  return known;
}

int Store::store_hour(std::int64_t key, const HourFigures& figures) {
  const std::int64_t hour = tick_of_key(key), begins = hour * kHourMs;
  const auto if_usable = [&](std::int64_t value) {
    return figures.usable > 0 ? std::optional(value) : std::nullopt;
  };
  return hour_.run(static_cast<std::int64_t>(point_of_key(key)), hour, figures.first_tick - begins,
                   figures.last_tick - begins, figures.usable, figures.missing,
                   if_usable(figures.lowest), if_usable(figures.highest), figures.sum,
                   if_usable(figures.newest), if_usable(figures.newest_tick - begins),
                   static_cast<int>(figures.worst), static_cast<int>(figures.fault),
                   figures.ended_missing);
}

// Age is told by the tick alone, which counts the time that neapd ran: no wall clock, however far
// it jumps, makes a reading old. After a start nothing is deleted for a while.
int Store::drop_old_blocks() {
  if (!keep_) return SQLITE_OK;
  const auto newest = integer_of(newest_reading_);
  const auto oldest = integer_of(oldest_block_);
  if (!newest || !oldest) return SQLITE_OK;
  const std::int64_t now = tick_of_key(*newest), hour = tick_of_key(*oldest);
  if (!drop_from_) drop_from_ = now + kDropEvery;
  if (now < *drop_from_ || (hour + 1) * kHourMs + *keep_ > now) return SQLITE_OK;
  drop_from_ = now + kDropEvery;
  return drop_blocks_.run(block_key(hour + 1, 0));
}

}  // namespace neap::journal
