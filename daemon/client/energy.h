// Electrical energy of a stretch of journal, reckoned from what each output was and what its device
// takes by its label. An estimate: no meter is read.
#pragma once

#include <cstdint>
#include <vector>

#include "daemon/core/outputs.h"
#include "daemon/journal/reader.h"
#include "daemon/settings/settings.h"

namespace neap::client {

struct EnergyOf {
  Output output = Output::pump;
  double kwh = 0;
};

// Those whose rated power the settings tell, largest first. A device at a part of its level takes
// that part of its power (a dimmed lamp; choice), a fan the cube of it (affinity law of fans:
// power goes by the third power of speed, level taken for speed). A compressor's pauses under its
// own thermostat or hygrostat are not known and count as running.
// `from` and `to` are ticks.
std::vector<EnergyOf> energy_of(journal::Reader& reader, const settings::Loaded& loaded,
                                std::int64_t from, std::int64_t to);

}  // namespace neap::client
