// Goal: what a turnover stands on: in a fallow stage nothing floods but by hand, for days, and
// such a flood fills and drains.
#include <gtest/gtest.h>

#include <nlohmann/json.hpp>

#include "daemon/journal/reader.h"
#include "tests/shell/asked_run.h"

namespace neap::shell {
namespace {

using nlohmann::json;

class Fallow : public AskedRun {
 protected:
  std::vector<journal::CycleEntry> floods() {
    run.daemon().journal().flush();
    std::string error;
    const auto reader = journal::Reader::open(run.dir() / "journal", error);
    EXPECT_TRUE(reader) << error;
    return reader ? reader->cycles({}) : std::vector<journal::CycleEntry>();
  }
};

TEST_F(Fallow, TheProgrammeFloodsNothingForDaysAndAHandDoes) {
  ASSERT_TRUE(ask("stage", {{"name", "fallow"}})["ok"]);
  run.run_for(hours{50});
  EXPECT_TRUE(floods().empty());
  ASSERT_TRUE(ask("flood", {{"action", "start"}})["ok"]);
  run.run_for(hours{1});
  const auto made = floods();
  ASSERT_EQ(made.size(), 1u);
  EXPECT_EQ(made[0].row.outcome, FloodOutcome::complete);
  EXPECT_EQ(made[0].row.origin, FloodOrigin::operator_request);
  EXPECT_EQ(ask("status", json::object())["result"]["stage"]["name"], "fallow");
}

}  // namespace
}  // namespace neap::shell
