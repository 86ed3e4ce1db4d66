#include "daemon/client/water.h"

#include <algorithm>

#include "daemon/client/records_json.h"
#include "daemon/client/water_record.h"
#include "daemon/core/oxygen.h"

namespace neap::client {
namespace {

using nlohmann::json;

constexpr int kMostRows = 2'000'000;
constexpr std::int64_t kHour = Millis{hours{1}}.count();
constexpr std::int64_t kDay = 24 * kHour;
constexpr double kStandsHours = 48;

void tell_leaks(journal::Reader& reader, const HourScale& scale,
                const solution::WaterRecord& record, double now_h, WaterView& view) {
  const solution::LeakFindings found = solution::watch_for_leaks(record);
  view.idle = found.idle;
  for (const solution::Suspicion& one : found.suspicions)
    view.leaks.push_back({one.sign, reader.stamp(scale.tick(one.since_h)),
                          reader.stamp(scale.tick(one.flagged_h)),
                          reader.stamp(scale.tick(one.last_h)), one.l_per_h,
                          now_h - one.last_h < kStandsHours, one.lost_sight});
}

std::optional<TrendTold> tell_trend(journal::Reader& reader, const HourScale& scale,
                                    const std::vector<solution::Timed>& times, double slow,
                                    const std::vector<solution::Renewal>& renewed) {
  const auto trend = solution::trend_of(times, slow, renewed);
  if (!trend) return std::nullopt;
  TrendTold told{*trend, {}, {}};
  if (trend->flagged_h) told.flagged = reader.stamp(scale.tick(*trend->flagged_h));
  if (trend->reaches_h) told.reaches = reader.stamp(scale.tick(*trend->reaches_h));
  return told;
}

// Means of an hour of the newest `length`.
std::vector<journal::ReadingRow> hourly(journal::Reader& reader, Point point, std::int64_t to,
                                        std::int64_t length) {
  auto rows = reader.readings(point, {to - length, to}, kHour, kMostRows);
  std::erase_if(rows, [](const auto& row) { return !row.value || row.quality == Quality::bad; });
  return rows;
}

std::optional<double> slope_per_day(const std::vector<journal::ReadingRow>& rows) {
  if (rows.size() < 24) return std::nullopt;
  const auto n = static_cast<double>(rows.size());
  const auto days = [&](const journal::ReadingRow& row) {
    return static_cast<double>(row.at.tick - rows.front().at.tick) / kDay;
  };
  double day = 0, value = 0, across = 0, square = 0;
  for (const auto& row : rows) day += days(row) / n, value += *row.value / n;
  for (const auto& row : rows) {
    across += (days(row) - day) * (*row.value - value);
    square += (days(row) - day) * (days(row) - day);
  }
  if (!(square > 0)) return std::nullopt;
  return across / square;
}

// Level and EC before the floods that lie furthest apart since somebody poured.
void tell_taken(journal::Reader& reader, const HourScale& scale,
                const std::vector<solution::CycleLoss>& cycles, std::int64_t to, WaterView& view) {
  constexpr double kLeastHours = 12, kMostHours = 48;
  const double now_h = scale.hours(to);
  double water = 0, since_h = now_h;
  for (auto cycle = cycles.rbegin(); cycle != cycles.rend(); ++cycle) {
    if (cycle->poured || now_h - cycle->from_h > kMostHours) break;
    water += cycle->litres;
    since_h = cycle->from_h;
  }
  const auto ec = hourly(reader, Point::solution_ec, to, 3 * kDay);
  if (now_h - since_h < kLeastHours || ec.empty() || !view.level_l) return;
  const auto before = std::find_if(ec.begin(), ec.end(), [&](const auto& row) {
    return row.at.tick >= scale.tick(since_h) - kHour;
  });
  if (before == ec.end()) return;
  const solution::Solution after{*view.level_l, *ec.back().value};
  view.taken_h = now_h - since_h;
  view.taken = solution::taken_between({after.litres + water, *before->value}, {}, after);
}

}  // namespace

WaterView water_view(journal::Reader& reader, const Plan& plan, std::int64_t to) {
  const std::int64_t first = reader.first_tick().value_or(to);
  const std::int64_t from = std::max(first, to - kWaterDays * kDay);
  const HourScale scale = hour_scale(reader, from);
  const double now_h = scale.hours(to);
  WaterView view;
  view.name = plan.name;
  view.from = reader.stamp(from);
  view.to = reader.stamp(to);
  const solution::WaterRecord record = water_record(reader, scale, from, to);
  view.level_fitted = plan.points[Point::reservoir_level].has_value();
  view.level_known = !record.levels.empty();
  tell_leaks(reader, scale, record, now_h, view);
  const auto cycles = solution::cycle_losses(record);
  const auto days = solution::day_losses(cycles);
  for (const solution::DayLoss& day : days)
    view.days.emplace_back(reader.stamp(scale.tick(day.day * 24.0)), day);
  view.per_day_l = solution::loss_per_day(days);
  if (const auto windows = solution::idle_windows(record); !windows.empty()) {
    const double last_h = windows.back().to_h;
    double sum = 0;
    int n = 0;
    for (const solution::Level& level : record.levels)
      if (level.at_h > last_h - 0.5 && level.at_h <= last_h) sum += level.litres, ++n;
    if (n > 0) view.level_l = sum / n;
  }
  view.needed_l = plan.table.reservoir_minimum.value + plan.table.flood_volume.value;
  if (view.level_l)
    view.days_left = solution::days_until(*view.level_l, *view.needed_l, view.per_day_l);
  if (view.days_left)
    view.refill = reader.stamp(to + static_cast<std::int64_t>(*view.days_left * kDay));
  const FloodTimes times = flood_times(reader.cycles({std::nullopt, to}), scale, record.levels);
  const auto renewed = renewals(reader.measurements({std::nullopt, to}), reader.diary(), scale);
  view.fill = tell_trend(reader, scale, times.fill, solution::kSlowFill, renewed);
  view.drain = tell_trend(reader, scale, times.drain, solution::kSlowDrain, renewed);
  const auto ec = hourly(reader, Point::solution_ec, to, 7 * kDay);
  if (!ec.empty()) view.ec = ec.back().value;
  view.ec_per_day = slope_per_day(ec);
  tell_taken(reader, scale, cycles, to, view);
  if (const auto warm = hourly(reader, Point::solution_temperature, to, kDay); !warm.empty()) {
    view.water_c = warm.back().value;
    view.oxygen_mg_l = oxygen_saturation_mg_per_l(Celsius{*view.water_c});
  }
  return view;
}

namespace {

json or_null(const std::optional<double>& value) { return value ? json(*value) : json(); }
json or_null(const std::optional<journal::Stamp>& at) { return at ? stamp_json(*at) : json(); }

json trend_json(const std::optional<TrendTold>& told) {
  if (!told) return nullptr;
  return {{"commissioned_s", told->trend.commissioned_s},
          {"now_s", told->trend.now_s},
          {"change", told->trend.change},
          {"smallest_change_flagged", told->trend.smallest_change},
          {"flagged", or_null(told->flagged)},
          {"change_per_day", or_null(told->trend.per_day)},
          {"slow_at", or_null(told->reaches)}};
}

}  // namespace

json water_json(const WaterView& view) {
  json leaks = json::array(), days = json::array();
  for (const LeakTold& leak : view.leaks)
    leaks.push_back(
        {{"by", leak.sign == solution::LeakSign::idle_slope ? "idle_slope" : "cycle_balance"},
         {"since", stamp_json(leak.since)},
         {"flagged", stamp_json(leak.flagged)},
         {"last", stamp_json(leak.last)},
         {"stands", leak.stands},
         {"lost_sight", leak.lost_sight},
         {"l_per_h", leak.l_per_h}});
  for (const auto& [at, day] : view.days)
    days.push_back(
        {{"day", stamp_json(at)}, {"lost_l", or_null(day.litres)}, {"poured_l", day.poured_l}});
  json out = {{"name", view.name},
              {"from", stamp_json(view.from)},
              {"to", stamp_json(view.to)},
              {"level_fitted", view.level_fitted},
              {"level_known", view.level_known},
              {"leaks", leaks},
              {"visible_within_a_day_l_per_h", or_null(view.idle.within_a_day_l_per_h)},
              {"visible_within_two_days_l_per_h", or_null(view.idle.within_two_days_l_per_h)},
              {"idle_windows_per_day", view.idle.windows_per_day},
              {"longest_idle_window_h", view.idle.longest_window_h},
              {"days", days},
              {"lost_l_per_day", or_null(view.per_day_l)},
              {"level_l", or_null(view.level_l)},
              {"needed_l", or_null(view.needed_l)},
              {"refill", or_null(view.refill)},
              {"fill", trend_json(view.fill)},
              {"drain", trend_json(view.drain)},
              {"ec_ms_cm", or_null(view.ec)},
              {"ec_per_day_ms_cm", or_null(view.ec_per_day)},
              {"taken_concentration_ms_cm", nullptr},
              {"taken_over_h", nullptr},
              {"water_c", or_null(view.water_c)},
              {"oxygen_saturation_mg_l", or_null(view.oxygen_mg_l)}};
  if (view.taken) {
    out["taken_concentration_ms_cm"] = or_null(view.taken->concentration);
    out["taken_over_h"] = view.taken_h;
  }
  return out;
}

}  // namespace neap::client
