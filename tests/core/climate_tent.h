// A tent small enough to reason about: one node of air with a vapour source, a lamp, a wall and the
// devices, probes that lag, and dwells as the arbiter keeps them. It drives run_climate() the way
// the scan does. Its saturation curve is Buck's (1981), not the daemon's. Its figures
// are assumptions: UA 25 W/K, 15 kJ/K, probe lags 45 s and 30 s, samples every 10 s.
#pragma once

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <vector>

#include "daemon/core/air.h"
#include "daemon/core/climate.h"
#include "daemon/core/instant.h"
#include "daemon/core/plan.h"

namespace neap::testing_tent {

constexpr Instant kStart = instant(Millis{4294967000});
constexpr double kPressure = 101.325;
constexpr double kLatent = 2450;  // J/g

inline double buck_kpa(double t) {
  return 0.61121 * std::exp((18.678 - t / 234.5) * (t / (257.14 + t)));
}
inline double vapour_kpa(double w) { return w * kPressure / (0.621945 + w); }

struct Device {
  bool fitted = false;
  bool runs = false;
  Instant changed = kStart - hours{1};
  Millis min_on = minutes{5};
  Millis min_off = minutes{5};
  int starts = 0;

  bool may_change(Instant now) const { return now >= changed + (runs ? min_on : min_off); }
  LegalMove move(Instant now) const {
    LegalMove m;
    m.fitted = fitted;
    m.level = runs ? kRunning : kStopped;
    m.min_on = min_on;
    m.min_off = min_off;
    m.may_stop_at = changed + min_on;
    m.may_start_at = changed + min_off;
    m.may_stop = runs && now >= m.may_stop_at;
    m.may_start = !runs && now >= m.may_start_at;
    return m;
  }
  void obey(bool wanted, Instant now) {
    if (!fitted || wanted == runs || !may_change(now)) return;
    runs = wanted;
    changed = now;
    starts += runs ? 1 : 0;
  }
};

struct Tent {
  // the tent and its room
  double volume_m3 = 1.9;
  double flow_m3_per_h = 150;
  double leak_m3_per_h = 4;
  double room_c = 21;
  double room_w = 0.0075;   // kg/kg, mean of the day
  double room_w_swing = 0;  // half of its range; wettest six hours after lights-on
  double day_g_per_h = 140;
  double night_g_per_h = 40;
  double lamp_w = 150;
  bool room_probe = true;
  // devices
  bool fan_variable = true;
  Permille fan_level{200};
  Device dehumidifier;
  double drying_g_per_h = 100;
  double dehumidifier_w = 120;
  bool dries_the_room = false;
  Device humidifier{.min_on = seconds{30}, .min_off = seconds{30}};
  double moistening_g_per_h = 200;
  // state
  double air_c = 22;
  double air_w = 0.0095;
  double room_w_now = 0.0075;
  double run_up = 0;  // dehumidifier, 0..1
  double probe_c = 22;
  double probe_e = 1.5;
  Permille fan_before{200};
  int fan_moves = 0;

  double vpd() const { return buck_kpa(air_c) - vapour_kpa(air_w); }
  double humidity() const { return 100 * vapour_kpa(air_w) / buck_kpa(air_c); }

  void step_one_second(bool day, int second_of_light) {
    const double turn = 2 * 3.14159265358979 * second_of_light / kSecondsPerDay;
    room_w_now = room_w + room_w_swing * std::sin(turn) - (dries_the_room ? run_up * 0.0015 : 0);
    const double flow = 1.2 * (flow_m3_per_h * fan_level.value / 1000 + leak_m3_per_h) / 3600;
    const double source = (day ? day_g_per_h : night_g_per_h) / 3600;
    run_up += ((dehumidifier.runs ? 1.0 : 0.0) - run_up) / 150;
    const double dried = dries_the_room ? 0 : drying_g_per_h / 3600 * run_up;
    const double added = humidifier.runs ? moistening_g_per_h / 3600 : 0;
    const double heat = (day ? lamp_w : 0) - kLatent * (source + added) + kLatent * dried +
                        (dries_the_room ? 0 : dehumidifier_w * run_up);
    air_w +=
        (flow * (room_w_now - air_w) + (source + added - dried) / 1000) / (1.3 * 1.2 * volume_m3);
    air_c += (heat + (25 + 1006 * flow) * (room_c - air_c)) / 15000;
    probe_c += (air_c - probe_c) / 45;
    probe_e += (vapour_kpa(air_w) - probe_e) / 30;
    fan_moves += fan_level == fan_before ? 0 : 1;
    fan_before = fan_level;
  }

