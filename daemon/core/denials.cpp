#include "daemon/core/denials.h"

#include <algorithm>

namespace neap {
namespace {

bool asks_for_the_pump(const Demand& demand) {
  return is_pump_contact(demand.output) && demand.level > kStopped;
}

}  // namespace

bool note_denials(Denials& denials, const Demands& demands, bool tripped, Instant now) {
  if (!tripped || std::none_of(demands.begin(), demands.end(), asks_for_the_pump)) return false;
  std::rotate(denials.at.rbegin(), denials.at.rbegin() + 1, denials.at.rend());
  denials.at.front() = now;
  const auto& oldest = denials.at.back();
  const bool third = oldest && now - *oldest < kDenialWindow;
  if (third) std::fill(denials.at.begin() + 1, denials.at.end(), std::nullopt);
  return third;
}

bool denied_of_late(const Denials& denials, Instant now) {
  return denials.at.front() && now - *denials.at.front() < kDenialWindow;
}

Instant next_denial_deadline(const Denials& denials, Instant now) {
  return denied_of_late(denials, now) ? *denials.at.front() + kDenialWindow : Instant::max();
}

}  // namespace neap
