#include "daemon/core/demand.h"

#include <algorithm>
#include <cmath>
#include <limits>

namespace neap {
namespace {

constexpr std::int64_t kNever = std::numeric_limits<std::int64_t>::max();
constexpr int kWhole = 1000;
constexpr int kDaysAhead = 3;
// So long before its hours end the last flood of a day comes: a clock that is set right by seconds
// does not lose it.
constexpr std::int64_t kLastChance = 60;

// In which a flood may begin, both ends included: seconds after lights-on, or from a moment.
struct Stretch {
  std::int64_t from = 0;
  std::int64_t to = 0;
};
using Stretches = FixedVector<Stretch, 4>;  // of one photoperiod
using Ahead = FixedVector<Stretch, 4 * (kDaysAhead + 2)>;

// `from` itself is not open any more, `to` is again.
void take_out(Stretches& open, std::int64_t from, std::int64_t to) {
  Stretches left;
  for (const Stretch& s : open) {
    if (to <= s.from || from > s.to) {
      left.push(s);
      continue;
    }
    if (s.from < from) left.push({s.from, from - 1});
    if (to <= s.to) left.push({to, s.to});
  }
  open = left;
}

Stretches open_hours(const ProgrammePlan& programme, const StagePlan& stage) {
  Stretches open;
  const std::int64_t from = stage.floods.first_after_s;
  const std::int64_t to =
      stage.light_length_s - std::max<std::int64_t>(stage.floods.last_before_s, 1);
  if (stage.fallow || to < from) return open;
  open.push({from, to});
  const QuietHours& quiet = programme.quiet;
  if (!quiet.fitted) return open;
  const std::int64_t length = (quiet.to_s - quiet.from_s + kSecondsPerDay) % kSecondsPerDay;
  const std::int64_t begins = quiet.from_s - stage.lights_on_s;
  for (int day = -1; day <= 1; ++day) {
    const std::int64_t at = begins + std::int64_t{day} * kSecondsPerDay;
    take_out(open, at - kBeforeQuiet, at + length);
  }
  return open;
}

// In seconds from `at`; what is over is left out.
Ahead hours_ahead(const ProgrammePlan& programme, const StagePlan& stage, CivilTime at) {
  Ahead ahead;
  const Stretches open = open_hours(programme, stage);
  const CivilTime on = photoperiod_at(stage, at).on;
  for (std::int32_t date = on.date - 1; date <= on.date + kDaysAhead; ++date) {
    const std::int64_t begins = civil_seconds_between(at, {date, on.second_of_day});
    for (const Stretch& s : open)
      if (begins + s.to >= 0) ahead.push({begins + s.from, begins + s.to});
  }
  return ahead;
}

// At `wanted` or as soon after it as a flood may begin.
std::int64_t first_open(const Ahead& ahead, std::int64_t wanted) {
  for (const Stretch& s : ahead)
    if (wanted <= s.to * kWhole) return std::max(wanted, s.from * kWhole);
  return kNever;
}

std::int64_t latest_open(const Ahead& ahead, std::int64_t wanted, std::int64_t soonest) {
  for (std::size_t i = 0; i < ahead.size(); ++i) {
    const std::int64_t to = ahead[i].to * kWhole;
    if (wanted <= to) return std::max(wanted, ahead[i].from * kWhole);
    if (i + 1 == ahead.size() || wanted >= ahead[i + 1].from * kWhole) continue;
    const std::int64_t chance = std::max(to - kLastChance * kWhole, soonest);
    if (chance <= to) return chance;
  }
  return kNever;
}

// Pa, in air of mid-band.
std::int64_t planned_rate(const StagePlan& stage, CivilTime at) {
  const bool light = is_light(stage, at);
  const Band& band = light ? stage.vpd_day : stage.vpd_night;
  const double pa = (band.low.value + band.high.value) / 2 * kWhole;
  return std::llround(light ? pa : pa * kDarkPart / kWhole);
}

// When the amount will be used up.
std::int64_t reached(const StagePlan& stage, const DemandNow& now) {
  std::int64_t left = std::llround(stage.floods.demand_kpa_h * 1000 * 3600 * 1000) - now.used;
  if (left <= 0) return 0;
  if (!now.rate) return kNever;
  CivilTime at = now.at;
  std::int64_t rate = *now.rate;
  std::int64_t span = 0;
  while (span < std::int64_t{kDaysAhead} * kSecondsPerDay * kWhole) {
    const LightEdges edges = photoperiod_at(stage, at);
    const CivilTime edge =
        is_light(stage, at) ? edges.off : CivilTime{edges.on.date + 1, edges.on.second_of_day};
    const std::int64_t to_edge = civil_seconds_between(at, edge) * kWhole;
    if (left <= to_edge * rate) return span + (left + rate - 1) / rate;
    left -= to_edge * rate;
    span += to_edge;
    at = edge;
    rate = planned_rate(stage, at);
  }
  return kNever;
}

}  // namespace

std::optional<DemandTimes> demand_times(const ProgrammePlan& programme, const StagePlan& stage,
                                        const DemandNow& now) {
  const Ahead ahead = hours_ahead(programme, stage, now.at);
  const std::int64_t soonest = (stage.floods.no_sooner - now.since).count();
  // An outage brings the latest flood nearer, and none nearer to another than `no_sooner`.
  const std::int64_t wanted =
      std::max((stage.floods.no_later - now.since - now.away).count(), soonest);
  const std::int64_t latest = latest_open(ahead, wanted, soonest);
  const std::int64_t expected =
      std::min(first_open(ahead, std::max(reached(stage, now), soonest)), latest);
  if (expected == kNever) return std::nullopt;
  return DemandTimes{Millis{expected}, Millis{latest}};
}

void forecast_by_demand(const ProgrammePlan& programme, const StagePlan& stage, std::int32_t date,
                        FloodSlots& out) {
  out.clear();
  const Stretches open = open_hours(programme, stage);
  if (open.empty()) return;
  const auto last = later({date - 1, stage.lights_on_s}, open.back().to);
  DemandNow now{.at = last, .rate = planned_rate(stage, last)};
  for (std::int32_t number = 1; number <= kMaxSlotsPerDay; ++number) {
    const auto times = demand_times(programme, stage, now);
    if (!times) return;
    const CivilTime start = later(now.at, (times->expected.count() + kWhole - 1) / kWhole);
    if (photoperiod_at(stage, start).on.date > date) return;
    out.push({{date, number}, start, start});
    now = {.at = start, .rate = planned_rate(stage, start)};
  }
}

void sparsest_by_demand(const ProgrammePlan& programme, const StagePlan& stage, std::int32_t date,
                        FloodSlots& out) {
  out.clear();
  const CivilTime on{date, stage.lights_on_s};
  const std::int64_t apart = stage.floods.no_later.count() / kWhole;
  if (apart <= 0) return;
  std::int32_t number = 0;
  for (const Stretch& s : open_hours(programme, stage)) {
    const std::int64_t last = s.to - stage.floods.no_sooner.count() / kWhole;
    for (std::int64_t at = s.from; at == s.from || at < last; at += apart)
      out.push({{date, ++number}, later(on, at), later(on, at)});
    if (last > s.from) out.push({{date, ++number}, later(on, last), later(on, last)});
  }
}

}  // namespace neap
