// The predictive law: its look-ahead move by move, what its observer learns, and whole days in the
// small tent of climate_tent.h. Bounds of whole days are what this test measured, with a margin; no
// published source.
#include "daemon/core/predictive_law.h"

#include <gtest/gtest.h>

#include <cmath>
#include <optional>

#include "daemon/core/look_ahead.h"
#include "daemon/core/tent_observer.h"
#include "daemon/core/two_position_law.h"
#include "tests/core/climate_bench.h"
#include "tests/core/climate_tent.h"

namespace neap {
namespace {

using climate_bench::usual_view;
using tent_model::g_per_kg;
using tent_model::MoistAir;
using testing_tent::Score;
using testing_tent::Tent;

constexpr Band kBand{Kilopascal{0.8}, Kilopascal{1.2}};

MoistAir at(double celsius, double vpd_kpa) {
  return {celsius, g_per_kg(tent_model::saturation_kpa(celsius) - vpd_kpa)};
}

// --- one look ahead: a tent whose sources are known
// ------------------------------------------------------------------------------------------

class LookAheadMoves : public testing::Test {
 protected:
  LookAheadMoves() {
    view_ = usual_view();
    view_.beliefs.tent_m3 = 1.9;
    view_.beliefs.dehumidifier_g_per_h = 60;
    view_.targets.day = false;
    view_.targets.humidity_ceiling = PercentRh{95};
    view_.targets.air_lowest = Celsius{10};
    view_.targets.air_highest = Celsius{30};
    view_.fan.ceiling = kRunning;
    view_.humidifier.fitted = false;
    for (LegalMove* device : {&view_.dehumidifier, &view_.humidifier}) {
      device->min_on = device->min_off = minutes{5};
      device->may_start_at = device->may_stop_at = view_.now;
    }
    settle(1.0, at(21, 1.3), 120, 20);
  }
  // The tent at this VPD and 22 C beside a room, giving off vapour and heat.
  void settle(double vpd_kpa, const MoistAir& room, double vapour_g_per_h, double heat_w) {
    estimate_.running = estimate_.room_known = estimate_.room_seen = true;
    estimate_.air = estimate_.lagged = at(22, vpd_kpa);
    estimate_.room = room;
    estimate_.walls_c = 21.5;
    estimate_.vapour_g_per_h = vapour_g_per_h;
    estimate_.heat_w = heat_w;
    estimate_.sampled = view_.now;
  }
  Choice look(const MistPulse& pulse = {}) const {
    const Outlook ahead = outlook(view_, estimate_, 0);
    return look_ahead(view_, believed(view_.beliefs, estimate_.learnt), estimate_, ahead, pulse);
  }

