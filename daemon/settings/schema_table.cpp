// Rows of the table, the tent and the climate.
#include <array>

#include "daemon/core/limits.h"
#include "daemon/settings/schema.h"

namespace neap::settings {
namespace {

constexpr double in_seconds(Millis time) { return static_cast<double>(time.count()) / 1000.0; }
constexpr double kHour = 3600;

constexpr std::array kBudgetKeys{
    defaulted(
        "per_flood", Kind::duration, "30 min", Bounds{60, in_seconds(limits::kPumpRunCeiling)},
        [](Draft& d, const Value& v) { d.plan.table.max_on_per_flood = v.millis(); },
        "longest pump time of one flood, soak included; no pump runs longer without a break "
        "than the ceiling"),
    defaulted(
        "per_hour", Kind::duration, "40 min", Bounds{60, kHour},
        [](Draft& d, const Value& v) { d.plan.table.max_on_per_hour = v.millis(); },
        "longest pump time in any 60 min, whoever asks"),
    defaulted(
        "per_day", Kind::duration, "3 h", Bounds{60, 12 * kHour},
        [](Draft& d, const Value& v) { d.plan.table.max_on_per_day = v.millis(); },
        "longest pump time in any 24 h, kept across restarts"),
    defaulted(
        "floods_per_hour", Kind::count, "2", Bounds{1, limits::kFloodsPerHourCeiling},
        [](Draft& d, const Value& v) { d.plan.table.max_floods_per_hour = v.whole(); },
        "most starts of a flood in any 60 min"),
};
constexpr Section kBudgetSection{"pump_budget", kBudgetKeys, nullptr, nullptr, {}};

constexpr std::array kTableKeys{
    defaulted(
        "name", Kind::word, "table", std::nullopt,
        [](Draft& d, const Value& v) { d.plan.table.name = v.text; },
        "part of each flood's identity: keep it, or today's floods may run twice"),
    choice(
        "drain_path", Need::required, "through_pump", "through_pump weep_hole drain_valve",
        [](Draft& d, const Value& v) { d.plan.table.drain_path = static_cast<DrainPath>(v.index); },
        "how the tray empties at rest; without default, because soak runs the pump with the "
        "first two and must not with the third"),
    required(
        "tray_capacity", Kind::volume, "45 L", Bounds{1, 500},
        [](Draft& d, const Value& v) { d.plan.table.tray_capacity = Litres{v.number}; },
        "water the tray holds to its rim, medium in place"),
    required(
        "flood_volume", Kind::volume, "25 L", Bounds{0.5, 500},
        [](Draft& d, const Value& v) { d.plan.table.flood_volume = Litres{v.number}; },
        "water of one flood up to the standpipe's rim, medium in place"),
    required(
        "reservoir_capacity", Kind::volume, "60 L", Bounds{1, 1000},
        [](Draft& d, const Value& v) { d.plan.table.reservoir_capacity = Litres{v.number}; },
        "water the reservoir holds to its brim"),
    required(
        "reservoir_minimum", Kind::volume, "12 L", Bounds{0, 1000},
        [](Draft& d, const Value& v) { d.plan.table.reservoir_minimum = Litres{v.number}; },
        "stays in the reservoir: no flood starts that would take it, and the pump stops at it"),
    required(
        "pump_flow", Kind::flow, "600 L/h", Bounds{30, 10000},
        [](Draft& d, const Value& v) { d.plan.table.pump_l_per_h = v.number; },
        "what the pump moves up to the tray; measure it, labels speak of no height"),
    required(
        "fill_limit", Kind::duration, "6 min", Bounds{30, in_seconds(limits::kFillCeiling)},
        [](Draft& d, const Value& v) { d.plan.table.fill_limit = v.millis(); },
        "the pump stops here when the tray was not proven full; without default, because it "
        "bounds the water on the floor"),
    defaulted(
        "soak_limit", Kind::duration, "20 min", Bounds{0, in_seconds(limits::kSoakCeiling)},
        [](Draft& d, const Value& v) { d.plan.table.soak_limit = v.millis(); },
        "longest time of roots under water; 30 min is common practice, for their oxygen"),
    defaulted(
        "drain_limit", Kind::duration, "25 min", Bounds{60, in_seconds(limits::kDrainCeiling)},
        [](Draft& d, const Value& v) { d.plan.table.drain_limit = v.millis(); },
        "the tray must be empty by then; slower withholds the next flood"),
    defaulted(
        "min_gap", Kind::duration, "40 min", Bounds{in_seconds(limits::kMinGapFloor), 24 * kHour},
        [](Draft& d, const Value& v) { d.plan.table.min_gap = v.millis(); },
        "rest from the end of one flood to the start of the next: roots breathe"),
    group("pump_budget", Kind::section, Need::optional, kBudgetSection,
          "pump time that nothing may exceed"),
    choice(
        "medium", Need::defaulted, "clay", "clay gravel perlite coco stone_wool",
        [](Draft& d, const Value& v) { d.plan.table.medium = static_cast<Medium>(v.index); },
        "what the roots stand in; with light and air it says until when they can wait for a flood "
        "that is withheld"),
    optional(
        "dry_out", Kind::duration, "6 h",
        Bounds{in_seconds(limits::kRootsFloor), in_seconds(limits::kRootsCeiling)},
        [](Draft& d, const Value& v) { d.plan.table.dry_out = v.millis(); },
        "from a flood until the crop suffers, in the light at 1 kPa; absent: by the medium, clay 6 "
        "h, gravel 5 h, perlite 8 h, coco and stone wool 24 h (common practice, no source)"),
    choice(
        "blind_sensor", Need::defaulted, "withhold", "withhold timed",
        [](Draft& d, const Value& v) { d.plan.table.blind = static_cast<BlindPolicy>(v.index); },
        "when tray.full or the reservoir's sensor cannot be read: withhold floods until it can, "
        "or, "
        "once the roots' time is over, flood by the learnt time, a fifth shorter; never past a wet "
        "or silent leak probe"),
    choice(
        "water_proven", Need::defaulted, "tested", "tested by_hand",
        [](Draft& d, const Value& v) { d.proven_by_hand = v.index == 1; },
        "tested: the programme floods once `neap commission` has seen pump, floats, leak probes "
        "and "
        "one flood work as they are wired; by_hand: you have tested all of it and answer for it. A "
        "simulated pump needs no test"),
    defaulted(
        "proof_every", Kind::duration, "30 d", Bounds{24 * kHour, 365 * 24 * kHour},
        [](Draft& d, const Value& v) { d.plan.proofs.every = v.millis(); },
        "how often pump, floats and leak probes are to be tested again; common practice, no "
        "source"),
};

constexpr std::array kTentKeys{
    defaulted(
        "volume", Kind::space, "1.2 m3", Bounds{0.1, 50},
        [](Draft& d, const Value& v) { d.plan.climate.tent_m3 = v.number; }, "air in the tent"),
    defaulted(
        "exhaust_flow", Kind::air_flow, "150 m3/h", Bounds{10, 3000},
        [](Draft& d, const Value& v) { d.plan.climate.fan_m3_per_h = v.number; },
        "exhaust fan at full level through its filter and duct, about half of its label"),
    choice(
        "vpd_of", Need::defaulted, "air", "air leaf",
        [](Draft& d, const Value& v) { d.plan.climate.band_of = static_cast<BandOf>(v.index); },
        "whether the bands speak of air VPD or leaf VPD; under a full canopy leaf VPD is some "
        "0.26 kPa lower"),
    optional(
        "leaf_offset", Kind::temperature_difference, "-1 K", Bounds{-5, 5},
        [](Draft& d, const Value& v) {
          d.plan.climate.leaf_offset = Celsius{v.number};
          d.plan.climate.leaf_offset_set = true;
        },
        "leaf minus air where no leaf sensor is fitted; absent: no leaf VPD without sensor"),
    defaulted(
        "dew_point_margin", Kind::temperature_difference, "2 K", Bounds{0, 10},
        [](Draft& d, const Value& v) { d.plan.climate.dew_point_margin = Celsius{v.number}; },
        "how far the coldest surface stays over the dew point; common practice, no source"),
    defaulted(
        "shed_light_above", Kind::temperature, "35 C", Bounds{20, 45},
        [](Draft& d, const Value& v) { d.plan.climate.shed_above = Celsius{v.number}; },
        "the light dims from 2 K under this and goes dark at it: the last step against heat"),
};

constexpr std::array kClimateKeys{
    choice(
        "law", Need::defaulted, "two_position", "two_position fixed_fan predictive rule",
        [](Draft& d, const Value& v) { d.plan.climate.law = static_cast<LawChoice>(v.index); },
        "predictive holds the band closest and wants a room sensor; rule comes near it with one "
        "plain rule a device; two_position needs to know nothing of the tent; fixed_fan is a "
        "yardstick that runs the fan at one level"),
    defaulted(
        "fixed_fan_level", Kind::level, "40 %", Bounds{0, 1000},
        [](Draft& d, const Value& v) { d.plan.climate.fixed_fan_level = v.permille(); },
        "level of the law fixed_fan; no other law looks at it"),
    defaulted(
        "hysteresis", Kind::percent, "25 %", Bounds{5, 50},
        [](Draft& d, const Value& v) { d.plan.climate.hysteresis = v.number / 100; },
        "on and off thresholds stand this part of the band's width apart: less is closer and "
        "switches more"),
    defaulted(
        "drying_delay", Kind::duration, "3 min", Bounds{0, 30 * 60},
        [](Draft& d, const Value& v) { d.plan.climate.drying_delay = v.millis(); },
        "VPD under the band this long with the fan at its ceiling calls the dehumidifier"),
    choice(
        "dehumidifier_in", Need::defaulted, "tent", "tent room",
        [](Draft& d, const Value& v) {
          d.plan.climate.dehumidifier_place = static_cast<DehumidifierPlace>(v.index);
        },
        "where it stands: in the tent, venting must not work against it"),
    choice(
        "dehumidifier_kind", Need::defaulted, "compressor", "compressor peltier",
        [](Draft& d, const Value& v) {
          d.plan.climate.dehumidifier_kind = static_cast<DehumidifierKind>(v.index);
        },
        "a compressor must rest between starts, a Peltier element need not"),
    defaulted(
        "dehumidifier_capacity", Kind::flow, "3.5 L/d", Bounds{0.05 / 24, 40.0 / 24},
        [](Draft& d, const Value& v) { d.plan.climate.dehumidifier_g_per_h = v.number * 1000; },
        "what it takes out at 26.7 C and 60 %; a label at 30 C and 80 % is about 1.6 times that"),
    defaulted(
        "humidifier_output", Kind::flow, "250 mL/h", Bounds{0.01, 5},
        [](Draft& d, const Value& v) { d.plan.climate.humidifier_g_per_h = v.number * 1000; },
        "its mist at full output"),
};

constexpr std::array kWaterKeys{
    defaulted(
        "differential", Kind::temperature_difference, "0.5 K", Bounds{0.2, 3},
        [](Draft& d, const Value& v) { d.plan.water.differential = Celsius{v.number}; },
        "a heater starts under the band's low edge and stops so far above it, a chiller over the "
        "high edge and stops so far below; choice: several times a probe's noise"),
    defaulted(
        "hottest", Kind::temperature, "30 C", Bounds{15, 35},
        [](Draft& d, const Value& v) { d.plan.water.hottest = Celsius{v.number}; },
        "no heater runs in water so hot, whoever asks; choice: water of 30 C holds a sixth less "
        "oxygen than of 20 C"),
    optional(
        "covered_at", Kind::volume, "15 L", Bounds{0.5, 1000},
        [](Draft& d, const Value& v) { d.plan.water.covered_at = Litres{v.number}; },
        "level in the reservoir that covers heater and chiller; under it, and where it is not "
        "read, "
        "both are off, as they are while reservoir.low hangs dry. Absent: table.reservoir_minimum, "
        "and the float alone will do"),
};

}  // namespace

const Section kWaterSection{"water", kWaterKeys, nullptr, nullptr, {}};
const Section kTableSection{"table", kTableKeys, nullptr, nullptr, {}};
const Section kTentSection{"tent", kTentKeys, nullptr, nullptr, {}};
const Section kClimateSection{"climate", kClimateKeys, nullptr, nullptr, {}};

}  // namespace neap::settings
