// Goal: status and why tell what a flood by demand waits for, as the core has it. Method: the desk
// over the demo's simulated tent, its leafing stage flooding by demand.
#include "daemon/core/demand_clock.h"
#include "tests/shell/asked_run.h"

namespace neap::shell {
namespace {

using nlohmann::json;

const std::string kFloods = "floods: {spread: 4, first_after: 45 min, last_before: 2 h, soak: 8";

class DemandStatus : public AskedRun {
 protected:
  DemandStatus()
      : AskedRun(demo_with(kFloods,
                           "floods: {by_demand: 3 kPa h, no_sooner: 2 h, no_later: 5 h, "
                           "first_after: 45 min, last_before: 2 h, soak: 8")) {}
};

// Of 20 March the light comes on at 06:00.
TEST_F(DemandStatus, TellsWhatIsUsedAndWhenTheFloodComes) {
  run.run_for(hours{9});
  const json flood = ask("status", json::object())["result"]["flood"];
  const json& demand = flood["demand"];
  ASSERT_TRUE(demand.is_object()) << flood.dump();
  const auto outlook = demand_outlook(run.daemon().loaded().plan, run.daemon().state());
  ASSERT_TRUE(outlook.has_value());
  EXPECT_EQ(demand["amount_kpa_h"], 3.0);
  EXPECT_GT(demand["used_kpa_h"], 1.0);
  EXPECT_EQ(demand["used_kpa_h"], outlook->used_kpa_h);
  EXPECT_EQ(demand["expected_second"], flood["next"]["start_second"]);
  EXPECT_LE(demand["expected_second"], demand["latest_second"]);
  EXPECT_EQ(demand["blind"], false);
  EXPECT_EQ(ask("why", {{"output", "pump"}})["result"]["demand"], demand);
}

using TimedStatus = AskedRun;
TEST_F(TimedStatus, HasNoDemandWhereFloodsHaveTheirTimes) {
  EXPECT_TRUE(ask("status", json::object())["result"]["flood"]["demand"].is_null());
}

}  // namespace
}  // namespace neap::shell
