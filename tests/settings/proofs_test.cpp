// Goal: settings ask for proof tests of real water hardware, of nothing simulated, and notice
// another wiring.
#include <gtest/gtest.h>

#include "daemon/settings/checks.h"
#include "tests/settings/files.h"

namespace neap::settings {
namespace {

ProofPlan proofs_of(const std::string& text) {
  const auto result = load_text(text);
  EXPECT_TRUE(result.loaded.has_value()) << render_all("text", text, result.problems);
  return result.loaded ? result.loaded->plan.proofs : ProofPlan{};
}

std::string starter() { return with(shipped("starter.yaml"), "mode: observe", "mode: control"); }

bool asks_for(const ProofPlan& plan, ProofTest test) {
  return plan.hardware[static_cast<std::size_t>(test)].has_value();
}

TEST(Proofs, OfARealPumpAreAskedForWithItsFloatsAndProbes) {
  const ProofPlan plan = proofs_of(starter());
  for (const ProofTest test : {ProofTest::pump, ProofTest::tray_full, ProofTest::tray_high,
                               ProofTest::reservoir_low, ProofTest::leak_floor, ProofTest::flood})
    EXPECT_TRUE(asks_for(plan, test)) << info(test).name;
  EXPECT_FALSE(asks_for(plan, ProofTest::leak_rack)) << "not fitted";
  EXPECT_EQ(plan.every, hours{24 * 30});
}

TEST(Proofs, AreNotAskedForOfASimulatedTentNorWhileObserving) {
  for (const std::string& text : {shipped("demo.yaml"), shipped("starter.yaml")})
    for (const ProofTestInfo& row : kProofTests)
      EXPECT_FALSE(asks_for(proofs_of(text), row.test)) << row.name;
}

TEST(Proofs, AreTheOwnersToAnswerFor) {
  const std::string by_hand = with(starter(), "  drain_path: through_pump",
                                   "  water_proven: by_hand\n  drain_path: through_pump");
  EXPECT_EQ(proofs_of(by_hand).hardware, ProofPlan{}.hardware);
}

TEST(Proofs, KnowAnotherWiringByItsAddress) {
  const ProofPlan before = proofs_of(starter());
  const ProofPlan after = proofs_of(with(starter(), "line: GPIO5", "line: GPIO4"));
  for (const ProofTestInfo& row : kProofTests) {
    const auto i = static_cast<std::size_t>(row.test);
    EXPECT_EQ(before.hardware[i] == after.hardware[i], row.test != ProofTest::tray_high)
        << row.name;
  }
}

TEST(Proofs, OfThePumpAndItsFloodKnowTheSecondContactToo) {
  const auto with_series_at = [](const std::string& line) {
    Draft draft;
    draft.plan.mode = Mode::control;
    for (const Output output : {Output::pump, Output::pump_series}) {
      drivers::OutputSetup setup;
      setup.output = output;
      setup.driver = "level_file";
      setup.params.set("path", output == Output::pump ? "one" : line);
      draft.hardware.outputs.push_back(setup);
    }
    plan_proofs(draft);
    return draft.plan.proofs;
  };
  const ProofPlan before = with_series_at("two");
  const ProofPlan after = with_series_at("three");
  for (const ProofTest test : {ProofTest::pump, ProofTest::flood}) {
    const auto i = static_cast<std::size_t>(test);
    EXPECT_TRUE(before.hardware[i]);
    EXPECT_NE(before.hardware[i], after.hardware[i]) << info(test).name;
  }
}

TEST(Proofs, OfThePumpKnowTheLineOfItsEnablePulse) {
  const std::string pump = "line: GPIO17, active: high}\n";
  const std::string pulse = "    enable_pulse: {chip: pinctrl-bcm2711, line: GPIO13}\n";
  const auto pump_of = [](const ProofPlan& plan) {
    return plan.hardware[static_cast<std::size_t>(ProofTest::pump)];
  };
  const auto without = pump_of(proofs_of(starter()));
  const auto fitted = pump_of(proofs_of(with(starter(), pump, pump + pulse)));
  const auto moved =
      pump_of(proofs_of(with(starter(), pump, pump + with(pulse, "GPIO13", "GPIO14"))));
  EXPECT_NE(without, fitted);
  EXPECT_NE(fitted, moved);
}

TEST(Proofs, DoNotMindADefaultThatIsWrittenOut) {
  const std::string line = "line: GPIO5, active: high";
  EXPECT_EQ(proofs_of(starter()).hardware,
            proofs_of(with(starter(), line, line + ", bias: pull_up, debounce_ms: 20")).hardware);
}

}  // namespace
}  // namespace neap::settings
