// A scenario's last day under one controller as a picture, drawn as `neap simulate --svg` draws
// one: for controllers that no settings can choose.
#pragma once

#include <string>

#include "tests/bench/climate/match.h"

namespace neap::arena {

// An SVG document; `match` is played for it and scored.
std::string portrait(Match& match, int days);

}  // namespace neap::arena
