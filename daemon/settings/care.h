// What wears, fills up or wants a look, and after how much of it; and what a turnover between grows
// takes. Nothing in the scan goes by these.
#pragma once

#include "daemon/core/instant.h"

namespace neap::settings {

// Zero is no reminder: the counter is shown all the same.
struct Care {
  Millis filter{};     // of the exhaust fan, as hours at full level
  int strainer = 0;    // floods
  Millis pump{};       // of its running
  Millis air_stone{};  // by the calendar
  Millis bucket{};     // of the dehumidifier's running
  Millis light{};      // of its running
  Millis looks{};      // by the calendar
};

struct Turnover {
  double chlorine_mg_per_l = 0;  // free chlorine in the water that disinfects
  double bleach_pct = 0;         // of the bottle: free chlorine, grams in 100 mL
  Millis contact{};              // in the tray
  int rinses = 0;                // floods with clean water
};

}  // namespace neap::settings
