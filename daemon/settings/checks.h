// Rules between settings: each value may be fine alone and wrong beside another. Run after the
// walk; a rule is passed over when a value it needs is itself reported already.
#pragma once

#include "daemon/settings/draft.h"
#include "daemon/settings/source.h"

namespace neap::settings {

void check_table(const Draft& draft, Report& report);      // volumes, limits, budgets
void check_programme(const Draft& draft, Report& report);  // stages, slots, quiet hours
// Of one stage that is sound so far: what quiet hours make of its floods.
void check_quiet_hours(const Draft& draft, std::size_t stage_index, Report& report);
void check_hardware(const Draft& draft, Report& report);  // points, pins, what needs what
void check_hands(const Draft& draft, Report& report);     // what moves water is in one hand
void check_button(const Draft& draft, Report& report);    // how often the one at the tent is read
// What heater and chiller in the reservoir need, and bands that they can hold.
void check_tempered_water(const Draft& draft, Report& report);
void check_enable_pulse(const Draft& draft, Report& report);  // whose it is, and on which line
void check_telling(const Draft& draft, Report& report);  // names of hooks, hours, the metrics' file
void check_simulation(const Draft& draft, Report& report);
// A name of the system's zone database; where there is none, a text of such a name's shape.
bool is_time_zone(std::string_view zone);
void check_time_zone(const Draft& draft, Report& report);  // against the system's zone database

// Not a rule: whose hand each output is in, by its own word or else the mode's. Before the rules.
void give_hands(Draft& draft);

// Not a rule: which parts must be seen to work before the programme may flood.
void plan_proofs(Draft& draft);
void plan_calibrations(Draft& draft);  // of which probe a calibration is

// From the start of a flood to the start of the next, when each part takes as long as it may.
Millis longest_cycle(const TablePlan& table, const FloodPlan& floods);

}  // namespace neap::settings
