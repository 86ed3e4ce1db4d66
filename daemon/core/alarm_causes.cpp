#include "daemon/core/alarm_causes.h"

#include <algorithm>
#include <span>
#include <tuple>

namespace neap {
namespace {

// What withholds or spoils a flood, the likeliest root first.
constexpr std::array kStopsFloods{
    Alarm::leak,          Alarm::tray_overflow,   Alarm::lost_water,       Alarm::pump_welded,
    Alarm::fill_failed,   Alarm::slow_drain,      Alarm::pump_in_hand,     Alarm::state_lost,
    Alarm::output_fault,  Alarm::state_unsaved,   Alarm::leak_probe_fault, Alarm::leak_damp,
    Alarm::reservoir_low, Alarm::float_fault,     Alarm::pump_no_effect,   Alarm::pump_budget,
    Alarm::time_unknown,  Alarm::service_overdue, Alarm::unproven,         Alarm::pump_off_auto};
constexpr std::array kWetsTheFloor{Alarm::leak};
constexpr std::array kEmptiesTheReservoir{Alarm::leak, Alarm::lost_water, Alarm::slow_leak};
constexpr std::array kSpoilsTheAir{Alarm::canopy_lost,         Alarm::fan_dead,
                                   Alarm::bucket_full,         Alarm::dehumidifier_dead,
                                   Alarm::dehumidifier_welded, Alarm::humidifier_dry,
                                   Alarm::light_stuck_on,      Alarm::light_out};
constexpr std::array kWarmsTheAir{Alarm::fan_dead, Alarm::light_stuck_on,
                                  Alarm::dehumidifier_welded};
constexpr std::array kStopsTheFan{Alarm::fan_stands};
constexpr std::array kStopsTheDehumidifier{Alarm::bucket_full};
constexpr std::array kDeafensSensors{Alarm::switching_noise};
constexpr std::array kSpoilsAFloat{Alarm::contact_chatters, Alarm::switching_noise};
constexpr std::array kShouldStopThePump{Alarm::leak, Alarm::tray_overflow, Alarm::lost_water,
                                        Alarm::reservoir_low};
constexpr std::array kSpoilsTheCard{Alarm::journal_trouble};

struct Follows {
  Alarm alarm;
  std::span<const Alarm> causes;
};
// No alarm is, by any number of steps, its own cause (tests/core/alarm_causes_test.cpp).
constexpr std::array kFollows{
    Follows{Alarm::flood_withheld, kStopsFloods},
    Follows{Alarm::flood_missed, kStopsFloods},
    Follows{Alarm::roots_thirsty, kStopsFloods},
    Follows{Alarm::roots_dry, kStopsFloods},
    Follows{Alarm::lost_water, kWetsTheFloor},
    Follows{Alarm::slow_leak, kWetsTheFloor},
    Follows{Alarm::reservoir_low, kEmptiesTheReservoir},
    Follows{Alarm::over_temperature, kWarmsTheAir},
    Follows{Alarm::humidity_high, kSpoilsTheAir},
    Follows{Alarm::vpd_out_of_band, kSpoilsTheAir},
    Follows{Alarm::condensation, kSpoilsTheAir},
    Follows{Alarm::dehumidifier_dead, kStopsTheDehumidifier},
    Follows{Alarm::fan_dead, kStopsTheFan},
    Follows{Alarm::canopy_lost, kDeafensSensors},
    Follows{Alarm::room_lost, kDeafensSensors},
    Follows{Alarm::sensor_lost, kDeafensSensors},
    Follows{Alarm::leak_probe_fault, kSpoilsAFloat},
    Follows{Alarm::float_fault, kSpoilsAFloat},
    Follows{Alarm::state_unsaved, kSpoilsTheCard},
    Follows{Alarm::not_ours_to_stop, kShouldStopThePump},
};

const AlarmRecord& record(const AlarmTable& table, Alarm alarm) {
  return table[static_cast<std::size_t>(alarm)];
}

std::optional<Alarm> cause(Alarm alarm, const AlarmTable& table) {
  for (const Follows& row : kFollows) {
    if (row.alarm != alarm) continue;
    for (const Alarm candidate : row.causes)
      if (is_raised(record(table, candidate))) return candidate;
  }
  return std::nullopt;
}

}  // namespace

std::optional<Alarm> root_cause(Alarm alarm, const AlarmTable& table) {
  std::optional<Alarm> root = cause(alarm, table);
  for (std::size_t steps = 0; root && steps < kAlarmCount; ++steps) {
    const std::optional<Alarm> further = cause(*root, table);
    if (!further) break;
    root = further;
  }
  return root;
}

AlarmOrder causes_first(const AlarmTable& table) {
  AlarmOrder order{};
  for (std::size_t i = 0; i < kAlarmCount; ++i) order[i] = static_cast<Alarm>(i);
  // A cause stands as high as the worst of what follows from it.
  std::array<Priority, kAlarmCount> worst{};
  for (const Alarm alarm : order) {
    const Alarm group = root_cause(alarm, table).value_or(alarm);
    const bool counts = alarm == group || is_raised(record(table, alarm));
    Priority& of_group = worst[static_cast<std::size_t>(group)];
    if (counts) of_group = std::max(of_group, info(alarm).priority);
  }
  const auto key = [&](Alarm alarm) {
    const std::optional<Alarm> root = root_cause(alarm, table);
    const Alarm group = root.value_or(alarm);
    const int priority = static_cast<int>(worst[static_cast<std::size_t>(group)]);
    return std::tuple(-priority, group, root.has_value(), alarm);
  };
  std::sort(order.begin(), order.end(), [&](Alarm a, Alarm b) { return key(a) < key(b); });
  return order;
}

}  // namespace neap
