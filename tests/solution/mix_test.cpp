#include "daemon/solution/mix.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <random>
#include <set>
#include <vector>

namespace neap::solution {
namespace {

Feed feed() { return {{{"part_a", 2.0}, {"part_b", 2.0}}, 1.6, 0.3}; }

const Mix& sound(const std::variant<Mix, MixRefusal>& result) {
  EXPECT_TRUE(std::holds_alternative<Mix>(result));
  return std::get<Mix>(result);
}
MixRefusal refusal(const std::variant<Mix, MixRefusal>& result) {
  EXPECT_TRUE(std::holds_alternative<MixRefusal>(result));
  return std::get<MixRefusal>(result);
}

// By hand: 50 L of 1.3 from water of 0.3 and a label of 2 + 2 mL/L for 1.6. s (1.6 - 0.3 * 0.004)
// = 1.0 -> s = 0.62547; A = B = 62.55 mL; water 49.875 L.
TEST(Mix, AFreshReservoirAsWorkedOutByHand) {
  const auto result = fresh(feed(), 50, 1.3, 60);
  const Mix& mix = sound(result);
  ASSERT_EQ(mix.stocks.size(), 2u);
  EXPECT_EQ(mix.stocks[0].stock, "part_a");
  EXPECT_NEAR(mix.stocks[0].millilitres, 62.547, 0.001);
  EXPECT_NEAR(mix.stocks[1].millilitres, 62.547, 0.001);
  EXPECT_NEAR(mix.water_l, 49.8749, 0.0001);
  EXPECT_NEAR(mix.doses, 0.62547, 0.00001);
}

// Water and salt that go in are the water and salt that are there.
TEST(Mix, ConservesWaterAndSaltWhateverIsAsked) {
  std::mt19937_64 random(20261126);
  const auto draw = [&](double low, double high) {
    return std::uniform_real_distribution<double>(low, high)(random);
  };
  int mixes = 0, refusals = 0;
  for (int i = 0; i < 20'000; ++i) {
    Feed f{{{"a", draw(0.2, 6)}, {"b", draw(0.2, 6)}}, draw(0.5, 2.5), draw(0, 0.9)};
    if (i % 5 == 0) f.stocks.pop_back();
    const Solution now{draw(0, 60), draw(0.2, 3)};
    const double litres = draw(1, 70), ec = draw(0.2, 3);
    const auto result = top_up(f, now, litres, ec, 65);
    const auto* mix = std::get_if<Mix>(&result);
    if (mix == nullptr) {
      ++refusals;
      continue;
    }
    ++mixes;
    double stock_l = 0, dosed_l = 0;
    for (std::size_t s = 0; s < mix->stocks.size(); ++s) {
      EXPECT_GE(mix->stocks[s].millilitres, 0);
      stock_l += mix->stocks[s].millilitres / 1000;
      dosed_l = mix->stocks[s].millilitres / f.stocks[s].ml_per_l;
    }
    EXPECT_GE(mix->water_l, 0);
    EXPECT_NEAR(mix->result.litres, now.litres + mix->water_l + stock_l, 1e-9);
    EXPECT_NEAR(mix->result.salt(), now.salt() + mix->water_l * f.water_ec + dosed_l * f.dose_ec,
                1e-7);
    EXPECT_NEAR(mix->result.ec, ec, 1e-7);
    EXPECT_GE(mix->result.litres, litres - 1e-7);
    EXPECT_LE(mix->result.litres, 65 + 1e-7);
    const auto back = evaporated(mixed(mix->result, {3, 0}), 3);
    EXPECT_NEAR(back->ec, mix->result.ec, 1e-9);
    EXPECT_NEAR(back->salt(), mix->result.salt(), 1e-9);
  }
  EXPECT_GT(mixes, 3000);
  EXPECT_GT(refusals, 3000);
}

TEST(Mix, PlainWaterIsEnoughWhereTheEcRose) {
  // 30 L of 2.0 diluted with 20 L of 0.3: (60 + 6) / 50 = 1.32.
  const auto result = top_up(feed(), {30, 2.0}, 50, 1.32, 60);
  EXPECT_TRUE(sound(result).stocks.empty());
  EXPECT_NEAR(sound(result).water_l, 20, 1e-6);
}

TEST(Mix, SaysHowMuchToTakeOutWhereWaterIsNotEnough) {
  const MixRefusal refused = refusal(top_up(feed(), {30, 2.4}, 50, 1.2, 60));
  ASSERT_EQ(refused.fault, MixFault::too_strong);
  // Taking that much out, plain water then does it.
  const auto then = top_up(feed(), {30 - *refused.value, 2.4}, 50, 1.2, 60);
  EXPECT_TRUE(sound(then).stocks.empty());
  EXPECT_NEAR(sound(then).result.ec, 1.2, 1e-9);
}

TEST(Mix, StockAloneStrengthensAFullReservoir) {
  const auto result = top_up(feed(), {50, 1.0}, 50, 1.4, 60);
  EXPECT_EQ(sound(result).water_l, 0);
  EXPECT_GT(sound(result).result.litres, 50);
  EXPECT_NEAR(sound(result).result.ec, 1.4, 1e-9);
}

TEST(Mix, RefusesWithTheReasonAndTheFigure) {
  EXPECT_EQ(refusal(fresh(feed(), 70, 1.3, 60)).fault, MixFault::too_much);
  EXPECT_EQ(refusal(fresh(feed(), 50, 0.2, 60)).fault, MixFault::weak_water);
  EXPECT_NEAR(*refusal(fresh(feed(), 50, 0.2, 60)).value, 0.3, 1e-12);
  EXPECT_EQ(refusal(fresh({{}, 0, 0.3}, 50, 1.3, 60)).fault, MixFault::no_stocks);
  EXPECT_EQ(refusal(fresh(feed(), 50, 5, 60)).fault, MixFault::over_strength);
  EXPECT_EQ(refusal(top_up(feed(), {40, 1.2}, 30, 1.2, 60)).fault, MixFault::less_than_now);
  std::set<std::string_view> keys;
  for (int i = 0; i <= static_cast<int>(MixFault::over_strength); ++i) {
    EXPECT_EQ(static_cast<int>(info(static_cast<MixFault>(i)).fault), i);
    keys.insert(info(static_cast<MixFault>(i)).key);
  }
  EXPECT_EQ(keys.size(), 6u);
}

TEST(Taken, EvaporationAloneTakesNoSalt) {
  const Taken taken = taken_between({50, 1.2}, {}, {40, 1.5});
  EXPECT_NEAR(taken.water_l, 10, 1e-12);
  EXPECT_NEAR(taken.salt, 0, 1e-12);
  EXPECT_NEAR(*taken.concentration, 0, 1e-12);
  EXPECT_NEAR(taken.ec_if_water_alone, 1.5, 1e-12);
}

TEST(Taken, PlantsThatTakeTheSolutionLeaveItsEc) {
  const Taken taken = taken_between({50, 1.2}, {10, 1.2}, {45, 1.2});
  EXPECT_NEAR(taken.water_l, 15, 1e-12);
  EXPECT_NEAR(*taken.concentration, 1.2, 1e-12);
  EXPECT_FALSE(taken_between({50, 1.2}, {}, {49.8, 1.2}).concentration);
}

TEST(PhResponse, IsTheMedianOfDosesThatDidSomething) {
  // 0.02 mL a litre for a tenth: 5 mL in 50 L moves half a pH.
  const auto response = ph_response({{5, 6.5, 6.0, 50},
                                     {4, 6.4, 6.0, 50},
                                     {3, 6.2, 6.0, 40},
                                     {3, 6.2, 6.19, 40},  // too little to tell
                                     {3, 6.0, 6.4, 40},   // another cause
                                     {0, 6.4, 6.0, 40}},
                                    true);
  ASSERT_TRUE(response);
  EXPECT_EQ(response->doses, 3);
  EXPECT_NEAR(response->ml_per_tenth_per_l, 0.02, 1e-9);
  EXPECT_NEAR(response->lowest, 0.02, 1e-9);
  EXPECT_NEAR(response->highest, 0.0375, 1e-9);
  EXPECT_FALSE(ph_response({{5, 6.5, 6.0, 50}}, false));
  EXPECT_FALSE(ph_response({}, true));
}

TEST(PhStep, GoesHalfOfTheWayAndNeverFar) {
  const PhResponse response{0.02, 4, 0.02, 0.02};
  const auto near = ph_step(response, 50, 6.3, 5.9);
  ASSERT_TRUE(near);
  EXPECT_TRUE(near->acid);
  EXPECT_NEAR(near->millilitres, 2, 1e-9);  // 0.2 of 0.4
  EXPECT_NEAR(near->all_ml, 4, 1e-9);
  EXPECT_NEAR(*near->expected_ph, 6.1, 1e-9);
  const auto far = ph_step(response, 50, 7.8, 5.8);
  EXPECT_NEAR(far->millilitres, 3, 1e-9);  // 0.3 of 2
  const auto last = ph_step(response, 50, 5.82, 5.9);
  EXPECT_FALSE(last->acid);
  EXPECT_NEAR(*last->expected_ph, 5.9, 1e-9);
  EXPECT_FALSE(ph_step(response, 50, 5.93, 5.9));
}

TEST(PhStep, WithoutExperienceTriesLittle) {
  const auto step = ph_step(std::nullopt, 50, 6.8, 5.9);
  // Water of 20 mg/L CaCO3 (0.4 mmol/L of alkalinity) loses it all to 0.03 mL/L of 85 % phosphoric
  // acid (14.6 mol/L); the first try takes less than a fifth of that.
  EXPECT_NEAR(step->millilitres, 0.25, 1e-12);
  EXPECT_FALSE(step->expected_ph);
}

}  // namespace
}  // namespace neap::solution
