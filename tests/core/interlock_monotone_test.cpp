// The whole discrete input space of the kernel: worsening any single input never energises the
// pump, the humidifier or the dehumidifier, never closes the drain valve and never lets go of a
// latch.
#include <gtest/gtest.h>

#include <array>
#include <cstdint>
#include <string>
#include <type_traits>
#include <utility>
#include <vector>

#include "daemon/core/interlock.h"
#include "tests/core/kernel_inputs.h"

namespace neap {
namespace {

// One input as a digit: how many values it has, how value `v` is put in, and which steps from one
// value to another make matters worse.
struct Digit {
  std::string name;
  std::uint32_t values;
  void (*put)(KernelInputs& in, std::uint32_t v);
  std::vector<std::pair<std::uint32_t, std::uint32_t>> worsens;
};

using Steps = std::vector<std::pair<std::uint32_t, std::uint32_t>>;

template <class Enum>
std::pair<std::uint32_t, std::uint32_t> step(Enum from, Enum to) {
  return {static_cast<std::uint32_t>(from), static_cast<std::uint32_t>(to)};
}

// From dry to wet a faulty probe ranks below a wet one: both stop the pump, only wet can latch.
Steps leak_steps() {
  const std::array rank{LeakSeen::dry, LeakSeen::damp, LeakSeen::unknown, LeakSeen::wet};
  Steps steps;
  for (std::size_t i = 0; i < rank.size(); ++i)
    for (std::size_t j = i + 1; j < rank.size(); ++j) steps.push_back(step(rank[i], rank[j]));
  return steps;
}

Steps high_steps() {
  return {step(FloatSeen::clear, FloatSeen::set), step(FloatSeen::clear, FloatSeen::unknown),
          step(FloatSeen::not_fitted, FloatSeen::set),
          step(FloatSeen::not_fitted, FloatSeen::unknown),
          step(FloatSeen::unknown, FloatSeen::set)};
}

// A full tray is where a flood is meant to end: only losing sight of it is worse.
Steps full_steps() {
  return {step(FloatSeen::clear, FloatSeen::unknown), step(FloatSeen::set, FloatSeen::unknown),
          step(FloatSeen::not_fitted, FloatSeen::unknown)};
}

Steps level_steps() {
  return {step(LevelSeen::enough, LevelSeen::low), step(LevelSeen::enough, LevelSeen::unknown),
          step(LevelSeen::not_fitted, LevelSeen::low),
          step(LevelSeen::not_fitted, LevelSeen::unknown)};
}

// Not in the list: from shed to unknown. The kernel has no memory of heat; what it then refuses is
// the restart (an inhibit), because an output that was shed is stopped.
Steps heat_steps() {
  return {step(Heat::normal, Heat::dim), step(Heat::normal, Heat::shed),
          step(Heat::normal, Heat::unknown), step(Heat::dim, Heat::shed),
          step(Heat::dim, Heat::unknown)};
}

const Steps kTrueIsWorse{{0, 1}};
const Steps kFalseIsWorse{{1, 0}};

template <auto Member>
void put(KernelInputs& in, std::uint32_t v) {
  in.*Member = static_cast<std::remove_reference_t<decltype(in.*Member)>>(v);
}

// Each of these is one trip of the pump and nothing else: one of them is as bad as two.
void put_pump_trip(KernelInputs& in, std::uint32_t v) {
  in.budget_cycle_spent = v == 1;
  in.budget_hour_spent = v == 2;
  in.budget_day_spent = v == 3;
  in.unsaved = v == 4;
  in.pump_seen = v == 5 ? PumpSeen::in_hand : v == 6 ? PumpSeen::welded : PumpSeen::obeys;
}

const std::vector<Digit>& digits() {
  static const std::vector<Digit> rows{
      {"leak", 4, put<&KernelInputs::leak>, leak_steps()},
      {"tray_high", 4, put<&KernelInputs::tray_high>, high_steps()},
      {"tray_full", 4, put<&KernelInputs::tray_full>, full_steps()},
      {"reservoir", 4, put<&KernelInputs::reservoir>, level_steps()},
      {"heat", 4, put<&KernelInputs::heat>, heat_steps()},
      {"pump trips", 7, put_pump_trip, {{0, 1}, {0, 2}, {0, 3}, {0, 4}, {0, 5}, {0, 6}, {5, 6}}},
      {"leak_confirmed", 2, put<&KernelInputs::leak_confirmed>, kTrueIsWorse},
      {"fill_expired", 2, put<&KernelInputs::fill_expired>, kTrueIsWorse},
      {"lost_water", 2, put<&KernelInputs::lost_water>, kTrueIsWorse},
      {"drain_expired", 2, put<&KernelInputs::drain_expired>, kTrueIsWorse},
      {"run_expired", 2, put<&KernelInputs::run_expired>, kTrueIsWorse},
      {"service", 2, put<&KernelInputs::service>, kTrueIsWorse},
      {"timed", 2, put<&KernelInputs::timed>, kFalseIsWorse},
      {"bucket_full", 2, put<&KernelInputs::bucket_full>, kTrueIsWorse},
      {"outputs_proven", 2, put<&KernelInputs::outputs_proven>, kFalseIsWorse},
      {"first_inputs_seen", 2, put<&KernelInputs::first_inputs_seen>, kFalseIsWorse},
  };
  return rows;
}

std::uint32_t space() {
  std::uint32_t all = 1;
  for (const Digit& digit : digits()) all *= digit.values;
  return all;
}

KernelInputs inputs_at(std::uint32_t index) {
  KernelInputs in;
  for (const Digit& digit : digits()) {
    digit.put(in, index % digit.values);
    index /= digit.values;
  }
  return in;
}

// Every way in which an output can be away from safe, one bit each: started, kept running; for the
// valve kept closed, closed.
std::uint8_t away_from_safe(const Verdicts& verdicts) {
  std::uint8_t bits = 0;
  int bit = 0;
  const auto note = [&](Output o, Permille wanted, Permille now) {
    const Permille safe = info(o).safe;
    if (permitted(o, wanted, now, verdicts.of[o], safe) != safe)
      bits = static_cast<std::uint8_t>(bits | 1U << bit);
    ++bit;
  };
  for (const Output o : {Output::pump, Output::humidifier, Output::dehumidifier}) {
    note(o, kRunning, kStopped);
    note(o, kRunning, kRunning);
  }
  note(Output::drain_valve, kStopped, kStopped);
  note(Output::drain_valve, kStopped, kRunning);
  return bits;
}

std::uint8_t latch_bits(const KernelState& state) {
  std::uint8_t bits = 0;
  for (std::size_t i = 0; i < kLatchCount; ++i)
    if (state.latched[i]) bits = static_cast<std::uint8_t>(bits | 1U << i);
  return bits;
}

KernelState state_of(std::uint32_t bits) {
  KernelState state;
  for (std::size_t i = 0; i < kLatchCount; ++i) state.latched[i] = (bits >> i & 1U) != 0;
  return state;
}

TEST(InterlockMonotone, NoSingleWorseningOfAnyInputEnergisesAnything) {
  std::vector<std::uint8_t> away(space());
  std::vector<std::uint8_t> latched(space());
  Verdicts verdicts;
  for (std::uint32_t i = 0; i < space(); ++i) {
    KernelState state;
    judge(inputs_at(i), state, verdicts);
    away[i] = away_from_safe(verdicts);
    latched[i] = latch_bits(state);
  }
  std::uint64_t compared = 0;
  std::uint32_t weight = 1;
  for (const Digit& digit : digits()) {
    std::uint64_t energised = 0;
    std::uint64_t let_go = 0;
    for (const auto& [from, to] : digit.worsens) {
      for (std::uint32_t i = 0; i < space(); ++i) {
        if (i / weight % digit.values != from) continue;
        const std::uint32_t worse = i + to * weight - from * weight;
        energised += (away[worse] & ~away[i]) != 0;
        let_go += (latched[i] & ~latched[worse]) != 0;
        ++compared;
      }
    }
    EXPECT_EQ(energised, 0U) << digit.name;
    EXPECT_EQ(let_go, 0U) << digit.name;
    weight *= digit.values;
  }
  EXPECT_EQ(space(), 7 * (1U << 10) << 10);
  EXPECT_GT(compared, 4U * space());
}

TEST(InterlockMonotone, NoLatchEverEnergisesAnythingAndNoJudgementClearsOne) {
  // Every state of the latches against every single thing that can be wrong.
  for (std::uint32_t bits = 0; bits < 1U << kLatchCount; ++bits) {
    for (const Digit& digit : digits()) {
      for (std::uint32_t v = 0; v < digit.values; ++v) {
        KernelInputs in = test::all_well();
        digit.put(in, v);
        KernelState without;
        KernelState with = state_of(bits);
        Verdicts verdicts;
        judge(in, without, verdicts);
        const std::uint8_t before = away_from_safe(verdicts);
        judge(in, with, verdicts);
        ASSERT_EQ(away_from_safe(verdicts) & ~before, 0) << digit.name << ' ' << bits;
        ASSERT_EQ(bits & ~latch_bits(with), 0U) << digit.name << ' ' << bits;
      }
    }
  }
}

TEST(InterlockMonotone, TheSpaceHoldsStatesInWhichEachOutputMayRun) {
  KernelState state;
  Verdicts verdicts;
  judge(test::all_well(), state, verdicts);
  EXPECT_EQ(away_from_safe(verdicts), 0xFF);
}

}  // namespace
}  // namespace neap
