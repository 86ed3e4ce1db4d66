// The predictive law: what its observer learns, and whole days in the small tent of climate_tent.h.
// Bounds of whole days are what this test measured, with a margin; no published source.
#include "daemon/core/predictive_law.h"

#include <gtest/gtest.h>

#include <cmath>
#include <optional>

#include "daemon/core/tent_observer.h"
#include "daemon/core/two_position_law.h"
#include "tests/core/climate_bench.h"
#include "tests/core/climate_tent.h"

namespace neap {
namespace {

using climate_bench::usual_view;
using testing_tent::Score;
using testing_tent::Tent;

constexpr Band kBand{Kilopascal{0.8}, Kilopascal{1.2}};

// --- what the observer makes of a tent
// ------------------------------------------------------------------------------------------

// Days in the small tent, second by second, with floods, a room probe that fails and restarts.
class Grow {
 public:
  explicit Grow(Tent tent) : tent_(tent) {
    view_.targets.band = kBand;
    view_.targets.air_highest = Celsius{30};
    view_.targets.humidity_ceiling = PercentRh{90};
    view_.beliefs.tent_m3 = tent_.volume_m3;
    view_.fan = {true, true, {}, Permille{200}, kRunning, true, true, {}, {}, {}, {}};
  }
  // `flood_at_s` of each day, for a quarter of an hour; none below 0.
  int flood_at_s = -1;
  double flood_g_per_h = 200;
  std::optional<Permille> hold_fan;  // an operator's

  void run(Millis span) {
    const Instant end = now_ + span;
    for (; now_ < end; now_ += seconds{1}) second();
  }
  void off(Millis span) {  // the board is without power; the tent stays as it is
    now_ += span;
    view_.canopy = {};
  }
  TentEstimate estimate() const { return load_estimate(memory_); }
  const ClimateAsk& ask() const { return ask_; }
  Tent& tent() { return tent_; }
  Instant now() const { return now_; }
  double part_in_band() const { return in_ / all_; }
  void count_afresh() { in_ = all_ = 0; }

 private:
  int second_of_day() const {
    return static_cast<int>((now_ - testing_tent::kStart) / seconds{1}) % kSecondsPerDay;
  }
  void second() {
    const int s = second_of_day();
    const bool day = s < 16 * 3600;
    const bool flooding = flood_at_s >= 0 && s >= flood_at_s && s < flood_at_s + 900;
    view_.new_sample = s % 10 == 0;
    if (view_.new_sample) {
      view_.canopy = tent_.measured(now_);
      view_.room = tent_.measured_room(now_);
    }
    if (view_.canopy.vpd) {
      view_.now = now_;
      view_.targets.day = day;
      view_.fan.level = tent_.fan_level;
      view_.dehumidifier = tent_.dehumidifier.move(now_);
      view_.humidifier = tent_.humidifier.move(now_);
      view_.future = {};
      view_.future.flood_now = flooding;
      if (flooding) view_.future.flood_started = now_ - seconds{s - flood_at_s};
      view_.future.flood_coming = flood_at_s > s;
      view_.future.next_flood = now_ + seconds{flood_at_s - s};
      Demands demands;
      ask_ = run_climate(plan_, law_, view_, memory_, demands);
      tent_.fan_level = hold_fan.value_or(ask_.fan.level);
      tent_.dehumidifier.obey(ask_.dehumidifier.level == kRunning, now_);
      tent_.humidifier.obey(ask_.humidifier.level == kRunning, now_);
    }
    wet_ += ((flooding ? 1.0 : 0.0) - wet_) / (flooding ? 90 : 1200);
    const Tent usual = tent_;
    tent_.day_g_per_h += flood_g_per_h * wet_;
    tent_.step_one_second(day, s);
    tent_.day_g_per_h = usual.day_g_per_h;
    in_ += tent_.vpd() >= kBand.low.value && tent_.vpd() <= kBand.high.value ? 1 : 0;
    all_ += 1;
  }

