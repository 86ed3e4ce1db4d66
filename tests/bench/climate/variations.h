// How the predictive law bears what is otherwise than it believes, and what its prices buy.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

namespace neap::arena {

// On the ten scenarios. Throws std::runtime_error for a stored bound of another plant.
int print_variations(const std::vector<std::uint64_t>& seeds, int days, const std::string& bounds);

}  // namespace neap::arena
