// Rules between settings: each value may be fine alone and wrong beside another. Run after the
// walk; a rule is passed over when a value it needs is itself reported already.
#pragma once

#include "daemon/settings/draft.h"
#include "daemon/settings/source.h"

namespace neap::settings {

void check_table(const Draft& draft, Report& report);      // volumes, limits, budgets
void check_programme(const Draft& draft, Report& report);  // stages, slots, quiet hours
void check_hardware(const Draft& draft, Report& report);   // points, pins, what needs what
void check_simulation(const Draft& draft, Report& report);
void check_time_zone(const Draft& draft, Report& report);  // against the system's zone database

}  // namespace neap::settings
