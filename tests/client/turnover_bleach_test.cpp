// Goal: the bleach of a turnover is dosed for the water that is there, works for its time and
// is never left in the reservoir.
#include "daemon/client/turnover.h"
#include "tests/client/turnover_bench.h"

namespace neap::client {
namespace {

using ::testing::HasSubstr;
using testing::kFlood;
using testing::kMinuteMs;
using testing::kUntilBleach;
using ::testing::Not;
using testing::times_of;
using Bench = testing::TurnoverBench;

TEST(Turnover, BleachIsFreeChlorineOverTheBottles) {
  // 200 mg/L in 50 L are 10 g; a bottle of 5 g in 100 mL has them in 200 mL (mass balance).
  EXPECT_DOUBLE_EQ(bleach_ml(200, 5, 50), 200);
  EXPECT_DOUBLE_EQ(bleach_ml(150, 2.5, 40), 240);
  Bench bench;
  // As typed from the label and the reservoir: 200 * 30 / (10 * 2.5).
  const std::string said = bench.run("yes\n\nyes\n20\n2.5\n30\n" + times_of(kFlood, 5));
  EXPECT_THAT(said, HasSubstr("240 mL of 2.5 % bleach in 30.0 L"));
  EXPECT_THAT(turnover_of(bench.diary).told("disinfect")->says,
              HasSubstr("240 mL of 2.5 % bleach in 30.0 L"));
}

TEST(Turnover, ATrayThatDriedBetweenTwoFloodsCountsAnew) {
  Bench bench;
  bench.pause_min = 45;
  const std::string said = bench.run(kUntilBleach + times_of(kFlood, 8));
  EXPECT_THAT(bench.told, Not(::testing::Contains("disinfect done"))) << said;
  EXPECT_THAT(said, HasSubstr("Wet for 10 min of 1 h; flood again within 30 min"));
}

TEST(Turnover, TheContactIsReachedOverTheRealMinGap) {
  Bench bench;
  bench.tent.min_gap = minutes{40};
  bench.pause_min = 42;
  // 10 + 42 + 10 = 62 min.
  const std::string said = bench.run(kUntilBleach + times_of(kFlood, 2) + times_of(kFlood, 2));
  EXPECT_EQ(bench.told.back(), "end done") << said;
  EXPECT_EQ(turnover_of(bench.diary).told("disinfect")->figure, 62);
}

TEST(Turnover, WithoutTheEmptyingThereIsNoBleach) {
  Bench bench;
  bench.run("yes\n\nno\nskip\nlazy\nno\nskip\nnothing to rinse\n");
  EXPECT_EQ(bench.count("flood", "start"), 0);
  EXPECT_EQ(bench.told.back(), "end done");
  EXPECT_EQ(turnover_of(bench.diary).told("disinfect")->mark, "skipped");
}

TEST(Turnover, OnceBleachWasFloodedTheRinseCannotBeLeftOut) {
  Bench bench;
  const std::string said = bench.run(kUntilBleach + kFlood + "no\nskip\nno time\nno\nskip\nx\n");
  EXPECT_THAT(said, HasSubstr("it cannot be left out"));
  EXPECT_THAT(said, Not(HasSubstr("grow start")));
  EXPECT_EQ(bench.told.back(), "disinfect skipped");
  EXPECT_TRUE(turnover_of(bench.diary).wants_rinse());
  bench.now += 400 * 24 * 60 * kMinuteMs;
  EXPECT_THAT(bench.run("yes\n" + times_of(kFlood, 2)), HasSubstr("Left out: disinfect"));
  EXPECT_EQ(bench.told.back(), "end done");
}

TEST(Turnover, BleachThatWasPouredInButNotFloodedIsRinsedOutToo) {
  Bench bench;
  const std::string said =
      bench.run(kUntilBleach + "no\nyes\nskip\nno time\n" + "no\nskip\nx\nno\nskip\nx\n");
  EXPECT_THAT(said, HasSubstr("it cannot be left out"));
  EXPECT_EQ(bench.told.back(), "disinfect skipped");
  EXPECT_TRUE(turnover_of(bench.diary).wants_rinse());
}

TEST(Turnover, ADoseThatWasPouredInNowhereIsToldAndNothingIsToBeRinsed) {
  Bench bench;
  const std::string said =
      bench.run(kUntilBleach + "no\nno\nskip\nno bottle\n" + "no\nskip\nno bleach\n");
  EXPECT_EQ(bench.told.back(), "end done") << said;
  EXPECT_EQ(turnover_of(bench.diary).told("dose")->mark, "skipped");
}

TEST(Turnover, ADoseIsNotForgottenWithAnOldTurnover) {
  Bench bench;
  bench.run(kUntilBleach);  // the answers end before its first flood
  bench.now += 60 * 24 * 60 * kMinuteMs;
  EXPECT_THAT(bench.run("\nyes\n"), HasSubstr("goes on where it was left"));
  EXPECT_TRUE(turnover_of(bench.diary).wants_rinse());
}

TEST(Turnover, NoMoreLitresAreDosedThanTheReservoirHolds) {
  Bench bench;
  const std::string said = bench.run("yes\n\nyes\n\n600\n");
  EXPECT_THAT(said, HasSubstr("the reservoir holds 50.0 L"));
  EXPECT_THAT(said, HasSubstr("outside 1 to 50"));
  EXPECT_EQ(turnover_of(bench.diary).told("dose"), nullptr);
  bench.tent.reservoir_l = 50.16;  // offered with one decimal, and never more than it holds
  EXPECT_THAT(bench.run("yes\n\n\n"), HasSubstr("in 50.1 L"));
}

TEST(Turnover, TakenUpAgainTheDoseIsAskedForAndStays) {
  Bench bench;
  bench.run(kUntilBleach);
  const std::string said = bench.run("yes\nyes\n" + times_of(kFlood, 7));
  EXPECT_EQ(bench.told.back(), "end done") << said;
  EXPECT_THAT(said, HasSubstr("200 mL of 5.0 % bleach in 50.0 L"));
  EXPECT_THAT(said, Not(HasSubstr("household bleach"))) << "nothing is measured out twice";
}

TEST(Turnover, AWrongDoseIsEmptiedOutAndItsFloodsCountNoMore) {
  Bench bench;
  bench.run(kUntilBleach + times_of(kFlood, 3));
  EXPECT_THAT(bench.run("yes\nno\nno\n"), HasSubstr("the old mix is in the reservoir"));
  // plants out; not what is in there; emptied; strength, litres. 10 + 15 min of the new mix.
  std::string said = bench.run("yes\nno\nyes\n\n20\n" + times_of(kFlood, 2));
  EXPECT_EQ(bench.told.back(), "empty done") << said;
  EXPECT_THAT(said, HasSubstr("Wet for 25 min 01 s of 1 h"));
  said = bench.run("yes\nyes\n" + times_of(kFlood, 5));
  EXPECT_EQ(bench.told.back(), "end done") << said;
  EXPECT_THAT(turnover_of(bench.diary).told("disinfect")->says, HasSubstr("in 20.0 L"));
}

TEST(Turnover, ADoseOlderThanADayIsMixedAnew) {
  Bench bench;
  bench.run(kUntilBleach + kFlood);
  bench.now += 3 * 24 * 60 * kMinuteMs;
  const std::string said = bench.run("yes\nyes\n\n20\n" + times_of(kFlood, 7));
  EXPECT_THAT(said, HasSubstr("measured out 3 d"));
  EXPECT_EQ(bench.told.back(), "end done") << said;
  EXPECT_THAT(turnover_of(bench.diary).told("disinfect")->says,
              HasSubstr("in 20.0 L: 200 mg/L, 5 floods"));
}

}  // namespace
}  // namespace neap::client
