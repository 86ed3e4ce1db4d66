// Goal: a probe is calibrated over the socket at once, nonsense is refused with its reason, and the
// calibration survives a restart without the journal. Buffers: 7.02 and 4.00 at 20 C (technical
// buffers of process pH manual MI 611-211, tables 7 and 8); a perfect electrode gives 58.17 mV/pH
// there (Nernst).
#include <gtest/gtest.h>

#include <nlohmann/json.hpp>

#include "daemon/journal/reader.h"
#include "tests/shell/asked_run.h"

namespace neap::shell {
namespace {

using nlohmann::json;

class Calibrating : public AskedRun {
 protected:
  static json two(double at_7, double at_4) {
    return {{"probe", "ph"},
            {"temperature_c", 20},
            {"shown", {{{"standard", 7}, {"value", at_7}}, {{"standard", 4}, {"value", at_4}}}}};
  }
};

TEST_F(Calibrating, APerfectProbeInColdBuffersHasAWholeSlope) {
  const double shown_7 = 7 + 0.02 * 58.17 / 59.16;
  const double shown_4 = 7 - 3.0 * 58.17 / 59.16;
  const json result = ask("calibrate", two(shown_7, shown_4))["result"];
  EXPECT_NEAR(result["slope_pct"].get<double>(), 100, 0.1);
  EXPECT_NEAR(result["offset_mv"].get<double>(), 0, 0.1);
  const json list = ask("calibrations", json::object())["result"]["calibrations"];
  EXPECT_NEAR(list[0]["in_force"]["slope"].get<double>(), 1, 0.001);
  EXPECT_EQ(list[1]["fitted"], run.daemon().loaded().plan.points[Point::solution_ec].has_value());
}

TEST_F(Calibrating, NonsenseIsRefusedAndChangesNothing) {
  EXPECT_NE(ask("calibrate", two(4.02, 6.98))["error"]["message"].get<std::string>(), "");
  EXPECT_EQ(ask("calibrate", two(4.02, 6.98))["error"]["code"], "refused");
  EXPECT_EQ(ask("calibrate", two(6.9, 6.9))["error"]["code"], "refused");
  EXPECT_EQ(ask("calibrate", two(6.99, 4.9))["error"]["code"], "refused") << "slope under 85 %";
  EXPECT_EQ(ask("calibrate", {{"probe", "ph"}})["error"]["code"], "bad_request");
  json odd = two(6.99, 4);
  odd["shown"][0]["standard"] = 5;
  EXPECT_EQ(ask("calibrate", odd)["error"]["message"], "no buffer is called 5");
  EXPECT_FALSE(run.daemon().state().kept.calibrations[0].made);
}

TEST_F(Calibrating, IsInForceAtTheNextReading) {
  run.run_for(seconds{30});
  const double before = *run.daemon().state().points[Point::solution_ph].reading;
  ASSERT_TRUE(ask("calibrate", two(7.22, 4.2))["ok"]);
  run.run_for(minutes{2});
  const double after = *run.daemon().state().points[Point::solution_ph].reading;
  EXPECT_LT(after, before - 0.1) << "the probe showed 0.2 too much";
}

TEST_F(Calibrating, WhatTheProbeShowsCorrectedIsNoReadingToCalibrateBy) {
  ASSERT_TRUE(ask("calibrate", two(7.22, 4.2))["ok"]);
  run.run_for(minutes{2});
  const json list = ask("calibrations", json::object())["result"]["calibrations"];
  const double corrected = *run.daemon().state().points[Point::solution_ph].reading;
  const double raw = list[0]["shown"].get<double>();
  ASSERT_GT(raw - corrected, 0.1);
  const auto remedy = [&](double shown) {
    return ask("calibrate", two(7.2, shown))["error"]["remedy"].get<std::string>();
  };
  EXPECT_EQ(remedy(corrected + 0.03),
            "give what the probe shows uncorrected: `neap calibrate` alone lists it");
  EXPECT_EQ(remedy(raw - 0.03).find("uncorrected"), std::string::npos);
  EXPECT_TRUE(ask("calibrate", two(7.2, 4.19))["ok"]) << "another bottle than the probe is in now";
}

}  // namespace
}  // namespace neap::shell
