#include "daemon/core/reason.h"

#include <algorithm>

namespace neap {
namespace {

// In order of number, so that a look-up is a binary search. An argument whose meaning is not plain
// from its template does not belong here.
constexpr std::array kReasons{
    ReasonInfo{Reason::none, "none", "no reason"},
    ReasonInfo{Reason::safe_state, "safe_state", "safe state"},
    ReasonInfo{Reason::not_fitted, "not_fitted", "not fitted"},
    ReasonInfo{Reason::observing, "observing", "neap only observes and drives nothing"},

    // programme
    ReasonInfo{Reason::by_day, "by_day", "light period"},
    ReasonInfo{Reason::by_night, "by_night", "dark period"},
    ReasonInfo{Reason::always_running, "always_running", "runs always"},
    ReasonInfo{Reason::quiet_hours, "quiet_hours", "quiet hours"},
    ReasonInfo{Reason::light_ramp, "light_ramp", "light ramps between dark and full"},

    // climate
    ReasonInfo{Reason::vpd_below_band, "vpd_below_band",
               "VPD {0:.2f} kPa under the band {1:.2f} to {2:.2f}"},
    ReasonInfo{Reason::vpd_above_band, "vpd_above_band",
               "VPD {0:.2f} kPa over the band {1:.2f} to {2:.2f}"},
    ReasonInfo{Reason::vpd_in_band, "vpd_in_band",
               "VPD {0:.2f} kPa in the band {1:.2f} to {2:.2f}"},
    ReasonInfo{Reason::air_too_warm, "air_too_warm", "air {0:c} over the limit {1:c}"},
    ReasonInfo{Reason::air_too_cold, "air_too_cold", "air {0:c} under the limit {1:c}"},
    ReasonInfo{Reason::humidity_over_ceiling, "humidity_over_ceiling",
               "humidity {0:.0f} % over the ceiling {1:.0f} %"},
    ReasonInfo{Reason::condensation_near, "condensation_near",
               "condensation near[: dew point {0:k} under the coldest surface]"},
    ReasonInfo{Reason::drying_by_dehumidifier, "drying_by_dehumidifier",
               "fan held low while the dehumidifier in the tent dries"},
    ReasonInfo{Reason::no_canopy_reading, "no_canopy_reading", "no canopy reading"},
    ReasonInfo{Reason::fresh_air_floor, "fresh_air_floor", "kept moving for fresh air"},
    ReasonInfo{Reason::law_demand, "law_demand", "asked for by the climate law"},
    ReasonInfo{Reason::venting_too_weak, "venting_too_weak",
               "venting alone cannot dry the canopy[: it reaches {0:.2f} kPa VPD of {1:.2f}]"},
    ReasonInfo{Reason::light_dimmed_for_heat, "light_dimmed_for_heat",
               "light dimmed because of heat"},
    ReasonInfo{Reason::light_shed_for_heat, "light_shed_for_heat", "light off because of heat"},
    ReasonInfo{Reason::humidifier_waits, "humidifier_waits",
               "humidifier waits while the air is being dried"},
    ReasonInfo{Reason::vpd_low_in_band, "vpd_low_in_band",
               "VPD {0:.2f} kPa, low in the band {1:.2f} to {2:.2f}"},
    ReasonInfo{Reason::vpd_high_in_band, "vpd_high_in_band",
               "VPD {0:.2f} kPa, high in the band {1:.2f} to {2:.2f}"},

    // flood
    ReasonInfo{Reason::flood_filling, "flood_filling", "tray fills"},
    ReasonInfo{Reason::flood_soaking, "flood_soaking", "tray soaks"},
    ReasonInfo{Reason::flood_draining, "flood_draining", "tray drains"},
    ReasonInfo{Reason::flood_resting, "flood_resting", "rest after a flood"},
    ReasonInfo{Reason::flood_idle, "flood_idle", "no flood under way"},
    ReasonInfo{Reason::flood_stopped_by_operator, "flood_stopped_by_operator",
               "flood stopped by an operator"},
    ReasonInfo{Reason::flood_full_by_float, "flood_full_by_float", "tray full by its float"},
    ReasonInfo{Reason::flood_full_by_litres, "flood_full_by_litres", "tray full by litres"},
    ReasonInfo{Reason::flood_fill_limit, "flood_fill_limit",
               "no proof of level within the fill limit"},
    ReasonInfo{Reason::flood_no_effect, "flood_no_effect", "pump on and nothing moved"},
    ReasonInfo{Reason::flood_interrupted, "flood_interrupted", "flood interrupted by a restart"},
    ReasonInfo{Reason::flood_withheld, "flood_withheld", "flood withheld"},
    ReasonInfo{Reason::flood_missed, "flood_missed", "flood missed"},
    ReasonInfo{Reason::flood_soak_limit, "flood_soak_limit", "soak reached its limit"},
    ReasonInfo{Reason::flood_drained, "flood_drained", "tray drained"},
    ReasonInfo{Reason::flood_slow_drain, "flood_slow_drain",
               "tray not empty within the drain limit"},
    ReasonInfo{Reason::flood_lost_water, "flood_lost_water",
               "reservoir fell and the tray did not fill"},
    ReasonInfo{Reason::flood_catch_up, "flood_catch_up", "catches up on a missed flood"},
    ReasonInfo{Reason::flood_tripped, "flood_tripped", "flood stopped by an interlock"},
    ReasonInfo{Reason::flood_full_by_time, "flood_full_by_time",
               "tray full by the learnt fill time"},
    ReasonInfo{Reason::flood_already_running, "flood_already_running",
               "a flood is already under way"},
    ReasonInfo{Reason::flood_not_running, "flood_not_running", "no flood is under way"},
    ReasonInfo{Reason::flood_too_soon, "flood_too_soon", "too soon after the last flood"},
    ReasonInfo{Reason::no_flood_in_stage, "no_flood_in_stage", "this stage has no floods"},
    ReasonInfo{Reason::flood_fill_slow, "flood_fill_slow", "the fill takes longer than it used to"},
    ReasonInfo{Reason::flood_float_silent, "flood_float_silent",
               "reservoir gave {0:.1f} L and then stood still, but the tray float stays clear: a "
               "stuck float?"},
    ReasonInfo{Reason::flood_pump_weak, "flood_pump_weak",
               "reservoir fell at {0:.0f} % of the pump's flow and the tray did not fill: a weak "
               "pump or a split hose?"},

    // operator
    ReasonInfo{Reason::operator_hold, "operator_hold", "held by an operator"},
    ReasonInfo{Reason::operator_hold_expired, "operator_hold_expired",
               "the operator's hold ran out"},
    ReasonInfo{Reason::operator_release, "operator_release", "released by an operator"},
    ReasonInfo{Reason::service_holds, "service_holds", "service at the tent holds it"},
    ReasonInfo{Reason::request_unknown_target, "request_unknown_target",
               "the request names nothing known"},
    ReasonInfo{Reason::request_out_of_range, "request_out_of_range",
               "out of range[: {0:t}, allowed {1:t} to {2:t}]"},
    ReasonInfo{Reason::hold_forbidden, "hold_forbidden",
               "the air pump may not be held stopped: the roots need air; pull its plug instead"},

    // interlocks
    ReasonInfo{Reason::shelve_forbidden, "shelve_forbidden",
               "an alarm of high priority may not be shelved"},
    ReasonInfo{Reason::leak_wet, "leak_wet", "{0:p} is wet"},
    ReasonInfo{Reason::leak_unknown, "leak_unknown", "{0:p} cannot be read"},
    ReasonInfo{Reason::leak_latched, "leak_latched", "a leak was found and not reset"},
    ReasonInfo{Reason::tray_overflow, "tray_overflow", "tray at its overflow float"},
    ReasonInfo{Reason::reservoir_low, "reservoir_low", "reservoir low"},
    ReasonInfo{Reason::reservoir_unknown, "reservoir_unknown", "reservoir level not known"},
    ReasonInfo{Reason::budget_cycle, "budget_cycle",
               "pump time of this flood used up[: {0:t} of {1:t}]"},
    ReasonInfo{Reason::budget_hour, "budget_hour",
               "pump time of this hour used up[: {0:t} of {1:t}]"},
    ReasonInfo{Reason::budget_day, "budget_day", "pump time of 24 hours used up[: {0:t} of {1:t}]"},
    ReasonInfo{Reason::latched, "latched", "latch {0:l} is set"},
    ReasonInfo{Reason::min_on_dwell, "min_on_dwell", "minimum on time[ of {0:t}] not over"},
    ReasonInfo{Reason::min_off_dwell, "min_off_dwell", "minimum off time[ of {0:t}] not over"},
    ReasonInfo{Reason::starts_per_hour, "starts_per_hour",
               "no more starts this hour[, {0:d} allowed]"},
    ReasonInfo{Reason::bucket_full, "bucket_full", "dehumidifier bucket full"},
    ReasonInfo{Reason::tray_not_drained, "tray_not_drained", "tray not drained yet"},
    ReasonInfo{Reason::outputs_not_proven, "outputs_not_proven", "outputs not yet proven safe"},
    ReasonInfo{Reason::leak_damp, "leak_damp", "{0:p} is damp"},
    ReasonInfo{Reason::float_unknown, "float_unknown", "a tray float cannot be read"},
    ReasonInfo{Reason::cause_persists, "cause_persists", "{0:l}: the cause persists"},
    ReasonInfo{Reason::latch_not_set, "latch_not_set", "latch {0:l} is not set"},
    ReasonInfo{Reason::over_temperature, "over_temperature", "canopy too warm"},
    ReasonInfo{Reason::time_not_known, "time_not_known", "time of day not known"},
    ReasonInfo{Reason::fan_needed, "fan_needed", "another output works against it"},
    ReasonInfo{Reason::min_gap_between_floods, "min_gap_between_floods",
               "least gap between floods not over"},
    ReasonInfo{Reason::safe_mode, "safe_mode", "safe mode"},
    ReasonInfo{Reason::pump_run_limit, "pump_run_limit",
               "pump has run its longest permitted stretch"},

    // sensing, storage, time
    ReasonInfo{Reason::floods_per_hour, "floods_per_hour",
               "{0:d} floods in the last hour are enough"},
    ReasonInfo{Reason::reading_lost, "reading_lost", "{0:p}: {1:f}"},
    ReasonInfo{Reason::reading_back, "reading_back", "{0:p} is back"},
    ReasonInfo{Reason::wall_clock_stepped, "wall_clock_stepped", "wall clock stepped by {0:d} s"},
    ReasonInfo{Reason::started, "started", "neapd started"},
    ReasonInfo{Reason::stopped, "stopped", "neapd stopped"},
    ReasonInfo{Reason::settings_applied, "settings_applied", "settings applied"},
    ReasonInfo{Reason::settings_refused, "settings_refused", "settings refused"},
    ReasonInfo{Reason::stage_due, "stage_due", "day {0:d} of {1:d} is over"},
    ReasonInfo{Reason::stage_entered, "stage_entered", "stage entered"},
    ReasonInfo{Reason::probes_disagree, "probes_disagree", "probes {0:.2f} kPa VPD apart"},
    ReasonInfo{Reason::state_lost, "state_lost", "saved state could not be trusted"},
    ReasonInfo{Reason::request_accepted, "request_accepted", "request accepted"},
    ReasonInfo{Reason::output_trouble, "output_trouble",
               "{0:o}: a level could not be written or proven"},
    ReasonInfo{Reason::journal_trouble, "journal_trouble",
               "the journal cannot be written; entries wait in memory"},
    ReasonInfo{Reason::clock_behind, "clock_behind",
               "the clock is days behind the floods already made; none is made twice"},
    ReasonInfo{Reason::fault_asked, "fault_asked", "asked by uid {0:d}[, severity {1:.2f}]"},
    ReasonInfo{Reason::journal_log_grows, "journal_log_grows",
               "another program keeps an old view of the journal open; its log grows"},

    // climate, the predictive law
    ReasonInfo{Reason::look_ahead, "look_ahead",
               "best of the next 12 min: VPD {0:.2f} kPa at their end, band {1:.2f} to {2:.2f}"},
    ReasonInfo{Reason::look_ahead_flood, "look_ahead_flood",
               "ahead of the flood in {0:t}: VPD {1:.2f} kPa expected in 12 min"},
    ReasonInfo{Reason::look_ahead_light, "look_ahead_light",
               "ahead of the light's change in {0:t}: VPD {1:.2f} kPa expected in 12 min"},
    ReasonInfo{Reason::look_ahead_without_room, "look_ahead_without_room",
               "room not read, its air taken from what the tent has taught: VPD {0:.2f} kPa "
               "expected in 12 min"},
    ReasonInfo{Reason::venting_needed, "venting_needed",
               "staying in the band needs {0:d} % of the fan"},
    ReasonInfo{Reason::venting_cannot_reach_band, "venting_cannot_reach_band",
               "the fan alone does not stay in the band"},

    // climate, the rule law
    ReasonInfo{Reason::rule_venting_dries, "rule_venting_dries",
               "VPD {0:.2f} kPa, aim {1:.2f}; venting dries"},
    ReasonInfo{Reason::rule_venting_moistens, "rule_venting_moistens",
               "VPD {0:.2f} kPa, aim {1:.2f}; venting moistens now"},
    ReasonInfo{Reason::rule_venting_matters_little, "rule_venting_matters_little",
               "VPD {0:.2f} kPa, aim {1:.2f}; venting hardly changes it now"},
    ReasonInfo{Reason::rule_aim_raised, "rule_aim_raised",
               "VPD {0:.2f} kPa, aim {1:.2f}, raised for a flood or the dark"},
    ReasonInfo{Reason::rule_fan_cools, "rule_fan_cools",
               "vented for coolness: air {0:c} near the limit {1:c}"},
    ReasonInfo{Reason::rule_fan_leaves_to_mist, "rule_fan_leaves_to_mist",
               "VPD {0:.2f} kPa, aim {1:.2f}; left to the humidifier"},
    ReasonInfo{Reason::rule_mist, "rule_mist",
               "VPD {0:.2f} kPa, aim {1:.2f}: mist for {2:d} % of the time"},

    // climate, a band out of reach
    ReasonInfo{Reason::reach_too_warm, "reach_too_warm",
               "no way to keep the air under {1:c}: it settles at {0:c} at best"
               "[; a room {2:k} cooler would do]"},
    ReasonInfo{Reason::reach_too_humid, "reach_too_humid",
               "too humid for the band: VPD reaches {0:.2f} kPa at most, the band begins at "
               "{1:.2f}[; {2:.1f} L/d of drying in the tent would do]"},
    ReasonInfo{Reason::reach_too_dry, "reach_too_dry",
               "too dry for the band: VPD falls to {0:.2f} kPa at least, the band ends at "
               "{1:.2f}[; {2:.0f} mL/h of mist would do]"},
    ReasonInfo{Reason::cure_drying, "cure_drying", "{0:.1f} L/d of drying in the tent"},
    ReasonInfo{Reason::cure_mist, "cure_mist", "{0:.0f} mL/h of mist"},
    ReasonInfo{Reason::cure_room_warmer, "cure_room_warmer", "a room {0:k} warmer"},
    ReasonInfo{Reason::cure_room_cooler, "cure_room_cooler", "a room {0:k} cooler"},
    ReasonInfo{Reason::cure_room_drier, "cure_room_drier", "a room of {0:.0f} % humidity or less"},
    ReasonInfo{Reason::cure_room_moister, "cure_room_moister",
               "a room of {0:.0f} % humidity or more"},
    ReasonInfo{Reason::cure_flow, "cure_flow", "an exhaust fan of {0:.0f} m3/h"},
};

static_assert(std::is_sorted(kReasons.begin(), kReasons.end(),
                             [](const ReasonInfo& a, const ReasonInfo& b) {
                               return a.reason < b.reason;
                             }));

}  // namespace

const ReasonInfo& info(Reason r) {
  const auto row = std::lower_bound(
      kReasons.begin(), kReasons.end(), r,
      [](const ReasonInfo& candidate, Reason wanted) { return candidate.reason < wanted; });
  return row != kReasons.end() && row->reason == r ? *row : kReasons.front();
}

}  // namespace neap
