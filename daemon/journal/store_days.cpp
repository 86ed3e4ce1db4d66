// What a photoperiod's readings came to, kept for when the readings themselves are thinned.
// Readings come to the file in the order of time, so a day is whole once one of after its end has
// come; days of an older file, or of a run that was killed, get theirs as soon as the next readings
// come.
#include <algorithm>
#include <array>
#include <map>

#include "daemon/journal/history.h"
#include "daemon/journal/store.h"

namespace neap::journal {
namespace {

// A reading may be queued this much after a later one: it waits for the scan that follows it.
constexpr std::int64_t kSettled = Millis{seconds{10}}.count();
constexpr std::int64_t kLookBack = Millis{hours{2}}.count();
constexpr std::int64_t kLongestFlood = Millis{hours{4}}.count();

}  // namespace

int Store::prepare_summaries() {
  open_day_ = Statement(db_.get(),
                        "SELECT began, closed FROM day WHERE began NOT IN "
                        "(SELECT began FROM day_summary) ORDER BY began LIMIT 1");
  floods_ = Statement(db_.get(),
                      "SELECT started, started + fill_ms + soak_ms + drain_ms FROM cycle "
                      "WHERE started BETWEEN ?1 AND ?2");
  // A flood has its row once it is over; one that is under way is known by its phases alone.
  flood_began_ =
      Statement(db_.get(),
                "SELECT tick FROM event WHERE tick BETWEEN ?1 - 14400000 AND ?1 AND kind = ?2 "
                "AND phase = ?3 AND (SELECT phase BETWEEN ?3 AND ?4 FROM event "
                "WHERE tick BETWEEN ?1 - 14400000 AND ?1 AND kind = ?2 ORDER BY number DESC "
                "LIMIT 1) ORDER BY number DESC LIMIT 1");
  day_summary_ = Statement(db_.get(), "INSERT OR REPLACE INTO day_summary VALUES (?1, ?2, ?3)");
  day_point_ =
      Statement(db_.get(), "INSERT OR REPLACE INTO day_point VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)");
  for (const Statement* each : {&open_day_, &floods_, &flood_began_, &day_summary_, &day_point_})
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
  std::map<std::int64_t, HourFigures> points;
  History history(db_.get(), {}, began, closed - 1);
  while (history.next()) {
    HourFigures& sum = points[history.point()];
    const HourFigures* hour = history.figures();
    if (hour != nullptr && hour->first_tick >= began && hour->last_tick < closed)
      sum.add(*hour);
    else
      sum.add(figures_of(history.readings()));
  }
  int code = history.code();
  for (const auto& [point, sum] : points) {
    if (code != SQLITE_OK) return code;
    const double unit = per_unit(static_cast<Point>(point));
    const auto figure = [&](double quanta) {
      return sum.usable > 0 ? std::optional(quanta / unit) : std::nullopt;
    };
    code = day_point_.run(began, point, sum.usable, sum.missing,
                          figure(static_cast<double>(sum.lowest)),
                          figure(sum.sum / static_cast<double>(sum.usable)),
                          figure(static_cast<double>(sum.highest)));
  }
  if (code != SQLITE_OK) return code;
  return day_summary_.run(began, resting_level(began), resting_level(closed));
}

// The last of two hours that was read with no flood under way: a tray holds what a level misses.
std::optional<double> Store::resting_level(std::int64_t before) {
  flood_began_.start(before, static_cast<int>(EventKind::flood_phase),
                     static_cast<int>(FloodPhase::fill), static_cast<int>(FloodPhase::drain));
  if (flood_began_.step() == SQLITE_ROW) before = flood_began_.integer(0);
  flood_began_.stop();
  std::vector<std::pair<std::int64_t, std::int64_t>> floods;
  floods_.start(before - kLookBack - kLongestFlood, before);
  while (floods_.step() == SQLITE_ROW) floods.emplace_back(floods_.integer(0), floods_.integer(1));
  floods_.stop();
  const auto quiet = [&](const PackedReading& reading) {
    const std::int64_t tick = tick_of_key(reading.k);
    return usable(reading) && std::ranges::none_of(floods, [tick](const auto& flood) {
             return flood.first <= tick && tick <= flood.second;
           });
  };
  const std::array level{static_cast<std::int64_t>(Point::reservoir_level)};
  History history(db_.get(), level, before - kLookBack, before - 1, History::Order::newest_first);
  while (history.next()) {
    const auto readings = history.readings();
    const auto last = std::find_if(readings.rbegin(), readings.rend(), quiet);
    if (last != readings.rend()) return unpack(Point::reservoir_level, *last->v);
  }
  return std::nullopt;
}

}  // namespace neap::journal
