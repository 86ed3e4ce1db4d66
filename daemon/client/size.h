// `neap size`: which dehumidifier, humidifier and exhaust fan a tent needs, found by trying sizes
// on the simulated tent of the settings, one kind of device after the other.
#pragma once

#include <cstddef>
#include <cstdint>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/client/look.h"
#include "daemon/journal/reader.h"
#include "daemon/settings/equipment.h"

namespace neap::client {

using settings::Equipment;

enum class SizeOf : std::uint8_t { dehumidifier, humidifier, fan };
std::string_view name(SizeOf what);

struct SizeFigures {
  double in_band = 0, day = 0, night = 0;  // percent of the time with a known VPD
  double starts_a_day = 0;                 // of the dehumidifier
  double warm_h_a_day = 0;                 // over the stage's upper limit of air temperature
  double kwh_a_day = 0;                    // fan, dehumidifier, humidifier
};

struct SizeTrial {
  Equipment equipment;
  SizeFigures figures;
};

// What one kind of device may be with the others as they are: from none and small to large, a
// dehumidifier in the tent before one in the room; what is fitted now is among them.
std::vector<Equipment> sizes_of(SizeOf what, const Equipment& now);
bool fits(SizeOf what, const Equipment& equipment);  // it is not the `none` of its kind

// Of the stretch [from, to], in ticks, of a run with this equipment. The energy is reckoned from
// running times: fan 2 W and 28 W at full level for 150 m3/h by the cube law (fan affinity laws),
// dehumidifier 1.15 L/kWh in the tent and 1.4 in the room, humidifier 25 W (assumptions).
SizeFigures figures_of(journal::Reader& reader, const Plan& plan, const StagePlan& stage,
                       const Equipment& equipment, std::int64_t from, std::int64_t to);

// The first trial that holds the band within a point of the best and is not half an hour a day
// longer too warm than the coolest. `trials` in the order of sizes_of(), not empty.
std::size_t smallest_good(const std::vector<SizeTrial>& trials);

// The largest dehumidifier in the tent and the best there, when the largest holds the band at least
// two points worse.
struct Oversized {
  std::size_t largest = 0, best = 0;
};
std::optional<Oversized> oversized(const std::vector<SizeTrial>& trials);

struct SizeAnswer {
  SizeOf what = SizeOf::dehumidifier;
  std::vector<SizeTrial> trials;
  std::size_t chosen = 0;
};

struct SizeReport {
  std::string name, stage, law;
  std::string from;  // local time
  int days = 0;      // scored
  std::vector<SizeAnswer> answers;
};

nlohmann::json size_json(const SizeReport& report);
std::string render_size(const SizeReport& report, const Look& look);

}  // namespace neap::client
