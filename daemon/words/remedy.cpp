#include <array>
#include <string_view>

#include "daemon/words/figures.h"
#include "daemon/words/words.h"

namespace neap::words {
namespace {

struct RemedyRow {
  Reason reason;
  std::string_view
      text;  // with places as in reason.h; empty: the sentence of the reason says it already
};

// What a person does about a request that was refused. Reasons that refuse nothing are not listed.
constexpr std::array kRemedies{
    RemedyRow{Reason::not_fitted, "`neap status` lists what is fitted"},
    RemedyRow{Reason::observing, "hand it over with hand: neap in its settings, then `neap apply`"},

    RemedyRow{Reason::flood_already_running, "`neap` shows it; `neap flood stop` ends it"},
    RemedyRow{Reason::flood_not_running, "there is nothing to stop"},
    RemedyRow{Reason::flood_too_soon, "wait until table.min_gap of the settings is over"},
    RemedyRow{Reason::min_gap_between_floods, "wait until table.min_gap of the settings is over"},
    RemedyRow{Reason::floods_per_hour, "wait, or see table.pump_budget in the settings"},
    RemedyRow{Reason::no_flood_in_stage, "`neap stage NAME` goes to another stage"},
    RemedyRow{Reason::tray_not_drained, "wait until the tray is empty"},
    RemedyRow{Reason::pump_run_limit, "wait until the pump has rested"},

    RemedyRow{Reason::step_test_running, "`neap` shows it; `neap step-test stop` ends it"},
    RemedyRow{Reason::step_test_not_running, "there is nothing to stop"},
    RemedyRow{Reason::step_test_by_day, "ask again while the light is on"},
    RemedyRow{Reason::step_test_by_night, "ask again in the dark, or test the fan now"},
    RemedyRow{Reason::step_test_fallow, "ask again when plants stand in the tent"},
    RemedyRow{Reason::step_test_edge_near, "`neap plan` shows the longest time between edges"},
    RemedyRow{Reason::step_test_edge_past, "wait that long"},
    RemedyRow{Reason::step_test_flood_near, "ask again 20 min after that flood; see `neap plan`"},
    RemedyRow{Reason::step_test_flood_past, "wait that long"},
    RemedyRow{Reason::step_test_water_moves, "ask again 20 min after that flood"},
    RemedyRow{Reason::step_test_alarm, "`neap alarms` says what to do about it"},
    RemedyRow{Reason::step_test_held, "end the hold with `neap release`"},
    RemedyRow{Reason::step_test_warm, "ask again when the air is 1 K from its limit"},
    RemedyRow{Reason::step_test_cold, "ask again when the air is 1 K from its limit"},
    RemedyRow{Reason::step_test_humid, "ask again when humidity is 3 % under its ceiling"},
    RemedyRow{Reason::condensation_near, "ask again when the air is drier"},
    RemedyRow{Reason::no_canopy_reading, "check the canopy sensor; `neap status` shows it"},
    RemedyRow{Reason::quiet_hours, "ask again so that it ends before quiet hours begin"},
    RemedyRow{Reason::step_test_fan_needed, "see outputs.exhaust_fan in the settings"},
    RemedyRow{Reason::step_test_in_room, ""},
    RemedyRow{Reason::step_test_narrow, "see outputs.exhaust_fan and quiet_hours in the settings"},

    RemedyRow{Reason::output_unproven, "`neap commission` walks through the tests"},
    RemedyRow{Reason::point_unproven, "`neap commission` walks through the tests"},
    RemedyRow{Reason::flood_unproven,
              "stand by and type `neap flood start`, or let `neap commission` do it"},
    RemedyRow{Reason::output_not_seen, "hold it running for a few seconds, then ask again"},
    RemedyRow{Reason::valve_not_seen,
              "hold it closed for a few seconds, let it open, then ask again"},
    RemedyRow{Reason::point_not_seen, "wet or lift it, let it come back, then ask again"},
    RemedyRow{Reason::flood_proves_itself, "stand by and type `neap flood start`"},
    RemedyRow{Reason::proof_not_wanted,
              "parts with a real driver are tested, unless table.water_proven is by_hand"},

    RemedyRow{Reason::request_out_of_range, "give a length of time inside it, such as: for 10m"},
    RemedyRow{Reason::hold_forbidden, ""},
    RemedyRow{Reason::hold_pump_series, ""},
    RemedyRow{Reason::hold_sensor_rail, "neap cycles it by itself when its sensors fall silent"},
    RemedyRow{Reason::shelve_forbidden, "`neap alarms` says what to do about it"},
    RemedyRow{Reason::service_holds, "`neap service end` when the work is done"},
    RemedyRow{Reason::cause_persists, "remove the cause first; `neap status` shows the readings"},
    RemedyRow{Reason::latch_not_set, "there is nothing to reset"},

    RemedyRow{Reason::leak_wet, "find where the water came from, then dry the probe"},
    RemedyRow{Reason::leak_damp, "dry the probe; damp may be condensation"},
    RemedyRow{Reason::leak_unknown, "check the probe's plug and wire"},
    RemedyRow{Reason::leak_latched, "when its cause is gone: `neap reset leak`"},
    RemedyRow{Reason::latched, "when its cause is gone: `neap reset {0:l}`"},
    RemedyRow{Reason::tray_overflow, "let the tray run back, then see why it rose so far"},
    RemedyRow{Reason::float_unknown, "check the plug and wire of the tray's floats"},
    RemedyRow{Reason::reservoir_low, "fill up the reservoir"},
    RemedyRow{Reason::reservoir_unknown, "check the reservoir's sensor"},
    RemedyRow{Reason::budget_cycle, "wait for the next flood; `neap status` shows the pump's time"},
    RemedyRow{Reason::budget_hour, "wait; `neap status` shows the pump's time"},
    RemedyRow{Reason::budget_day, "wait; `neap status` shows the pump's time"},
    RemedyRow{Reason::outputs_not_proven, "`neap alarms` says what to do"},
    RemedyRow{Reason::output_trouble, "`neap alarms` says what to do"},
    RemedyRow{Reason::pump_welded, "unplug the pump, replace its relay, then `neap reset weld`"},
    RemedyRow{Reason::contact_tried, "ask again in 10 s"},
    RemedyRow{Reason::contact_welded, "replace its relay, then `neap reset weld`"},
    RemedyRow{Reason::supply_low, "wait a minute; if it stays, replace the power supply"},
    RemedyRow{Reason::rail_cycles, "ask again in 20 s"},
    RemedyRow{Reason::pump_in_hand, "set the pump's switch to automatic, or unplug the pump"},
    RemedyRow{Reason::pump_off_auto, "set the pump's switch to automatic"},
    RemedyRow{Reason::state_unsaved, "free space on the disk, or replace the card"},
    RemedyRow{Reason::time_not_known, "set the clock, or wait for a time source"},
    RemedyRow{Reason::safe_mode, "look into the log of neapd, then start it again"},
};

struct CureRow {
  Fault fault;
  std::string_view text;
};

constexpr std::array kCures{
    CureRow{Fault::no_answer, "check its plug, its supply and its address"},
    CureRow{Fault::corrupt, "check its wires: long, loose or beside a relay's"},
    CureRow{Fault::power_on_value, "check its supply: it restarts between two readings"},
    CureRow{Fault::absent, "check its name, and the board's boot configuration"},
    CureRow{Fault::denied, "add the user of neapd to the group that owns the device file"},
    CureRow{Fault::taken,
            "let either the kernel's driver or neap's have it, and no second program"},
    CureRow{Fault::hung, "unplug what hangs on the bus, one by one; check its pull-up resistors"},
    CureRow{Fault::ambiguous, "name the one that is meant, by its device path"},
    CureRow{Fault::not_ready, "check its supply: it restarts, or is asked too early"},
    CureRow{Fault::open_wire, "check the probe's cable, its plug and the resistor at its end"},
    CureRow{Fault::short_wire, "check the probe's cable for wires that touch"},
};

}  // namespace

std::optional<std::string_view> remedy_template(Reason reason) {
  for (const RemedyRow& row : kRemedies)
    if (row.reason == reason) return row.text;
  return std::nullopt;
}

std::string remedy(const Because& because) {
  const auto text = remedy_template(because.reason);
  return text ? filled(*text, because, {}) : "`neap status` says more";
}

std::string_view cure(Fault f) {
  for (const CureRow& row : kCures)
    if (row.fault == f) return row.text;
  return {};
}

}  // namespace neap::words
