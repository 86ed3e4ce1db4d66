// A life of a board, drawn from its seed: floods, faults of the tent, people, new settings, and
// between two stretches of it a power cut or a kill.
#pragma once

#include <functional>
#include <string>

#include "tests/crash/judge.h"

namespace neap::crash {

inline constexpr int kSegments = 3;

// The demo with a flood every fifty minutes and a level sensor that speaks for the reservoir.
std::string crash_settings();

struct Stretch {
  Millis length = minutes{60};
  std::optional<DiskFault> fault;    // of the disk,
  std::optional<Millis> fault_from;  // from then on; none: before the start
  std::optional<Millis> heals_at;
};

// Lives `stretch` in `folder`, of which the files are `disk`. The journal's events from before are
// read from a copy in `scratch`.
Segment live(std::uint64_t life, int number, const Segment* before, std::size_t cut,
             const Image& disk, bool powered, Millis outage, const Stretch& stretch,
             const std::string& folder, const std::string& scratch);

}  // namespace neap::crash
