// Goal: a photoperiod day of the demo, in its leafing stage and after a day to warm up, is what a
// grower would hope for, and the books that neap keeps of it agree with the tent's own. Method: the
// real daemon with the demo's own settings, nothing replaced but the clock.
#include <gtest/gtest.h>

#include <cstdio>
#include <set>

#include "tests/scenarios/grow.h"

namespace neap::scenarios {
namespace {

constexpr Millis kDay = hours{24};

double part(Millis of, Millis whole) {
  return static_cast<double>(of.count()) / static_cast<double>(whole.count());
}

double in_band(const DayTally& tally) {
  return part(tally.day_in_band + tally.night_in_band, tally.day_known + tally.night_known);
}

// The tally of the day that ended last.
DayTally last_day(Grow& grow) {
  const auto days = grow.read()->days({});
  return days.empty() ? DayTally{} : days.back().tally;
}

// A warm-up day and the day itself, up to a minute past the lights-on that closes it.
DayTally second_day(const std::string& text) {
  Grow grow(text);
  EXPECT_EQ(grow.problem(), "");
  grow.run_to(2 * kDay + minutes{1});
  return last_day(grow);
}

// The measured day, run once: what stands in the journal, and the tent's ledger over the same time.
struct MeasuredDay {
  DayTally tally;
  std::vector<CycleRow> cycles;
  std::vector<journal::AlarmSpan> alarms;
  drivers::Truth before, after;
  std::array<PumpRun, kBudgetRuns> runs{};
  std::int32_t runs_before = 0, runs_after = 0;
  bool run_open = true;
  std::uint64_t hash = 0;
};

MeasuredDay measure() {
  MeasuredDay day;
  Grow grow(quiet_demo());
  EXPECT_EQ(grow.problem(), "");
  grow.run_to(kDay);
  const std::int64_t from = tick_ms(grow.now());
  day.before = grow.truth();
  day.runs_before = grow.state().kept.budget.run_count;
  grow.run_to(2 * kDay);
  day.after = grow.truth();
  const PumpBudget& budget = grow.state().kept.budget;
  day.runs = budget.runs;
  day.runs_after = budget.run_count;
  day.run_open = budget.run_open;
  grow.run_for(minutes{1});
  day.hash = grow.daemon().trace_hash();
  day.tally = last_day(grow);
  const auto reader = grow.read();
  for (const journal::CycleEntry& entry : reader->cycles({from, {}}))
    day.cycles.push_back(entry.row);
  day.alarms = reader->alarms({from, {}});
  return day;
}

const MeasuredDay& measured() {
  static const MeasuredDay day = measure();
  return day;
}

TEST(DemoDay, EveryPlannedFloodIsAWholeFlood) {
  const DayTally& tally = measured().tally;
  EXPECT_GE(tally.floods_planned, 4);
  EXPECT_EQ(tally.floods_complete, tally.floods_planned);
  EXPECT_EQ(measured().cycles.size(), static_cast<std::size_t>(tally.floods_planned));
  for (const CycleRow& row : measured().cycles) EXPECT_EQ(row.outcome, FloodOutcome::complete);
}

// What the rows say that the tray kept, against what is gone from the tent's reservoir. One reading
// of the level is good to 0.1 L (level_noise_l), so that four floods are good to about 0.3 L.
TEST(DemoDay, TheLitresOfTheRowsAreThoseThatLeftTheReservoir) {
  const MeasuredDay& day = measured();
  double kept = 0, out = 0;
  for (const CycleRow& row : day.cycles) {
    ASSERT_TRUE(row.litres_known);
    kept += row.litres_out - row.litres_back;
    out += row.litres_out;
  }
  const double refilled = day.after.ledger.refilled_kg - day.before.ledger.refilled_kg;
  const double gone = day.before.reservoir_l - day.after.reservoir_l + refilled;
  std::printf("litres: out %.2f, kept by the rows %.2f, gone from the tent %.2f, refilled %.2f\n",
              out, kept, gone, refilled);
  EXPECT_NEAR(kept, gone, 0.005 * out);
  EXPECT_GT(gone, 4 * 0.005 * out) << "too little is gone for the comparison to mean anything";
}

TEST(DemoDay, TheTentMakesAndLosesNoWater) {
  const MeasuredDay& day = measured();
  const double turned_over = day.after.ledger.transpired_kg - day.before.ledger.transpired_kg;
  EXPECT_GT(turned_over, 1);
  EXPECT_NEAR(day.after.water_balance_kg, day.before.water_balance_kg, 0.005 * turned_over);
}

TEST(DemoDay, ThePumpSecondsOfJournalBudgetAndTentAgreeWithinAScanARun) {
  const MeasuredDay& day = measured();
  const double truth = day.after.ledger.pump_s - day.before.ledger.pump_s;
  const int runs = day.runs_after - day.runs_before;
  ASSERT_GE(runs, 4);
  double budget = 0;
  for (int run = day.runs_before; run < day.runs_after; ++run)
    budget += static_cast<double>(day.runs[static_cast<std::size_t>(run % kBudgetRuns)].ms) / 1000;
  double rows = 0;
  for (const CycleRow& row : day.cycles) rows += static_cast<double>(row.pump_on.count()) / 1000;
  const double tally = static_cast<double>(day.tally.pump_on.count()) / 1000;
  std::printf("pump seconds: tent %.0f, budget %.0f, rows %.0f, day %.0f\n", truth, budget, rows,
              tally);
  EXPECT_FALSE(day.run_open);
  EXPECT_NEAR(budget, truth, runs);
  EXPECT_NEAR(rows, truth, runs);
  EXPECT_NEAR(tally, truth, runs);
  EXPECT_GT(truth, 4 * 60);
}

TEST(DemoDay, NoAlarmAboveAdvisoryIsRaised) {
  for (const journal::AlarmSpan& span : measured().alarms)
    EXPECT_EQ(info(span.alarm).priority, Priority::advisory) << info(span.alarm).name;
}

TEST(DemoDay, TheBandIsHeldAndNoFixedFanComesNear) {
  const double held = in_band(measured().tally);
  std::printf("in band: two_position %.1f %%", 100 * held);
  double best = 0;
  for (const std::string level : {"25 %", "40 %", "60 %", "80 %", "100 %"}) {
    const DayTally tally = second_day(
        quiet_demo({{"law: two_position", "law: fixed_fan\n  fixed_fan_level: " + level}}));
    std::printf(", fan at %s %.1f %%", level.c_str(), 100 * in_band(tally));
    best = std::max(best, in_band(tally));
  }
  std::printf("\n");
  EXPECT_GE(held, 0.85);
  EXPECT_GE(held, best + 0.15);
}

TEST(DemoDay, TheSameSeedIsTheSameDayAndAnotherSeedIsAnother) {
  EXPECT_EQ(measure().hash, measured().hash);
  Grow other(quiet_demo({{"seed: 7", "seed: 8"}}));
  other.run_to(2 * kDay + minutes{1});
  EXPECT_NE(other.daemon().trace_hash(), measured().hash);
}

}  // namespace
}  // namespace neap::scenarios
