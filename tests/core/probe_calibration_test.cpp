// Goal: what a probe shows becomes a value by its calibration, before it is judged, at the
// solution's temperature, and only for the probe it was made of. Source of the slope's temperature:
// Nernst, 0.19842 mV a kelvin; 58.17 mV/pH at 20 C beside 59.16 at 25 C (USP's 59.16 + 0.198 (t -
// 25)). Source of the KCl figure: 1141.45 uS/cm at 15 C is 1408.23 at 25 C (Wu, Koch and Pratt 1991
// by the CRC Handbook).
#include "daemon/core/probe_calibration.h"

#include <gtest/gtest.h>

#include "tests/core/rig.h"

namespace neap {
namespace {

using test::Rig;
using test::strawberry_plan;

constexpr std::uint64_t kProbe = 0x9e3779b97f4a7c15;

Plan with_probes() {
  Plan plan = strawberry_plan();
  PointPlan slow;
  slow.period = seconds{10};
  slow.uncertain_after = seconds{60};
  slow.bad_after = seconds{600};
  for (const Point point : {Point::solution_temperature, Point::solution_ph, Point::solution_ec})
    plan.points[point] = slow;
  plan.calibration.hardware = {kProbe, kProbe + 1};
  return plan;
}

Event calibrate(Rig& rig, const ProbeFit& fit) {
  Request request;
  request.kind = RequestKind::calibrate;
  request.fit = fit;
  return rig.ask(request);
}

double reading(const Rig& rig, Point point) {
  const auto& found = rig.state.points[point].reading;
  EXPECT_TRUE(found.usable()) << info(point).name;
  return found.usable() ? *found : -1;
}

struct Probes : ::testing::Test {
  Rig rig{with_probes()};
  Probes() {
    rig.values[Point::solution_temperature] = 25;
    rig.values[Point::solution_ph] = 6;
    rig.values[Point::solution_ec] = 1.4;
    rig.run(minutes{2});
  }
  void show(Point point, double value) {
    rig.values[point] = value;
    rig.run(minutes{2});
  }
};

TEST_F(Probes, WithoutACalibrationShowWhatTheyShow) {
  show(Point::solution_ph, 6.4);
  EXPECT_EQ(reading(rig, Point::solution_ph), 6.4);
}

TEST_F(Probes, ACalibrationIsInForceFromTheNextReadingOn) {
  show(Point::solution_temperature, 25);
  ASSERT_TRUE(calibrate(rig, {SolutionProbe::ph, 6.91, 0.95, 25}).accepted);
  EXPECT_EQ(rig.count(EventKind::calibration), 1);
  show(Point::solution_ph, 6.91);
  EXPECT_NEAR(reading(rig, Point::solution_ph), 7, 1e-9);
  show(Point::solution_ph, 6.91 - 3 * 0.95);
  EXPECT_NEAR(reading(rig, Point::solution_ph), 4, 1e-9);
}

TEST_F(Probes, ACalibrationReplacesTheSettingsOffset) {
  rig.plan.points[Point::solution_ph]->offset = 0.3;
  rig.plan.points[Point::solution_ec]->offset = -0.1;
  show(Point::solution_ph, 6.4);
  EXPECT_NEAR(reading(rig, Point::solution_ph), 6.7, 1e-9);
  ASSERT_TRUE(calibrate(rig, {SolutionProbe::ph, 6.91, 0.95, 25}).accepted);
  ASSERT_TRUE(calibrate(rig, {SolutionProbe::ec, 0.02, 0.97, 25}).accepted);
  show(Point::solution_ph, 6.91);
  show(Point::solution_ec, 0.02 + 0.97 * 1.413);
  EXPECT_NEAR(reading(rig, Point::solution_ph), 7, 1e-9);
  EXPECT_NEAR(reading(rig, Point::solution_ec), 1.413, 1e-9);
}

TEST_F(Probes, ThePhSlopeFollowsTheSolutionsTemperature) {
  ASSERT_TRUE(calibrate(rig, {SolutionProbe::ph, 7, 1, 25}).accepted);
  show(Point::solution_temperature, 20);
  show(Point::solution_ph, 6);  // 59.16 mV from neutral, where a pH is 58.17 mV
  EXPECT_NEAR(reading(rig, Point::solution_ph), 7 - 59.16 / 58.17, 0.0005);
}

TEST_F(Probes, EcIsBroughtTo25CBeforeItIsJudged) {
  rig.plan.calibration.ec_per_kelvin = 0.0191;
  show(Point::solution_temperature, 15);
  show(Point::solution_ec, 1.14145);
  EXPECT_NEAR(reading(rig, Point::solution_ec), 1.411, 0.0005);  // true 1.40823: 0.2 % off
  show(Point::solution_temperature, 15.5);
  rig.silence(Point::solution_temperature);
  rig.run(minutes{20});
  show(Point::solution_ec, 1.14145);
  EXPECT_NEAR(reading(rig, Point::solution_ec), 1.14145 / (1 - 0.0191 * 9.5), 1e-6);
}

TEST_F(Probes, AnEcCalibrationTakesOffWhatADryCellShows) {
  ASSERT_TRUE(calibrate(rig, {SolutionProbe::ec, 0.02, 0.97, 25}).accepted);
  show(Point::solution_ec, 0.02 + 0.97 * 1.413);
  EXPECT_NEAR(reading(rig, Point::solution_ec), 1.413, 1e-9);
}

TEST_F(Probes, AnotherProbeOrWiringVoidsTheCalibration) {
  ASSERT_TRUE(calibrate(rig, {SolutionProbe::ph, 6.91, 0.95, 25}).accepted);
  rig.plan.calibration.hardware[0] = kProbe + 7;
  show(Point::solution_ph, 6.91);
  EXPECT_EQ(reading(rig, Point::solution_ph), 6.91);
  EXPECT_EQ(calibration_due(rig.plan, rig.state).reason, Reason::never_calibrated);
}

TEST_F(Probes, OneThatIsNotFittedIsNotCalibrated) {
  rig.plan.points[Point::solution_ph].reset();
  const Event answer = calibrate(rig, {SolutionProbe::ph, 6.91, 0.95, 25});
  EXPECT_FALSE(answer.accepted);
  EXPECT_EQ(answer.because.reason, Reason::not_fitted);
}

TEST_F(Probes, FallDueAgainAfterTheirTime) {
  ASSERT_TRUE(calibrate(rig, {SolutionProbe::ph, 7, 1, 25}).accepted);
  ASSERT_TRUE(calibrate(rig, {SolutionProbe::ec, 0, 1, 25}).accepted);
  EXPECT_EQ(calibration_due(rig.plan, rig.state).reason, Reason::none);
  rig.state.kept.calibrations[0].at_unix_ms -= Millis{hours{24 * 31}}.count();
  const Because due = calibration_due(rig.plan, rig.state);
  EXPECT_EQ(due.reason, Reason::calibration_due);
  EXPECT_EQ(due.args[1], 31);
  rig.run(seconds{12});
  EXPECT_EQ(rig.state.kept.alarms[static_cast<std::size_t>(Alarm::calibration_due)].state,
            AlarmState::unacknowledged);
}

}  // namespace
}  // namespace neap
