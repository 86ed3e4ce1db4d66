// Rows of care and of the turnover between grows.
#include <array>

#include "daemon/settings/schema.h"

namespace neap::settings {
namespace {

constexpr std::array kCareKeys{
    defaulted(
        "filter", Kind::duration, "4000 h", Bounds{0, 100'000 * 3600.0},
        [](Draft& d, const Value& v) { d.care.filter = v.millis(); },
        "of the exhaust fan's running, counted at full level, until its filter is due; 0 s: none "
        "(common practice, no source)"),
    defaulted(
        "strainer", Kind::count, "28", Bounds{0, 10'000},
        [](Draft& d, const Value& v) { d.care.strainer = static_cast<int>(v.number); },
        "floods until the pump's intake strainer is to be cleaned; 0: none (weekly in growers' "
        "check lists, at four floods a day)"),
    defaulted(
        "pump", Kind::duration, "100 h", Bounds{0, 100'000 * 3600.0},
        [](Draft& d, const Value& v) { d.care.pump = v.millis(); },
        "of the pump's running until its rotor is to be cleaned; 0 s: none (common practice, no "
        "source)"),
    defaulted(
        "air_stone", Kind::duration, "90 d", Bounds{0, 1000 * 86400.0},
        [](Draft& d, const Value& v) { d.care.air_stone = v.millis(); },
        "until the air stone is to be changed; 0 s: none (common practice, no source)"),
    defaulted(
        "bucket", Kind::duration, "0 s", Bounds{0, 10'000 * 3600.0},
        [](Draft& d, const Value& v) { d.care.bucket = v.millis(); },
        "of the dehumidifier's running until its bucket is full; 0 s: none, as with a hose: "
        "measure "
        "yours, the label says how much it takes"),
    defaulted(
        "light", Kind::duration, "0 s", Bounds{0, 200'000 * 3600.0},
        [](Draft& d, const Value& v) { d.care.light = v.millis(); },
        "of the light's running until it should be measured or changed; 0 s: none, because lamps "
        "differ: the data sheet says after how many hours it gives 90 or 70 %"),
    defaulted(
        "looks", Kind::duration, "7 d", Bounds{0, 100 * 86400.0},
        [](Draft& d, const Value& v) { d.care.looks = v.millis(); },
        "from one neap weekly to the next; 0 s: none (weekly in growers' check lists: roots, "
        "strainer)"),
};

constexpr std::array kTurnoverKeys{
    defaulted(
        "chlorine", Kind::number, "200", Bounds{50, 500},
        [](Draft& d, const Value& v) { d.turnover.chlorine_mg_per_l = v.number; },
        "free chlorine in the water that disinfects, mg in a litre (150 to 200 by an extension "
        "text on nutrient film, from a copy)"),
    defaulted(
        "bleach", Kind::percent, "5 %", Bounds{0.5, 15},
        [](Draft& d, const Value& v) { d.turnover.bleach_pct = v.number; },
        "free chlorine in the bottle by its label, grams in 100 mL; unscented, and it loses "
        "strength with age"),
    defaulted(
        "contact", Kind::duration, "1 h", Bounds{600, 3 * 3600.0},
        [](Draft& d, const Value& v) { d.turnover.contact = v.millis(); },
        "how long the tray is kept wet, by floods and between them by hand (up to 3 h by the same "
        "text)"),
    defaulted(
        "rinses", Kind::count, "2", Bounds{1, 6},
        [](Draft& d, const Value& v) { d.turnover.rinses = static_cast<int>(v.number); },
        "floods with clean water afterwards (common practice, no source)"),
};

}  // namespace

const Section kCareSection{"care", kCareKeys, nullptr, nullptr, {}};
const Section kTurnoverSection{"turnover", kTurnoverKeys, nullptr, nullptr, {}};

}  // namespace neap::settings
