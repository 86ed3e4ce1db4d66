// --confirm-stages: the simulated grower of run_virtual.cpp enters each stage on the day that the
// programme suggests; without it the daemon waits for a person.
#include <gtest/gtest.h>

#include <fstream>

#include "daemon/core/programme.h"
#include "daemon/journal/reader.h"
#include "tests/shell/simulated_run.h"

namespace neap::shell {
namespace {

struct Entered {
  std::string name;
  std::int32_t date = 0;
  friend bool operator==(const Entered&, const Entered&) = default;
};

// The demo with stages of one day, over the midnight that ends the first.
std::vector<Entered> stages_entered(bool confirm_stages) {
  const TempDir dir;
  KeptLog log;
  std::string text = demo_that_floods();
  for (const std::string& days : {std::string("days: 14"), std::string("days: 21")})
    text.replace(text.find(days), days.size(), "days: 1");
  std::ofstream(dir / "tent.yaml") << text;
  Options options;
  options.settings = dir / "tent.yaml";
  options.state_dir = dir.path();
  options.journal = dir / "journal.db";
  options.virtual_clock = true;
  options.until = hours{6};
  options.from = "2026-03-02T20:00";
  options.confirm_stages = confirm_stages;
  options.trace_hash_only = true;
  EXPECT_EQ(run_virtual(options, log.sink(), [] { return false; }), kExitDone);
  std::string error;
  const auto reader = journal::Reader::open(options.journal, error);
  EXPECT_TRUE(reader) << error;
  std::vector<Entered> found;
  if (!reader) return found;
  for (const journal::EventRow& row : reader->events({}, {EventKind::stage}, 100))
    found.push_back(
        {row.name, civil_of({*row.at.unix_ms, row.at.utc_offset_s, TimeQuality::synced}).date});
  return found;
}

TEST(ConfirmStages, EachStageIsEnteredOnTheDayThatTheProgrammeSuggests) {
  const std::vector<Entered> found = stages_entered(true);
  ASSERT_EQ(found.size(), 2u);
  EXPECT_EQ(found[0].name, "establishing");
  EXPECT_EQ(found[1], (Entered{"leafing", found[0].date + 1}));
}

TEST(ConfirmStages, WithoutItTheFirstStageStaysInForce) {
  const std::vector<Entered> found = stages_entered(false);
  ASSERT_EQ(found.size(), 1u);
  EXPECT_EQ(found[0].name, "establishing");
}

}  // namespace
}  // namespace neap::shell
