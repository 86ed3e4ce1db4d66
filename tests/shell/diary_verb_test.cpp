// Goal: what a person tells the diary reaches the journal over the socket and from the spool, once,
// and nonsense is kept out with the rule it broke.
#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>

#include "daemon/journal/reader.h"
#include "daemon/shell/spool.h"
#include "tests/shell/asked_run.h"

namespace neap::shell {
namespace {

using nlohmann::json;

class DiaryVerb : public AskedRun {
 protected:
  std::vector<journal::DiaryRow> diary() {
    run.daemon().journal().flush();
    std::string error;
    const auto reader = journal::Reader::open(run.dir() / "journal", error);
    EXPECT_TRUE(reader) << error;
    return reader ? reader->diary() : std::vector<journal::DiaryRow>();
  }
  std::string complaint(const json& args) { return ask("diary", args)["error"]["message"]; }
};

TEST_F(DiaryVerb, AnEntryIsStoredWithTheTimeAtWhichItHappened) {
  const std::int64_t before = run.daemon().wall().unix_ms - 3'600'000;
  const json harvest = {{"kind", "harvest"}, {"subject", "june"}, {"figure", 840},
                        {"mark", "good"},    {"says", "sweet"},   {"happened_unix_ms", before},
                        {"spool_id", "h1"}};
  EXPECT_EQ(ask("diary", harvest)["result"]["stored"], 1);
  EXPECT_EQ(ask("diary", harvest)["result"]["stored"], 1) << "said again by a client that gave up";
  const auto found = diary();
  ASSERT_EQ(found.size(), 1u);
  EXPECT_EQ(found[0].figure, 840);
  EXPECT_EQ(found[0].mark, "good");
  EXPECT_EQ(found[0].happened.unix_ms, before);
}

TEST_F(DiaryVerb, NonsenseIsKeptOut) {
  EXPECT_EQ(complaint({{"kind", "gossip"}, {"subject", "june"}}),
            "no kind of entry is called \"gossip\"");
  EXPECT_EQ(complaint({{"kind", "care"}}), "subject must be text of 1 to 96 bytes");
  EXPECT_EQ(complaint({{"kind", "care"}, {"subject", std::string(97, 'x')}}),
            "subject must be text of 1 to 96 bytes");
  EXPECT_EQ(complaint({{"kind", "harvest"}, {"subject", "june"}, {"figure", -3}}),
            "figure of harvest must be a number from 0.1 to 1e+07");
  EXPECT_EQ(complaint({{"kind", "harvest"}, {"subject", "june"}, {"figure", "840"}}),
            "figure of harvest must be a number from 0.1 to 1e+07");
  EXPECT_EQ(complaint({{"kind", "care"}, {"subject", "filter"}, {"says", std::string(1001, 'x')}}),
            "says must be text of at most 1000 bytes");
  const std::int64_t later = run.daemon().wall().unix_ms + 3'600'000;
  EXPECT_EQ(complaint({{"kind", "care"}, {"subject", "filter"}, {"happened_unix_ms", later}}),
            "happened_unix_ms lies in the future");
  EXPECT_TRUE(diary().empty());
}

TEST_F(DiaryVerb, WhatWaitedInTheSpoolIsTakenInBesideMeasurements) {
  const std::filesystem::path folder = run.dir() / "s";
  std::filesystem::create_directory(folder);
  std::ofstream(folder / "a.json")
      << R"({"spool_id":"a","kind":"care","subject":"filter","says":"washed"})";
  std::ofstream(folder / "b.json") << R"({"spool_id":"b","kind":"gossip","subject":"x"})";
  Spool spool(run.daemon(), run.timers(), folder.string(), [](LogLevel, const std::string&) {});
  ASSERT_EQ(diary().size(), 1u);
  EXPECT_EQ(diary()[0].says, "washed");
  EXPECT_TRUE(std::filesystem::exists(folder / "b.json.refused"));
}

}  // namespace
}  // namespace neap::shell