  ClimateView view_;
  TentEstimate estimate_;
};

TEST_F(LookAheadMoves, OnAHumidNightTheDehumidifierIsCalledBeforeTheBandIsLost) {
  settle(0.86, at(22, 0.75), 45, -25);
  view_.fan.level = kRunning;
  const Choice choice = look();
  EXPECT_TRUE(choice.dehumidifier);
  settle(1.0, at(22, 1.3), 45, -25);  // a room that venting can use
  EXPECT_FALSE(look().dehumidifier);
}

TEST_F(LookAheadMoves, ADehumidifierThatMayNotStartIsNotStarted) {
  settle(0.86, at(22, 0.75), 45, -25);
  view_.dehumidifier.may_start = false;
  view_.dehumidifier.may_start_at = view_.now + seconds{20};
  EXPECT_FALSE(look().dehumidifier);
  view_.dehumidifier.ceiling = kStopped;  // quiet hours
  view_.dehumidifier.may_start_at = view_.now;
  EXPECT_FALSE(look().dehumidifier);
}

TEST_F(LookAheadMoves, ADehumidifierThatMayNotStopRunsOn) {
  settle(1.3, at(22, 1.3), 45, 60);
  estimate_.run_up = 1;
  view_.dehumidifier.level = kRunning;
  EXPECT_FALSE(look().dehumidifier);
  view_.dehumidifier.may_stop_at = view_.now + seconds{20};
  EXPECT_TRUE(look().dehumidifier);
}

TEST_F(LookAheadMoves, AFloodIsVentedBeforeItsVapourIsThere) {
  settle(0.9, at(21, 1.25), 100, 40);
  view_.fan.level = Permille{300};
  const Permille without = look().fan;
  estimate_.flooding = true;  // its pump has just started: no vapour yet
  estimate_.flood_started = view_.now;
  estimate_.learnt.flood_peak_g_per_h = 200;
  EXPECT_GT(look().fan, without);
}

TEST_F(LookAheadMoves, AFloodToComeIsPartOfTheOutlook) {
  view_.future.flood_coming = true;
  view_.future.next_flood = view_.now + minutes{4};
  const Outlook ahead = outlook(view_, estimate_, 0);
  EXPECT_EQ(ahead.turn, 24);
  EXPECT_DOUBLE_EQ(ahead.vapour_g_per_h[23], estimate_.vapour_g_per_h);
  EXPECT_GT(ahead.vapour_g_per_h[35], estimate_.vapour_g_per_h + 20);
}

TEST_F(LookAheadMoves, TheBandIsSeenAsItWillBeAfterTheLightsEdge) {
  view_.targets.day = true;
  view_.targets.band_by_day = kBand;
  view_.targets.band_by_night = {Kilopascal{0.5}, Kilopascal{0.9}};
  view_.targets.band_ramp = minutes{30};
  view_.future.light_edge_coming = true;
  view_.future.next_light_edge = view_.now + minutes{5};
  const auto low = [&](Millis later) { return band_ahead(view_, view_.now + later).low.value; };
  EXPECT_DOUBLE_EQ(low(minutes{5}), 0.8);
  EXPECT_NEAR(low(minutes{20}), 0.65, 1e-9);
  EXPECT_NEAR(low(minutes{35}), 0.5, 1e-9);
  EXPECT_NEAR(low(hours{3}), 0.5, 1e-9);
}

TEST_F(LookAheadMoves, ABandOnItsWayIsFollowed) {
  view_.targets.band_by_night = {Kilopascal{0.5}, Kilopascal{0.9}};
  view_.targets.band_by_day = kBand;
  view_.targets.band = {Kilopascal{0.65}, Kilopascal{1.05}};
  view_.targets.band_ramp = minutes{30};
  EXPECT_NEAR(band_ahead(view_, view_.now + minutes{10}).high.value, 0.95, 1e-9);
  EXPECT_NEAR(band_ahead(view_, view_.now + minutes{20}).high.value, 0.9, 1e-9);
}

TEST_F(LookAheadMoves, AHumidifierIsPulsedNeverBesideTheDehumidifier) {
  view_.humidifier.fitted = true;
  view_.humidifier.min_on = view_.humidifier.min_off = seconds{30};
  settle(1.4, at(20, 1.7), 25, 40);
  view_.fan.level = view_.fan.floor;
  const Choice mists = look();
  EXPECT_GT(mists.pulse.on_steps, 0);
  EXPECT_GE(mists.pulse.on_steps * kLookAheadStep, view_.humidifier.min_on);
  view_.dehumidifier.level = kRunning;
  view_.dehumidifier.may_stop_at = view_.now + minutes{3};
  EXPECT_EQ(look().pulse.on_steps, 0);
}

TEST_F(LookAheadMoves, HeatUnderTheLimitIsVentedThoughItDriesTooMuch) {
  settle(1.1, at(24, 1.6), 60, 250);
  estimate_.air = estimate_.lagged = at(29.5, 1.1);
  estimate_.walls_c = 27.5;
  view_.dehumidifier.fitted = false;
  view_.fan.level = view_.fan.floor;
  EXPECT_GE(look().fan, Permille{500});
}

TEST_F(LookAheadMoves, ATwoPositionFanIsOnlyStoppedOrRunning) {
  view_.fan.variable = false;
  for (const double vpd : {0.7, 0.9, 1.0, 1.1, 1.3}) {
    settle(vpd, at(21, 1.3), 120, 20);
    for (const Permille level : {kStopped, kRunning}) {
      view_.fan.level = level;
      const Permille wished = look().fan;
      EXPECT_TRUE(wished == kStopped || wished == kRunning) << vpd;
      view_.fan.may_start = view_.fan.may_stop = false;
      EXPECT_EQ(look().fan, level) << vpd;
      view_.fan.may_start = view_.fan.may_stop = true;
    }
  }
}

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
