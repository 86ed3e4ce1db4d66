// All readings of a journal, whether they stand as rows or in blocks: the one place that knows. It
// goes through them hour by hour of the tick; whoever can do with the hour's figures need not ask
// for its readings.
#pragma once

#include <array>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/journal/hour.h"
#include "daemon/journal/sqlite.h"

namespace neap::journal {

// Rows that came when a block of their hour was there already, and that block's. Of two with one
// key the later put is left, as among rows.
std::vector<PackedReading> merged(std::span<const PackedReading> later,
                                  std::span<const PackedReading> earlier);

// What `reading_hour` says of an hour: a SELECT lists the columns, and the row is made figures.
inline constexpr std::string_view kHourColumns =
    "hour, first_ms, last_ms, usable, missing, lowest, highest, sum, newest, newest_ms, worst, "
    "fault, ended_missing";
HourFigures figures_in(const Statement& row);

bool has_blocks(sqlite3* db);  // false: no daemon that packs has opened this journal yet

class History {
 public:
  enum class Order : std::uint8_t { oldest_first, newest_first };  // of the hours
  // Ticks `from` to `to`, both with it. `points`, each of 0 to 255, empty: all. What the journal is
  // when this is made is what is gone through, whatever the daemon writes meanwhile.
  History(sqlite3* db, std::span<const std::int64_t> points, std::int64_t from, std::int64_t to,
          Order order = Order::oldest_first);

  // To the next hour of a point, points in the order of their numbers within an hour. False: no
  // more, or code() says what failed; readings() may fail too, so that it is asked after the last.
  bool next();
  std::int64_t point() const { return point_; }
  // What all of the hour's readings come to, also of those beyond from and to; none when they must
  // be counted, because some of them stand as rows.
  const HourFigures* figures() const { return figures_; }
  // The hour's readings from `from` to `to`, oldest first.
  std::span<const PackedReading> readings();
  // After readings(): only the figures are left of what was packed. The readings were deleted, or
  // problem() says why they cannot be read.
  bool gone() const { return gone_; }

  int code() const { return code_; }
  const std::string& problem() const { return problem_; }

 private:
  struct Packed {  // the hours of one point that have figures
    std::int64_t point = 0;
    Statement rows;
    std::optional<std::int64_t> hour;  // none: no more
    HourFigures figures;
  };

  bool is_sooner(std::int64_t hour, std::int64_t than) const {
    return order_ == Order::oldest_first ? hour < than : hour > than;
  }
  bool wanted(std::int64_t point) const { return all_ || wanted_[static_cast<std::size_t>(point)]; }
  void open_packed(std::span<const std::int64_t> points);
  void advance(Packed& packed);
  void advance_rows();
  bool begin_hour();

  sqlite3* db_;
  const std::int64_t from_, to_;
  const Order order_;
  bool all_;
  std::array<bool, kPointsInKey> wanted_{};
  Statement snapshot_;  // stands on a row, so that all statements see one state of the file
  std::vector<Packed> packed_;
  std::array<Packed*, kPointsInKey> packed_of_{};  // by point
  Statement rows_, block_;
  std::optional<PackedReading> row_;                            // the next one that stands as a row
  std::array<std::vector<PackedReading>, kPointsInKey> loose_;  // of this hour, by point

  std::int64_t hour_ = 0;
  std::int64_t point_ = kPointsInKey;  // of this hour; beyond the last: the hour is over
  const HourFigures* figures_ = nullptr;
  bool in_block_ = false;
  bool gone_ = false;
  std::vector<PackedReading> unpacked_;
  int code_ = SQLITE_OK;
  std::string problem_;
};

}  // namespace neap::journal
