// A reservoir below a flood table, minute by minute, as its level sensor tells of it: what the
// detectors of a leak and of clogging are tried on. The water is exact; what the sensor adds is the
// noise of an ultrasonic one. Figures are assumptions and stand here alone, so that a bench can
// print them.
#pragma once

#include <cmath>
#include <cstdint>
#include <random>
#include <vector>

#include "daemon/solution/trends.h"
#include "daemon/solution/water_balance.h"

namespace neap::solution::model {

struct Conditions {
  double area_m2 = 0.24;       // of the reservoir: 1 mm is 240 mL
  double white_mm = 2;         // a minute's reading, uniform to each side
  double drift_mm = 0.35;      // deviation of a drift that forgets itself in three hours
  double diurnal_mm = 0.1;     // amplitude of a drift with the time of day
  double lit_l_per_h = 0.140;  // taken by plants and air, 06:00 to 22:00
  double dark_l_per_h = 0.038;
  double day_to_day = 0.10;      // deviation of a day's taking
  double growth_per_day = 0.02;  // through a grow of eight weeks, then young plants again
  double demand_error = 0.06;    // deviation of a day's estimate of what the air asked
  double lid_l_per_h = 0.004;    // evaporates from the reservoir
  double hold_up_l = 0.050;      // deviation of what the medium keeps of a flood
  std::vector<double> floods_h{6.75, 11.17, 15.58, 20.0};
  double flood_takes_h = 0.45;  // until proven drained
  double full_l = 55;
  double refill_below_l = 30;  // at 19:00
};

struct Leak {
  double l_per_h = 0;
  double from_h = 0;
  bool in_floods_only = false;  // a seam of the tray: the same litres a day, lost while it is full
};

class Noise {
 public:
  explicit Noise(std::uint64_t seed) : engine_(seed) {}
  double normal() { return normal_(engine_); }
  double uniform(double half) { return half * (2 * uniform_(engine_) - 1); }

 private:
  std::mt19937_64 engine_;
  std::normal_distribution<double> normal_;
  std::uniform_real_distribution<double> uniform_;
};

class Reservoir {
 public:
  Reservoir(const Conditions& conditions, const Leak& leak, std::uint64_t seed)
      : c_(conditions), leak_(leak), noise_(seed) {}

  WaterRecord live(int days) {
    level_ = c_.full_l;
    for (int day = 0; day < days; ++day) live_a_day(day);
    return record_;
  }

 private:
  void live_a_day(int day) {
    const double grown = std::pow(1 + c_.growth_per_day, day % 56);
    const double taking = std::max(0.2, 1 + c_.day_to_day * noise_.normal());
    const double believed = 1 + c_.demand_error * noise_.normal();
    std::size_t next = 0;
    for (int minute = 0; minute < 24 * 60; ++minute) {
      const double of_day = minute / 60.0;
      const double now = day * 24 + of_day;
      if (next < c_.floods_h.size() && of_day >= c_.floods_h[next]) flood(now), ++next;
      const bool lit = of_day >= 6 && of_day < 22;
      const double taken = (lit ? c_.lit_l_per_h : c_.dark_l_per_h) * grown * taking / 60;
      deficit_ += taken;
      demand_ += taken * believed;
      level_ -= c_.lid_l_per_h / 60;
      if (!leak_.in_floods_only && now >= leak_.from_h) level_ -= leak_.l_per_h / 60;
      if (minute == 19 * 60 && level_ < c_.refill_below_l) level_ = c_.full_l;
      read(now, of_day);
    }
  }

  void flood(double now) {
    level_ -= deficit_ + held_change();
    deficit_ = 0;
    if (leak_.in_floods_only && now >= leak_.from_h)
      level_ -= leak_.l_per_h * 24 / static_cast<double>(c_.floods_h.size());
    record_.floods.push_back({now, now + c_.flood_takes_h, demand_});
    demand_ = 0;
  }

  // The medium keeps a little more or less than the flood before: it comes back with the next.
  double held_change() {
    const double before = held_;
    held_ = c_.hold_up_l * noise_.normal();
    return held_ - before;
  }

  void read(double now, double of_day) {
    constexpr double kPi = 3.14159265358979;
    const double keeps = std::exp(-1 / 180.0);
    drift_ = keeps * drift_ + std::sqrt(1 - keeps * keeps) * c_.drift_mm * noise_.normal();
    const double off =
        noise_.uniform(c_.white_mm) + drift_ + c_.diurnal_mm * std::sin(2 * kPi * of_day / 24);
    record_.levels.push_back({now, level_ + off * c_.area_m2});
  }

  Conditions c_;
  Leak leak_;
  Noise noise_;
  WaterRecord record_;
  double level_ = 0, deficit_ = 0, demand_ = 0, drift_ = 0, held_ = 0;
};

// Times of floods, four a day: `change(flood)` is what they are multiplied by.
template <class Change>
std::vector<Timed> timed_floods(int count, double seconds, double noise, std::uint64_t seed,
                                Change change) {
  Noise random(seed);
  std::vector<Timed> times;
  for (int i = 0; i < count; ++i)
    times.push_back({i * 6.0 + 6.75, seconds * change(i) * std::exp(noise * random.normal())});
  return times;
}

}  // namespace neap::solution::model
