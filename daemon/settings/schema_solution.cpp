// Rows of the solution: what is fed, by its labels.
#include <array>

#include "daemon/settings/schema.h"

namespace neap::settings {
namespace {

constexpr std::array kStockKeys{
    required(
        "name", Kind::word, "part_a", std::nullopt,
        [](Draft& d, const Value& v) { d.feed->stocks.back().name = v.text; },
        "what you call this bottle"),
    required(
        "dose", Kind::dose, "2 mL/L", Bounds{0.01, 50},
        [](Draft& d, const Value& v) { d.feed->stocks.back().ml_per_l = v.number; },
        "one dose by its label, in the proportion in which the bottles are used together"),
};
constexpr Section kStockSection{"a stock solution",
                                kStockKeys,
                                [](Draft& d, std::string_view) { d.feed->stocks.emplace_back(); },
                                nullptr,
                                {}};

constexpr std::array kSolutionKeys{
    required(
        "water_ec", Kind::conductivity, "0.3 mS/cm", Bounds{0, 2},
        [](Draft& d, const Value& v) { d.feed->water_ec = v.number; },
        "of the water you mix with, at 25 C; without default, because waters differ from 0.0 of "
        "rain to over 0.8: measure it"),
    required(
        "dose_ec", Kind::conductivity, "1.6 mS/cm", Bounds{0.1, 5},
        [](Draft& d, const Value& v) { d.feed->dose_ec = v.number; },
        "what one dose of all stocks together adds to pure water, by the label or, better, "
        "measured "
        "in a litre"),
    group("stocks", Kind::section_list, Need::required, kStockSection,
          "the stock solutions, the one that goes in first at the top"),
};

}  // namespace

const Section kSolutionSection{
    "solution", kSolutionKeys, [](Draft& d, std::string_view) { d.feed.emplace(); }, nullptr, {}};

}  // namespace neap::settings
