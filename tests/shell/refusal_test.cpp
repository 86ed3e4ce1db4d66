// Goal: a request that is refused says what it is about and what to do, by its own reason; and the
// status says why the next flood would not start. Method: the desk over the demo's simulated tent.
#include <gtest/gtest.h>

#include <nlohmann/json.hpp>

#include "daemon/core/limits.h"
#include "daemon/shell/desk.h"
#include "tests/shell/simulated_run.h"

namespace neap::shell {
namespace {

using nlohmann::json;

class Refusal : public testing::Test {
 protected:
  Refusal() { run.run_for(minutes{5}); }

  json ask(const std::string& verb, json args = json::object()) {
    json answer;
    const json request = {{"id", ++id}, {"verb", verb}, {"args", std::move(args)}};
    desk.handle(request.dump(), Peer{1000, 42, Role::administer}, run.daemon().now(),
                [&](const std::string& line) { answer = json::parse(line); });
    run.timers().run_until(run.daemon().now());
    return answer;
  }
  void expect_refused(const std::string& verb, const json& args, const std::string& message,
                      const std::string& remedy) {
    const json error = ask(verb, args)["error"];
    EXPECT_EQ(error["message"], message) << verb;
    EXPECT_EQ(error["remedy"], remedy) << verb;
  }

  SimulatedRun run{demo_that_floods()};
  Desk desk{run.daemon(), "settings.yaml"};
  int id = 0;
};

TEST_F(Refusal, NamesTheOutputThatIsNotFitted) {
  expect_refused("hold", {{"output", "drain_valve"}, {"level", 1000}, {"for_s", 60}},
                 "the drain valve is not fitted", "`neap status` lists what is fitted");
}

TEST_F(Refusal, OfStillAirAtTheRootsSaysWhatToDoInItsOwnSentence) {
  expect_refused("hold", {{"output", "air_pump"}, {"level", 0}, {"for_s", 60}},
                 "the air pump may not be held stopped: the roots need air; pull its plug instead",
                 "");
}

TEST_F(Refusal, OfALatchThatIsNotSet) {
  expect_refused("reset", {{"latch", "leak"}}, "latch leak is not set",
                 "there is nothing to reset");
}

TEST_F(Refusal, NamesTheProbeThatWasWetJustNow) {
  ASSERT_TRUE(run.world().inject("leak", true, 1).accepted);
  run.run_for(minutes{10});
  expect_refused("reset", {{"latch", "leak"}},
                 "the leak probe on the floor was wet in the last 10 s",
                 "remove the cause first; `neap status` shows the readings");
  expect_refused("flood", {{"action", "start"}}, "leak probe on the floor is wet",
                 "find where the water came from, then dry the probe");
  const json flood = ask("status")["result"]["flood"];
  EXPECT_EQ(flood["withheld"]["reason"], "leak_wet");
  EXPECT_EQ(flood["roots"]["reason"]["reason"], "roots_safe_until");
  EXPECT_EQ(ask("why", {{"output", "pump"}})["result"]["roots"]["left_s"],
            flood["roots"]["left_s"]);
}

TEST_F(Refusal, NothingIsWithheldWhileAllIsWell) {
  EXPECT_EQ(ask("status")["result"]["flood"]["withheld"], json());
}

TEST_F(Refusal, AHoldIsAnsweredWithTheLengthThatWasGranted) {
  const double per_flood =
      static_cast<double>(run.daemon().loaded().plan.table.max_on_per_flood.count()) / 1000;
  ASSERT_LT(per_flood, static_cast<double>(limits::kHoldDefault.count()) / 1000);
  EXPECT_EQ(ask("hold", {{"output", "light"}, {"level", 0}})["result"]["for_s"], 1800.0);
  EXPECT_EQ(ask("hold", {{"output", "pump"}, {"level", 1000}})["result"]["for_s"], per_flood);
  EXPECT_EQ(ask("hold", {{"output", "light"}, {"level", 0}, {"for_s", 0}})["error"]["code"],
            "bad_request");
}

}  // namespace
}  // namespace neap::shell
