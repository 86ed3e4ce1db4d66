// Goal: what a person measured reaches the journal and the core over the socket, and is corrected
// or withdrawn without being lost.
#include <gtest/gtest.h>

#include <nlohmann/json.hpp>

#include "tests/shell/asked_run.h"

namespace neap::shell {
namespace {

using nlohmann::json;

class HandVerbs : public AskedRun {
 protected:
  const HandReading& ph() { return run.daemon().state().kept.hands[0]; }
};

TEST_F(HandVerbs, AMeasurementIsKeptWithTheStateAndCorrectedThere) {
  EXPECT_EQ(ask("measure", {{"values", {{"ph", 5.9}}}, {"spool_id", "m1"}})["result"]["stored"], 1);
  EXPECT_TRUE(ph().known);
  EXPECT_EQ(ph().value, 5.9);
  EXPECT_TRUE(ask("amend", {{"of", "m1/ph"}, {"value", 6.0}, {"spool_id", "m2"}})["ok"]);
  EXPECT_EQ(ph().value, 6.0);
  EXPECT_TRUE(ask("amend", {{"of", "m1/ph"}, {"reason", "in a buffer"}})["ok"]);
  EXPECT_FALSE(ph().known);
}

TEST_F(HandVerbs, OneBadFigureKeepsTheWholeSetOut) {
  const json answer = ask("measure", {{"values", {{"ec", 1.6}, {"ph", 59}}}});
  EXPECT_EQ(answer["error"]["message"], "ph must be a number from 0 to 14");
  EXPECT_FALSE(run.daemon().state().kept.hands[1].known);
}

TEST_F(HandVerbs, AmendingNothingOrWithNonsenseIsRefused) {
  EXPECT_EQ(ask("amend", {{"of", "m1"}})["error"]["code"], "bad_request");
  EXPECT_EQ(ask("amend", {{"of", "m1/ph"}, {"value", 59}})["error"]["message"],
            "ph must be a number from 0 to 14");
  EXPECT_EQ(ask("amend", {{"of", "m1/ph"}})["error"]["message"],
            "a measurement is withdrawn for a reason, and reason is missing");
}

TEST_F(HandVerbs, AFutureOneIsRefused) {
  const std::int64_t later = run.daemon().wall().unix_ms + 3'600'000;
  EXPECT_EQ(
      ask("measure", {{"values", {{"ph", 5.9}}}, {"taken_unix_ms", later}})["error"]["message"],
      "taken_unix_ms lies in the future");
}

}  // namespace
}  // namespace neap::shell
