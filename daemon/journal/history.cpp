#include "daemon/journal/history.h"

#include <algorithm>

namespace neap::journal {
namespace {

constexpr int kBlocks = 6;  // the migration that brought them

// A step of the index for each point, where DISTINCT would read it all.
constexpr const char* kPointsPacked =
    "WITH RECURSIVE p(n) AS (SELECT min(point) FROM reading_hour UNION ALL "
    "SELECT (SELECT min(point) FROM reading_hour WHERE point > n) FROM p WHERE n IS NOT NULL) "
    "SELECT n FROM p WHERE n IS NOT NULL";

std::string in_order(std::string sql, History::Order order) {
  return sql + (order == History::Order::oldest_first ? "" : " DESC");
}

}  // namespace

HourFigures figures_in(const Statement& row) {
  const std::int64_t begins = row.integer(0) * kHourMs;
  HourFigures made;
  made.first_tick = begins + row.integer(1);
  made.last_tick = begins + row.integer(2);
  made.usable = row.integer(3);
  made.missing = row.integer(4);
  made.lowest = row.integer(5);
  made.highest = row.integer(6);
  made.sum = row.real(7);
  made.newest = row.integer(8);
  made.newest_tick = begins + row.integer(9);
  made.worst = static_cast<Quality>(row.integer(10));
  made.fault = static_cast<Fault>(row.integer(11));
  made.ended_missing = row.integer(12) != 0;
  return made;
}

std::vector<PackedReading> merged(std::span<const PackedReading> later,
                                  std::span<const PackedReading> earlier) {
  std::vector<PackedReading> both;
  std::ranges::set_union(later, earlier, std::back_inserter(both),
                         [](const PackedReading& a, const PackedReading& b) { return a.k < b.k; });
  return both;
}

bool has_blocks(sqlite3* db) {
  return query_integer(db, "PRAGMA user_version").value_or(0) >= kBlocks;
}

History::History(sqlite3* db, std::span<const std::int64_t> points, std::int64_t from,
                 std::int64_t to, Order order)
    : db_(db),
      from_(clamp_tick(from)),
      to_(clamp_tick(to)),
      order_(order),
      all_(points.empty()),
      snapshot_(db, "SELECT 1 FROM last_batch") {
  for (const std::int64_t point : points) wanted_[static_cast<std::size_t>(point)] = true;
  snapshot_.start();
  if (const int got = snapshot_.step(); got != SQLITE_ROW && got != SQLITE_DONE) code_ = got;
  rows_ = Statement(
      db_, in_order("SELECT k, v, q FROM reading WHERE k BETWEEN ?1 AND ?2 ORDER BY k", order_));
  rows_.start(first_key(from_), first_key(to_) + (kPointsInKey - 1));
  advance_rows();
  if (has_blocks(db_)) open_packed(points);
}

void History::open_packed(std::span<const std::int64_t> points) {
  block_ = Statement(db_, "SELECT packed FROM reading_block WHERE k = ?1");
  std::vector<std::int64_t> each(points.begin(), points.end());
  if (all_) {
    Statement found(db_, kPointsPacked);
    found.start();
    int got = found.step();
    for (; got == SQLITE_ROW; got = found.step()) {
      const std::int64_t point = found.integer(0);
      if (point >= 0 && point < kPointsInKey) each.push_back(point);  // a hand may have been at it
    }
    if (got != SQLITE_DONE) code_ = got;
  }
  std::ranges::sort(each);
  each.erase(std::unique(each.begin(), each.end()), each.end());
  packed_.resize(each.size());
  for (std::size_t i = 0; i < each.size(); ++i) {
    Packed& packed = packed_[i];
    packed.point = each[i];
    packed_of_[static_cast<std::size_t>(packed.point)] = &packed;
    packed.rows = Statement(
        db_, in_order("SELECT " + std::string(kHourColumns) +
                          " FROM reading_hour WHERE point = ?1 AND hour BETWEEN ?2 AND ?3 "
                          "ORDER BY hour",
                      order_));
    packed.rows.start(packed.point, hour_of(from_), hour_of(to_));
    advance(packed);
  }
}

void History::advance(Packed& packed) {
  packed.hour.reset();
  const int got = packed.rows.step();
  if (got == SQLITE_ROW) {
    packed.hour = packed.rows.integer(0);
    packed.figures = figures_in(packed.rows);
  } else if (got != SQLITE_DONE) {
    code_ = got;
  }
}

void History::advance_rows() {
  row_.reset();
  const int got = rows_.step();
  if (got == SQLITE_ROW) {
    row_ = PackedReading{rows_.integer(0), rows_.maybe_integer(1),
                         static_cast<std::uint8_t>(rows_.integer(2))};
  } else if (got != SQLITE_DONE) {
    code_ = got;
  }
}

// The next hour of which there is anything, with the readings of it that stand as rows.
bool History::begin_hour() {
  std::optional<std::int64_t> hour;
  if (row_) hour = hour_of(tick_of_key(row_->k));
  for (const Packed& packed : packed_)
    if (packed.hour && (!hour || is_sooner(*packed.hour, *hour))) hour = packed.hour;
  if (!hour || code_ != SQLITE_OK) return false;
  hour_ = *hour;
  for (auto& readings : loose_) readings.clear();
  for (; row_ && hour_of(tick_of_key(row_->k)) == hour_; advance_rows()) {
    const auto point = static_cast<std::int64_t>(point_of_key(row_->k));
    if (wanted(point)) loose_[static_cast<std::size_t>(point)].push_back(*row_);
  }
  if (order_ == Order::newest_first)
    for (auto& readings : loose_) std::ranges::reverse(readings);
  return code_ == SQLITE_OK;
}

bool History::next() {
  // What the point that was gone through had in this hour is behind.
  if (in_block_) advance(*packed_of_[static_cast<std::size_t>(point_)]);
  for (++point_;; ++point_) {
    if (point_ >= kPointsInKey) {
      if (!begin_hour()) return in_block_ = false;
      point_ = 0;
    }
    const auto place = static_cast<std::size_t>(point_);
    const bool loose = !loose_[place].empty();
    const Packed* packed = packed_of_[place];
    in_block_ = packed != nullptr && packed->hour == hour_;
    figures_ = in_block_ && !loose ? &packed->figures : nullptr;
    if (loose || in_block_) return code_ == SQLITE_OK;
  }
}

std::span<const PackedReading> History::readings() {
  const std::vector<PackedReading>& loose = loose_[static_cast<std::size_t>(point_)];
  gone_ = in_block_;
  if (!in_block_) return loose;
  unpacked_.clear();
  const std::int64_t key = block_key(hour_, point_);
  block_.start(key);
  const int got = block_.step();
  if (got == SQLITE_ROW) {
    if (auto found = unpack_block(key, block_.bytes(0), problem_)) {
      unpacked_ = std::move(*found);
      gone_ = false;
    }
  } else if (got != SQLITE_DONE) {  // not deleted: it could not be looked for
    code_ = got;
  }
  block_.stop();
  std::erase_if(unpacked_, [this](const PackedReading& reading) {
    return tick_of_key(reading.k) < from_ || tick_of_key(reading.k) > to_;
  });
  if (loose.empty()) return unpacked_;
  unpacked_ = merged(loose, unpacked_);
  return unpacked_;
}

}  // namespace neap::journal
