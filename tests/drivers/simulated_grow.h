// A simulated tent under test: virtual time that starts at an ugly number, outputs by name, and a
// calm world (no wandering, no swing) so that closed forms hold.
#pragma once

#include <gtest/gtest.h>

#include <initializer_list>
#include <map>
#include <memory>
#include <optional>
#include <stdexcept>
#include <string>
#include <utility>

#include "drivers/simulated/tent.h"

namespace neap::drivers {

constexpr Instant kGrowStart = instant(Millis{4294967000});
constexpr std::int64_t kGrowMidnight = 1780012800000;  // 2026-05-29T00:00:00Z

using Settings = std::map<std::string, double, std::less<>>;

// A building that stays as it is and a room so open that the tent does not change it.
inline Settings calm(Settings more = {}) {
  Settings all{{"building_swing_c", 0}, {"building_noise_c", 0},    {"building_noise_g_kg", 0},
               {"room_volume_m3", 500}, {"room_air_changes_h", 20}, {"sensor_dropout", 0},
               {"building_w_g_kg", 7.5}};
  for (const auto& [name, value] : more) all[name] = value;
  return all;
}

// No plant, no wet medium, no vapour held in fabric: a box with a fan.
inline Settings bare(Settings more = {}) {
  Settings all = calm({{"leaf_area_index", 0},
                       {"medium_open_dry", 0},
                       {"medium_open_wet", 0},
                       {"reservoir_lid_ml_h", 0},
                       {"sorption_factor", 0},
                       {"circulation_fan_w", 0}});
  for (const auto& [name, value] : more) all[name] = value;
  return all;
}

class Grow {
 public:
  explicit Grow(Settings settings = calm(), std::uint64_t seed = 1) {
    setup.parameters = std::move(settings);
    setup.seed = seed;
    make();
  }
  explicit Grow(SimulationSetup given) : setup(std::move(given)) { make(); }

  void set(Output output, int permille) { tent->write(output, Permille{permille}); }
  void fault(std::string_view name, bool active = true, double severity = 1) {
    const auto answer = tent->inject(name, active, severity);
    ASSERT_TRUE(answer.accepted) << answer.message;
  }
  // Through every edge, to the end of the span.
  void run(Millis span) {
    const Instant target = now + span;
    while (now < target) now = tent->advance_to(target);
  }
  // To the first instant at which `done` holds; the seconds until then, or nothing within `limit`.
  template <class Done>
  std::optional<double> run_until(Millis limit, Done done) {
    const Instant begin = now;
    while (now - begin < limit) {
      run(seconds{1});
      if (done(tent->truth())) return static_cast<double>((now - begin).count()) / 1000;
    }
    return {};
  }
  // Days with 16 h of light from 06:00 and four floods of ten minutes.
  void grow_days(int days) {
    for (int hour = 0; hour < 24 * days; ++hour) {
      const int clock = hour % 24;
      set(Output::light, clock >= 6 && clock < 22 ? 1000 : 0);
      const bool flood = clock == 7 || clock == 11 || clock == 15 || clock == 19;
      if (flood) set(Output::pump, 1000);
      run(minutes{10});
      set(Output::pump, 0);
      run(minutes{50});
    }
  }
  Truth truth() const { return tent->truth(); }

  SimulationSetup setup;
  std::unique_ptr<Tent> tent;
  Instant now = kGrowStart;

 private:
  void make() {
    std::string error;
    tent = make_tent(setup, kGrowMidnight, 0, error);
    if (tent == nullptr) throw std::invalid_argument(error);
    tent->advance_to(kGrowStart);
  }
};

}  // namespace neap::drivers
