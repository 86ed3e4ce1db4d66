// A grower's hands for `neap simulate`: a text file of what is typed at the tent and when, one line
// a command.
//
//   # day 1 is the day on which the run begins
//   day 1 18:30  measure change=55 ph=6.1 ec=1.05
//   day 2 08:15  measure ph=5.9 ec=1.1 water=20.5 --note "leaves dry"
//
// A line that begins with # is a remark. Times are local and ascend. Only `measure` is understood;
// `neap` may stand before it.
#pragma once

#include <nlohmann/json.hpp>
#include <string>

#include "daemon/core/instant.h"

namespace neap::client {

// What neapd --hands takes: a list of {at, args}, `at` a local time and `args`
// of verb `measure`. `first_day`: civil date of day 1. A Failure names line, value, rule, remedy.
nlohmann::json parse_hands(const std::string& path, const std::string& text,
                           std::int32_t first_day);

}  // namespace neap::client
