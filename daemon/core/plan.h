// The plan: settings after they were read, checked and converted, as the core wants them. Immutable
// once made; a reload makes another. Everything is SI-like: seconds, litres, Celsius, kPa. The
// loader (daemon/settings) is the only maker, tests build one by hand (tests/core/plans.h).
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "daemon/core/instant.h"
#include "daemon/core/outputs.h"
#include "daemon/core/points.h"
#include "daemon/core/probe_calibration.h"
#include "daemon/core/proof_tests.h"
#include "daemon/core/solution_watch.h"
#include "daemon/core/units.h"

namespace neap {

// --- what hangs where -----------------------------------------------------------------------

enum class DrainPath : std::uint8_t {
  through_pump = 0,  // at rest the tray runs back through the pump: soak keeps the pump running
  weep_hole = 1,     // a hole drains all the time: soak keeps the pump running
  drain_valve = 2,   // a valve holds the water: soak with the pump stopped
};

enum class Depth : std::uint8_t {
  by_float = 0,   // until tray.full is wet
  by_litres = 1,  // until the reservoir fell by `flood_l`
};

// What the roots stand in: how long it keeps them moist (roots.cpp).
enum class Medium : std::uint8_t { clay = 0, gravel = 1, perlite = 2, coco = 3, stone_wool = 4 };

// The owner's choice for the day on which a water sensor is blind and the roots' time is over.
enum class BlindPolicy : std::uint8_t {
  withhold = 0,  // no flood before the sensor speaks again
  timed = 1,     // short floods by the learnt time, while every other guard is well
};

struct TablePlan {
  std::string name = "table";  // part of every slot identity
  DrainPath drain_path = DrainPath::through_pump;
  Litres tray_capacity{0};  // to the tray's rim
  Litres flood_volume{0};   // to the standpipe's rim, medium in place
  Litres reservoir_capacity{0};
  Litres reservoir_minimum{0};  // stays in the reservoir, floods included (with a level sensor)
  double pump_l_per_h = 0;      // at the tray's height
  Millis fill_limit{};          // hard stop of one fill
  Millis soak_limit{};          // root-oxygen limit: longest time under water
  Millis drain_limit{};         // tray must be empty by then
  Millis min_gap{};             // from the end of one flood to the start of the next
  Millis max_on_per_flood{};    // pump budget of one flood, soak included
  Millis max_on_per_hour{};
  Millis max_on_per_day{};  // rolling 24 h
  int max_floods_per_hour = 4;
  Medium medium = Medium::clay;
  std::optional<Millis> dry_out;  // instead of the medium's own time (roots.h)
  BlindPolicy blind = BlindPolicy::withhold;
};

// What heats or cools the reservoir (water_temperature.h): the band is the stage's.
struct WaterPlan {
  Celsius differential{0.5};  // from the edge of the band that starts it to where it stops (choice)
  Celsius hottest{30};        // whatever the band says, nothing heats above it (choice)
  std::optional<Litres> covered_at;  // heater and chiller are under water; none: the minimum
};

enum class DehumidifierPlace : std::uint8_t { tent = 0, room = 1 };
enum class DehumidifierKind : std::uint8_t { compressor = 0, peltier = 1 };

struct OutputPlan {
  bool variable = false;  // level may be anything between floor and ceiling
  Permille safe = kStopped;
  Permille floor = kStopped;  // lowest level the schedule or a loop may ask while running
  Permille ceiling = kRunning;
  Permille quiet_ceiling = kRunning;  // in quiet hours; a two-position compressor: 0 = no start
  Permille fallback = kStopped;       // level without a usable canopy reading
  int slew_per_min = 0;               // permille a minute, 0 = at once
  Permille start_level = kStopped;    // variable: what it is started with, stopped = as asked
  Millis start_for{};                 // and for how long
  Millis min_on{};
  Millis min_off{};
  int starts_per_hour = 0;  // 0 = unlimited
  std::string driver;       // for people: which driver serves it
  bool driven = true;       // false: another hand has it, neap observes and gives no command
};

// One sensor's point as the core judges it.
struct PointPlan {
  Millis period{};           // how often it is read
  Millis uncertain_after{};  // age from which a held value is uncertain
  Millis bad_after{};        // age from which there is no value
  double offset = 0;         // calibration, added before validation; the point's unit
  Millis frozen_after{};     // identical raw values for this long are bad; 0 = never
  bool on_rail = false;      // its sensor's supply is output sensor_rail
};

// --- the programme --------------------------------------------------------------------------

struct Band {
  Kilopascal low{0};
  Kilopascal high{0};
  friend constexpr bool operator==(const Band&, const Band&) = default;
};

enum class BandOf : std::uint8_t { air = 0, leaf = 1 };  // which VPD the bands speak of

enum class SlotRule : std::uint8_t {
  none = 0,             // no floods: fallow, or by hand
  after_lights_on = 1,  // at given times after lights-on
  spread = 2,           // `count` floods spread evenly over the light period
  at_times = 3,         // at fixed clock times
  by_demand = 4,        // when VPD over time since the last one has come to an amount (demand.h)
};

struct FloodPlan {
  SlotRule rule = SlotRule::none;
  std::vector<std::int32_t> times_s;  // after_lights_on: seconds after; at_times: seconds of day
  int count = 0;                      // spread
  std::int32_t first_after_s = 0;     // spread, by_demand: none earlier after lights-on
  std::int32_t last_before_s = 0;     // spread, by_demand: none later before lights-off
  double demand_kpa_h = 0;            // by_demand: VPD over time from one flood to the next
  Millis no_sooner{};                 // by_demand: a flood never comes earlier after another
  Millis no_later{};                  // by_demand: nor later, where its hours permit
  Millis soak{};
  Depth depth = Depth::by_float;
  Litres litres{0};  // by_litres
};
constexpr int kMaxSlotsPerDay = 48;

struct StagePlan {
  std::string name;
  int days = 0;                     // suggested length; 0 = until a person says otherwise
  bool fallow = false;              // between grows: no light, no floods, leak watch stays
  std::int32_t lights_on_s = 0;     // second of the civil day
  std::int32_t light_length_s = 0;  // 0..86400
  Permille light_level = kRunning;
  std::int32_t light_ramp_s = 0;  // dimmable light: up after lights-on, down before lights-off
  Band vpd_day;
  Band vpd_night;
  std::int32_t band_ramp_s = 1800;  // bands move from one to the other over this time
  Celsius air_lowest{10};
  Celsius air_highest{30};  // limit: before the band
  PercentRh humidity_ceiling{90};
  SolutionTargets solution{};  // none: not watched
  FloodPlan floods;
};

struct QuietHours {
  bool fitted = false;
  std::int32_t from_s = 0;  // second of day; may cross midnight
  std::int32_t to_s = 0;
};

struct ProgrammePlan {
  std::vector<StagePlan> stages;  // at least one
  std::int32_t start_date = 0;    // civil date of day 1 of the first stage
  QuietHours quiet;
  std::int32_t slot_grace_s = 900;            // a slot may start this late
  std::int32_t catch_up_within_s = 4 * 3600;  // a missed slot this recent is worth one catch-up
  Millis check_every{};                       // of the solution, by hand or probe; 0 = not asked
  Millis change_every{};                      // of the solution; 0 = not asked
  Litres change_after{0};                     // topped up since the change; 0 = not asked
  int stage_notice_days = 0;                  // before a stage's days are over; 0 = not told
};

// --- climate ----------------------------------------------------------------------------------

enum class LawChoice : std::uint8_t { two_position = 0, fixed_fan = 1, predictive = 2, rule = 3 };

struct ClimatePlan {
  BandOf band_of = BandOf::air;
  LawChoice law = LawChoice::two_position;
  Permille fixed_fan_level{400};     // law fixed_fan: the yardstick that simulations compare with
  double hysteresis = 0.25;          // part of the band's width
  Millis drying_delay = minutes{3};  // VPD below band this long at full fan: dehumidifier
  Celsius dew_point_margin{2};       // coldest surface over dew point (common practice, no source)
  Celsius leaf_offset{-1};           // leaf minus air without a leaf sensor; range -5..+5
  bool leaf_offset_set = false;
  Celsius shed_above{35};  // light dims from 2 K under this and is shed at it
  DehumidifierPlace dehumidifier_place = DehumidifierPlace::tent;
  DehumidifierKind dehumidifier_kind = DehumidifierKind::compressor;
  double tent_m3 = 1.2;
  double fan_m3_per_h = 150;          // through the filter, at full level
  double dehumidifier_g_per_h = 146;  // at 26.7 C and 60 %
  double humidifier_g_per_h = 250;
};

// --- safety -------------------------------------------------------------------------------------

// In control neap drives every output. In observe it drives those that the settings name; the rest
// are in another hand (OutputPlan::driven).
enum class Mode : std::uint8_t { control = 0, observe = 1 };

struct Plan {
  std::string name = "tent";
  Mode mode = Mode::control;
  std::string time_zone;  // for people; the shell resolves offsets
  double altitude_m = 0;
  TablePlan table;
  WaterPlan water;
  ProgrammePlan programme;
  ClimatePlan climate;
  PerOutput<std::optional<OutputPlan>> outputs;
  PerPoint<std::optional<PointPlan>> points;
  ProofPlan proofs;
  CalibrationPlan calibration;
  bool metric = true;      // display units
  std::uint64_t hash = 0;  // of the settings text in force
};

// neap gives this output its commands. False where it is not fitted, or in another hand.
inline bool drives(const Plan& plan, Output output) {
  const std::optional<OutputPlan>& fitted = plan.outputs[output];
  return fitted && fitted->driven;
}
// It is fitted, and a person or a timer has it.
inline bool in_another_hand(const Plan& plan, Output output) {
  const std::optional<OutputPlan>& fitted = plan.outputs[output];
  return fitted && !fitted->driven;
}

}  // namespace neap
