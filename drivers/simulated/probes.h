// What the simulated probes take on, and what they say: mixing, lag, noise, quantisation, faults.
#pragma once

#include <array>
#include <cstddef>
#include <optional>

#include "daemon/core/points.h"
#include "daemon/core/reading.h"
#include "drivers/simulated/parameters.h"
#include "drivers/simulated/state.h"

namespace neap::drivers::simulated {

enum class Place : std::uint8_t { canopy, canopy_b, room, outdoor };

// One channel of one reading: a value, or the fault that took its place.
struct Said {
  std::optional<double> value;
  Fault fault = Fault::none;
};
struct AirSaid {
  Said temperature, humidity;
};
struct SolutionSaid {
  Said temperature, ph, ec;
};

void start_probes(State& s, const Parameters& p);
void step_probes(State& s, const Parameters& p, bool circulation);

AirSaid air_said(const State& s, const Parameters& p, std::uint64_t seed, Place place);
Said leaf_said(const State& s, const Parameters& p, std::uint64_t seed);
SolutionSaid solution_said(const State& s, std::uint64_t seed);
Said level_said(const State& s, const Parameters& p, std::uint64_t seed);
Said light_said(const State& s, std::uint64_t seed);

// The contacts, in the order of kContactNames.
enum class ContactChannel : std::uint8_t {
  tray_full,
  tray_high,
  tray_wet,
  reservoir_low,
  leak_floor,
  leak_rack,
  leak_reservoir,
  pump_running,
  bucket_full,
  air_pump_running,
  board_undervoltage,
  pump_auto,
  button_pressed,
};
constexpr std::size_t kContactCount = 13;
using Contacts = std::array<Contact, kContactCount>;
Contacts contacts_of(const State& s);

}  // namespace neap::drivers::simulated
