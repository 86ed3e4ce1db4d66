// Goal: the verb `proof` over a whole daemon: asked for of a real pump alone, passed only by what
// was seen, told by status, withholding floods until then. Method: the demo with its pump on a
// file.
#include <gtest/gtest.h>

#include <fstream>
#include <nlohmann/json.hpp>

#include "daemon/shell/desk.h"
#include "tests/shell/simulated_run.h"

namespace neap::shell {
namespace {

using nlohmann::json;

std::string demo_with_a_pump_at(const std::string& path) {
  std::ofstream(path) << "0";
  const std::string pump = "  pump:\n    driver: simulated\n";
  std::string text = demo_that_floods();
  return text.replace(text.find(pump), pump.size(),
                      "  pump:\n    driver: level_file\n    with: {path: " + path + "}\n");
}

class ProofVerb : public testing::Test {
 protected:
  ProofVerb() { run.run_for(minutes{5}); }

  json ask(const std::string& verb, json args = json::object()) {
    json answer;
    const json request = {{"id", ++id}, {"verb", verb}, {"args", std::move(args)}};
    desk.handle(request.dump(), Peer{1000, 42, Role::operate}, run.daemon().now(),
                [&](const std::string& line) { answer = json::parse(line); });
    run.timers().run_until(run.daemon().now());
    return answer;
  }
  json proof(const std::string& test) {
    const json status = ask("status");
    for (const json& row : status["result"]["proofs"])
      if (row["test"] == test) return row;
    return nullptr;
  }

  TempDir dir;
  SimulatedRun run{demo_with_a_pump_at(dir / "pump")};
  Desk desk{run.daemon(), "settings.yaml"};
  int id = 0;
};

TEST_F(ProofVerb, ARealPumpAsksForItsTestAndAFlood) {
  EXPECT_EQ(proof("pump")["passed"], false);
  EXPECT_EQ(proof("flood")["passed"], false);
  EXPECT_TRUE(proof("leak_floor").is_null()) << "the probe is simulated";
}

TEST_F(ProofVerb, IsRefusedUntilThePumpWasSeenToRunAndStop) {
  const json early = ask("proof", {{"test", "pump"}});
  EXPECT_EQ(early["error"]["reason"]["reason"], "output_not_seen");
  EXPECT_EQ(early["error"]["message"], "flood pump has not moved and come back in the last 10 min");
  ask("hold", {{"output", "pump"}, {"level", 1000}, {"for_s", 5}});
  run.run_for(seconds{8});
  EXPECT_EQ(ask("proof", {{"test", "pump"}})["ok"], true);
  EXPECT_EQ(proof("pump")["passed"], true);
  EXPECT_TRUE(proof("pump")["at_unix_ms"].is_number());
  EXPECT_TRUE(run.log().has("flood pump was seen to work"));
}

TEST_F(ProofVerb, UntilThenAFloodIsRefusedAndSaysWhatToDo) {
  const json refused = ask("flood", {{"action", "start"}});
  EXPECT_EQ(refused["error"]["reason"]["reason"], "output_unproven");
  EXPECT_EQ(refused["error"]["remedy"], "`neap commission` walks through the tests");
}

TEST_F(ProofVerb, UntilThenStatusSaysThatFloodsAreWithheldAndForWhat) {
  const json status = ask("status");
  EXPECT_EQ(status["result"]["flood"]["withheld"]["reason"], "output_unproven");
  EXPECT_EQ(status["result"]["verdict"]["ok"], false);
}

TEST_F(ProofVerb, AnUnknownTestNamesTheKnownOnes) {
  const json answer = ask("proof", {{"test", "pumps"}});
  EXPECT_EQ(answer["error"]["code"], "bad_request");
  EXPECT_NE(answer["error"]["remedy"].get<std::string>().find("leak_floor"), std::string::npos);
  EXPECT_EQ(ask("proof", {{"test", "leak_floor"}})["error"]["reason"]["reason"],
            "proof_not_wanted");
}

TEST_F(ProofVerb, FiguresOfCommissioningAreHandMeasurements) {
  EXPECT_EQ(ask("measure", {{"values",
                             {{"fill_s", 150.0},
                              {"drain_s", 400.0},
                              {"pump_flow_l_per_h", 600.0},
                              {"fan_least_pct", 20}}}})["result"]["stored"],
            4);
  EXPECT_EQ(ask("measure", {{"values", {{"fill_s", 0}}}})["error"]["code"], "bad_request");
}

}  // namespace
}  // namespace neap::shell
