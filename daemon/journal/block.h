// The readings of one point within one hour of the tick, packed bit for bit into one blob. Pure:
// knows no file. schema/README.md tells the form.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/journal/pack.h"

namespace neap::journal {

constexpr std::int64_t kHourMs = Millis{hours{1}}.count();
// Hours are numbered by tick; also those before tick 0.
constexpr std::int64_t hour_of(std::int64_t tick) {
  return tick >= 0 ? tick / kHourMs : -((-tick - 1) / kHourMs) - 1;
}
// Of a block: the hour in place of the tick. tick_of_key and point_of_key undo it.
constexpr std::int64_t block_key(std::int64_t hour, std::int64_t point) {
  return hour * kPointsInKey + point;
}

// `readings`: at least one; one point's, of one hour, their keys rising.
std::string pack_block(std::span<const PackedReading> readings);

// The readings of the block `key`, or none and in `problem` why it cannot be believed: a bit is
// wrong, a piece is missing, it is another block's, or a later program packed it. Any bytes at all
// are safe.
std::optional<std::vector<PackedReading>> unpack_block(std::int64_t key, std::string_view packed,
                                                       std::string& problem);

}  // namespace neap::journal
