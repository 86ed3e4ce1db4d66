// Makes the journal of a tent that nobody has to wait a year for, through the very writer of neapd.
//   year_journal FILE [DAYS]   DAYS: 365
// Twenty points each 10 s with the daily swing of a tent, noise of the size that cheap digital
// probes show, at each point's own quantum and at ticks that are late by some milliseconds; six
// floods, a light and 300 fan moves a day, an alarm each third day, a closed day each morning. The
// figures are a choice: what matters is how much of it there is and how far a reading is from the
// one before.
#include <array>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <numbers>
#include <sstream>

#include "daemon/journal/journal.h"

namespace neap::journal {
namespace {

constexpr std::int64_t kFirstTick = 4'294'967'000;
constexpr std::int64_t kFirstUnixMs = 1'767'225'600'000;  // 2026-01-01
constexpr std::int64_t kDayMs = Millis{hours{24}}.count();
constexpr std::int64_t kStepMs = Millis{seconds{10}}.count();
constexpr int kStepsADay = static_cast<int>(kDayMs / kStepMs);
constexpr int kFloodsADay = 6;
constexpr int kFloodSteps = 24;  // of 10 s
constexpr int kFanMovesADay = 300;
constexpr int kFirstDate = 20454;  // of 2026-01-01

// Mean, daily swing either way, and noise of a probe, in its unit.
struct Wave {
  Point point;
  double mean, swing, noise;
};
constexpr std::array kWaves{Wave{Point::canopy_temperature, 23.5, 3, 0.02},
                            Wave{Point::canopy_humidity, 62, 8, 0.08},
                            Wave{Point::canopy_b_temperature, 23.2, 3, 0.02},
                            Wave{Point::canopy_b_humidity, 63, 8, 0.08},
                            Wave{Point::room_temperature, 19, 1.5, 0.02},
                            Wave{Point::room_humidity, 50, 6, 0.08},
                            Wave{Point::leaf_temperature, 22.5, 3, 0.05},
                            Wave{Point::solution_temperature, 19.5, 1, 0.03},
                            Wave{Point::solution_ph, 5.9, 0.1, 0.004},
                            Wave{Point::solution_ec, 1.4, 0.05, 0.003},
                            Wave{Point::reservoir_level, 45, 1, 0.05},
                            Wave{Point::light_level, 9000, 9000, 30},
                            Wave{Point::outdoor_temperature, 11, 7, 0.05},
                            Wave{Point::outdoor_humidity, 75, 15, 0.1},
                            Wave{Point::canopy_vpd, 1.05, 0.3, 0.004},
                            Wave{Point::leaf_vpd, 0.95, 0.3, 0.005},
                            Wave{Point::canopy_dew_point, 15.6, 1, 0.04},
                            Wave{Point::canopy_vapour_density, 13, 1, 0.04},
                            Wave{Point::room_vpd, 1.1, 0.15, 0.004},
                            Wave{Point::room_dew_point, 8.5, 1, 0.04}};
static_assert(kWaves.size() == 20);

// Fast, and the same everywhere (G. Marsaglia, Xorshift RNGs, 2003).
class Random {
 public:
  std::uint64_t next() {
    state_ ^= state_ << 13;
    state_ ^= state_ >> 7;
    return state_ ^= state_ << 17;
  }
  double about_zero() {  // a sum of four is near enough to a bell, of deviation 1
    double sum = 0;
    for (int i = 0; i < 4; ++i) sum += static_cast<double>(next() >> 11) * 0x1p-53 - 0.5;
    return sum * std::sqrt(3.0);
  }

 private:
  std::uint64_t state_ = 88172645463325252ULL;
};

class Year {
 public:
  explicit Year(Writer& writer) : writer_(writer) {}
  void begin(const std::string& settings);
  void day(int number);

 private:
  void step(int day, int step);
  void event(std::int64_t tick, EventKind kind, const Event& base = {});
  void flood(std::int64_t tick, FloodPhase phase);
  void close(int day);

