#include "daemon/core/fixed_fan_law.h"

namespace neap {

ClimateAsk FixedFanLaw::decide(const ClimateView& view, LawMemory&) const {
  ClimateAsk ask;
  ask.fan = {true, view.tuning.fixed_fan_level, because(Reason::law_demand)};
  ask.dehumidifier = {true, kStopped, because(Reason::law_demand)};
  ask.humidifier = {true, kStopped, because(Reason::law_demand)};
  return ask;
}

}  // namespace neap
