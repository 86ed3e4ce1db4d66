// Goal: a simulated grow with a grower's hands from a file goes through the real programs: what was
// typed is in the record at its time, a leak is named with its day, and a mix goes by the stage's
// band. The 42 days of deploy/try-grow in short.
#include <gmock/gmock.h>

#include <fstream>

#include "tests/client/support.h"
#include "tests/places.h"
#include "tests/scenarios/grow.h"

namespace neap::scenarios {
namespace {

using client::testing::json;
using client::testing::Said;
using ::testing::HasSubstr;

constexpr const char* kHands =
    "day 1 06:30  measure change=50 ph=5.6 ec=0.7\n"
    "day 3 08:10  measure ph=5.9 ec=0.72 --note \"leaves dry\"\n"
    "day 3 08:40  measure ph_down=2\n"
    "day 3 10:05  measure ph=5.7\n";

std::string short_grow() {
  std::string text = shell::read_file(places::in_project("config/grow.yaml"), 1 << 20).value_or("");
  return text.substr(0, text.find("  faults:\n")) +
         "  faults:\n    - {fault: reservoir_seeps, at: 30 h, severity: 0.5}\n\nend: true\n";
}

class ScriptedHands : public ::testing::Test {
 protected:
  static void SetUpTestSuite() {
    directory_ = new client::testing::Directory;
    std::ofstream(file("grow.yaml")) << short_grow();
    std::ofstream(file("hands.txt")) << kHands;
    run_ = new Said(client::testing::neap({"simulate", file("grow.yaml"), "--days", "5", "--hands",
                                           file("hands.txt"), "--journal", file("journal.db")},
                                          {{"NEAPD", places::in_build("neapd")}}));
  }
  static void TearDownTestSuite() {
    delete run_;
    delete directory_;
  }
  void SetUp() override { ASSERT_EQ(run_->code, 0) << run_->err; }
  static std::string file(const char* name) { return directory_->file(name); }
  static json told(std::vector<std::string> words) {
    words.insert(words.end(),
                 {"--json", "--journal", file("journal.db"), "--settings", file("grow.yaml")});
    const Said said = client::testing::neap(words);
    EXPECT_EQ(said.code, 0) << said.err;
    return json::parse(said.out, nullptr, false);
  }
  static inline client::testing::Directory* directory_ = nullptr;
  static inline Said* run_ = nullptr;
};

TEST_F(ScriptedHands, WhatWasTypedIsInTheRecordAtItsTime) {
  const json record = told({"measure"})["measurements"];
  ASSERT_EQ(record.size(), 7u);
  const std::int64_t begun = told({"water"})["from"]["unix_ms"].get<std::int64_t>();
  const json& noted = record[4];
  EXPECT_EQ(noted["note"], "leaves dry");
  EXPECT_EQ(noted["taken"]["unix_ms"].get<std::int64_t>() - begun,
            Millis{hours{50} + minutes{10}}.count());  // of 06:00
}

TEST_F(ScriptedHands, TheReportNamesTheLeakWithItsDay) {
  EXPECT_THAT(run_->out, HasSubstr("leak          flagged 2026-03-0"));
  const json leaks = told({"water"})["leaks"];
  ASSERT_EQ(leaks.size(), 1u);
  EXPECT_NEAR(leaks[0]["l_per_h"].get<double>(), 0.1, 0.025);
}

TEST_F(ScriptedHands, AMixGoesByTheStagesBand) {
  const json mix = told({"mix", "topup", "to=55", "ec=0.72"});
  EXPECT_NEAR(mix["target"]["value"].get<double>(), 0.7, 1e-9);  // of 0.5 to 0.9
  EXPECT_EQ(mix["target"]["whence"], "the middle of 0.50 to 0.90, the band of stage establishing");
  const json ph = told({"mix", "ph", "ph=6.1"});
  EXPECT_EQ(ph["target"], 5.75);
  EXPECT_EQ(ph["doses_learnt_from"], 1);
}

}  // namespace
}  // namespace neap::scenarios
