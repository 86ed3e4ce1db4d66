// Rows of the build: pipes and pump.
#include <array>

#include "daemon/settings/schema.h"

namespace neap::settings {
namespace {

constexpr std::array kBuildKeys{
    optional(
        "standpipe_bore", Kind::length, "32 mm", Bounds{5, 150},
        [](Draft& d, const Value& v) { d.build->standpipe_bore_mm = v.number; },
        "inner diameter of the overflow standpipe"),
    optional(
        "standpipe_height", Kind::length, "60 mm", Bounds{10, 400},
        [](Draft& d, const Value& v) { d.build->standpipe_height_mm = v.number; },
        "the standpipe's rim over the tray's floor"),
    optional(
        "freeboard", Kind::length, "40 mm", Bounds{1, 300},
        [](Draft& d, const Value& v) { d.build->freeboard_mm = v.number; },
        "the tray's rim over the standpipe's rim: how far water may rise while it runs over"),
    optional(
        "pump_free_flow", Kind::flow, "900 L/h", Bounds{30, 20000},
        [](Draft& d, const Value& v) { d.build->pump_free_l_per_h = v.number; },
        "the pump's label: what it moves without head, the most the standpipe may ever get"),
    optional(
        "pump_head", Kind::height, "1.8 m", Bounds{0.2, 30},
        [](Draft& d, const Value& v) { d.build->pump_head_m = v.number; },
        "the pump's label: the head at which it moves nothing"),
    optional(
        "lift", Kind::height, "0.4 m", Bounds{0, 5},
        [](Draft& d, const Value& v) { d.build->lift_m = v.number; },
        "from the reservoir's water before a flood up to the tray's floor"),
    optional(
        "hose_bore", Kind::length, "13 mm", Bounds{3, 100},
        [](Draft& d, const Value& v) { d.build->hose_bore_mm = v.number; },
        "inner diameter of the hose between pump and tray"),
    optional(
        "hose_length", Kind::height, "1.5 m", Bounds{0.1, 30},
        [](Draft& d, const Value& v) { d.build->hose_length_m = v.number; }, "its length"),
    optional(
        "drain_bore", Kind::length, "10 mm", Bounds{1, 100},
        [](Draft& d, const Value& v) { d.build->drain_bore_mm = v.number; },
        "inner diameter of weep hole or drain valve, where drain_path is one of these"),
    optional(
        "top_up", Kind::volume, "50 L", Bounds{1, 1000},
        [](Draft& d, const Value& v) { d.build->top_up_l = v.number; },
        "the mark to which the reservoir is topped up while the tray is empty"),
};

}  // namespace

const Section kBuildSection{
    "build", kBuildKeys, [](Draft& d, std::string_view) { d.build.emplace(); }, nullptr, {}};

}  // namespace neap::settings
