// Goal: what a person measured while the daemon was down is taken in whatever the clocks said.
#include "daemon/shell/spool.h"

#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>

#include "daemon/journal/reader.h"
#include "daemon/shell/measurements.h"
#include "tests/shell/simulated_run.h"

namespace neap::shell {
namespace {

using nlohmann::json;

constexpr std::int64_t kNow = 1'773'964'912'345;  // 2026-03-20

json dated(std::int64_t unix_ms) { return {{"taken_unix_ms", unix_ms}, {"note", "dusk"}}; }

TEST(SpooledDate, InThePastItStands) {
  json args = dated(kNow - 86'400'000);
  EXPECT_TRUE(settle_date(args, {kNow, 0, TimeQuality::unset}));
  EXPECT_EQ(args, dated(kNow - 86'400'000));
}

TEST(SpooledDate, AheadOfAClockThatNobodyConfirmsItWaits) {
  json args = dated(kNow + 7'200'000);
  EXPECT_FALSE(settle_date(args, {kNow, 0, TimeQuality::restored}));
  EXPECT_FALSE(settle_date(args, {kNow, 0, TimeQuality::unset}));
  EXPECT_EQ(args, dated(kNow + 7'200'000));
}

TEST(SpooledDate, AheadOfTheRightTimeItIsOfNowAndSaysSo) {
  json args = dated(kNow + 7'200'000);
  EXPECT_TRUE(settle_date(args, {kNow, 0, TimeQuality::synced}));
  EXPECT_EQ(args["taken_unix_ms"], kNow);
  EXPECT_EQ(args["note"], "dusk; dated by a clock that was ahead");
}

json harvested(std::int64_t unix_ms) {
  return {{"kind", "harvest"}, {"happened_unix_ms", unix_ms}, {"says", "840 g"}};
}

TEST(SpooledDate, OfADiaryIsSettledAsThatOfAMeasurement) {
  json args = harvested(kNow + 7'200'000);
  EXPECT_FALSE(settle_date(args, {kNow, 0, TimeQuality::restored}));
  EXPECT_EQ(args, harvested(kNow + 7'200'000));
  EXPECT_TRUE(settle_date(args, {kNow, 0, TimeQuality::synced}));
  EXPECT_EQ(args["happened_unix_ms"], kNow);
  EXPECT_EQ(args["says"], "840 g; dated by a clock that was ahead");
}

TEST(SpoolTest, AMeasurementOfTomorrowIsInTheJournalToday) {
  SimulatedRun run{demo_that_floods()};
  const std::string folder = run.dir() / "spool";
  std::filesystem::create_directory(folder);
  json args = dated(run.daemon().wall().unix_ms + 86'400'000);
  args["spool_id"] = "a1";
  args["values"] = {{"ph", 5.9}};
  std::ofstream(folder + "/a1.json") << args.dump();
  KeptLog log;
  {
    Spool spool(run.daemon(), run.timers(), folder, log.sink());
    run.run_for(seconds{5});
  }
  EXPECT_TRUE(log.lines.empty());
  std::string error;
  const auto reader = journal::Reader::open(run.close(), error);
  ASSERT_TRUE(reader) << error;
  const auto rows = reader->measurements({});
  ASSERT_EQ(rows.size(), 1u);
  EXPECT_EQ(rows[0].value, 5.9);
}

}  // namespace
}  // namespace neap::shell
