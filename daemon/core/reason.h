// Why a command is what it is, and why an event happened: a number and up to three arguments. The
// core makes no text; daemon/words turns a Because into a sentence with the template below.
#pragma once

#include <array>
#include <cstdint>
#include <string_view>

namespace neap {

// Stored in the journal: numbers are written out and never reused.
enum class Reason : std::uint16_t {
  none = 0,
  safe_state = 1,
  not_fitted = 2,
  observing = 3,  // mode: observe, neap drives nothing

  // programme
  by_day = 10,
  by_night = 11,
  always_running = 12,
  quiet_hours = 13,
  light_ramp = 14,

  // climate
  vpd_below_band = 20,
  vpd_above_band = 21,
  vpd_in_band = 22,
  air_too_warm = 23,
  air_too_cold = 24,
  humidity_over_ceiling = 25,
  condensation_near = 26,
  drying_by_dehumidifier = 27,  // fan held low while the dehumidifier in the tent dries
  no_canopy_reading = 28,
  fresh_air_floor = 29,
  law_demand = 30,  // a law without finer reasons
  venting_too_weak = 31,
  light_dimmed_for_heat = 32,
  light_shed_for_heat = 33,
  humidifier_waits = 34,
  vpd_low_in_band = 35,
  vpd_high_in_band = 36,

  // climate, the predictive law
  look_ahead = 150,
  look_ahead_flood = 151,
  look_ahead_light = 152,
  look_ahead_without_room = 153,
  venting_needed = 154,  // of the fan's range, to stay in the band
  venting_cannot_reach_band = 155,

  // climate, the rule law
  rule_venting_dries = 160,
  rule_venting_moistens = 161,
  rule_venting_matters_little = 162,
  rule_aim_raised = 163,  // for a flood or the dark
  rule_fan_cools = 164,
  rule_fan_leaves_to_mist = 165,
  rule_mist = 166,

  // climate, a band out of reach, and what would do
  reach_too_warm = 170,
  reach_too_humid = 171,
  reach_too_dry = 172,
  cure_drying = 173,
  cure_mist = 174,
  cure_room_warmer = 175,
  cure_room_cooler = 176,
  cure_room_drier = 177,
  cure_room_moister = 178,
  cure_flow = 179,

  // climate, a device that does not do what it is told
  doubt_fan_dead = 180,
  doubt_dehumidifier_dead = 181,
  doubt_dehumidifier_welded = 182,
  doubt_humidifier_dry = 183,
  doubt_light_stuck_on = 184,

  // a step test: its steps, why it ended, what speaks against it
  step_test_step = 190,
  step_test_done = 191,
  step_test_stopped = 192,
  step_test_cut_off = 193,  // by a restart
  step_test_running = 194,
  step_test_not_running = 195,
  step_test_by_day = 196,
  step_test_by_night = 197,
  step_test_fallow = 198,
  step_test_edge_near = 199,
  step_test_edge_past = 200,
  step_test_flood_near = 201,
  step_test_flood_past = 202,
  step_test_water_moves = 203,
  step_test_alarm = 204,
  step_test_held = 205,
  step_test_warm = 206,
  step_test_cold = 207,
  step_test_humid = 208,
  step_test_fan_needed = 209,
  step_test_in_room = 210,
  step_test_narrow = 211,

  // flood
  flood_filling = 40,
  flood_soaking = 41,
  flood_draining = 42,
  flood_resting = 43,
  flood_idle = 44,
  flood_stopped_by_operator = 45,
  flood_full_by_float = 46,
  flood_full_by_litres = 47,
  flood_fill_limit = 48,
  flood_no_effect = 49,
  flood_interrupted = 50,
  flood_withheld = 51,
  flood_missed = 52,
  flood_soak_limit = 53,
  flood_drained = 54,
  flood_slow_drain = 55,
  flood_lost_water = 56,
  flood_catch_up = 57,
  flood_tripped = 58,
  flood_full_by_time = 59,
  flood_already_running = 60,
  flood_not_running = 61,
  flood_too_soon = 62,
  no_flood_in_stage = 63,
  flood_fill_slow = 64,
  flood_float_silent = 65,  // lost water, and the tray's own float is the likely liar
  flood_pump_weak = 66,     // likewise the pump
  reservoir_falls = 67,     // with the pump stopped
  flood_float_early = 68,   // tray.full says full of a tray that cannot be
  flood_just_before = 69,   // the slot's water came by another flood

  // operator
  operator_hold = 70,
  operator_hold_expired = 71,
  operator_release = 72,
  service_holds = 73,
  request_unknown_target = 74,
  request_out_of_range = 75,
  hold_forbidden = 76,
  shelve_forbidden = 77,
  hold_pump_series = 78,
  hold_sensor_rail = 79,

