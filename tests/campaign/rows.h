// 'Sometimes' counters: the rows of the hazard table (the promise table of README), each with what
// brings it about in a drawn world and what neap must be seen to do. A campaign in which a row was
// not met, or met and never answered, proves nothing about it and fails.
#pragma once

#include <array>
#include <cstdint>
#include <initializer_list>
#include <optional>
#include <span>
#include <string_view>

#include "daemon/core/event.h"
#include "drivers/simulated/faults.h"
#include "tests/campaign/world.h"

namespace neap::campaign {

// Those that no single happening brings about or no single event answers: the life itself says so.
enum class Told : std::uint8_t {
  none,
  killed_while_pumping,
  cut_in_a_flood,
  crash_loop,
  hold_of_the_pump,
  slot_in_service,
  service_begun,
  bus_stuck_on_a_rail,
  compressor_cut,
  reset_of_a_wet_latch,
  clock_back,
  clock_days_ahead,
  short_day,
  flood_withheld,
  state_gone,
  uncovered_in_the_water,
};

struct Row {
  std::string_view id;
  std::string_view hazard;
  std::string_view reaction;
  std::initializer_list<drivers::simulated::TentFault> faults;
  std::initializer_list<Act> acts;
  Told told = Told::none;
  bool (*answers)(const Event&) = nullptr;  // none: the life tells
};

std::span<const Row> rows();
constexpr std::size_t kMostRows = 52;

class Seen {
 public:
  std::array<int, kMostRows> met{}, answered{};
  std::array<int, drivers::simulated::kTentFaultCount> faults{};
  std::array<int, kLatchCount> latches{}, resets{};
  int power_cuts = 0, kills = 0, clock_steps = 0;

  void add(const Seen& other);
};

// Of one life.
class Watcher {
 public:
  explicit Watcher(Seen& seen) : seen_(seen) {}
  void happens(const Happening& h, double at_s);
  void event(const Event& event, double at_s);
  void meets(Told told, double at_s);
  void answers(Told told, double at_s);

 private:
  void meet(std::size_t row, double at_s);
  void answer(std::size_t row, double at_s);

  Seen& seen_;
  std::array<std::optional<double>, kMostRows> since_{};
};

}  // namespace neap::campaign
