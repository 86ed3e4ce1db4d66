// Proof that the law interface of core/climate.h carries a look-ahead law: a law for tests that
// enumerates the legal moves of fan and dehumidifier over twelve steps of a minute and
// takes the best, from the view alone. Its model is crude on purpose; what counts is that it finds
// everything it needs: readings, room, beliefs, legal moves with their times, floods and light
// edges to come.
#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

#include "daemon/core/climate.h"
#include "daemon/core/psychrometrics.h"
#include "daemon/core/venting.h"
#include "tests/core/climate_bench.h"
#include "tests/core/plans.h"
#include "tests/core/rig.h"

namespace neap {
namespace {

using climate_bench::air_of;

constexpr int kSteps = 12;
constexpr Millis kStep = minutes{1};

class LookAheadLaw final : public ClimateLaw {
 public:
  std::uint32_t id() const override { return 99; }

  ClimateAsk decide(const ClimateView& view, LawMemory& memory) const override {
    if (view.new_sample) learn(view, memory);
    Move best;
    double least = std::numeric_limits<double>::infinity();
    for (const int fan : {0, 1, 2, 3}) {
      const Permille level{view.fan.floor.value +
                           (view.fan.ceiling.value - view.fan.floor.value) * fan / 3};
      for (const int toggle_at : {0, 1, 2, 4, 8, kSteps}) {  // kSteps: leave it as it is
        const Move move{level, toggle_at};
        if (!legal(view, move)) continue;
        const double cost = roll_out(view, memory, move);
        if (cost < least) {
          least = cost;
          best = move;
        }
      }
    }
    ClimateAsk ask;
    const bool runs = view.dehumidifier.level != kStopped;
    ask.fan = {true, best.fan, because(Reason::law_demand)};
    ask.dehumidifier = {true, (best.toggle_at == 0) != runs ? kRunning : kStopped,
                        because(Reason::law_demand)};
    ask.decide_again = view.now + kStep;
    return ask;
  }

 private:
  struct Move {
    Permille fan;
    int toggle_at = kSteps;
  };

  // Vapour source of the tent, g/h, from the balance at the present fan level.
  static void learn(const ClimateView& view, LawMemory& memory) {
    const double excess = view.canopy.vapour_density->value - view.room.vapour_density->value;
    memory.numbers[0] = std::max(0.0, excess * flow(view, view.fan.level));
  }
  static double flow(const ClimateView& view, Permille level) {
    return view.beliefs.fan_m3_per_h * level.value / 1000;
  }
  static bool legal(const ClimateView& view, const Move& move) {
    if (move.toggle_at == kSteps) return true;
    const LegalMove& dryer = view.dehumidifier;
    const bool runs = dryer.level != kStopped;
    const Instant from = runs ? dryer.may_stop_at : dryer.may_start_at;
    return dryer.fitted && view.now + kStep * move.toggle_at >= from;
  }
  static double source(const ClimateView& view, const LawMemory& memory, Instant t) {
    const KnownFuture& future = view.future;
    double g_per_h = memory.numbers[0];
    if (future.light_edge_coming && t >= future.next_light_edge)
      g_per_h *= future.edge_is_lights_on ? 4 : 0.25;
    if (future.flood_coming && t >= future.next_flood) g_per_h += 150;
    return g_per_h;
  }
  static double roll_out(const ClimateView& view, const LawMemory& memory, const Move& move) {
    const double saturation = vapour_density(*view.canopy.temperature, PercentRh{100})->value;
    const double pressure = saturation_pressure(*view.canopy.temperature)->value;
    double density = view.canopy.vapour_density->value;
    double cost = move.toggle_at == kSteps ? 0 : 0.01;
    for (int step = 0; step < kSteps; ++step) {
      const bool runs = (view.dehumidifier.level != kStopped) != (step >= move.toggle_at);
      const double exchange = flow(view, move.fan) / 60;
      const double dried = runs ? 250.0 / 60 : 0;
      const double added = source(view, memory, view.now + kStep * step) / 60;
      density = (density * view.beliefs.tent_m3 + added - dried +
                 exchange * view.room.vapour_density->value) /
                (view.beliefs.tent_m3 + exchange);
      const double vpd = pressure * (1 - density / saturation);
      const Band& band = view.targets.band;
      cost += std::max({0.0, band.low.value - vpd, vpd - band.high.value});
    }
    return cost + 0.0001 * move.fan.value / 1000;
  }
};

class LookAhead : public testing::Test {
 protected:
  LookAhead() {
    view_ = climate_bench::usual_view();
    view_.beliefs.tent_m3 = 1.9;
    view_.beliefs.fan_m3_per_h = 150;
    view_.canopy = air_of(23, 62, view_.now);  // VPD 1.07 kPa
    view_.room = air_of(22, 58, view_.now);
    view_.fan.floor = view_.fan.level = Permille{200};
    view_.fan.ceiling = kRunning;
    view_.dehumidifier.fitted = false;
    view_.targets.humidity_ceiling = PercentRh{95};
    view_.targets.air_highest = Celsius{30};
  }
  ClimateAsk run() {
    Demands demands;
    return run_climate(plan_, law_, view_, memory_, demands);
  }

