// Goal: what a person measured reaches the journal and the core over the socket, and is corrected
// or withdrawn without being lost.
#include <gtest/gtest.h>

#include <nlohmann/json.hpp>

#include "daemon/shell/desk.h"
#include "tests/shell/simulated_run.h"

namespace neap::shell {
namespace {

using nlohmann::json;

class HandVerbs : public testing::Test {
 protected:
  HandVerbs() { run.run_for(minutes{5}); }
  json ask(const std::string& verb, json args) {
    json answer;
    const json request = {{"id", ++id}, {"verb", verb}, {"args", std::move(args)}};
    desk.handle(request.dump(), Peer{1000, 42, Role::operate}, run.daemon().now(),
                [&](const std::string& line) { answer = json::parse(line); });
    run.timers().run_until(run.daemon().now());
    return answer;
  }
  const HandReading& ph() { return run.daemon().state().kept.hands[0]; }

  SimulatedRun run{demo_that_floods()};
  Desk desk{run.daemon(), "settings.yaml"};
  int id = 0;
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