  Air measured(Instant now) const {
    const double rh = std::clamp(100 * probe_e / buck_kpa(probe_c), 0.0, 100.0);
    return derive_air(Reading<Celsius>::of(Celsius{probe_c}, Quality::good, now),
                      Reading<PercentRh>::of(PercentRh{rh}, Quality::good, now),
                      Reading<Celsius>::absent(Fault::not_fitted), {}, now);
  }
  Air measured_room(Instant now) const {
    if (!room_probe) return {};
    const double rh = 100 * vapour_kpa(room_w_now) / buck_kpa(room_c);
    return derive_air(Reading<Celsius>::of(Celsius{room_c}, Quality::good, now),
                      Reading<PercentRh>::of(PercentRh{rh}, Quality::good, now),
                      Reading<Celsius>::absent(Fault::not_fitted), {}, now);
  }
};

struct Score {
  double in_band = 0;  // part of all seconds, by the true VPD
  double day = 0;
  double night = 0;
  double lowest = 99;
  double highest = 0;
  double warmest = 0;
  double dehumidifier_starts_a_day = 0;
  double fan_moves_a_day = 0;
};

enum class Stepping { every_second, when_due };

struct Trace {  // what was granted in each second
  std::vector<int> fan;
  std::vector<bool> dehumidifier;
  std::vector<bool> humidifier;
};

// Runs `days` after one of warming up: 16 h of light, one band day and night.
inline Score run(const Plan& plan, const ClimateLaw& law, Tent& tent, Band band, int days = 2,
                 Stepping stepping = Stepping::every_second, Trace* trace = nullptr) {
  LawMemory memory;
  ClimateView view;
  view.targets.band = band;
  view.targets.air_highest = Celsius{30};
  view.targets.humidity_ceiling = PercentRh{90};
  view.beliefs.dehumidifier_place =
      tent.dries_the_room ? DehumidifierPlace::room : DehumidifierPlace::tent;
  Instant due = kStart;
  Score score;
  double good[2] = {0, 0};
  double all[2] = {0, 0};
  const int seconds_in_all = (days + 1) * kSecondsPerDay;
  for (int s = 0; s < seconds_in_all; ++s) {
    const Instant now = next_whole_second(kStart) + seconds{s};
    const bool day = s % kSecondsPerDay < 16 * 3600;
    const bool sample = s % 10 == 0;
    if (sample) {
      view.canopy = tent.measured(now);
      view.room = tent.measured_room(now);
    }
    if (stepping == Stepping::every_second || sample || now >= due) {
      view.now = now;
      view.new_sample = sample;
      view.targets.day = day;
      view.fan = {
          true, tent.fan_variable, tent.fan_level, Permille{200}, kRunning, true, true, {}, {}, {},
          {}};
      view.dehumidifier = tent.dehumidifier.move(now);
      view.humidifier = tent.humidifier.move(now);
      Demands demands;
      const ClimateAsk ask = run_climate(plan, law, view, memory, demands);
      tent.fan_level = ask.fan.level;
      tent.dehumidifier.obey(ask.dehumidifier.level == kRunning, now);
      tent.humidifier.obey(ask.humidifier.level == kRunning, now);
      due = ask.decide_again;
      // The arbiter's own wake: a dwell that ends is a moment to start or stop.
      for (const Device* d : {&tent.dehumidifier, &tent.humidifier}) {
        const Instant end = d->changed + (d->runs ? d->min_on : d->min_off);
        if (end > now) due = std::min(due, end);
      }
    }
    if (trace != nullptr) {
      trace->fan.push_back(tent.fan_level.value);
      trace->dehumidifier.push_back(tent.dehumidifier.runs);
      trace->humidifier.push_back(tent.humidifier.runs);
    }
    if (s == kSecondsPerDay) tent.fan_moves = tent.dehumidifier.starts = 0;
    tent.step_one_second(day, s % kSecondsPerDay);
    if (s < kSecondsPerDay) continue;
    const double vpd = tent.vpd();
    good[day] += vpd >= band.low.value && vpd <= band.high.value ? 1 : 0;
    all[day] += 1;
    score.lowest = std::min(score.lowest, vpd);
    score.highest = std::max(score.highest, vpd);
    score.warmest = std::max(score.warmest, tent.air_c);
  }
  score.in_band = (good[0] + good[1]) / (all[0] + all[1]);
  score.day = good[1] / all[1];
  score.night = good[0] / all[0];
  score.dehumidifier_starts_a_day = static_cast<double>(tent.dehumidifier.starts) / days;
  score.fan_moves_a_day = static_cast<double>(tent.fan_moves) / days;
  return score;
}

}  // namespace neap::testing_tent
