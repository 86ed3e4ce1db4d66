#include "daemon/core/watch.h"

#include <algorithm>
#include <cmath>

#include "daemon/core/limits.h"
#include "daemon/core/schedule.h"

namespace neap {
namespace {

constexpr std::array kLeakPoints{Point::leak_floor, Point::leak_rack, Point::leak_reservoir};

bool frozen(const PointPlan& plan, PointWatch& watch, double raw, Instant taken) {
  if (!watch.any_good || raw != watch.raw_same) {
    watch.raw_same = raw;
    watch.raw_same_since = taken;
  }
  return plan.frozen_after > Millis{0} && taken - watch.raw_same_since >= plan.frozen_after;
}

// A probe that is read each minute may honestly move as far as air does in a minute.
bool agree(const PointInfo& info, const PointPlan& plan, double a, double b) {
  const double of_a_minute = static_cast<double>(plan.period.count()) / 60'000;
  return std::abs(a - b) <= info.max_step * std::clamp(of_a_minute, limits::kAgreePart, 1.0);
}

bool too_far(const PointInfo& info, double a, double b) { return std::abs(a - b) > info.max_step; }

// Air and water move only so far at once; what moves further must be borne out by the next values.
Fault judge_step(const PointInfo& info, const PointPlan& plan, PointWatch& watch, double value,
                 Instant taken) {
  const bool first = watch.agreeing == 0;
  const double before = watch.newest;
  const bool borne_out = !first && agree(info, plan, value, before);
  watch.agreeing = borne_out ? std::min(watch.agreeing + 1, limits::kAgreeingValues) : 1;
  watch.newest = value;
  const bool settled = watch.agreeing == limits::kAgreeingValues;
  if (!watch.confirmed) {
    watch.confirmed = settled;
    return !first && too_far(info, value, before) ? Fault::jump : Fault::none;
  }
  if (agree(info, plan, value, watch.last_good)) return Fault::none;
  const bool recent = taken - watch.last_good_at < kStepWindow;
  if (recent && too_far(info, value, watch.last_good)) return Fault::jump;
  if (settled) return Fault::none;
  return !first && too_far(info, value, before) ? Fault::jump : Fault::unconfirmed;
}

// What is wrong with a delivered value; Fault::none when it may be used.
Fault judge_value(const PointInfo& info, const PointPlan& plan, PointWatch& watch, double raw,
                  double value, Instant taken) {
  if (!std::isfinite(raw) || value < info.lowest || value > info.highest) {
    watch.agreeing = 0;
    return Fault::out_of_range;
  }
  if (info.kind == PointKind::contact) return Fault::none;
  if (frozen(plan, watch, raw, taken)) return Fault::frozen;
  if (info.max_step > 0) return judge_step(info, plan, watch, value, taken);
  watch.confirmed = true;
  return Fault::none;
}

// Good values make up for refused ones. A jump that the value before it bears out is no sign of a
// wild probe but of one that was moved; silence and a stuck value have faults of their own.
void weigh(PointWatch& watch) {
  const bool lone_jump = watch.fault == Fault::jump && watch.agreeing == 1;
  if (watch.fault == Fault::out_of_range || lone_jump)
    watch.doubt = std::min(watch.doubt + limits::kDoubtPerRefusal, limits::kDoubtMost);
  else if (watch.fault == Fault::none && watch.doubt > 0)
    --watch.doubt;
  watch.suspended = watch.doubt >= limits::kDoubtSuspends || (watch.suspended && watch.doubt > 0);
}

Reading<double> by_age(const PointInfo& info, const PointPlan& plan, const PointWatch& watch,
                       Instant now) {
  if (!watch.any_good) return Reading<double>::absent(watch.fault);
  const bool newest_failed = watch.fault != Fault::none;
  if (info.kind == PointKind::contact && newest_failed) return Reading<double>::absent(watch.fault);
  if (watch.suspended) return Reading<double>::absent(Fault::erratic);
  const Millis age = now - watch.last_good_at;
  if (age >= plan.bad_after)
    return Reading<double>::absent(newest_failed ? watch.fault : Fault::stale);
  const bool sure = info.kind == PointKind::contact || watch.confirmed;
  const Quality quality = age < plan.uncertain_after && sure ? Quality::good : Quality::uncertain;
  return Reading<double>::of(watch.last_good, quality, watch.last_good_at);
}

// How long the safe edge of a contact must last; contacts that are not listed have no safe side.
struct SafeEdge {
  Point point;
  Millis hold;
};
constexpr std::array kSafeEdges{
    SafeEdge{Point::leak_floor, limits::kSafeEdgeHold},
    SafeEdge{Point::leak_rack, limits::kSafeEdgeHold},
    SafeEdge{Point::leak_reservoir, limits::kSafeEdgeHold},
    SafeEdge{Point::tray_high, limits::kSafeEdgeHold},
    SafeEdge{Point::tray_full, limits::kTrayEdgeHold},
    SafeEdge{Point::tray_wet, limits::kTrayEdgeHold},
    SafeEdge{Point::reservoir_low, limits::kSafeEdgeHold},
    SafeEdge{Point::bucket_full, limits::kSafeEdgeHold},
};

Millis hold_of(Point point) {
  for (const SafeEdge& row : kSafeEdges)
    if (row.point == point) return row.hold;
  return Millis{0};
}

}  // namespace

int danger(Point point, Contact c) {
  const bool wet_is_safe = point == Point::reservoir_low;
  switch (c) {
    case Contact::clear:
      return wet_is_safe ? kMostDangerous : 0;
    case Contact::damp:
      return 1;
    case Contact::faulty:
      return 2;
    case Contact::set:
      return wet_is_safe ? 0 : kMostDangerous;
  }
  return kMostDangerous;
}

namespace {

void note_edge(ContactWatch& contact, Instant at) {
  contact.edges[contact.edge_count % contact.edges.size()] = at;
  ++contact.edge_count;
}

void watch_contact(Point point, PointWatch& watch, Instant now) {
  if (!watch.reading) return;
  ContactWatch& contact = watch.contact;
  const auto said = static_cast<Contact>(static_cast<int>(*watch.reading));
  if (!contact.any || said != contact.said) {
    if (contact.any) note_edge(contact, watch.last_good_at);
    contact.said = said;
    contact.since = watch.last_good_at;
  }
  if (danger(point, said) == kMostDangerous) contact.worst_at = watch.last_good_at;
  const bool safer = contact.any && danger(point, said) < danger(point, contact.acted);
  if (!safer || now - contact.since >= hold_of(point)) contact.acted = said;
  contact.any = true;
}

// Three switchings with an error and few without (common practice, no source).
constexpr int kHeard = 2;
constexpr int kEchoTold = 6;
constexpr int kEchoMost = 12;

bool disturbed(std::optional<Instant> switched, Instant taken) {
  return switched && taken > *switched && taken - *switched <= limits::kSwitchBlank;
}

// A value that would be taken without a question.
bool plausible(const PointInfo& info, const PointPlan& plan, const PointWatch& watch,
               std::optional<double> value) {
  if (!value || !std::isfinite(*value)) return false;
  if (*value < info.lowest || *value > info.highest) return false;
  return info.max_step <= 0 || !watch.any_good || agree(info, plan, *value, watch.last_good);
}

// A usable contact as what is acted on; nothing when there is no reading.
std::optional<Contact> contact(const State& state, Point point) {
  const PointWatch& watch = state.points[point];
  if (!watch.reading) return std::nullopt;
  return watch.contact.acted;
}

LeakSeen leak_of(const State& state, Point point) {
  const auto seen = contact(state, point);
  if (!seen) return LeakSeen::unknown;
  switch (*seen) {
    case Contact::clear:
      return LeakSeen::dry;
    case Contact::damp:
      return LeakSeen::damp;
    case Contact::set:
      return LeakSeen::wet;
    case Contact::faulty:
      return LeakSeen::unknown;
  }
  return LeakSeen::unknown;
}

// Wet outranks unknown: a wet probe latches, a silent one only withholds.
int rank(LeakSeen seen) {
  switch (seen) {
    case LeakSeen::dry:
      return 0;
    case LeakSeen::damp:
      return 1;
    case LeakSeen::unknown:
      return 2;
    case LeakSeen::wet:
      return 3;
  }
  return 3;
}

void shift_in(LeakWindow& window, const Sample& sample) {
  window.last_count = sample.count;
  if (sample.value && *sample.value == static_cast<double>(Contact::set))
    window.last_wet = sample.taken;
  window.wet = {sample.value && *sample.value == static_cast<double>(Contact::set), window.wet[0],
                window.wet[1]};
  window.at = {sample.taken, window.at[0], window.at[1]};
}

bool confirmed(const LeakWindow& window) {
  if (window.wet[0] && window.wet[1]) return true;
  return window.wet[0] && window.wet[2] && window.at[0] - window.at[2] <= limits::kLeakWindow;
}

// A level sensor's noise must not make the reservoir low and enough by turns (common practice, no
// source).
constexpr Litres kLevelHysteresis{1};

// The minimum stays in the reservoir: water that is under way may go down to it, a flood that has
// not begun must leave it there.
Litres litres_needed(const Plan& plan, const State& state) {
  const bool under_way =
      state.kept.flood_was_running || state.last.commands[Output::pump].level > kStopped;
  if (under_way) return plan.table.reservoir_minimum;
  const FloodPlan& floods = stage_in_force(plan, state).floods;
  return plan.table.reservoir_minimum +
         (floods.depth == Depth::by_litres ? floods.litres : plan.table.flood_volume);
}

}  // namespace

bool watch_point(const PointInfo& info, const PointPlan& plan, PointWatch& watch,
                 const Sample& sample, std::optional<Instant> switched, Instant now,
                 const Correction& correction) {
  const bool fresh = sample.count != watch.last_count;
  watch.last_count = sample.count;
  bool error = false;
  std::optional<double> value;
  if (sample.value) value = correction.of(*sample.value) + plan.offset;
  if (fresh && disturbed(switched, sample.taken) && !plausible(info, plan, watch, value)) {
    error = true;
  } else if (fresh) {
    watch.fault =
        value ? judge_value(info, plan, watch, *sample.value, *value, sample.taken) : sample.fault;
    if (watch.fault == Fault::none) {
      watch.last_good = *value;
      watch.last_good_at = sample.taken;
      watch.any_good = true;
    }
    if (info.kind == PointKind::analog) weigh(watch);
    error = !sample.value || watch.fault == Fault::out_of_range || watch.fault == Fault::jump;
  }
  watch.reading = by_age(info, plan, watch, now);
  if (info.kind == PointKind::contact) watch_contact(info.point, watch, now);
  return error;
}

Instant next_age_deadline(const PointPlan& plan, const PointWatch& watch, Instant now) {
  if (!watch.any_good) return Instant::max();
  for (const Millis limit : {plan.uncertain_after, plan.bad_after})
    if (watch.last_good_at + limit > now) return watch.last_good_at + limit;
  return Instant::max();
}

Instant next_contact_deadline(Point point, const PointWatch& watch) {
  const ContactWatch& contact = watch.contact;
  if (!watch.reading || contact.said == contact.acted) return Instant::max();
  return contact.since + hold_of(point);
}

bool chatters(const ContactWatch& contact, Instant now) {
  if (contact.edge_count < contact.edges.size()) return false;
  return contact.edges[contact.edge_count % contact.edges.size()] > now - minutes{1};
}

void note_switching(SwitchEcho& echo, Instant at) {
  if (echo.at) echo.score = std::clamp(echo.score + (echo.heard ? kHeard : -1), 0, kEchoMost);
  echo.heard = false;
  echo.at = at;
}

void note_error(SwitchEcho& echo, Instant taken) {
  const bool with_it = echo.at && taken > *echo.at && taken - *echo.at <= limits::kSwitchEcho;
  if (with_it)
    echo.heard = true;
  else
    echo.score = std::max(echo.score - 1, 0);
}

bool errors_come_with_switching(const SwitchEcho& echo) {
  return echo.score + (echo.heard ? kHeard : 0) >= kEchoTold;
}

FloatSeen float_seen(const Plan& plan, const State& state, Point point) {
  if (!plan.points[point]) return FloatSeen::not_fitted;
  const auto seen = contact(state, point);
  if (!seen || *seen == Contact::faulty) return FloatSeen::unknown;
  return *seen == Contact::clear ? FloatSeen::clear : FloatSeen::set;
}

namespace {

// The float and the level sensor are two opinions: the worse one counts. `was`: as last judged.
LevelSeen level_seen(const Plan& plan, const State& state, Litres needed, LevelSeen was) {
  LevelSeen seen = LevelSeen::not_fitted;
  const FloatSeen low = float_seen(plan, state, Point::reservoir_low);
  if (low == FloatSeen::unknown) return LevelSeen::unknown;
  if (low == FloatSeen::clear) return LevelSeen::low;  // the float hangs dry
  if (low == FloatSeen::set) seen = LevelSeen::enough;
  if (!plan.points[Point::reservoir_level]) return seen;
  const auto& level = state.points[Point::reservoir_level].reading;
  // A silent level sensor beside a good float costs accounting, not the flood.
  if (!level) return seen == LevelSeen::enough ? seen : LevelSeen::unknown;
  const Litres margin = was == LevelSeen::low ? kLevelHysteresis : Litres{0};
  return Litres{*level} < needed + margin ? LevelSeen::low : LevelSeen::enough;
}

}  // namespace

LevelSeen reservoir_seen(const Plan& plan, const State& state) {
  return level_seen(plan, state, litres_needed(plan, state), state.kernel_inputs.reservoir);
}

LevelSeen covered_seen(const Plan& plan, const State& state) {
  const Litres needed = plan.water.covered_at.value_or(plan.table.reservoir_minimum);
  const LevelSeen seen = level_seen(plan, state, needed, state.kernel_inputs.covered);
  // A float hangs where it hangs: of a level that the settings name it says nothing. Nor does an
  // old reading while a flood takes 10 L a minute.
  const bool read = state.points[Point::reservoir_level].reading.quality() == Quality::good;
  const bool guessed = plan.water.covered_at && !read;
  return guessed && seen == LevelSeen::enough ? LevelSeen::unknown : seen;
}

LeakView watch_leaks(const Plan& plan, State& state, const PerPoint<Sample>& samples) {
  LeakView view;
  bool any = false;
  for (std::size_t i = 0; i < kLeakPoints.size(); ++i) {
    const Point point = kLeakPoints[i];
    if (!plan.points[point]) continue;
    LeakWindow& window = state.leaks[i];
    if (samples[point].count != window.last_count) shift_in(window, samples[point]);
    const LeakSeen seen = leak_of(state, point);
    if (!any || rank(seen) > rank(view.worst)) {
      view.worst = seen;
      view.where = point;
    }
    any = true;
    view.confirmed = view.confirmed || confirmed(window);
  }
  return view;
}

}  // namespace neap
