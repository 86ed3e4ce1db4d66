// Goal: a tent is left alone only when its water lasts and nothing stands in the way, and what is
// to be done before is said in litres.
#include "daemon/client/away.h"

#include "tests/client/support.h"

namespace neap::client {
namespace {

using ::testing::HasSubstr;

AwayFacts sound() {
  AwayFacts facts;
  facts.days = 6;
  facts.level_l = 70;
  facts.loss_l_per_day = 3;
  facts.needed_l = 35;
  facts.capacity_l = 80;
  return facts;
}

std::string texts(const AwayVerdict& verdict, Grade grade) {
  std::string all;
  for (const AwayPoint& point : verdict.points)
    if (point.grade == grade) all += point.text + "\n";
  return all;
}

TEST(Away, ATentWithWaterEnoughMayBeLeft) {
  const AwayVerdict verdict = judge_away(sound());
  EXPECT_TRUE(verdict.go);
  EXPECT_THAT(texts(verdict, Grade::good), HasSubstr("water: 70 L for 3.0 L a day, 27 L with"));
}

TEST(Away, SaysToWhatLevelToTopUp) {
  AwayFacts facts = sound();
  facts.level_l = 50;
  const AwayVerdict verdict = judge_away(facts);
  EXPECT_TRUE(verdict.go);
  EXPECT_THAT(texts(verdict, Grade::task), HasSubstr("top up to 62 L"));  // 3 * 6 * 1.5 + 35
  EXPECT_THAT(texts(verdict, Grade::task), HasSubstr("12 L more"));
}

TEST(Away, AReservoirThatIsTooSmallIsANoWithTheDayOfItsTopUp) {
  AwayFacts facts = sound();
  facts.days = 14;
  const AwayVerdict verdict = judge_away(facts);
  EXPECT_FALSE(verdict.go);
  EXPECT_THAT(texts(verdict, Grade::no), HasSubstr("top up after 10 days"));  // (80 - 35) / 4.5
}

TEST(Away, InMidFloodTheLevelIsNotTheReservoirsAndNoTopUpIsReckonedByIt) {
  AwayFacts facts = sound();
  facts.level_l = 50;
  facts.ec = 1.5;
  facts.drips = true;
  EXPECT_THAT(texts(judge_away(facts), Grade::no), HasSubstr("1 h 15 min after it drained"));
  facts.flood = true;
  const AwayVerdict verdict = judge_away(facts);
  EXPECT_FALSE(verdict.go);
  EXPECT_THAT(texts(verdict, Grade::no), HasSubstr("ask again when it has drained"));
  for (const char* reckoned : {"top up", "water:", "EC"})
    EXPECT_EQ((texts(verdict, Grade::task) + texts(verdict, Grade::good)).find(reckoned),
              std::string::npos);
}

TEST(Away, WithoutALossNobodyKnowsWhetherTheWaterLasts) {
  AwayFacts facts = sound();
  facts.loss_l_per_day.reset();
  EXPECT_FALSE(judge_away(facts).go);
}

TEST(Away, LostWaterLeavesItsSalt) {
  AwayFacts facts = sound();
  facts.ec = 1.5;
  facts.ec_most = 1.8;
  // 1.5 * 70 / (70 - 18) = 2.02, by conservation of salt.
  EXPECT_THAT(texts(judge_away(facts), Grade::task), HasSubstr("becomes at most 2.02, over"));
  facts.ec_most = 2.1;
  EXPECT_THAT(texts(judge_away(facts), Grade::good), HasSubstr("becomes at most 2.02"));
}

TEST(Away, WhatFallsDueMeanwhileIsNamedAndWhatComesLaterIsNot) {
  AwayFacts facts = sound();
  facts.stage_days = 4;
  facts.condensed_l_per_day = 1.2;
  facts.due = {{"A", 3}, {"B", 6.5}, {"C", -2}};
  const std::string tasks = texts(judge_away(facts), Grade::task);
  EXPECT_THAT(tasks, HasSubstr("the stage's days are over in 4 days"));
  EXPECT_THAT(tasks, HasSubstr("condenses up to 1.2 L a day"));
  EXPECT_THAT(tasks, HasSubstr("A falls due in 3 days"));
  EXPECT_THAT(tasks, HasSubstr("C is due now"));
  EXPECT_EQ(tasks.find("B falls"), std::string::npos);
}

TEST(Away, AStandingAlarmIsANo) {
  AwayFacts facts = sound();
  facts.stands = {"alarm: a leak probe cannot be read"};
  EXPECT_FALSE(judge_away(facts).go);
}

TEST(Away, WordsThatMakeNoSenseAreRefused) {
  EXPECT_THAT(testing::neap({"away"}).err, HasSubstr("for how long is not said"));
  EXPECT_THAT(testing::neap({"away", "1h"}).err, HasSubstr("outside"));
  EXPECT_EQ(testing::neap({"away", "6d", "--socket", "/nowhere/s"}).code, kExitNoDaemon);
}

}  // namespace
}  // namespace neap::client
