// Rows of the programme: quiet hours, stages and their floods.
#include <array>

#include "daemon/settings/schema.h"

namespace neap::settings {
namespace {

constexpr double kHour = 3600;
constexpr double kDay = 86400;

constexpr std::array kQuietKeys{
    required(
        "from", Kind::clock, "\"22:30\"", std::nullopt,
        [](Draft& d, const Value& v) { d.plan.programme.quiet.from_s = v.whole(); },
        "clock time at which quiet begins"),
    required(
        "to", Kind::clock, "\"06:30\"", std::nullopt,
        [](Draft& d, const Value& v) { d.plan.programme.quiet.to_s = v.whole(); },
        "clock time at which quiet ends; may be the next morning"),
};
constexpr Section kQuietSection{
    "quiet_hours",
    kQuietKeys,
    [](Draft& d, std::string_view) { d.plan.programme.quiet.fitted = true; },
    nullptr,
    {}};

constexpr std::array kFloodKeys{
    optional(
        "spread", Kind::count, "3", Bounds{1, kMaxSlotsPerDay},
        [](Draft& d, const Value& v) {
          d.stage->floods.rule = SlotRule::spread;
          d.stage->floods.count = v.whole();
        },
        "this many floods, evenly over the light period"),
    optional(
        "first_after", Kind::duration, "30 min", Bounds{0, kDay},
        [](Draft& d, const Value& v) { d.stage->floods.first_after_s = v.whole(); },
        "with spread or by_demand: the first flood this long after lights-on; absent: at "
        "lights-on"),
    optional(
        "last_before", Kind::duration, "2 h", Bounds{0, kDay},
        [](Draft& d, const Value& v) { d.stage->floods.last_before_s = v.whole(); },
        "with spread or by_demand: the last flood this long before lights-off, so that the night "
        "begins dry; absent: at lights-off"),
    optional(
        "after_lights_on", Kind::durations, "[30 min, 5 h, 9 h]", Bounds{0, kDay},
        [](Draft& d, const Value& v) {
          d.stage->floods.rule = SlotRule::after_lights_on;
          d.stage->floods.times_s = v.list;
        },
        "floods at these times after lights-on"),
    optional(
        "at", Kind::clocks, "[\"08:00\", \"14:00\"]", std::nullopt,
        [](Draft& d, const Value& v) {
          d.stage->floods.rule = SlotRule::at_times;
          d.stage->floods.times_s = v.list;
        },
        "floods at these clock times"),
    optional(
        "by_demand", Kind::vpd_hours, "3 kPa h", Bounds{0.1, 50},
        [](Draft& d, const Value& v) {
          d.stage->floods.rule = SlotRule::by_demand;
          d.stage->floods.demand_kpa_h = v.number;
        },
        "a flood when VPD over time since the last has come to this: sooner in dry air. 3 kPa h "
        "are "
        "3 h of light at 1 kPa; the dark counts 0.3 (common practice, no source)"),
    optional(
        "no_sooner", Kind::duration, "2 h", Bounds{kHour / 4, kDay / 2},
        [](Draft& d, const Value& v) { d.stage->floods.no_sooner = v.millis(); },
        "with by_demand: never sooner after another flood, however dry the air"),
    optional(
        "no_later", Kind::duration, "5 h", Bounds{kHour / 4, kDay},
        [](Draft& d, const Value& v) { d.stage->floods.no_later = v.millis(); },
        "with by_demand: never later, however damp the air, and when no probe tells of it; a "
        "flood that would fall into the dark comes before it"),
    required(
        "soak", Kind::duration, "8 min", Bounds{0, kHour},
        [](Draft& d, const Value& v) { d.stage->floods.soak = v.millis(); },
        "how long the roots stand in water once the tray is full; 5 to 15 min is common. A depth "
        "in "
        "litres soaks behind a drain valve alone: elsewhere the pump would fill the tray up"),
    defaulted(
        "depth", Kind::depth, "float", Bounds{0.5, 500},
        [](Draft& d, const Value& v) {
          d.stage->floods.depth = static_cast<Depth>(v.index);
          if (d.stage->floods.depth == Depth::by_litres) d.stage->floods.litres = Litres{v.number};
        },
        "float: until tray.full is wet; a volume: until so much has left the reservoir, for "
        "seedlings"),
};
constexpr Section kFloodSection{"floods", kFloodKeys, nullptr, nullptr, "none"};

void solution(Draft& draft, const Value& value, Hand hand) {
  draft.stage->solution[static_cast<std::size_t>(hand)] = Range{value.number, value.high};
}

constexpr std::array kStageKeys{
    required(
        "name", Kind::word, "leafing", std::nullopt,
        [](Draft& d, const Value& v) { d.stage->name = v.text; },
        "what people call the stage; each name once"),
    optional(
        "days", Kind::count, "21", Bounds{1, 1000},
        [](Draft& d, const Value& v) { d.stage->days = v.whole(); },
        "suggested length; a person confirms the change. Absent: until a person says so"),
    defaulted(
        "fallow", Kind::truth, "false", std::nullopt,
        [](Draft& d, const Value& v) { d.stage->fallow = v.truth(); },
        "between grows: dark and without floods, while the leak watch stays on"),
    optional(
        "lights_on", Kind::clock, "\"06:00\"", std::nullopt,
        [](Draft& d, const Value& v) { d.stage->lights_on_s = v.whole(); },
        "clock time of lights-on; every stage but a fallow one has it"),
    optional(
        "light", Kind::duration, "16 h", Bounds{kHour, kDay},
        [](Draft& d, const Value& v) { d.stage->light_length_s = v.whole(); },
        "length of the photoperiod; 16 h is usual for leaves, 12 h and less makes "
        "short-day strawberries flower"),
    defaulted(
        "light_level", Kind::level, "100 %", Bounds{1, 1000},
        [](Draft& d, const Value& v) { d.stage->light_level = v.permille(); },
        "of a light that dims; otherwise 100 %"),
    defaulted(
        "light_ramp", Kind::duration, "0 s", Bounds{0, 2 * kHour},
        [](Draft& d, const Value& v) { d.stage->light_ramp_s = v.whole(); },
        "of a light that dims: up after lights-on and down before lights-off, so that the "
        "air follows"),
    optional(
        "vpd_day", Kind::vpd_band, "0.8..1.2 kPa", Bounds{0, 4},
        [](Draft& d, const Value& v) {
          d.stage->vpd_day = {Kilopascal{v.number}, Kilopascal{v.high}};
        },
        "VPD held while the light is on; every stage but a fallow one has it"),
    optional(
        "vpd_night", Kind::vpd_band, "0.5..0.9 kPa", Bounds{0, 4},
        [](Draft& d, const Value& v) {
          d.stage->vpd_night = {Kilopascal{v.number}, Kilopascal{v.high}};
        },
        "VPD held in the dark; every stage but a fallow one has it"),
    defaulted(
        "band_ramp", Kind::duration, "30 min", Bounds{0, 4 * kHour},
        [](Draft& d, const Value& v) { d.stage->band_ramp_s = v.whole(); },
        "after each light edge the band moves over this time, as the air cannot jump"),
    defaulted(
        "air", Kind::temperature_band, "10..30 C", Bounds{0, 45},
        [](Draft& d, const Value& v) {
          d.stage->air_lowest = Celsius{v.number};
          d.stage->air_highest = Celsius{v.high};
        },
        "limits of air temperature: they come before the VPD band"),
    defaulted(
        "humidity_ceiling", Kind::percent, "90 %", Bounds{40, 100},
        [](Draft& d, const Value& v) { d.stage->humidity_ceiling = PercentRh{v.number}; },
        "above it drying comes before the band; grey mould follows hours over 90 % "
        "(Kita-Nihon Byogaichu Kenkyukaiho 68:123-127, 2017)"),
    optional(
        "ph", Kind::ph_band, "5.5..6.2 pH", Bounds{3, 10},
        [](Draft& d, const Value& v) { solution(d, v, Hand::ph); },
        "of the solution, by probe or by hand; absent: not watched"),
    optional(
        "ec", Kind::ec_band, "1.2..1.8 mS/cm", Bounds{0, 10},
        [](Draft& d, const Value& v) { solution(d, v, Hand::ec); },
        "of the solution at 25 C, by probe or by hand; absent: not watched"),
    optional(
        "water", Kind::temperature_band, "16..24 C", Bounds{0, 45},
        [](Draft& d, const Value& v) { solution(d, v, Hand::temperature); },
        "the solution's temperature; absent: not watched"),
    optional(
        "level", Kind::volume_band, "30..60 L", Bounds{0, 1000},
        [](Draft& d, const Value& v) { solution(d, v, Hand::level); },
        "litres in the reservoir between floods; absent: not watched"),
    Key{"floods",
        Kind::section,
        Need::optional,
        {},
        std::nullopt,
        {},
        "the floods of a day, or the word none; every stage but a fallow one has it",
        nullptr,
        &kFloodSection},
};

// Bands of a stage that names none (a fallow one): wide enough that drying out an empty tent is
// all that is left to do.
constexpr Band kFallowBand{Kilopascal{0.4}, Kilopascal{2.0}};

constexpr Section kStageSection{"a stage",
                                kStageKeys,
                                [](Draft& d, std::string_view) {
                                  d.stage = &d.plan.programme.stages.emplace_back();
                                  d.stage->vpd_day = kFallowBand;
                                  d.stage->vpd_night = kFallowBand;
                                },
                                nullptr,
                                {}};

constexpr std::array kProgrammeKeys{
    required(
        "start", Kind::date, "2026-03-02", std::nullopt,
        [](Draft& d, const Value& v) { d.plan.programme.start_date = v.whole(); },
        "day 1 of the first stage"),
    group("quiet_hours", Kind::section, Need::optional, kQuietSection,
          "clock times at which fan, pump and compressor are bound; absent: never"),
    defaulted(
        "slot_grace", Kind::duration, "15 min", Bounds{60, 2 * kHour},
        [](Draft& d, const Value& v) { d.plan.programme.slot_grace_s = v.whole(); },
        "a flood may start this late and still count as on time"),
    defaulted(
        "catch_up_within", Kind::duration, "4 h", Bounds{0, 12 * kHour},
        [](Draft& d, const Value& v) { d.plan.programme.catch_up_within_s = v.whole(); },
        "after a power cut one flood missed within this time is made up for"),
    defaulted(
        "check_every", Kind::duration, "26 h", Bounds{0, 14 * kDay},
        [](Draft& d, const Value& v) { d.plan.programme.check_every = v.millis(); },
        "a reminder when what a stage has a band for was neither read nor measured for so long: a "
        "day and two hours of grace; 0 s: none (common practice, no source)"),
    defaulted(
        "change_every", Kind::duration, "14 d", Bounds{0, 365 * kDay},
        [](Draft& d, const Value& v) { d.plan.programme.change_every = v.millis(); },
        "a reminder so long after the solution was changed (neap service change); 0 s: none; "
        "sources say 7 to 14 days"),
    optional(
        "change_after", Kind::volume, "60 L", Bounds{1, 10000},
        [](Draft& d, const Value& v) { d.plan.programme.change_after = Litres{v.number}; },
        "a reminder when so much was topped up since the change; absent: none"),
    defaulted(
        "stage_notice", Kind::count, "2", Bounds{0, 60},
        [](Draft& d, const Value& v) { d.plan.programme.stage_notice_days = v.whole(); },
        "days before a stage's days are over at which it is told; 0: not"),
    group("stages", Kind::section_list, Need::required, kStageSection,
          "parts of the grow, in order, each with its own targets"),
};

}  // namespace

const Section kProgrammeSection{"programme", kProgrammeKeys, nullptr, nullptr, {}};

}  // namespace neap::settings
