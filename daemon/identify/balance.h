// The vapour balance of a tent, run through its record with everything that its owner only believes
// left open, and compared with what the canopy probe said and what the reservoir lost:
//
//   storage rho V dw/dt = E - rho Q (w - wroom) + mist - dehumidifier + held rho V dws/dt
//   dws/dt = (w - ws) / 600 s                    what fabric and medium take up (an assumption)
//   Q = sqrt((flow Qlabel (u - 0.1) / 0.9)^2 + (leak + 1.6 sqrt|T - Troom|)^2)   (tent_model.h)
//   E = (e(t) + flood f(t)) (1 + answer (VPD - 1 kPa))
//
// e(t) is a broken line with a knot an hour, torn at light edges; f(t) rises while water moves and
// fades. The canopy probe follows the air's vapour through mixing and a lag of its own and may be
// off by `offset` % RH against the room's; its temperature lags too, which matters when a
// dehumidifier warms the air: the air is as warm as the probe will say a little later. What a
// dehumidifier takes out first wets its coil, and dries off it again while it rests (Shirey and
// Henderson 2004: 30 to 80 g; 25 min at 1 kPa, an assumption).
//
// Vapour alone cannot tell litres: without storage, all of it times two would fit as well. What can
// is the reservoir. After a flood the medium is full, so that from one flood's end to the next the
// level falls by just what went into the air:
//
//   sum E dt = level after a flood - level after the next
//
// In a step test one thing changes at a time, while what else the model gets wrong of the air
// changes slowly. There each half minute is weighed, less a straight line over the whole test: what
// is left are the answers to the steps (the pairs of control.md 4.4), which tell dehumidifier, coil
// and lag.
#pragma once

#include <array>
#include <cstddef>
#include <vector>

#include "daemon/core/climate.h"
#include "daemon/identify/fit.h"
#include "daemon/identify/record.h"

namespace neap::identify {

enum class Unknown : std::uint8_t {
  flow,      // times the label
  leak,      // m3/h without fan and warmth
  drying,    // dehumidifier, times the label
  mist,      // humidifier, times the label
  storage,   // at once, times the air's own
  held,      // by fabric and medium, times the air's own
  answer,    // of the vapour source, 1/kPa
  offset,    // of the canopy humidity probe against the room's, %
  lag,       // of the canopy humidity probe, without mixing, s
  coil,      // water on the dehumidifier's coil, g
  room_lag,  // of the room's probe, s
  flood,     // vapour of the wet medium, times kFloodPeak
  splash,    // of moving water besides, times kFloodPeak
  fades,     // of a flood's vapour, s
};
constexpr std::size_t kUnknowns = 14;

// What is believed before the record is looked at. Logarithmic ones are positive: `spread` is then
// of their logarithm.
struct Prior {
  Unknown unknown;
  double middle;
  double spread;
  bool logarithmic;
};

struct Beliefs {
  neap::Beliefs labels;
  // Both humidity probes were side by side and their settings' offsets make them agree.
  bool probes_compared = false;
};

class Balance {
 public:
  Balance(const Record& record, const Beliefs& beliefs);

  std::size_t windows() const { return air_.size(); }
  std::size_t floods_weighed() const { return water_.size(); }
  int fan_tests() const { return fan_tests_; }
  int drying_tests() const { return drying_tests_; }
  double hours_lit() const { return hours_lit_; }
  double hours_dark() const { return hours_dark_; }
  double hours_drying() const { return hours_drying_; }  // dehumidifier in the tent
  int drying_starts() const { return drying_starts_; }
  double hours_misting() const { return hours_misting_; }
  double mean_fan() const { return mean_fan_; }  // 0..1
  double mean_warmer_k() const { return mean_warmer_k_; }

  std::vector<double> start() const;
  Layout layout() const;
  Linearised linearise(const std::vector<double>& unknown) const;
  // What residuals are over their expectation; later residuals are measured by it.
  void widen(const std::vector<double>& residual);

  double value(Unknown which, const std::vector<double>& unknown) const;
  double prior_spread(Unknown which) const;  // of the number in `unknown`
  double flow_m3_per_h(double level, double warmer_k, const std::vector<double>& unknown) const;
  double probe_lag_s(const std::vector<double>& unknown) const;  // mixing included
  struct Vapour {
    double lit_g_per_h = 0, dark_g_per_h = 0;  // means over the record, floods included
    double flood_ml = 0;                       // a flood's own, mean
  };
  Vapour vapour(const std::vector<double>& unknown) const;

 private:
  static constexpr std::size_t kWindow = 12;  // steps
  static constexpr std::size_t kGlance = 3;   // steps of a window in a step test
  static constexpr double kDead = 0.1;        // below it the fan moves nothing (tent_model.cpp)
  struct Window {                             // steps [from, to)
    std::size_t from = 0, to = 0;
    double spread = 1;  // g/kg of a probe's mean, g of the reservoir
    double target = 0;
    int block = 0;
  };
  struct Answer {  // a step test: rows [first, first + rows) of tested_
    std::size_t first = 0, rows = 0;
  };
  struct Known {  // a step, as far as nothing unknown goes into it; air and room smoothed
    double g_per_kg = 0, g_per_kg_per_percent = 0;  // as the canopy probe said
    double celsius = 0, saturation_kpa = 0;         // of the air, ahead of the probe
    double room_g_per_kg = 0, warmer_k = 0;
    double fan_part = 0;
    double dries = 0, mists = 0;  // parts of the step
    bool water_moves = false, lit = false, seen = false;
    std::size_t knot = 0;
    double after_knot = 0;  // 0..1 on the way to the next one
  };
  struct Course {                       // what follows from the unknowns at each step
    std::vector<double> said_g_per_kg;  // by the canopy probe, were it right
    std::vector<double> source_g_per_h;
  };

  void know(const Record& record);
  void smooth();
  void place_knots(const Record& record);
  void cut_windows(const Record& record);
  void weigh_floods(const Record& record);
  void cut_tests(const Record& record);
  double noise_of_air() const;
  std::vector<double> sources(const std::vector<double>& unknown) const;
  Course follow(const std::vector<double>& unknown) const;
  std::vector<double> residuals(const std::vector<double>& unknown) const;
  void slopes_of_knots(const std::vector<double>& unknown, Matrix& slope) const;
  std::size_t width() const { return kUnknowns + knots_; }

  Beliefs beliefs_;
  std::array<Prior, kUnknowns> priors_;
  std::vector<Known> steps_;
  std::vector<Window> air_, water_, tested_;
  std::vector<Answer> answers_;
  std::vector<std::size_t> first_knots_;  // of each stretch of light or dark
  std::size_t knots_ = 0;
  int floods_ = 0;
  double typical_g_per_h_ = 1;
  double hours_lit_ = 0, hours_dark_ = 0, hours_drying_ = 0, hours_misting_ = 0;
  int drying_starts_ = 0;
  int fan_tests_ = 0, drying_tests_ = 0;
  double mean_fan_ = 0, mean_warmer_k_ = 0;
};

}  // namespace neap::identify
