// What a scan costs, and what a simulated day is made of. The aim for scan() is 2 us in the mean: a
// day of 86 400 scans is then under 0.2 s, and 90 days under 16 s.
#include <benchmark/benchmark.h>

#include <algorithm>
#include <cmath>
#include <memory>
#include <stdexcept>
#include <string>

#include "daemon/core/psychrometrics.h"
#include "daemon/core/scan.h"
#include "daemon/settings/settings.h"
#include "drivers/simulated/tent.h"

namespace neap {
namespace {

constexpr Instant kStart = instant(Millis{4294967000});
constexpr std::int64_t kStartUnixMs =
    1775779200000;  // 2026-04-10T00:00Z, a day with floods in the demo
constexpr const char* kDemo = NEAP_SOURCE_DIR "/config/demo.yaml";

const settings::Loaded& demo() {
  static const settings::LoadResult result = settings::load_file(kDemo);
  if (!result.loaded)
    throw std::runtime_error(std::string{kDemo} + ": " + result.problems[0].message);
  return *result.loaded;
}

// The demo's table as a bathtub and its air as a wave, so that floods run their course and the
// climate law has something to do; what these cost is a few ns a scan.
class Grow {
 public:
  Grow() : plan_(demo().plan), state_(start_state(plan_, nullptr, kStart)) {
    inputs_.outputs_proven = true;
    inputs_.wall.quality = TimeQuality::synced;
  }

  void scan_next() {
    now_ += seconds{1};
    inputs_.wall.unix_ms = kStartUnixMs + (now_ - kStart).count();
    if (now_.time_since_epoch() % kAnalogPeriod < seconds{1}) sample_analog();
    sample_contacts();
    scan(plan_, law_of(plan_.climate), state_, inputs_, now_, outcome_);
    pumping_ = outcome_.outputs.commands[Output::pump].level > kStopped;
    tray_l_ = std::clamp(tray_l_ + (pumping_ ? kFillLPerS : -kDrainLPerS), 0.0, kTrayFullL);
    pump_scans_ += pumping_ ? 1 : 0;
  }
  const Outcome& outcome() const { return outcome_; }
  int pump_scans() const { return pump_scans_; }

 private:
  static constexpr Millis kAnalogPeriod = seconds{10};  // as the demo's settings have it
  static constexpr double kTrayFullL = 26;
  static constexpr double kFillLPerS = 0.2;
  static constexpr double kDrainLPerS = 0.05;
  static constexpr double kReservoirL = 45;

  void set(Point point, double value) {
    Sample& sample = inputs_.samples[point];
    sample = {value, Fault::none, now_, sample.count + 1};
  }
  void sample_analog() {
    const double wave = std::sin(static_cast<double>(tick_ms(now_)) / 3.6e6);
    set(Point::canopy_temperature, 24 + 2 * wave);
    set(Point::canopy_humidity, 62 - 12 * wave);
    set(Point::room_temperature, 21);
    set(Point::room_humidity, 50);
    set(Point::solution_temperature, 20);
    set(Point::reservoir_level, kReservoirL - tray_l_);
  }
  void sample_contacts() {  // each second
    set(Point::tray_full, tray_l_ >= kTrayFullL ? 1 : 0);
    set(Point::tray_wet, tray_l_ > 0 ? 1 : 0);
    set(Point::reservoir_low, 1);  // lifted: there is water
    set(Point::pump_running, pumping_ ? 1 : 0);
    for (const Point contact : {Point::tray_high, Point::leak_floor, Point::leak_rack,
                                Point::leak_reservoir, Point::bucket_full})
      set(contact, 0);
  }

  Plan plan_;
  Instant now_ = kStart;
  State state_;
  Inputs inputs_;
  Outcome outcome_;
  bool pumping_ = false;
  double tray_l_ = 0;
  int pump_scans_ = 0;
};

void scan_of_the_demo(benchmark::State& state) {
  static const auto grow = std::make_unique<Grow>();  // goes on from repetition to repetition
  for (auto _ : state) {
    grow->scan_next();
    benchmark::DoNotOptimize(grow->outcome().next_wake);
  }
  state.counters["pump_scans"] = grow->pump_scans();  // 0 would mean that nothing was decided
}
BENCHMARK(scan_of_the_demo)->Unit(benchmark::kMicrosecond);

void simulated_tent_one_second(benchmark::State& state) {
  static std::string error;
  static const auto tent = drivers::make_tent(*demo().hardware.simulation, kStartUnixMs, 0, error);
  if (!tent) throw std::runtime_error(error);
  static Instant now = tent->advance_to(kStart);
  for (auto _ : state) now = tent->advance_to(now + seconds{1});
}
BENCHMARK(simulated_tent_one_second)->Unit(benchmark::kMicrosecond);

void air_vpd_and_dew_point(benchmark::State& state) {
  double humidity = 40;
  for (auto _ : state) {
    humidity = humidity < 90 ? humidity + 0.01 : 40;
    benchmark::DoNotOptimize(air_vpd(Celsius{24}, PercentRh{humidity}));
    benchmark::DoNotOptimize(dew_point(Celsius{24}, PercentRh{humidity}));
  }
}
BENCHMARK(air_vpd_and_dew_point);

void load_the_demo_settings(benchmark::State& state) {
  for (auto _ : state) benchmark::DoNotOptimize(settings::load_file(kDemo));
}
BENCHMARK(load_the_demo_settings)->Unit(benchmark::kMicrosecond);

}  // namespace
}  // namespace neap
