// Climate laws against each other: the real scan() with a law of one's choice over the simulated
// tent, without shell and journal, and scored by the tent's own truth.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "daemon/core/climate.h"
#include "daemon/core/request.h"
#include "daemon/core/state.h"
#include "daemon/settings/settings.h"
#include "drivers/simulated/tent.h"

namespace neap::arena {

// A scored stretch of days. Times are by the truth, sampled each 10 s.
struct Score {
  double days = 0;
  double in_band = 0, in_band_day = 0, in_band_night = 0;  // percent of the time
  // Hours a night out of band, by which side.
  double night_humid_h = 0, night_dry_h = 0;
  double too_humid = 0, too_dry = 0;  // percent of the time under and over the band
  double out_kpa_h_d = 0;             // kPa h a day out of band
  double worst_kpa = 0;               // furthest from the band
  double flood_below_kpa = 0;         // mean of the floods that began in band: depth under the band
  double flood_recovery_min = 0;      // and time until it was back in the band
  int floods = 0;
  double starts_d = 0;  // of the dehumidifier
  double humidifier_starts_d = 0;
  double fan_moves_d = 0;           // steps of 5 % and more, by the minute
  double kwh_d = 0;                 // fan, dehumidifier, humidifier
  double humid_h_d = 0;             // over 85 % RH
  double temperature_h_d = 0;       // outside the stage's air limits
  int illegal = 0;                  // dehumidifier changes against its minimum times
  double flagged = 0;               // percent of the time with a binding diagnosis
  int floods_complete = 0;          // in the whole run, warm-up included
  std::string latched;              // names of the latches that stood at the end: a run of no use
  std::vector<float> decisions_us;  // what each decision of the law took
};

struct Run {
  settings::Loaded settings;
  const ClimateLaw* law = nullptr;
  int warm_up_days = 1;
  int days = 4;
  // True: neap's own limits on temperature and humidity keep out of it; for controllers that bring
  // their own.
  bool bare = false;
  bool room_lost = false;  // the room is read no more after the warm-up
};

// For charts and for those who record a run.
struct Minute {
  double elapsed_s;
  const drivers::Truth& truth;
  const Plan& plan;
  const State& state;
};
class Watcher;

// Throws std::runtime_error when the settings' tent cannot be made.
Score run(const Run& run, Watcher* watcher = nullptr);

// Adds what happened each 10 s to a score; the clairvoyant is scored by the same.
class Scorer {
 public:
  Scorer(const Plan& plan, int warm_up_days) : plan_(plan), warm_up_s_(warm_up_days * 86400.0) {}
  struct Moment {  // one step of 10 s
    double elapsed_s = 0;
    double vpd_kpa = 0;  // of what the band speaks of
    Band band;
    bool day = false;
    double air_c = 0, air_percent = 0, air_lowest_c = 0, air_highest_c = 0;
    double fan = 0;  // 0..1
    bool dehumidifier = false, humidifier = false, pump = false;
    bool flagged = false;
    double dehumidifier_j = 0;  // ledger
  };
  void add(const Moment& moment);
  Score finish() const;

 private:
  struct Flood {
    bool open = false;
    bool began_in_band = false;
    double began_s = 0;
    double below = 0;
    double left_s = 0;  // the band
    double out_s = 0;   // was still out of it then
  };
  void count_switches(const Moment& m);
  void follow_flood(const Moment& m, double below);

  const Plan& plan_;
  double warm_up_s_;
  bool any_ = false;
  Moment last_;
  double fan_of_minute_ = -1;
  double changed_s_ = -1e9;  // dehumidifier
  Flood flood_;
  double steps_ = 0, in_ = 0, day_steps_ = 0, day_in_ = 0, humid_ = 0, dry_ = 0;
  double night_humid_ = 0, night_dry_ = 0, out_kpa_steps_ = 0, humid_air_ = 0, hot_or_cold_ = 0;
  double flagged_ = 0, energy_j_ = 0, first_dehumidifier_j_ = 0;
  double below_sum_ = 0, recovery_sum_ = 0;
  int starts_ = 0, mist_starts_ = 0, moves_ = 0, floods_ = 0, illegal_ = 0;
  double worst_ = 0;
};

class Watcher {
 public:
  virtual ~Watcher() = default;
  virtual void minute(const Minute& minute) = 0;            // at each whole minute
  virtual void moment(const Scorer::Moment& /*moment*/) {}  // each 10 s, as it is scored
  // What the daemon knows at each 10 s, after its scan, beside the truth.
  virtual void scanned(const Minute& /*now*/) {}
  // Before each 10 s scan: what a person would ask in it.
  virtual void asks(double /*elapsed_s*/, const State& /*state*/, Requests& /*requests*/) {}
  // An output that changed, to act from the second after `second`.
  virtual void wrote(std::int64_t /*second*/, Output /*output*/, Permille /*level*/) {}
};

constexpr double kStepSeconds = 10;

// 2026-03-20T06:00Z, lights-on of every scenario.
constexpr std::int64_t kStartUnixMs = 1773986400000;

// The exhaust fan's power at a level: 2 W of electronics and the cube law (fan affinity laws).
double fan_watt(double level);
constexpr double kHumidifierWatt = 25;  // small ultrasonic unit; no source

}  // namespace neap::arena