  Tent tent_;
  PredictiveLaw law_;
  Plan plan_;
  ClimateView view_;
  LawMemory memory_;
  ClimateAsk ask_;
  Instant now_ = next_whole_second(testing_tent::kStart);
  double wet_ = 0;
  double in_ = 0, all_ = 0;
};

// The small tent's fan moves air from its first level on, the believed one only from a tenth: what
// is found is right in proportion to the air that is believed to pass.
TEST(TentObserver, FindsWhatTheTentGivesOffByDayAndByNight) {
  Tent tent;
  tent.leak_m3_per_h = 6;
  Grow grow{tent};
  grow.hold_fan = kRunning;
  grow.run(hours{15});
  EXPECT_NEAR(grow.estimate().vapour_g_per_h, 140, 14);
  // Learnt as it would be at 1 kPa; a full fan keeps this tent at 1.3.
  EXPECT_NEAR(grow.estimate().learnt.day_vapour_g_per_h.value(), 140 / 1.15, 12);
  grow.run(hours{8});
  EXPECT_NEAR(grow.estimate().vapour_g_per_h, 40, 6);
  EXPECT_NEAR(grow.estimate().learnt.night_vapour_g_per_h.value(), 40, 6);
}

TEST(TentObserver, LearnsTheVapourOfAFloodAndThenKnowsItBeforehand) {
  Grow grow{Tent{}};
  grow.flood_at_s = 6 * 3600;
  grow.run(hours{24 * 6});
  EXPECT_NEAR(grow.estimate().learnt.flood_lasts_s.value(), 900, 20);
  const double peak = grow.estimate().learnt.flood_peak_g_per_h;
  EXPECT_GT(peak, 120);
  EXPECT_LT(peak, 280);
  // Known beforehand, it is no news to the observer: the tent's own source hardly moves.
  grow.run(hours{6});
  const double before = grow.estimate().vapour_g_per_h;
  grow.run(minutes{12});
  EXPECT_NEAR(grow.estimate().vapour_g_per_h, before, 50);
}

TEST(TentObserver, ARestartKeepsWhatWasLearntAndTakesTheAirAfresh) {
  Grow grow{Tent{}};
  grow.run(hours{30});
  const TentLearnt learnt = grow.estimate().learnt;
  grow.off(hours{1});
  grow.tent().air_c = 27;
  grow.tent().probe_c = 27;
  grow.run(seconds{11});
  const TentEstimate after = grow.estimate();
  EXPECT_EQ(after.learnt.day_vapour_g_per_h, learnt.day_vapour_g_per_h);
  EXPECT_EQ(after.learnt.night_heat_w, learnt.night_heat_w);
  EXPECT_NEAR(after.air.celsius, 27, 1);
  EXPECT_NEAR(after.vapour_g_per_h, *learnt.day_vapour_g_per_h, 60);
}

TEST(TentObserver, MemoryComesBackAsItWasStored) {
  Grow grow{Tent{}};
  grow.run(hours{20});
  const TentEstimate once = grow.estimate();
  LawMemory memory;
  store_estimate(once, memory);
  const TentEstimate again = load_estimate(memory);
  EXPECT_EQ(again.learnt.day_heat_w, once.learnt.day_heat_w);
  EXPECT_EQ(again.learnt.flood_lasts_s, once.learnt.flood_lasts_s);
  EXPECT_EQ(again.learnt.heat_lag_s, once.learnt.heat_lag_s);
  EXPECT_EQ(again.learnt.vapour_slope2, once.learnt.vapour_slope2);
  EXPECT_TRUE(again.learnt.vapour_lag_s.has_value());
  EXPECT_FALSE(load_estimate(LawMemory{}).learnt.vapour_lag_s.has_value());
  EXPECT_EQ(again.air.g_per_kg, once.air.g_per_kg);
  EXPECT_EQ(again.room.celsius, once.room.celsius);
  EXPECT_EQ(again.sampled, once.sampled);
  EXPECT_EQ(again.day, once.day);
  EXPECT_EQ(again.noise_kpa2, once.noise_kpa2);
  EXPECT_FALSE(load_estimate(LawMemory{}).running);
}

// --- whole days
// ------------------------------------------------------------------------------------------

TEST(Predictive, WithoutARoomProbeAMildTentIsStillHeldAndSaysSo) {
  Grow grow{Tent{}};
  grow.run(hours{48});
  grow.tent().room_probe = false;
  grow.tent().room_w += 0.001;
  grow.count_afresh();
  grow.run(hours{48});
  EXPECT_GE(grow.part_in_band(), 0.7);
  // What the tent gives off is known; so the room, never read again, is found near 8.5 g/kg.
  EXPECT_NEAR(grow.estimate().room.g_per_kg, 8.5, 0.4);
  EXPECT_EQ(grow.ask().fan.because.reason, Reason::look_ahead_without_room);
}

Tent humid_tent() {
  Tent tent;
  tent.room_w = 0.010;
  tent.dehumidifier.fitted = true;
  return tent;
}

TEST(Predictive, HoldsAHumidNightLikeTwoPositionsWithFewerStarts) {
  Tent first = humid_tent();
  Tent second = humid_tent();
  const Score ours = testing_tent::run(Plan{}, PredictiveLaw{}, first, kBand);
  const Score theirs = testing_tent::run(Plan{}, TwoPositionLaw{}, second, kBand);
  EXPECT_GE(ours.in_band, 0.99);
  EXPECT_LE(ours.dehumidifier_starts_a_day, theirs.dehumidifier_starts_a_day);
}

TEST(Predictive, MovesTheFanSeldomInAMildRoom) {
  Tent tent;
  const Score score = testing_tent::run(Plan{}, PredictiveLaw{}, tent, kBand);
  EXPECT_GE(score.in_band, 0.99);
  EXPECT_LE(score.fan_moves_a_day, 80);
}

TEST(Predictive, MakesTheBandWithAHumidifierInADryRoom) {
  Tent tent;
  tent.room_c = 20;
  tent.room_w = 0.003;
  tent.day_g_per_h = 60;
  tent.night_g_per_h = 15;
  tent.humidifier.fitted = true;
  EXPECT_GE(testing_tent::run(Plan{}, PredictiveLaw{}, tent, kBand).in_band, 0.95);
}

TEST(Predictive, ADeviceIsNeverAskedToChangeAgainstItsDwell) {
  Tent tent = humid_tent();
  testing_tent::Trace trace;
  testing_tent::run(Plan{}, PredictiveLaw{}, tent, kBand, 1, testing_tent::Stepping::every_second,
                    &trace);
  int last = -300;
  int changes = 0;
  for (int s = 1; s < static_cast<int>(trace.dehumidifier.size()); ++s) {
    const auto i = static_cast<std::size_t>(s);
    if (trace.dehumidifier[i] == trace.dehumidifier[i - 1]) continue;
    EXPECT_GE(s - last, 300);
    last = s;
    ++changes;
  }
  EXPECT_GT(changes, 4);
}

TEST(Predictive, ScanningWhenDueGrantsTheSameAsEverySecond) {
  for (const bool dry : {false, true}) {
    Tent first = humid_tent();
    first.humidifier.fitted = true;
    if (dry) first.room_w = 0.003;
    Tent second = first;
    testing_tent::Trace each_second, when_due;
    testing_tent::run(Plan{}, PredictiveLaw{}, first, kBand, 1,
                      testing_tent::Stepping::every_second, &each_second);
    testing_tent::run(Plan{}, PredictiveLaw{}, second, kBand, 1, testing_tent::Stepping::when_due,
                      &when_due);
    EXPECT_EQ(each_second.fan, when_due.fan);
    EXPECT_EQ(each_second.dehumidifier, when_due.dehumidifier);
    EXPECT_EQ(each_second.humidifier, when_due.humidifier);
  }
}

TEST(Predictive, QuietHoursBindTheFanBetweenDecisionsToo) {
  const PredictiveLaw law;
  LawMemory memory;
  ClimateView view = usual_view();
  view.canopy = climate_bench::air_with_vpd(0.5);
  view.room = climate_bench::air_of(21, 50);
  ASSERT_GT(law.decide(view, memory).fan.level, Permille{300});
  view.new_sample = false;
  view.now += seconds{1};
  view.fan.ceiling = Permille{300};
  EXPECT_EQ(law.decide(view, memory).fan.level, Permille{300});
}

// Probes may be slow: the pulse ends by its own time, not by the next sample.
TEST(Predictive, AHumidifiersPulseEndsBetweenSamples) {
  const PredictiveLaw law;
  LawMemory memory;
  ClimateView view = usual_view();
  view.dehumidifier.fitted = false;
  view.humidifier.min_on = view.humidifier.min_off = seconds{30};
  view.canopy = climate_bench::air_with_vpd(1.22);
  view.room = climate_bench::air_of(20, 25);
  const ClimateAsk first = law.decide(view, memory);
  ASSERT_EQ(first.humidifier.level, kRunning);
  ASSERT_NE(first.decide_again, Instant::max());
  EXPECT_GE(first.decide_again, view.now + seconds{30});
  view.new_sample = false;
  view.humidifier.level = kRunning;
  view.now = first.decide_again - seconds{1};
  EXPECT_EQ(law.decide(view, memory).humidifier.level, kRunning);
  view.now = first.decide_again;
  EXPECT_EQ(law.decide(view, memory).humidifier.level, kStopped);
}

TEST(Predictive, KeepsToItsOwnPartOfTheMemory) {
  const PredictiveLaw law;
  LawMemory memory;
  memory.numbers.fill(7.5);
  memory.ticks.fill(0);
  law.decide(usual_view(), memory);
  for (std::size_t i = kLawNumbers + kObserverNumbers; i < memory.numbers.size(); ++i)
    EXPECT_EQ(memory.numbers[i], 7.5) << i;
  for (std::size_t i = kLawTicks + kObserverTicks; i < memory.ticks.size(); ++i)
    EXPECT_EQ(memory.ticks[i], 0) << i;
}

}  // namespace
}  // namespace neap
