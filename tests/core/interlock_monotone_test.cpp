// Worsening any single input never takes an output away from a safe state that is fixed (the pump,
// the humidifier, the dehumidifier and what tempers the water stopped, the drain valve open) and
// never lets go of a latch.
//
// The kernel's inputs and latches make 825 billion states. They are gone through whole in four
// spaces, each with every input that rules its outputs, and beside them every state in which at
// most three things are spoilt, of whatever kind. A rule looks at two inputs at most, and an output
// is tripped when any rule or latch holds: a step that lets go of a rule shows where nothing else
// holds, which is in all of these.
#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <cstdint>
#include <functional>
#include <random>
#include <string>
#include <type_traits>
#include <utility>
#include <vector>

#include "daemon/core/interlock.h"
#include "tests/core/kernel_inputs.h"

namespace neap {
namespace {

// One input or latch as a digit: its values, how one is put in, and the steps that make matters
// worse.
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

// A state of the kernel before it judges.
struct Moment {
  KernelInputs in = test::all_well();
  KernelState state;
};

struct Digit {
  std::string name;
  std::uint32_t values;
  std::function<void(Moment&, std::uint32_t)> put;
  Steps worsens;
  std::uint32_t well;  // the value in all_well(): no spoilt state
};

template <auto Member>
Digit of_input(std::string name, std::uint32_t values, Steps worsens) {
  using Field = std::remove_reference_t<decltype(std::declval<KernelInputs&>().*Member)>;
  const auto put = [](Moment& m, std::uint32_t v) { m.in.*Member = static_cast<Field>(v); };
  return {std::move(name), values, put, std::move(worsens),
          static_cast<std::uint32_t>(test::all_well().*Member)};
}

Digit latch_digit(Latch latch) {
  const auto put = [latch](Moment& m, std::uint32_t v) {
    m.state.latched[static_cast<std::size_t>(latch)] = v != 0;
  };
  return {std::string(info(latch).name), 2, put, kTrueIsWorse, 0};
}

using In = KernelInputs;
const Digit kLeak = of_input<&In::leak>("leak", 4, leak_steps());
const Digit kHigh = of_input<&In::tray_high>("tray_high", 4, high_steps());
const Digit kFull = of_input<&In::tray_full>("tray_full", 4, full_steps());
const Digit kReservoir = of_input<&In::reservoir>("reservoir", 4, level_steps());
const Digit kPumpSeen =
    of_input<&In::pump_seen>("pump_seen", 4, {{0, 1}, {0, 2}, {1, 2}, {0, 3}, {3, 2}});
const Digit kHeat = of_input<&In::heat>("heat", 4, heat_steps());
const Digit kDeaf = of_input<&In::deaf>("deaf", 2, kTrueIsWorse);
const Digit kUnsaved = of_input<&In::unsaved>("unsaved", 2, kTrueIsWorse);
const Digit kService = of_input<&In::service>("service", 2, kTrueIsWorse);
const Digit kRail = of_input<&In::rail_off>("rail_off", 2, kTrueIsWorse);
const Digit kSupply = of_input<&In::supply_low>("supply_low", 2, kTrueIsWorse);
const Digit kRun = of_input<&In::run_expired>("run_expired", 2, kTrueIsWorse);
const Digit kCycle = of_input<&In::budget_cycle_spent>("budget_cycle_spent", 2, kTrueIsWorse);
const Digit kHour = of_input<&In::budget_hour_spent>("budget_hour_spent", 2, kTrueIsWorse);
const Digit kDay = of_input<&In::budget_day_spent>("budget_day_spent", 2, kTrueIsWorse);
const Digit kTimed = of_input<&In::timed>("timed", 2, kFalseIsWorse);
const Digit kProven = of_input<&In::outputs_proven>("outputs_proven", 2, kFalseIsWorse);
const Digit kFirst = of_input<&In::first_inputs_seen>("first_inputs_seen", 2, kFalseIsWorse);
const Digit kBucket = of_input<&In::bucket_full>("bucket_full", 2, kTrueIsWorse);
const Digit kCovered = of_input<&In::covered>("covered", 4, level_steps());
// Not in the list: from unknown to hot. Hot water is what a chiller is there for.
const Digit kWater = of_input<&In::water>(
    "water", 3,
    {step(WaterSeen::normal, WaterSeen::hot), step(WaterSeen::normal, WaterSeen::unknown),
     step(WaterSeen::hot, WaterSeen::unknown)});
const Digit kConfirmed = of_input<&In::leak_confirmed>("leak_confirmed", 2, kTrueIsWorse);
const Digit kFill = of_input<&In::fill_expired>("fill_expired", 2, kTrueIsWorse);
const Digit kLost = of_input<&In::lost_water>("lost_water", 2, kTrueIsWorse);
const Digit kDrain = of_input<&In::drain_expired>("drain_expired", 2, kTrueIsWorse);

std::vector<Digit> and_latches(std::vector<Digit> digits) {
  for (const LatchInfo& row : kLatches) digits.push_back(latch_digit(row.latch));
  return digits;
}

// Every way in which an output with a fixed safe state can be away from it, one bit each: taken
// there from its safe state, and left there.
std::uint32_t away_from_safe(const Verdicts& verdicts) {
  std::uint32_t bits = 0;
  for (const OutputInfo& o : kOutputs) {
    if (!o.safe_is_fixed) continue;
    const Permille away = o.safe == kStopped ? kRunning : kStopped;
    for (const Permille now : {o.safe, away})
      bits = bits << 1U |
             (permitted(o.output, away, now, verdicts.of[o.output], o.safe) != o.safe ? 1U : 0U);
  }
  return bits;
}
constexpr std::uint32_t kLatchShift = 24;
constexpr auto kFixed = std::count_if(kOutputs.begin(), kOutputs.end(),
                                      [](const OutputInfo& o) { return o.safe_is_fixed; });
static_assert(2 * kFixed <= kLatchShift && kLatchShift + kLatchCount <= 32);
constexpr std::uint32_t kAway = (1U << kLatchShift) - 1;

// What a judgement leaves: low bits what is away from safe, high bits what is latched.
std::uint32_t judged(Moment moment) {
  Verdicts verdicts;
  judge(moment.in, moment.state, verdicts);
  std::uint32_t bits = away_from_safe(verdicts);
  for (std::size_t i = 0; i < kLatchCount; ++i)
    if (moment.state.latched[i]) bits |= 1U << (kLatchShift + i);
  return bits;
}

// From `better` to `worse` nothing was energised and no latch let go.
bool is_no_better(std::uint32_t better, std::uint32_t worse) {
  const std::uint32_t energised = worse & ~better & kAway;
  const std::uint32_t let_go = (better & ~worse) >> kLatchShift;
  return energised == 0 && let_go == 0;
}

std::uint32_t size_of(const std::vector<Digit>& digits) {
  std::uint32_t all = 1;
  for (const Digit& digit : digits) all *= digit.values;
  return all;
}

// Every state of the space judged once, then every step from each; tells how many it compared.
std::uint64_t expect_monotone(const std::vector<Digit>& digits) {
  std::vector<std::uint32_t> seen(size_of(digits));
  for (std::uint32_t i = 0; i < seen.size(); ++i) {
    Moment moment;
    std::uint32_t rest = i;
    for (const Digit& digit : digits) {
      digit.put(moment, rest % digit.values);
      rest /= digit.values;
    }
    seen[i] = judged(moment);
  }
  std::uint64_t compared = 0;
  std::uint32_t weight = 1;
  for (const Digit& digit : digits) {
    std::uint64_t broken = 0;
    for (const auto& [from, to] : digit.worsens) {
      for (std::uint32_t i = 0; i < seen.size(); ++i) {
        if (i / weight % digit.values != from) continue;
        broken += is_no_better(seen[i], seen[i + to * weight - from * weight]) ? 0U : 1U;
        ++compared;
      }
    }
    EXPECT_EQ(broken, 0U) << digit.name;
    weight *= digit.values;
  }
  return compared;
}

TEST(InterlockMonotone, EveryStateOfWhatRulesThePumpWithoutALatch) {
  const std::vector<Digit> digits{kLeak,  kHigh, kFull, kReservoir, kPumpSeen, kTimed, kDeaf,  kRun,
                                  kCycle, kHour, kDay,  kUnsaved,   kService,  kRail,  kSupply};
  EXPECT_EQ(size_of(digits), 1U << 20U);
  EXPECT_GT(expect_monotone(digits), size_of(digits));
}

TEST(InterlockMonotone, EveryStateOfTheLatchesAndTheirCauses) {
  const auto digits = and_latches({kLeak, kHigh, kPumpSeen, kConfirmed, kFill, kLost, kDrain});
  EXPECT_EQ(size_of(digits), 1U << 17U);
  EXPECT_GT(expect_monotone(digits), size_of(digits));
}

TEST(InterlockMonotone, EveryStateOfTheAirsOutputsAndOfTheStart) {
  const auto digits = and_latches({kHeat, kBucket, kLeak, kProven, kFirst, kService});
  EXPECT_EQ(size_of(digits), 1U << 15U);
  EXPECT_GT(expect_monotone(digits), size_of(digits));
}

TEST(InterlockMonotone, EveryStateOfWhatRulesHeaterAndChillerInTheWater) {
  const auto digits = and_latches({kCovered, kWater, kLeak, kService, kRail, kProven, kFirst});
  EXPECT_EQ(size_of(digits), 3U << 15U);
  EXPECT_GT(expect_monotone(digits), size_of(digits));
}

std::vector<Digit> all_digits() {
  return and_latches({kLeak,    kHigh,    kFull,    kReservoir, kPumpSeen, kHeat,      kDeaf,
                      kUnsaved, kService, kRun,     kCycle,     kHour,     kDay,       kTimed,
                      kRail,    kSupply,  kProven,  kFirst,     kBucket,   kConfirmed, kFill,
                      kLost,    kDrain,   kCovered, kWater});
}

// All steps from this moment, in which the digits have these values.
void expect_steps(const std::vector<Digit>& digits, const Moment& moment,
                  const std::vector<std::uint32_t>& values) {
  const std::uint32_t before = judged(moment);
  for (std::size_t d = 0; d < digits.size(); ++d) {
    for (const auto& [from, to] : digits[d].worsens) {
      if (values[d] != from) continue;
      Moment worse = moment;
      digits[d].put(worse, to);
      ASSERT_TRUE(is_no_better(before, judged(worse)))
          << digits[d].name << " from " << from << " to " << to;
    }
  }
}

void spoil(const std::vector<Digit>& digits, std::size_t first, int most, Moment& moment,
           std::vector<std::uint32_t>& values, std::uint64_t& states) {
  expect_steps(digits, moment, values);
  ++states;
  if (most == 0 || testing::Test::HasFatalFailure()) return;
  for (std::size_t d = first; d < digits.size(); ++d) {
    for (std::uint32_t v = 0; v < digits[d].values; ++v) {
      if (v == digits[d].well) continue;
      values[d] = v;
      digits[d].put(moment, v);
      spoil(digits, d + 1, most - 1, moment, values, states);
    }
    values[d] = digits[d].well;
    digits[d].put(moment, digits[d].well);
  }
}

TEST(InterlockMonotone, EveryStateInWhichAtMostThreeThingsAreSpoilt) {
  const auto digits = all_digits();
  std::vector<std::uint32_t> values;
  for (const Digit& digit : digits) values.push_back(digit.well);
  Moment moment;
  std::uint64_t states = 0;
  spoil(digits, 0, 3, moment, values, states);
  EXPECT_GT(states, 9000U);
}

TEST(InterlockMonotone, StatesDrawnFromAllOfThem) {
  const auto digits = all_digits();
  std::mt19937 draw(4294967000U);
  for (int i = 0; i < 3000; ++i) {
    Moment moment;
    std::vector<std::uint32_t> values;
    for (const Digit& digit : digits) {
      const bool spoilt = draw() % 4 == 0;  // mostly well, or nothing would be left to energise
      values.push_back(spoilt ? static_cast<std::uint32_t>(draw() % digit.values) : digit.well);
      digit.put(moment, values.back());
    }
    expect_steps(digits, moment, values);
    if (HasFatalFailure()) return;
  }
}

TEST(InterlockMonotone, TheSpaceHoldsEveryInputAndStatesInWhichEachOutputMayRun) {
  // A new input does not compile here, and must become a digit; two inputs only name something.
  [[maybe_unused]] const auto& [leak, leak_at, confirmed, high, full, reservoir, fill, lost, drain,
                                run, cycle, hour, day, unsaved, pump_seen, deaf, deaf_at, service,
                                rail, supply, timed, heat, bucket, covered, water, proven, first] =
      KernelInputs{};
  EXPECT_EQ(all_digits().size(), 27 - 2 + kLatchCount);
  std::uint64_t all = 1;
  for (const Digit& digit : all_digits()) all *= digit.values;
  EXPECT_EQ(all, 824'633'720'832U);
  EXPECT_EQ(judged({}) & kAway, (1U << (2 * kFixed)) - 1);
}

}  // namespace
}  // namespace neap
