// Goal: `neap check` warns of a table that could run over, and is content with one that could not.
#include "daemon/settings/build.h"

#include <gmock/gmock.h>

#include "tests/settings/files.h"

namespace neap::settings {
namespace {

using ::testing::HasSubstr;

// The starter's table, with one line of its build made into another.
std::vector<BuildFinding> found(const std::string& from = "", const std::string& to = "") {
  const std::string text =
      from.empty() ? shipped("starter.yaml") : with(shipped("starter.yaml"), from, to);
  const auto result = load_text(text);
  EXPECT_TRUE(result.loaded.has_value()) << render_all("starter.yaml", text, result.problems);
  return result.loaded ? check_build(result.loaded->plan, result.loaded->build)
                       : std::vector<BuildFinding>{};
}

BuildFinding of(std::string_view part, const std::vector<BuildFinding>& all) {
  BuildFinding worst{Weight::missing, part, "not told of", ""};
  bool any = false;
  for (const BuildFinding& one : all)
    if (one.part == part && (!any || one.weight == Weight::warning)) worst = one, any = true;
  return worst;
}

TEST(Build, TheStartersTableIsSound) {
  for (const BuildFinding& one : found()) EXPECT_EQ(one.weight, Weight::good) << one.text;
  EXPECT_EQ(found().size(), 5U);
}

TEST(Build, WithoutTheGroupNothingIsTold) {
  const auto result = load_text(shipped("demo.yaml"));
  ASSERT_TRUE(result.loaded.has_value());
  EXPECT_TRUE(check_build(result.loaded->plan, result.loaded->build).empty());
}

// 32 mm at 40 mm of freeboard: 0.6 x 8.042e-4 m2 x 0.8859 m/s are 1539 L/h, 1.7 times 900.
TEST(Build, AStandpipeIsWeighedAgainstThePumpWithoutHead) {
  EXPECT_THAT(of("standpipe", found()).text,
              HasSubstr("passes 1539 L/h with 40 mm of freeboard, 1.7 times the pump's 900 L/h"));
  const auto narrow = of("standpipe", found("standpipe_bore: 32 mm", "standpipe_bore: 20 mm"));
  EXPECT_EQ(narrow.weight, Weight::warning);
  EXPECT_THAT(narrow.text, HasSubstr("the tray can run over its rim"));
  EXPECT_THAT(narrow.remedy, HasSubstr("fit a standpipe of 28 mm inside"));
  const auto tight = of("standpipe", found("pump_free_flow: 900 L/h", "pump_free_flow: 1300 L/h"));
  EXPECT_EQ(tight.weight, Weight::warning);
  EXPECT_THAT(tight.text, HasSubstr("little is left for roots and algae"));
}

TEST(Build, TheMarginOfAStandpipeBeginsAtOneAndThreeTenths) {
  const auto at = [](const char* flow) {
    return of("standpipe", found("pump_free_flow: 900 L/h", std::string("pump_free_flow: ") + flow))
        .weight;
  };
  EXPECT_EQ(at("1183 L/h"), Weight::good);  // 1539 / 1.3 = 1183.8
  EXPECT_EQ(at("1185 L/h"), Weight::warning);
}

TEST(Build, AReservoirToppedUpTooFarCannotTakeTheFloodBack) {
  const auto full = of("reservoir", found("top_up: 35 L", "top_up: 36 L"));
  EXPECT_EQ(full.weight, Weight::warning);
  EXPECT_THAT(full.text, HasSubstr("runs over when 25 L come back"));
  EXPECT_THAT(full.remedy, HasSubstr("to 35 L at most"));
  EXPECT_EQ(of("reservoir", found()).weight, Weight::good);
  EXPECT_THAT(of("reservoir", found("reservoir_capacity: 60 L", "reservoir_capacity: 80 L")).text,
              HasSubstr("even a full tray of 45 L"));
}

TEST(Build, AReservoirToppedUpTooLittleCutsEveryFloodOff) {
  // 25 L of flood and 8 L that stay are 33 L.
  const auto little = of("reservoir", found("top_up: 35 L", "top_up: 32 L"));
  EXPECT_EQ(little.weight, Weight::warning);
  EXPECT_THAT(little.text, HasSubstr("less than the minimum of 8 L"));
  EXPECT_THAT(little.remedy, HasSubstr("to 33 L at least"));
  EXPECT_EQ(of("reservoir", found("top_up: 35 L", "top_up: 33 L")).weight, Weight::good);
}

TEST(Build, APumpWithoutTheHeadNeverFillsTheTray) {
  const auto weak = of("pump", found("pump_head: 1.8 m", "pump_head: 0.45 m"));
  EXPECT_EQ(weak.weight, Weight::warning);
  EXPECT_THAT(weak.text, HasSubstr("never fills"));
  const auto strong = of("pump", found("pump_free_flow: 900 L/h", "pump_free_flow: 3000 L/h"));
  EXPECT_EQ(strong.weight, Weight::warning);
  EXPECT_THAT(strong.text, HasSubstr("table.pump_flow is 600 L/h"));
}

TEST(Build, ALimitThatIsTooShortOrTooLongIsTold) {
  EXPECT_EQ(of("fill", found("fill_limit: 5 min", "fill_limit: 181 s")).weight, Weight::warning);
  const auto loose = of("fill", found("fill_limit: 5 min", "fill_limit: 10 min"));
  EXPECT_EQ(loose.weight, Weight::warning);
  EXPECT_THAT(loose.text, HasSubstr("lets 100 L out of a hose that came off"));
  const auto slow = of("drain", found("hose_bore: 13 mm", "hose_bore: 4 mm"));
  EXPECT_EQ(slow.weight, Weight::warning);
  EXPECT_THAT(slow.remedy, HasSubstr("table.drain_limit"));
}

TEST(Build, WhatIsMissingIsNamed) {
  const auto none = of("standpipe", found("  freeboard: 40 mm", "  #"));
  EXPECT_EQ(none.weight, Weight::missing);
  EXPECT_THAT(none.remedy, HasSubstr("build.standpipe_bore and freeboard"));
  EXPECT_EQ(of("drain", found("  hose_bore: 13 mm", "  #")).weight, Weight::missing);
  EXPECT_EQ(of("drain", found("drain_path: through_pump", "drain_path: weep_hole")).remedy,
            "add build.standpipe_height and drain_bore");
}

}  // namespace
}  // namespace neap::settings