  Plan plan_;
  LookAheadLaw law_;
  ClimateView view_;
  LawMemory memory_;
};

TEST_F(LookAhead, LeavesTheFanAloneWhileNothingIsComing) {
  EXPECT_EQ(run().fan.level, Permille{200});
}

TEST_F(LookAhead, VentsAheadOfAFloodItKnowsOf) {
  view_.future.flood_coming = true;
  view_.future.next_flood = view_.now + minutes{2};
  EXPECT_GT(run().fan.level, Permille{200});
}

TEST_F(LookAhead, VentsAheadOfLightsOnItKnowsOf) {
  view_.future.light_edge_coming = view_.future.edge_is_lights_on = true;
  view_.future.next_light_edge = view_.now + minutes{3};
  EXPECT_GT(run().fan.level, Permille{200});
}

TEST_F(LookAhead, DoesNotReckonWithADehumidifierThatMayNotStart) {
  view_.room = air_of(23, 75, view_.now);  // no venting gets into the band
  view_.canopy = air_of(23, 80, view_.now);
  view_.dehumidifier.fitted = true;
  view_.dehumidifier.may_start_at = view_.now + minutes{30};
  EXPECT_EQ(run().dehumidifier.level, kStopped);
  view_.dehumidifier.may_start_at = view_.now;
  EXPECT_EQ(run().dehumidifier.level, kRunning);
}

TEST_F(LookAhead, HasItsOwnRhythmAndMemory) {
  EXPECT_EQ(run().decide_again, view_.now + kStep);
  EXPECT_EQ(memory_.law, 99u);
  EXPECT_GT(memory_.numbers[0], 0);
}

TEST_F(LookAhead, IsOverruledByALimitLikeAnyLaw) {
  view_.canopy = air_of(31, 40, view_.now);
  const ClimateAsk ask = run();
  EXPECT_EQ(ask.fan.level, kRunning);
  EXPECT_EQ(ask.fan.because.reason, Reason::air_too_warm);
}

// What a scan tells a law of the future.
class Witness final : public ClimateLaw {
 public:
  std::uint32_t id() const override { return 98; }
  ClimateAsk decide(const ClimateView& view, LawMemory& /*memory*/) const override {
    future = view.future;
    return {};
  }
  mutable KnownFuture future;
};

struct Foreseen {
  bool coming;
  Millis in;
  Permille then;
};
Foreseen foreseen_at(std::int32_t second_of_day, const QuietHours& quiet) {
  Plan plan = test::strawberry_plan();
  plan.programme.quiet = quiet;
  plan.outputs[Output::exhaust_fan]->quiet_ceiling = Permille{500};
  test::Rig rig{plan, second_of_day, test::Stepping::each_second};
  rig.run(seconds{60});
  const Witness witness;
  scan(rig.plan, witness, rig.state, rig.inputs, rig.now, rig.out);
  return {witness.future.fan_ceiling_coming, witness.future.fan_ceiling_changes - rig.now,
          witness.future.fan_ceiling_then};
}

TEST(KnownFuture, QuietHoursAheadAreTheFansCeilingAhead) {
  constexpr std::int32_t kHour = 3600;
  const QuietHours night{true, 22 * kHour, 6 * kHour};
  const Foreseen evening = foreseen_at(21 * kHour, night);
  EXPECT_TRUE(evening.coming);
  EXPECT_EQ(evening.in, minutes{59});
  EXPECT_EQ(evening.then, Permille{500});
  const Foreseen late = foreseen_at(23 * kHour, night);  // over midnight
  EXPECT_EQ(late.in, hours{7} - minutes{1});
  EXPECT_EQ(late.then, test::strawberry_plan().outputs[Output::exhaust_fan]->ceiling);
  EXPECT_EQ(foreseen_at(5 * kHour, night).in, minutes{59});
  EXPECT_FALSE(foreseen_at(21 * kHour, {}).coming);
}

}  // namespace
}  // namespace neap
