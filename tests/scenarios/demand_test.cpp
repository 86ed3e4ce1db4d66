// Goal: floods by demand follow the air of a tent in which plants transpire: a dry day has more of
// them than a damp one, each day keeps its bounds, and what is planned, made and told agrees.
// Method: the whole daemon on the demo's tent in a building of dry and of damp air, its fan at a
// fixed speed, so that the tent's air is what the building's makes it.
#include <gtest/gtest.h>

#include <cstdio>

#include "tests/scenarios/grow.h"

namespace neap::scenarios {
namespace {

constexpr Millis kDay = hours{24};

struct Lived {
  std::vector<CycleRow> cycles;  // of the second and third day
  std::vector<std::string> alarms;
  DayTally tally;  // of the second
};

Lived live(const std::string& building_w_g_kg) {
  const std::string floods = "floods: {spread: 4, first_after: 45 min, last_before: 2 h, soak: 8";
  const std::string by_demand =
      "floods: {by_demand: 3 kPa h, no_sooner: 2 h, no_later: 5 h, first_after: 45 min, "
      "last_before: 2 h, soak: 8";
  Grow grow(quiet_demo(
      {{floods, by_demand},
       {"law: two_position", "law: fixed_fan\n  fixed_fan_level: 60 %"},
       {"  parameters:\n", "  parameters:\n    building_w_g_kg: " + building_w_g_kg + "\n"}}));
  EXPECT_EQ(grow.problem(), "");
  grow.run_to(kDay);
  const std::int64_t from = tick_ms(grow.now());
  grow.run_to(3 * kDay + minutes{1});
  Lived lived;
  const auto reader = grow.read();
  for (const journal::CycleEntry& entry : reader->cycles({from, {}}))
    lived.cycles.push_back(entry.row);
  for (const journal::AlarmSpan& span : reader->alarms({from, {}}))
    lived.alarms.emplace_back(info(span.alarm).name);
  lived.tally = reader->days({}).back().tally;
  return lived;
}

TEST(Demand, ADryDayFloodsMoreOftenThanADampOne) {
  const Lived dry = live("5");
  const Lived damp = live("11");
  std::printf("floods in two days: %zu in dry air, %zu in damp\n", dry.cycles.size(),
              damp.cycles.size());
  EXPECT_GE(dry.cycles.size(), damp.cycles.size() + 2);
  for (const Lived* lived : {&dry, &damp}) {
    EXPECT_EQ(lived->tally.floods_planned, lived->tally.floods_complete);
    for (std::size_t i = 1; i < lived->cycles.size(); ++i) {
      const CycleRow& row = lived->cycles[i];
      EXPECT_EQ(row.origin, FloodOrigin::slot);
      EXPECT_EQ(row.outcome, FloodOutcome::complete);
      const Millis apart{row.started_tick - lived->cycles[i - 1].started_tick};
      EXPECT_GE(apart, hours{2});
      const bool first_of_its_day = row.slot.number == 1;
      EXPECT_LE(apart, first_of_its_day ? hours{15} : hours{5} + minutes{10});
    }
    for (const std::string& name : lived->alarms)
      EXPECT_EQ(name.find("flood"), std::string::npos) << name;
  }
}

}  // namespace
}  // namespace neap::scenarios
