#include "daemon/core/supply.h"

#include <algorithm>

#include "daemon/core/watch.h"

namespace neap {
namespace {

constexpr Millis kDay = hours{24};

// Calls `visit` with the instant of each sag that is remembered.
template <class Visit>
void each_sag(const SupplySags& sags, Visit&& visit) {
  const auto known = std::min<std::size_t>(sags.ticks.size(), static_cast<std::size_t>(sags.count));
  for (std::size_t i = 0; i < known; ++i) visit(instant(Millis{sags.ticks[i]}));
}

}  // namespace

void watch_supply(const Plan& plan, State& state, Instant now) {
  const bool was_low = state.supply_is_low;
  state.supply_is_low = float_seen(plan, state, Point::board_undervoltage) == FloatSeen::set;
  if (was_low || state.supply_is_low) state.supply_low_at = now;
  const PumpProof& pump = state.pump_proof;
  const bool by_the_pump =
      pump.told == PumpTold::runs && now - pump.told_since <= kSagBelongsFor && !was_low;
  if (!state.supply_is_low || !by_the_pump) return;
  SupplySags& sags = state.kept.supply_sags;
  sags.ticks[static_cast<std::size_t>(sags.count) % sags.ticks.size()] = tick_ms(now);
  ++sags.count;
}

bool supply_is_low(const State& state, Instant now) {
  return state.supply_is_low || (state.supply_low_at && now - *state.supply_low_at < kSupplyRests);
}

int sags_of_the_day(const SupplySags& sags, Instant now) {
  int n = 0;
  each_sag(sags, [&](Instant at) { n += now - at < kDay ? 1 : 0; });
  return n;
}

Instant next_supply_deadline(const State& state, Instant now) {
  Instant next = Instant::max();
  const auto consider = [&](Instant at) {
    if (at > now) next = std::min(next, at);
  };
  if (state.supply_low_at) consider(*state.supply_low_at + kSupplyRests);
  each_sag(state.kept.supply_sags, [&](Instant at) { consider(at + kDay); });
  return next;
}

}  // namespace neap