  Writer& writer_;
  Random random_;
  std::array<double, kWaves.size()> drift_{};
};

void Year::begin(const std::string& settings) {
  writer_.put(BootEntry{instant(Millis{kFirstTick}), "bench", true});
  writer_.put(SettingsEntry{instant(Millis{kFirstTick}), 1, settings, true, "at start"});
}

void Year::event(std::int64_t tick, EventKind kind, const Event& base) {
  EventEntry entry{instant(Millis{tick}), base};
  entry.event.kind = kind;
  writer_.put(entry);
}

void Year::flood(std::int64_t tick, FloodPhase phase) {
  Event event;
  event.phase = phase;
  event.output = Output::pump;
  event.level = phase == FloodPhase::fill ? kRunning : kStopped;
  this->event(tick, EventKind::flood_phase, event);
  if (phase == FloodPhase::fill || phase == FloodPhase::soak)
    this->event(tick, EventKind::actuation, event);
}

void Year::step(int day, int step) {
  const std::int64_t tick = kFirstTick + day * kDayMs + step * kStepMs;
  const double angle = 2 * std::numbers::pi * step / kStepsADay;
  const int into_flood = step % (kStepsADay / kFloodsADay);
  for (std::size_t i = 0; i < kWaves.size(); ++i) {
    const Wave& wave = kWaves[i];
    drift_[i] = 0.9999 * drift_[i] + 0.003 * wave.swing * random_.about_zero();
    double value =
        wave.mean + drift_[i] + wave.swing * std::sin(angle) + wave.noise * random_.about_zero();
    if (wave.point == Point::reservoir_level && into_flood < kFloodSteps)
      value -= 20 * std::sin(std::numbers::pi * into_flood / kFloodSteps);
    const auto late = static_cast<std::int64_t>(random_.next() % 4);
    ReadingEntry entry{instant(Millis{tick + late}), wave.point, value, Quality::good, Fault::none};
    if (random_.next() % 5000 == 0)
      entry = {entry.tick, wave.point, std::nullopt, Quality::bad, Fault::no_answer};
    writer_.put(entry);
  }
  if (into_flood == 0) flood(tick, FloodPhase::fill);
  if (into_flood == kFloodSteps / 4) flood(tick, FloodPhase::soak);
  if (into_flood == kFloodSteps / 2) flood(tick, FloodPhase::drain);
  if (into_flood == kFloodSteps) {
    flood(tick, FloodPhase::rest);
    Event event;
    event.cycle.started_tick = tick - kFloodSteps * kStepMs;
    event.cycle.outcome = FloodOutcome::complete;
    event.cycle.fill = event.cycle.soak = event.cycle.drain = minutes{1};
    this->event(tick, EventKind::cycle_closed, event);
  }
  if (step % (kStepsADay / kFanMovesADay) == 5) {
    Event event;
    event.output = Output::exhaust_fan;
    event.level = Permille{static_cast<int>(400 + random_.next() % 400)};
    this->event(tick, EventKind::actuation, event);
  }
}

void Year::close(int day) {
  Event event;
  event.day.began_tick = kFirstTick + day * kDayMs;
  event.day.date = kFirstDate + day;
  event.day.day_known = event.day.night_known = hours{12};
  event.day.day_in_band = event.day.night_in_band = hours{11};
  event.day.floods_planned = event.day.floods_started = event.day.floods_complete = kFloodsADay;
  event.day.litres_out = event.day.litres_back = 20.0 * kFloodsADay;
  this->event(kFirstTick + (day + 1) * kDayMs, EventKind::day_closed, event);
}

void Year::day(int number) {
  const std::int64_t began = kFirstTick + number * kDayMs;
  for (int quarter = 0; quarter < 4; ++quarter)
    writer_.put(ClockEntry{
        instant(Millis{began + quarter * kDayMs / 4}),
        {kFirstUnixMs + number * kDayMs + quarter * kDayMs / 4, 0, TimeQuality::synced}});
  if (number > 0) close(number - 1);
  for (int i = 0; i < kStepsADay; ++i) step(number, i);
  if (number % 3 != 0) return;
  Event event;
  event.alarm = Alarm::leak;
  event.alarm_to = AlarmState::unacknowledged;
  this->event(began + kDayMs - 1000, EventKind::alarm, event);
  event.alarm_from = AlarmState::unacknowledged;
  event.alarm_to = AlarmState::normal;
  this->event(began + kDayMs - 500, EventKind::alarm, event);
}

int run(const std::string& path, int days) {
  for (const char* tail : {"", "-wal", "-shm"}) std::filesystem::remove(path + tail);
  std::ifstream settings(NEAP_SOURCE_DIR "/config/demo.yaml");
  std::stringstream text;
  text << settings.rdbuf();
  Options options;
  options.path = path;
  options.durability = Durability::simulated;
  const auto writer = Writer::open(options);
  Year year(*writer);
  year.begin(text.str());
  for (int day = 0; day < days; ++day) year.day(day);
  writer->flush();
  if (!writer->trouble()) return 0;
  std::fprintf(stderr, "year_journal: %s\n", writer->trouble_text().c_str());
  return 1;
}

}  // namespace
}  // namespace neap::journal

int main(int argc, char** argv) {
  if (argc == 2 || argc == 3)
    return neap::journal::run(argv[1], argc == 3 ? std::atoi(argv[2]) : 365);
  std::fprintf(stderr, "usage: year_journal FILE [DAYS]\n");
  return 2;
}
