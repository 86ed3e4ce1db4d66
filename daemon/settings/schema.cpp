#include "daemon/settings/schema.h"

#include <array>

namespace neap::settings {
namespace {

constexpr std::array kRootKeys{
    required("neap", Kind::count, "1", Bounds{1, 1}, nullptr,
             "the format of this file; another number belongs to another neap"),
    defaulted(
        "name", Kind::text, "tent", std::nullopt,
        [](Draft& d, const Value& v) { d.plan.name = v.text; }, "what people call this tent"),
    choice(
        "mode", Need::required, "control", "control observe",
        [](Draft& d, const Value& v) { d.plan.mode = static_cast<Mode>(v.index); },
        "observe reads, tells what it would do, and drives nothing but outputs whose hand is neap; "
        "without default, because control moves water"),
    choice(
        "display", Need::defaulted, "metric", "metric us",
        [](Draft& d, const Value& v) { d.plan.metric = v.index == 0; },
        "units that people are shown; settings may use either"),
    required(
        "time_zone", Kind::text, "Europe/Brussels", std::nullopt,
        [](Draft& d, const Value& v) { d.plan.time_zone = v.text; },
        "clock times of this file are local times of this zone; a name of the zone database"),
    defaulted(
        "altitude", Kind::height, "0 m", Bounds{-400, 4000},
        [](Draft& d, const Value& v) { d.plan.altitude_m = v.number; },
        "above sea level: air pressure enters humidity ratios"),
    group("tent", Kind::section, Need::optional, kTentSection, "the tent and its limits"),
    group("table", Kind::section, Need::required, kTableSection, "the flood table and its water"),
    group("build", Kind::section, Need::optional, kBuildSection,
          "pipes and pump as they were bought and measured: neap check works out what they can do"),
    group("solution", Kind::section, Need::optional, kSolutionSection,
          "what is fed, by its labels: neap mix works out litres and millilitres"),
    group("climate", Kind::section, Need::optional, kClimateSection, "how the air is held"),
    group("water", Kind::section, Need::optional, kWaterSection,
          "how water_heater and water_chiller hold the reservoir in a stage's band \"water\""),
    group("programme", Kind::section, Need::required, kProgrammeSection,
          "what the plants get, stage by stage"),
    group("outputs", Kind::section_outputs, Need::required, kOutputSection,
          "what neap drives, and through which driver"),
    group("sensors", Kind::section_names, Need::required, kSensorSection,
          "what neap reads, by a name of your choice, and which point each channel is"),
    group("calibration", Kind::section, Need::optional, kCalibrationSection,
          "corrections to sensors"),
    group("care", Kind::section, Need::optional, kCareSection,
          "after how much running or time a part is due: neap care counts it"),
    group("turnover", Kind::section, Need::optional, kTurnoverSection,
          "what disinfects between grows: neap turnover leads through it"),
    group("telling", Kind::section, Need::optional, kTellingSection,
          "who is told what, by which programs: neap tell run starts them, never neapd"),
    group("simulation", Kind::section, Need::optional, kSimulationSection,
          "the simulated tent behind simulated drivers"),
    required("end", Kind::truth, "true", std::nullopt, nullptr,
             "the last line, exactly: a file that lacks it was cut short"),
};
constexpr Section kRoot{"the file", kRootKeys, nullptr, nullptr, {}};

}  // namespace

const Section& root_section() { return kRoot; }

}  // namespace neap::settings
