// Goal: the shipped programs together, as a new user runs them: `neap simulate` starts the real
// neapd on the demo and reports from its journal. Once, every flood of the demo was skipped because
// the plant and the core read the reservoir's float the opposite way, and all unit tests were
// green.
#include <gtest/gtest.h>

#include <cstdio>
#include <memory>
#include <nlohmann/json.hpp>
#include <string>

#include "tests/places.h"

namespace {

std::string output_of(const std::string& command) {
  const std::unique_ptr<FILE, int (*)(FILE*)> pipe(::popen(command.c_str(), "r"), ::pclose);
  std::string text;
  char buffer[4096];
  while (pipe && std::fgets(buffer, sizeof buffer, pipe.get()) != nullptr) text += buffer;
  return text;
}

TEST(FirstDay, TheDemoFloodsAsPlannedWithoutAnAlarm) {
  const std::string text =
      output_of(neap::places::in_build("neap --json simulate ") +
                neap::places::in_project("config/demo.yaml --from 2026-03-21 --quiet"));
  const auto answer = nlohmann::json::parse(text, nullptr, false);
  ASSERT_FALSE(answer.is_discarded()) << text.substr(0, 400);
  const auto& report = answer.at("report");
  EXPECT_EQ(report.at("cycles").size(), 4u);
  for (const auto& cycle : report.at("cycles")) EXPECT_EQ(cycle.at("outcome"), "complete");
  EXPECT_TRUE(report.at("alarms").empty()) << report.at("alarms").dump();
}

// The demo's own humidifier is among those that are tried, and with its dehumidifier in a tent of
// leaves no mist is needed.
TEST(FirstDay, TheDemoIsSizedByRunsOfTheRealDaemon) {
  const std::string text =
      output_of(neap::places::in_build("neap --json size ") +
                neap::places::in_project("config/demo.yaml --of humidifier --days 1 --quiet"));
  const auto answer = nlohmann::json::parse(text, nullptr, false);
  ASSERT_FALSE(answer.is_discarded()) << text.substr(0, 400);
  EXPECT_EQ(answer.at("stage"), "fruiting");
  const auto& trials = answer.at("answers").at(0).at("trials");
  ASSERT_EQ(trials.size(), 4u);
  for (const auto& trial : trials) {
    const auto& figures = trial.at("figures");
    EXPECT_GT(figures.at("in_band_percent"), 50) << trial.dump();
    EXPECT_GT(figures.at("starts_a_day"), 5) << trial.dump();
    EXPECT_GT(figures.at("kwh_a_day"), 0.2) << trial.dump();
    EXPECT_LT(figures.at("kwh_a_day"), 4) << trial.dump();
  }
  EXPECT_EQ(answer.at("answers").at(0).at("chosen"), 0) << answer.dump();
}

}  // namespace
