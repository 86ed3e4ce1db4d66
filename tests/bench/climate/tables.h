// What the bench prints.
#pragma once

#include <vector>

#include "tests/bench/climate/bounds.h"
#include "tests/bench/climate/match.h"

namespace neap::arena {

void print_details(const Match& match);  // a line

// Scenarios by rows, then what each controller costs, group by group. The bound stands where it is
// stored for all that was played. Throws std::runtime_error when a stored bound is of another
// plant.
void print_table(const std::vector<Match>& matches, int days, const Bounds& bounds);

}  // namespace neap::arena
