// A tent made of arithmetic, for tests of daemon/identify: an air exchange, a vapour source, a
// dehumidifier and a reservoir of known size, without the simulated plant. It steps each second, by
// Euler's rule, and reads its probes each 10 s.
#pragma once

#include <algorithm>
#include <cmath>

#include "daemon/core/psychrometrics.h"
#include "daemon/identify/record.h"

namespace neap::identify {

struct KnownTent {
  double volume_m3 = 1.9;
  double full_m3_h = 130;
  double leak_m3_h = 5;
  double lit_g_h = 120, dark_g_h = 30;
  double drying_g_h = 0;  // taken out while the dehumidifier runs
  double room_c = 21, room_percent = 50;
  double offset_percent = 0;  // of the canopy humidity probe
  double noise_percent = 0.3, noise_litre = 0.05;
  double lag_s = 0;  // of the canopy humidity probe
  int days = 3;
  bool dries_by_turns = true;  // an hour each, all night; else in the step test alone
  // On the second day: one of the fan at noon, one of the dehumidifier at night.
  bool fan_test = false, drying_test = false;
};

inline double tent_ratio(double celsius, double percent) {  // g/kg at 101.325 kPa
  const double e = vapour_pressure(Celsius{celsius}, PercentRh{percent})->value;
  return 621.945 * e / (101.325 - e);
}
inline double tent_percent(double celsius, double g_per_kg) {
  const double e = 101.325 * g_per_kg / (621.945 + g_per_kg);
  return 100 * e / saturation_pressure(Celsius{celsius})->value;
}

// A number in -1..1 that looks drawn, by the step alone.
inline double tent_noise(std::size_t step, double salt) {
  const double x = std::sin(static_cast<double>(step) * 12.9898 + salt) * 43758.5453;
  return 2 * (x - std::floor(x)) - 1;
}

// Levels of a step test that the step belongs to, as daemon/core/step_test.h has them.
inline void step_test(const KnownTent& tent, std::size_t i, Step& step, Record& record) {
  constexpr std::size_t kFanTest = 8640 + 4000, kDryingTest = 8640 + 6500;
  if (tent.fan_test && i >= kFanTest && i < kFanTest + 180) {
    step.fan = (i - kFanTest) / 60 == 1 ? 0.8 : 0.3;
    if (i == kFanTest) record.tests.push_back({i, i + 180, true});
  }
  if (tent.drying_test && i >= kDryingTest && i < kDryingTest + 360) {
    step.fan = 0.4;
    step.dehumidifier = (i - kDryingTest) / 90 % 2 == 1 ? 1 : 0;
    if (i == kDryingTest) record.tests.push_back({i, i + 360, false});
  }
}

inline Record record_of(const KnownTent& tent) {
  constexpr std::size_t kDay = 8640;
  Record record;
  const double room = tent_ratio(tent.room_c, tent.room_percent);
  double air = room, litres = 60, owed_g = 0, run_up = 0, coil_g = 0, said = room;
  for (std::size_t i = 0; i < kDay * static_cast<std::size_t>(tent.days); ++i) {
    const std::size_t in_day = i % kDay;
    Step step;
    const bool lit = in_day < kDay * 2 / 3;
    step.light = lit ? 1 : 0;
    step.fan = i / 360 % 3 == 0 ? 0.3 : i / 360 % 3 == 1 ? 0.5 : 0.8;  // an hour each
    const bool dries = tent.drying_g_h > 0 && tent.dries_by_turns;
    step.dehumidifier = dries && !lit && i / 360 % 2 == 0 ? 1 : 0;
    step_test(tent, i, step, record);
    const double celsius = lit ? 25 : 22;
    step.room = Probe{tent.room_c, tent.room_percent};
    step.canopy = Probe{celsius, tent_percent(celsius, said) + tent.offset_percent +
                                     tent.noise_percent * tent_noise(i, 0.5)};
    // Four floods by day; each takes up what has gone into the air since the one before.
    const std::size_t in_slot = in_day % (kDay / 6);
    const bool floods = lit && in_slot >= 400;
    step.water_moves = floods && in_slot < 460;
    if (floods && in_slot == 400) {
      record.floods.push_back({i, i + 60, true});
    }
    if (floods && in_slot == 459) {
      litres -= owed_g / 1000;
      owed_g = 0;
    }
    step.level_l = litres + tent.noise_litre * tent_noise(i, 7.25);
    record.steps.push_back(step);
    const double flow =
        1.2 * std::hypot(tent.full_m3_h * (step.fan - 0.1) / 0.9,
                         tent.leak_m3_h + 1.6 * std::sqrt(std::abs(celsius - tent.room_c)));
    const double source = lit ? tent.lit_g_h : tent.dark_g_h;
    const double dry_kpa =
        saturation_pressure(Celsius{celsius})->value * (1 - tent_percent(celsius, air) / 100);
    for (int second = 0; second < 10; ++second) {
      const bool runs = step.dehumidifier > 0;
      run_up += ((runs ? 1 : 0) - run_up) / (runs ? 150 : 40);
      const double taken = tent.drying_g_h / 3600 * run_up;
      const double dried = runs ? 0 : coil_g * dry_kpa / 1500;
      coil_g = std::min(50.0, coil_g + taken - dried);
      air += ((source - flow * (air - room)) / 3600 - taken + dried) / (1.2 * tent.volume_m3);
      said += tent.lag_s > 0 ? (air - said) / tent.lag_s : air - said;
    }
    owed_g += source * kStepHours;
  }
  if (!record.floods.empty() && record.floods.back().drained >= record.steps.size())
    record.floods.pop_back();
  return record;
}

}  // namespace neap::identify
