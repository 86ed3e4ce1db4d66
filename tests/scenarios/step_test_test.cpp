// Goal: what a person gets for asking for a step test: the same tent is known more closely. Method:
// two grows of the same simulated tent on the daemon's virtual clock, one with a step test of the
// dehumidifier by night; `neap identify` reads both journals.
#include <gtest/gtest.h>

#include <limits>
#include <nlohmann/json.hpp>

#include "tests/client/support.h"
#include "tests/scenarios/grow.h"

namespace neap::scenarios {
namespace {

using nlohmann::json;

constexpr Millis kAskedEvery = minutes{10};
constexpr double kDrying = 2.5;  // L/d

// A tent that vents by itself at night: the law hardly needs its dehumidifier, and the record says
// little of it. Its label is wrong: it takes 2.5 L a day, not 3.5.
std::string tent() {
  return quiet_demo({{"    leaf_area_index: 2.5\n",
                      "    leaf_area_index: 2.5\n    dehumidifier_l_per_day: 2.5\n"}});
}

// Asks for the test until neap finds the time right, then lets it run to its end.
bool tested(Grow& grow, Output output) {
  Request request;
  request.kind = RequestKind::step_test_start;
  request.output = output;
  const auto accepted = [&] { return grow.ask(request).accepted; };
  for (const Instant end = grow.now() + hours{8}; !accepted(); grow.run_for(kAskedEvery))
    if (grow.now() >= end) return false;
  grow.run_for(minutes{75});
  return !grow.state().step_test.running;
}

json identified(Grow& grow) {
  const client::testing::Said said = client::testing::neap(
      {"identify", "--probes-agree", "--json", "--journal", grow.journal_path()});
  EXPECT_EQ(said.code, 0) << said.err;
  return json::parse(said.out, nullptr, false);
}

// Upper over lower end of the interval; without a finding nothing is known.
double vagueness(const json& answer, const std::string& property) {
  const json& found = answer.at("found").at(property);
  if (found.at("value").is_null()) return std::numeric_limits<double>::infinity();
  return found.at("high").get<double>() / found.at("low").get<double>();
}

TEST(StepTest, NarrowsWhatIdentifyTellsOfTheDehumidifier) {
  Grow plain(tent()), tried(tent());
  ASSERT_EQ(plain.problem(), "");
  ASSERT_EQ(tried.problem(), "");
  tried.run_to(hours{41});  // an hour into the second night
  EXPECT_TRUE(tested(tried, Output::dehumidifier));
  tried.run_to(hours{54});
  plain.run_to(hours{54});
  const json before = identified(plain), after = identified(tried);
  EXPECT_EQ(before.at("step_tests"), json({{"fan", 0}, {"dehumidifier", 0}}));
  EXPECT_EQ(after.at("step_tests"), json({{"fan", 0}, {"dehumidifier", 1}}));
  EXPECT_LT(vagueness(after, "dehumidifier_capacity"), vagueness(before, "dehumidifier_capacity"));
  const json& drying = after.at("found").at("dehumidifier_capacity");
  EXPECT_NEAR(drying.at("value").get<double>(), kDrying, 0.15 * kDrying);
  EXPECT_LE(drying.at("low").get<double>(), kDrying);
  EXPECT_GE(drying.at("high").get<double>(), kDrying);
}

}  // namespace
}  // namespace neap::scenarios
