// The plant without the tent around it: the same physics to the bit, copyable, and with longer
// strides for those who look ahead.
#include <cmath>

#include "drivers/simulated/moist_air.h"
#include "drivers/simulated/plant.h"
#include "tests/drivers/simulated_grow.h"

namespace neap::drivers {
namespace {

using namespace simulated;

// A day's outputs at a second of the day: light from 06:00, a flood of ten minutes at 07:00 and
// 15:00, the dehumidifier ten minutes of each half hour, the fan in four levels.
PerOutput<Permille> outputs_at(std::int64_t second) {
  PerOutput<Permille> outputs;
  for (const OutputInfo& row : kOutputs) outputs[row.output] = row.safe;
  const std::int64_t hour = second / 3600;
  const auto when = [](bool is) { return is ? kRunning : kStopped; };
  outputs[Output::light] = when(hour >= 6 && hour < 22);
  outputs[Output::pump] = when((hour == 7 || hour == 15) && second % 3600 < 600);
  outputs[Output::dehumidifier] = when(second % 1800 < 600);
  outputs[Output::exhaust_fan] = Permille{static_cast<std::int16_t>(250 * (1 + second / 1200 % 4))};
  return outputs;
}

TEST(SimulatedPlant, StepsAsTheTentDoes) {
  Grow grow(Settings{{"refill_below_l", 49}});
  const Plant& plant = grow.tent->plant();
  State s = plant.start();
  for (std::int64_t second = 0; second < 86400; second += 60) {
    const PerOutput<Permille> outputs = outputs_at(second);
    for (const OutputInfo& row : kOutputs) grow.tent->write(row.output, outputs[row.output]);
    const Acting acting = plant.act(s, outputs);
    for (int i = 0; i < 60; ++i) plant.step(s, acting);
    grow.run(minutes{1});
    ASSERT_TRUE(s == grow.tent->state()) << second;
  }
  EXPECT_GT(s.ledger.refilled_kg, 0);
}

TEST(SimulatedPlant, ACopyOfItsStateGoesItsOwnWay) {
  const Grow grow;
  const Plant& plant = grow.tent->plant();
  State kept = plant.start();
  State tried = kept;
  PerOutput<Permille> outputs = outputs_at(0);
  outputs[Output::humidifier] = kRunning;
  const Acting wetting = plant.act(tried, outputs);
  for (int i = 0; i < 60; ++i) plant.step(tried, wetting);
  EXPECT_TRUE(kept == plant.start());
  EXPECT_GT(tried.air_w, kept.air_w);
}

TEST(SimulatedPlant, StridesOfFiveSecondsStayBesideSingleSteps) {
  Grow grow(Settings{{"dehumidifier_l_per_day", 3.5}});
  const Plant& plant = grow.tent->plant();
  State fine = plant.start();
  State coarse = fine;
  double furthest_c = 0, squares = 0;
  int minutes_compared = 0;
  for (std::int64_t second = 0; second < 86400; second += 60) {
    const Acting a = plant.act(fine, outputs_at(second));
    plant.act(coarse, outputs_at(second));
    for (int i = 0; i < 60; ++i) plant.step(fine, a);
    for (int i = 0; i < 12; ++i) plant.stride(coarse, a, 5);
    const double vpd_fine = saturation_kpa(fine.air_c) - vapour_kpa(fine.air_w);
    const double vpd_coarse = saturation_kpa(coarse.air_c) - vapour_kpa(coarse.air_w);
    squares += (vpd_coarse - vpd_fine) * (vpd_coarse - vpd_fine);
    furthest_c = std::max(furthest_c, std::abs(coarse.air_c - fine.air_c));
    ++minutes_compared;
  }
  EXPECT_LT(std::sqrt(squares / minutes_compared), 0.01);  // kPa
  EXPECT_LT(furthest_c, 0.3);                              // K, in the minute after a switch
  EXPECT_NEAR(coarse.reservoir_kg, fine.reservoir_kg, 0.05);
  EXPECT_EQ(coarse.steps, fine.steps);
}

// Contacts and probes count here, which a stride does not move: the floats switch at the same
// second, and what the probes say is as near as the air is.
TEST(SimulatedPlant, ATentThatCoastsTellsTheSameDay) {
  Grow fine(Settings{{"dehumidifier_l_per_day", 3.5}});
  Grow coarse(Settings{{"dehumidifier_l_per_day", 3.5}});
  coarse.tent->coast_by(10);
  double squares = 0;
  int minutes_compared = 0;
  for (std::int64_t second = 0; second < 86400; second += 60) {
    const PerOutput<Permille> outputs = outputs_at(second);
    for (Grow* grow : {&fine, &coarse}) {
      for (const OutputInfo& row : kOutputs) grow->tent->write(row.output, outputs[row.output]);
      grow->run(minutes{1});
    }
    const State& a = fine.tent->state();
    const State& b = coarse.tent->state();
    ASSERT_EQ(b.steps, a.steps);
    ASSERT_EQ(coarse.tent->contacts(), fine.tent->contacts()) << second;
    const double apart = b.canopy.vapour_kpa - a.canopy.vapour_kpa;
    squares += apart * apart;
    ++minutes_compared;
    ASSERT_NEAR(b.level_probe_l, a.level_probe_l, 0.05) << second;
  }
  EXPECT_LT(std::sqrt(squares / minutes_compared), 0.01);  // kPa
  EXPECT_FALSE(fine.tent->state() == coarse.tent->state()) << "it did not coast";
}

}  // namespace
}  // namespace neap::drivers
