// The simulated tent: the world behind the simulated drivers, and nothing of neap.
//
// It steps on a grid of 1 s that begins at the first instant it is told of, however advance_to() is
// cut up. An output written at time t acts from the grid step that has not been taken at t. Same
// settings, seed and writes: the same state to the bit.
//
// The tent must outlive the sensors and outputs that were made with it. Its functions may be called
// from several threads; edge listeners run on the thread that advances, just before advance_to()
// returns, and must only take note.
#pragma once

#include <array>
#include <cstdint>
#include <functional>
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "daemon/core/outputs.h"
#include "drivers/driver.h"
#include "drivers/hardware.h"
#include "drivers/simulated/parameters.h"
#include "drivers/simulated/plant.h"
#include "drivers/simulated/probes.h"
#include "drivers/simulated/state.h"
#include "drivers/simulated/weather.h"

namespace neap::drivers {

using Truth = simulated::Truth;

class Tent : public World {
 public:
  Tent(const SimulationSetup& setup, const simulated::Parameters& parameters,
       simulated::Weather weather, std::int64_t local_start_s);

  Instant advance_to(Instant target) override;
  FaultAnswer inject(std::string_view fault, bool active, double severity) override;
  std::span<const FaultName> fault_names() const override;

  // Outputs that nobody drives rest in their declared safe state. The pump has one contact until a
  // second one is fitted.
  void fit_second_contact();
  // Heater and chiller in the water go by thermostats of their own until one is commanded.
  void command_water(Output output);
  void write(Output output, Permille level);
  Permille written(Output output) const;

  simulated::AirSaid air(simulated::Place place) const;
  simulated::Said leaf() const;
  simulated::SolutionSaid solution() const;
  simulated::Said level() const;
  simulated::Said light() const;
  simulated::Contacts contacts() const;

  // Calls `on_edge` whenever a contact changed, until `forget` with the number returned.
  int listen(std::function<void()> on_edge);
  void forget(int listener);

  // For thousands of simulated weeks: while the water is still, up to `seconds` are one step
  // (Plant::coast), and the noise of the readings is as for single ones. 1, as at the start: never.
  void coast_by(int seconds);

  // For tests: read from the thread that advances.
  Truth truth() const { return plant_.truth(state_); }
  const simulated::State& state() const { return state_; }
  const simulated::Plant& plant() const { return plant_; }

 private:
  struct Scripted {
    std::int64_t at_step;
    std::size_t fault;
    bool active;
    double severity;
  };
  void script(const SimulationSetup& setup);
  void set_fault(std::size_t fault, bool active, double severity);
  void act();
  bool step(std::int64_t most);
  Instant advance_locked(Instant target, bool& edge);

  const simulated::Plant plant_;
  const std::uint64_t seed_;

  mutable std::mutex mutex_;
  std::optional<Instant> origin_;
  std::optional<Instant> now_;
  simulated::State state_;
  simulated::Acting acting_;
  simulated::Contacts contacts_{};
  std::optional<simulated::AirSaid> frozen_;
  PerOutput<Permille> outputs_;
  std::vector<Scripted> script_;
  std::size_t script_next_ = 0;
  int coast_s_ = 1;
  std::vector<std::pair<int, std::function<void()>>> listeners_;
  int next_listener_ = 1;
};

// The tent that settings describe. Null and a message (place, value, rule, remedy) in `error` when
// a parameter, a fault's name or the weather file is wrong. The wall time of the start serves the
// weather and the grower's round alone.
std::unique_ptr<Tent> make_tent(const SimulationSetup& setup, std::int64_t start_unix_ms,
                                int utc_offset_s, std::string& error);

}  // namespace neap::drivers
