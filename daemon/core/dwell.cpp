#include "daemon/core/dwell.h"

#include <algorithm>

namespace neap {
namespace {

constexpr Millis kHour = hours{1};

int starts_within_hour(const Dwell& dwell, Instant now) {
  const int known = std::min<int>(dwell.start_count, static_cast<int>(dwell.starts.size()));
  return static_cast<int>(
      std::count_if(dwell.starts.begin(), dwell.starts.begin() + known,
                    [&](std::int64_t tick) { return now - instant(Millis{tick}) < kHour; }));
}

// The start whose leaving of the hour makes room for one more.
Instant start_budget_frees_at(const OutputPlan& plan, const Dwell& dwell, Instant now) {
  if (plan.starts_per_hour <= 0 || starts_within_hour(dwell, now) < plan.starts_per_hour)
    return now;
  const int back = std::min<int>(plan.starts_per_hour, static_cast<int>(dwell.starts.size()));
  const int index = (dwell.start_count - back) % static_cast<int>(dwell.starts.size());
  return instant(Millis{dwell.starts[static_cast<std::size_t>(index)]}) + kHour;
}

}  // namespace

Instant dwell_permits_at(const OutputPlan& plan, const Dwell& dwell, bool start, Instant now) {
  const Instant after_dwell =
      dwell.changed_known ? dwell.changed + (start ? plan.min_off : plan.min_on) : now;
  return start ? std::max(after_dwell, start_budget_frees_at(plan, dwell, now)) : after_dwell;
}

Because dwell_forbids(const OutputPlan& plan, const Dwell& dwell, Permille now_level,
                      Permille wanted, Instant now) {
  const bool start = now_level == kStopped && wanted > kStopped;
  const bool stop = now_level > kStopped && wanted == kStopped;
  if (!start && !stop) return because(Reason::none);
  const auto seconds_of = [](Millis d) { return static_cast<double>(d.count()) / 1000; };
  if (dwell.changed_known && now < dwell.changed + (start ? plan.min_off : plan.min_on))
    return start ? because(Reason::min_off_dwell, seconds_of(plan.min_off))
                 : because(Reason::min_on_dwell, seconds_of(plan.min_on));
  if (start && start_budget_frees_at(plan, dwell, now) > now)
    return because(Reason::starts_per_hour, plan.starts_per_hour);
  return because(Reason::none);
}

void note_change(Dwell& dwell, bool started, Instant now) {
  dwell.changed = now;
  dwell.changed_known = true;
  if (!started) return;
  dwell.starts[static_cast<std::size_t>(dwell.start_count) % dwell.starts.size()] = tick_ms(now);
  ++dwell.start_count;
}

LegalMove legal_move(const OutputPlan& plan, const Dwell& dwell, Permille level, bool quiet,
                     Instant now) {
  LegalMove move;
  move.fitted = true;
  move.variable = plan.variable;
  move.level = level;
  move.floor = plan.floor;
  move.ceiling = quiet ? std::min(plan.ceiling, plan.quiet_ceiling) : plan.ceiling;
  move.may_start_at = dwell_permits_at(plan, dwell, true, now);
  move.may_stop_at = dwell_permits_at(plan, dwell, false, now);
  move.may_start = move.may_start_at <= now && move.ceiling > kStopped;
  move.may_stop = move.may_stop_at <= now;
  move.min_on = plan.min_on;
  move.min_off = plan.min_off;
  return move;
}

}  // namespace neap
