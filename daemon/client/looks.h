// The looks that a grower takes once a week, asked for one by one, and what was seen kept.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <string_view>

#include "daemon/client/session.h"

namespace neap::client {

struct WeeklyLook {
  std::string_view name;  // in the diary
  std::string_view look;  // what to look at
  std::string_view well;  // what it is like when all is well
};
// Roots, strainer and leaf undersides are in growers' check lists and extension leaflets; the rest
// is common practice, no source.
inline constexpr std::array kWeeklyLooks{
    WeeklyLook{"roots", "the roots of two plants", "white or cream, firm, no bad smell"},
    WeeklyLook{"slime", "the walls of tray and reservoir", "no slime, nothing green"},
    WeeklyLook{"salt", "rims, medium and standpipe", "no white crust of salt"},
    WeeklyLook{"hoses", "hoses and fittings, with a dry finger", "dry, tight, no kink"},
    WeeklyLook{"strainer", "the pump's strainer and the drain's screen",
               "clear of roots and medium"},
    WeeklyLook{"cables", "cables and plugs", "each hangs lower than its plug; plugs are dry"},
    WeeklyLook{"leaves", "the undersides of a few leaves", "no insects, no webs, no spots"},
};

// "weekly looks: neap weekly (6 due, 9 of 7 days)", the days of the one longest ago; none when none
// is due, or they are not wanted.
std::optional<std::string> looks_due(journal::Reader& reader, const settings::Loaded& loaded,
                                     const std::vector<journal::DiaryRow>& diary);

}  // namespace neap::client