  // interlocks
  leak_wet = 80,
  leak_unknown = 81,
  leak_latched = 82,
  tray_overflow = 83,
  reservoir_low = 84,
  reservoir_unknown = 85,
  budget_cycle = 86,
  budget_hour = 87,
  budget_day = 88,
  latched = 89,
  min_on_dwell = 90,
  min_off_dwell = 91,
  starts_per_hour = 92,
  bucket_full = 93,
  tray_not_drained = 94,
  outputs_not_proven = 95,
  leak_damp = 96,
  float_unknown = 97,
  cause_persists = 98,  // reset refused
  latch_not_set = 99,
  over_temperature = 100,
  time_not_known = 101,
  fan_needed = 102,  // humidifier not while the dehumidifier runs, and the like
  min_gap_between_floods = 103,
  safe_mode = 104,
  pump_run_limit = 105,
  floods_per_hour = 106,
  pump_welded = 107,
  pump_in_hand = 108,
  pump_stands = 109,     // told to run, and its proof says that it stands
  lease_lapsed = 110,    // an output went to its safe state between two scans
  contact_tried = 111,   // of the pump's two, whether it breaks the current
  contact_welded = 112,  // of the pump's two
  supply_low = 113,      // of the board
  supply_sags = 114,
  rail_cycles = 115,  // the supply of the sensors is off for a moment
  rail_helps_not = 116,
  air_pump_stands = 117,
  pump_off_auto = 118,  // its switch says so
  pump_by_hand = 119,   // and it runs

  // sensing, storage, time
  reading_lost = 120,
  reading_back = 121,
  wall_clock_stepped = 122,
  started = 123,
  stopped = 124,
  settings_applied = 125,
  settings_refused = 126,
  stage_due = 127,
  stage_entered = 128,
  probes_disagree = 129,
  state_lost = 130,
  request_accepted = 131,
  output_trouble = 132,
  journal_trouble = 133,
  clock_behind = 134,
  fault_asked = 135,  // of a simulated tent
  journal_log_grows = 136,
  state_unsaved = 137,
  memory_changed = 138,

  // the roots' clock
  roots_safe_until = 140,
  roots_safe_for = 141,  // the time of day is not known
  roots_dry = 142,

  // water and contacts
  slow_leak = 145,  // litres a day
  contact_chatters = 146,
  switching_noise = 147,

  // proof tests
  output_unproven = 220,
  point_unproven = 221,
  flood_unproven = 222,
  output_proof_due = 223,  // days ago
  point_proof_due = 224,
  output_not_seen = 225,
  point_not_seen = 226,
  flood_proves_itself = 227,
  proof_not_wanted = 228,
  output_proven = 229,
  point_proven = 230,
  flood_proven = 231,
  valve_not_seen = 232,
  flood_answered_for = 233,
  request_denied = 234,

  // lamp, buzzer and button at the tent
  lamp_well = 250,
  lamp_held = 251,
  lamp_calls = 252,  // alarm
  button_let_go = 253,
  button_refused = 254,
  button_stuck = 255,

  fan_stands = 256,  // turns a minute
  given_away = 257,
  taken_over = 258,

  // the solution
  hand_ph = 260,
  hand_ec = 261,
  hand_level = 262,
  hand_temperature = 263,
  hand_withdrawn = 264,
  ph_off = 265,
  ec_off = 266,
  level_off = 267,
  water_off = 268,
  hand_check_due = 269,
  change_due = 270,
  stage_coming = 271,
  ph_calibrated = 272,
  ec_calibrated = 273,
  never_calibrated = 274,
  calibration_due = 275,

  // another hand
  flood_seen_by_pump = 280,
  flood_seen_by_tray = 281,
  flood_seen_by_level = 282,
  flood_seen_short = 283,
  not_ours_to_stop = 284,
  start_kick = 285,
  light_out = 286,  // lx

  // heater and chiller in the reservoir
  water_warmed = 290,
  water_cooled = 291,
  water_in_band = 292,
  water_no_band = 293,
  water_no_reading = 294,
  water_other_runs = 295,
  water_too_hot = 296,
  water_fallow = 297,
};

struct Because {
  Reason reason = Reason::none;
  std::array<double, 3> args{};
  friend constexpr bool operator==(const Because&, const Because&) = default;
};

constexpr Because because(Reason r, double a = 0, double b = 0, double c = 0) {
  return Because{r, {a, b, c}};
}

// Template places: {0} {1} {2} are arguments, with a format after the colon: .2f as in printf, `d`
// whole, `t` seconds as 2 min 05 s, `c` a temperature in C, `k` a difference of temperatures in K
// (both written with their unit), `o` an Output, `p` a Point (0: which one is not known), `l` a
// Latch, `a` an Alarm, `f` a Fault, `y` a date, `h` a second of the day as a clock time. A part in
// square brackets is left out when all of its arguments are zero: the same reason may come from
// where the figure is not known.
struct ReasonInfo {
  Reason reason;
  std::string_view key;   // stable word for JSON
  std::string_view text;  // sentence fragment, lower case, no full stop
};

const ReasonInfo& info(Reason r);  // unknown numbers give the row of `none`

}  // namespace neap
