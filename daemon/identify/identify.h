// What a record says of its tent: each property with an estimate, a 90 % interval, or what is
// missing. Pure: the same record gives the same findings.
//
// Intervals are of Student's t over blocks of six hours, from the greater of two variances (fit.h),
// prior knowledge of balance.h included. A property of which the record says little more than its
// owner believed already is not found: 'too_vague'.
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <string_view>
#include <vector>

#include "daemon/identify/balance.h"

namespace neap::identify {

enum class Property : std::uint8_t {
  exhaust_flow,       // m3/h at full level
  exchange_high,      // m3/h at 80 %
  exchange_low,       // m3/h at 30 %
  exchange_mean,      // m3/h at the record's mean level
  evaporation_lit,    // g/h, means, floods included
  evaporation_dark,   // g/h
  evaporation_daily,  // L/d
  flood_vapour,       // mL a flood, besides what evaporates anyway
  flood_fades,        // min
  drying,             // L/d at 26.7 C and 60 %
  mist,               // mL/h
  probe_offset,       // % RH, canopy over room
  probe_lag,          // s, mixing included
  warming,            // min, thermal time constant at the record's mean fan level
};
constexpr std::size_t kProperties = 14;

struct PropertyInfo {
  Property property;
  std::string_view key;  // stable word for JSON
  std::string_view title;
  std::string_view unit;
  int digits;
  std::string_view experiment;  // what would sharpen it
};
const PropertyInfo& info(Property property);

enum class Lack : std::uint8_t {
  nothing,
  too_short,    // under a day
  no_canopy,    // or too little of it
  no_room,      // likewise
  no_level,     // reservoir level
  few_floods,   // complete, in a row, with a level that rests between them
  not_fitted,   // the device
  seldom_used,  // the device
  in_the_room,  // the dehumidifier: it dries the room's air, whose exchange nobody knows
  few_edges,    // of light
  too_vague,
};
std::string_view text(Lack lack);

struct Finding {
  Lack lack = Lack::too_short;
  double value = 0;  // of no use unless `lack` is nothing
  double low = 0, high = 0;
};

struct Findings {
  std::array<Finding, kProperties> of;
  double hours = 0;
  double mean_fan = 0;  // 0..1
  int floods_weighed = 0;
  int fan_tests = 0, drying_tests = 0;
  int windows = 0;  // of five minutes
  int blocks = 0;   // of six hours
  const Finding& operator[](Property p) const { return of[static_cast<std::size_t>(p)]; }
  Finding& operator[](Property p) { return of[static_cast<std::size_t>(p)]; }
};

// The property's experiment is worth making: it is not found for want of one, or it is found within
// more than 15 % to each side and the record has no step test of it.
bool would_sharpen(const Findings& findings, Property property);

struct Fitted {
  bool dehumidifier = false;
  bool humidifier = false;
};

Findings identify(const Record& record, const Beliefs& beliefs, const Fitted& fitted);

// A settings key whose value the findings contradict or sharpen.
struct Proposal {
  std::string_view group, key, unit;
  int digits;
  double believed;
  Finding found;
  // Both ends of the interval lie to one side of what is believed, the estimate by a tenth or more.
  bool differs = false;
};
// None while the probes were never compared: that is a reason to compare them, not to change
// settings.
std::vector<Proposal> proposals(const Findings& findings, const Beliefs& beliefs);

}  // namespace neap::identify
