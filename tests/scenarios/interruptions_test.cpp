// Goal: a day of the demo with something going wrong in it ends as a grower would want. Method: the
// real daemon over the simulated tent; what is asserted of water is the tent's own truth.
#include <gtest/gtest.h>

#include <cstdio>
#include <map>

#include "tests/scenarios/grow.h"

namespace neap::scenarios {
namespace {

constexpr Millis kFirstSlot = minutes{45};  // after lights-on, where these grows begin
constexpr Millis kNextSlot = kFirstSlot + minutes{265};

bool any_leak_is_wet(const drivers::Truth& truth) {
  return truth.floats.leak_floor || truth.floats.leak_rack || truth.floats.leak_reservoir;
}

// The tick of the first event of this kind at or after `from`.
template <class Match>
std::optional<std::int64_t> first_event(Grow& grow, std::int64_t from, EventKind kind,
                                        const Match& match) {
  for (const journal::EventRow& row : grow.read()->events({from, {}}, {kind}, 100000))
    if (match(row.event)) return row.at.tick;
  return {};
}

int count_cycles(Grow& grow, FloodOutcome outcome) {
  int count = 0;
  for (const journal::CycleEntry& entry : grow.read()->cycles({}))
    count += entry.row.outcome == outcome ? 1 : 0;
  return count;
}

TEST(Interruptions, ALeakAtNightIsLatchedHeldWhileWetAndResetOnceDry) {
  Grow grow(demo(
      {{kDemoFault, "  faults:\n    - {fault: leak, at: 15 h, lasts: 10 min, severity: 0.5}\n"}}));
  ASSERT_EQ(grow.problem(), "");
  grow.run_to(hours{15});  // 21:00
  ASSERT_FALSE(grow.latched(Latch::leak));
  ASSERT_TRUE(grow.run_until([&] { return any_leak_is_wet(grow.truth()); }, minutes{5}));
  EXPECT_TRUE(grow.run_until([&] { return grow.latched(Latch::leak); }, seconds{1}));
  EXPECT_EQ(grow.level(Output::pump), kStopped);
  EXPECT_TRUE(grow.alarm_stands(Alarm::leak));

  EXPECT_TRUE(grow.ask(request(RequestKind::acknowledge)).accepted);
  const shell::Answer wet = grow.ask(reset_of(Latch::leak));
  EXPECT_FALSE(wet.accepted);
  EXPECT_EQ(wet.because.reason, Reason::cause_persists);
  const shell::Answer flood = grow.ask(request(RequestKind::flood_start));
  EXPECT_FALSE(flood.accepted);
  EXPECT_TRUE(grow.latched(Latch::leak));

  grow.run_to(hours{15} + minutes{11});
  EXPECT_TRUE(grow.latched(Latch::leak)) << "dry again is no reset";
  EXPECT_TRUE(grow.ask(reset_of(Latch::leak)).accepted);
  grow.run_to(hours{24} + kFirstSlot + hours{1});
  EXPECT_EQ(count_cycles(grow, FloodOutcome::complete), 5) << "four floods that day and one since";
}

TEST(Interruptions, ALeakInAFloodStopsThePumpInTheScanThatSeesIt) {
  Grow grow(quiet_demo());
  grow.run_to(kFirstSlot);
  ASSERT_TRUE(grow.run_until([&] { return grow.level(Output::pump) == kRunning; }, seconds{5}));
  grow.run_for(minutes{1});
  ASSERT_TRUE(grow.fault("leak", true, 0.5));
  ASSERT_TRUE(grow.run_until([&] { return any_leak_is_wet(grow.truth()); }, minutes{2}));
  const std::int64_t wet = tick_ms(grow.now());
  grow.run_for(seconds{2});
  const auto stopped = first_event(grow, wet - 1000, EventKind::actuation, [](const Event& e) {
    return e.output == Output::pump && e.level == kStopped;
  });
  const auto latched = first_event(grow, wet - 1000, EventKind::latch_set,
                                   [](const Event& e) { return e.latch == Latch::leak; });
  EXPECT_EQ(stopped, wet);
  ASSERT_TRUE(latched);
  EXPECT_LE(*latched - wet, 300) << "2 of 3 samples within 300 ms";

  grow.run_for(minutes{9});
  ASSERT_TRUE(grow.fault("leak", false));
  grow.run_for(seconds{30});
  EXPECT_TRUE(grow.ask(reset_of(Latch::leak)).accepted);
  grow.run_to(kNextSlot + hours{1});
  EXPECT_EQ(count_cycles(grow, FloodOutcome::tripped), 1);
  EXPECT_EQ(count_cycles(grow, FloodOutcome::complete), 1);
}

struct Cut {
  const char* name;
  Millis after_slot;
  Millis outage;
};

class PowerCut : public testing::TestWithParam<Cut> {};

// The slot is spent: what the roots had is enough until the next one, and a tray that may still be
// half full is no place for more.
TEST_P(PowerCut, ClosesTheFloodAsInterruptedAndFloodsTheSlotNoSecondTime) {
  Grow grow(quiet_demo());
  grow.run_to(kFirstSlot + GetParam().after_slot);
  ASSERT_TRUE(grow.state().kept.flood_was_running);
  const double pumped_s = grow.truth().ledger.pump_s;
  grow.cut_power(GetParam().outage);
  ASSERT_EQ(grow.problem(), "");
  grow.run_for(seconds{30});
  EXPECT_EQ(grow.level(Output::pump), kStopped);
  EXPECT_EQ(grow.truth().ledger.pump_s, pumped_s);
  std::int64_t debited = 0;
  for (const std::int64_t ms : grow.state().kept.budget.hour_ms) debited += ms;
  EXPECT_GE(debited, static_cast<std::int64_t>(pumped_s * 1000)) << "a crash leaves it spent";

  grow.run_to(hours{23});
  std::map<int, int> floods_of_slot;
  for (const journal::CycleEntry& entry : grow.read()->cycles({}))
    ++floods_of_slot[entry.row.slot.number];
  for (const auto& [slot, floods] : floods_of_slot) EXPECT_EQ(floods, 1) << "slot " << slot;
  EXPECT_EQ(floods_of_slot.size(), 4u);
  EXPECT_EQ(count_cycles(grow, FloodOutcome::interrupted), 1);
  EXPECT_EQ(count_cycles(grow, FloodOutcome::complete), 3);
  EXPECT_EQ(grow.truth().floor_l, 0);
}

INSTANTIATE_TEST_SUITE_P(Interruptions, PowerCut,
                         testing::Values(Cut{"InTheFill", minutes{1}, seconds{20}},
                                         Cut{"InTheSoak", minutes{8}, minutes{3}},
                                         Cut{"InTheDrain", minutes{13}, hours{1}}),
                         [](const auto& row) { return std::string(row.param.name); });

TEST(Interruptions, ALatchOutlivesAPowerCut) {
  Grow grow(quiet_demo());
  grow.run_to(minutes{10});
  grow.fault("leak", true, 0.5);
  ASSERT_TRUE(grow.run_until([&] { return grow.latched(Latch::leak); }, minutes{2}));
  grow.fault("leak", false);
  grow.cut_power(minutes{5});
  grow.run_to(kFirstSlot + minutes{5});
  EXPECT_TRUE(grow.latched(Latch::leak));
  EXPECT_EQ(grow.truth().ledger.pump_s, 0);
  EXPECT_TRUE(grow.alarm_stands(Alarm::flood_withheld));
}

TEST(Interruptions, TheDemosSilentCanopyEndsByItself) {
  Grow grow(demo());
  grow.run_to(hours{31} + minutes{5});
  EXPECT_TRUE(grow.alarm_stands(Alarm::canopy_lost));
  EXPECT_EQ(grow.level(Output::exhaust_fan), Permille{400}) << "the fall-back of the settings";
  EXPECT_EQ(grow.level(Output::dehumidifier), kStopped);
  grow.run_to(hours{31} + minutes{16});  // asked every 5 min after ten minutes of silence
  EXPECT_FALSE(grow.alarm_stands(Alarm::canopy_lost));
}

}  // namespace
}  // namespace neap::scenarios
