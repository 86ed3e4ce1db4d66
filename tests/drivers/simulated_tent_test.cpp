// Time, determinism, edges and drivers of the simulated tent.
#include <chrono>
#include <cmath>
#include <cstdio>
#include <random>
#include <thread>

#include "drivers/simulated/drivers.h"
#include "drivers/simulated/moist_air.h"
#include "drivers/simulated/noise.h"
#include "drivers/simulated/tent.h"
#include "tests/drivers/simulated_grow.h"

namespace neap::drivers {
namespace {

using namespace simulated;

// Outputs that change at odd instants, as a shell would write them: advance to t, then write.
struct Change {
  Millis at;
  Output output;
  int level;
};
std::vector<Change> busy_hours() {
  return {{Millis{0}, Output::light, 1000},
          {Millis{12345}, Output::exhaust_fan, 430},
          {minutes{10}, Output::pump, 1000},
          {Millis{1234567}, Output::pump, 0},
          {Millis{2345678}, Output::dehumidifier, 1000},
          {minutes{90}, Output::humidifier, 1000},
          {Millis{6000001}, Output::light, 350},
          {minutes{110}, Output::pump, 1000},
          {Millis{7400999}, Output::pump, 0},
          {hours{3}, Output::dehumidifier, 0}};
}

// Four hours; between the changes advance_to is called in random or in longest pieces.
State busy_state(std::uint64_t seed, std::optional<unsigned> chopping) {
  SimulationSetup setup;
  setup.seed = seed;
  setup.faults = {{"drain_slow", minutes{30}, minutes{20}, 0.5}, {"leak", hours{2}, {}, 0.2}};
  Grow grow(setup);
  std::mt19937 random(chopping.value_or(0));
  const auto go = [&](Instant target) {
    while (grow.now < target) {
      Instant piece = target;
      if (chopping) piece = std::min(target, grow.now + Millis{1 + random() % 4000});
      grow.now = grow.tent->advance_to(piece);
    }
  };
  for (const Change& change : busy_hours()) {
    go(kGrowStart + change.at);
    grow.set(change.output, change.level);
  }
  go(kGrowStart + hours{4});
  return grow.tent->state();
}

TEST(SimulatedTime, HowAdvanceIsCutUpChangesNoBit) {
  for (const std::uint64_t seed : {1U, 7U, 99U}) {
    const State whole = busy_state(seed, {});
    for (const unsigned chopping : {1U, 2U, 3U}) {
      const State cut = busy_state(seed, chopping);
      EXPECT_TRUE(cut == whole) << seed << " " << chopping;
    }
  }
}

TEST(SimulatedTime, SameSeedGivesTheSameTentAndAnotherSeedAnother) {
  EXPECT_TRUE(busy_state(5, {}) == busy_state(5, {}));
  EXPECT_FALSE(busy_state(5, {}) == busy_state(6, {}));
}

TEST(SimulatedTime, TheGridBeginsAtTheFirstInstantItIsToldOf) {
  Grow grow;
  EXPECT_EQ(grow.tent->advance_to(kGrowStart + Millis{999}), kGrowStart + Millis{999});
  EXPECT_EQ(grow.truth().elapsed_s, 0);
  EXPECT_EQ(grow.tent->advance_to(kGrowStart + Millis{1000}), kGrowStart + Millis{1000});
  EXPECT_EQ(grow.truth().elapsed_s, 1);
}

TEST(SimulatedTime, ATargetInThePastIsNoStep) {
  Grow grow;
  grow.run(minutes{5});
  EXPECT_EQ(grow.tent->advance_to(kGrowStart), kGrowStart + minutes{5});
  EXPECT_EQ(grow.truth().elapsed_s, 300);
}

TEST(SimulatedTime, AnOutputActsInTheNextStepAndNotBefore) {
  Grow grow;
  grow.run(seconds{10});
  grow.now = grow.tent->advance_to(grow.now + Millis{400});
  grow.set(Output::pump, 1000);
  grow.now = grow.tent->advance_to(grow.now + Millis{599});
  EXPECT_EQ(grow.truth().ledger.pumped_kg, 0);
  grow.now = grow.tent->advance_to(grow.now + Millis{1});
  EXPECT_GT(grow.truth().ledger.pumped_kg, 0);
}

TEST(SimulatedTime, AdvanceStopsWhereAContactChanged) {
  Grow grow;
  int edges = 0;
  const int listener = grow.tent->listen([&] { ++edges; });
  grow.set(Output::pump, 1000);
  const Instant far = kGrowStart + minutes{10};
  const Instant first = grow.tent->advance_to(far);
  EXPECT_EQ(first, kGrowStart + seconds{1});  // pump proof
  EXPECT_TRUE(grow.truth().floats.pump_running);
  EXPECT_FALSE(grow.truth().floats.tray_wet);
  const Instant second = grow.tent->advance_to(far);
  EXPECT_GT(second, first);
  EXPECT_TRUE(grow.truth().floats.tray_wet);
  const Instant third = grow.tent->advance_to(far);
  EXPECT_TRUE(grow.truth().floats.tray_full);
  EXPECT_LT(third, far);
  EXPECT_EQ(grow.tent->advance_to(far), far);
  EXPECT_EQ(edges, 3);
  grow.tent->forget(listener);
  grow.set(Output::pump, 0);
  EXPECT_LT(grow.tent->advance_to(far + minutes{1}), far + minutes{1});
  EXPECT_EQ(edges, 3);
}

TEST(SimulatedTime, LaunchInstantDoesNotMatter) {
  Grow late;
  std::string error;
  const auto early = make_tent(late.setup, kGrowMidnight, 0, error);
  early->advance_to(instant(Millis{3}));
  early->advance_to(instant(Millis{3}) + hours{2});
  late.run(hours{2});
  EXPECT_TRUE(early->state() == late.tent->state());
}

TEST(SimulatedTime, ADaySimulatesFast) {
  Grow grow;
  const auto before = std::chrono::steady_clock::now();
  grow.grow_days(4);
  const std::chrono::duration<double> took = std::chrono::steady_clock::now() - before;
  const double each = took.count() / grow.truth().elapsed_s;
  RecordProperty("nanoseconds_a_step", std::to_string(each * 1e9));
  std::printf("%.0f ns a step of 1 s\n", each * 1e9);
  EXPECT_LT(each, 20e-6) << "far beyond the aim of 1 us, sanitizers and a busy machine allowed for";
}

TEST(SimulatedNoise, IsGaussianAndWithoutMemory) {
  constexpr int kCount = 20000;
  double sum = 0, square = 0, lagged = 0, before = 0;
  for (int i = 0; i < kCount; ++i) {
    const double x = gaussian(42, 3, i);
    sum += x;
    square += x * x;
    lagged += x * before;
    before = x;
  }
  EXPECT_NEAR(sum / kCount, 0, 0.03);
  EXPECT_NEAR(square / kCount, 1, 0.04);
  EXPECT_NEAR(lagged / kCount, 0, 0.03);
  EXPECT_NE(gaussian(42, 3, 5), gaussian(42, 4, 5));
  EXPECT_NE(gaussian(42, 3, 5), gaussian(43, 3, 5));
}

TEST(SimulatedNoise, SplitMixGivesItsPublishedSequence) {
  // Reference output of splitmix64 for seed 1234567 (Vigna's public test vector, from memory).
  const std::uint64_t golden = 0x9e3779b97f4a7c15U;
  EXPECT_EQ(mixed(1234567), 6457827717110365317U);
  EXPECT_EQ(mixed(1234567 + golden), 3203168211198807973U);
}

// --- drivers ------------------------------------------------------------------------------------

Deliveries read(Sensor& sensor) {
  EXPECT_EQ(sensor.begin().fault, Fault::none);
  Deliveries out;
  sensor.finish(out);
  return out;
}

std::unique_ptr<Sensor> air_sensor(Context& context, std::string place) {
  Params params;
  params.set("place", std::move(place));
  return kSimulatedAir.make(params, context);
}

Context around(Grow& grow) {
  Context context;
  context.world = grow.tent.get();
  return context;
}

TEST(SimulatedDrivers, WithoutATentNothingAnswers) {
  Context nowhere;
  for (const SensorInfo* info : {&kSimulatedAir, &kSimulatedLeaf, &kSimulatedSolution,
                                 &kSimulatedLevel, &kSimulatedContacts, &kSimulatedLight}) {
    const auto sensor = info->make({}, nowhere);
    EXPECT_EQ(sensor->begin().fault, Fault::no_answer) << info->name;
    Deliveries out;
    sensor->finish(out);
    ASSERT_EQ(out.size(), info->channels.size()) << info->name;
    for (const Delivery& d : out) {
      EXPECT_FALSE(d.value) << info->name;
      EXPECT_EQ(d.fault, Fault::no_answer) << info->name;
    }
  }
  const auto output = kSimulatedOutput.make({}, Output::pump, nowhere);
  EXPECT_EQ(output->write(kRunning), Fault::no_answer);
  EXPECT_FALSE(output->read_back());
}

TEST(SimulatedDrivers, EveryChannelDeliversInItsRange) {
  Grow grow;
  Context context = around(grow);
  grow.run(hours{3});
  for (const SensorInfo* info : {&kSimulatedAir, &kSimulatedLeaf, &kSimulatedSolution,
                                 &kSimulatedLevel, &kSimulatedContacts, &kSimulatedLight}) {
    const auto sensor = info->make({}, context);
    const Deliveries out = read(*sensor);
    ASSERT_EQ(out.size(), info->channels.size()) << info->name;
    for (std::size_t i = 0; i < out.size(); ++i) {
      ASSERT_TRUE(out[i].value) << info->name;
      EXPECT_EQ(out[i].channel, static_cast<int>(i));
      EXPECT_GE(*out[i].value, info->channels[i].lowest);
      EXPECT_LE(*out[i].value, info->channels[i].highest);
    }
  }
}

TEST(SimulatedDrivers, EachPlaceReadsItsOwnAir) {
  Grow grow(calm({{"sensor_noise_c", 0}, {"sensor_noise_pct", 0}, {"canopy_b_warmer_c", -0.5}}));
  Context context = around(grow);
  grow.set(Output::light, 1000);
  grow.set(Output::exhaust_fan, 300);
  grow.run(hours{4});
  const Deliveries canopy = read(*air_sensor(context, "canopy"));
  const Deliveries second = read(*air_sensor(context, "canopy_b"));
  const Deliveries room = read(*air_sensor(context, "room"));
  const Deliveries outdoor = read(*air_sensor(context, "outdoor"));
  EXPECT_NEAR(*canopy[0].value, grow.truth().air_c, 0.02);
  EXPECT_NEAR(*canopy[1].value, grow.truth().air_percent, 0.1);
  EXPECT_NEAR(*second[0].value, *canopy[0].value - 0.5, 0.011);
  EXPECT_GT(*second[1].value, *canopy[1].value);
  EXPECT_NEAR(*room[0].value, grow.truth().room_c, 0.02);
  EXPECT_LT(*outdoor[0].value, *room[0].value - 3);
}

TEST(SimulatedDrivers, AProbeFollowsAStepLikeTwoLagsInARow) {
  // Mixing 20 s, then 45 s for temperature and 30 s for vapour: the step response of two
  // first-order lags, 1 - (a exp(-t/a) - b exp(-t/b)) / (a - b). Three times the mixing without
  // circulation.
  const Parameters p = default_parameters();
  for (const bool stirred : {true, false}) {
    State s;
    s.air_c = 20;
    start_probes(s, p);
    const double vapour = s.canopy.vapour_kpa;
    s.air_c = 30;
    s.air_w = 0.01;
    for (int i = 0; i < 65; ++i) step_probes(s, p, stirred);
    const double mixing = stirred ? 20 : 60;
    const auto response = [mixing](double lag) {
      return 1 - (lag * std::exp(-65 / lag) - mixing * std::exp(-65 / mixing)) / (lag - mixing);
    };
    // Steps of 1 s run ahead of the continuous answer by up to a step.
    EXPECT_NEAR((s.canopy.celsius - 20) / 10, response(45), 0.02);
    EXPECT_NEAR((s.canopy.vapour_kpa - vapour) / (vapour_kpa(0.01) - vapour), response(30), 0.02);
  }
}

TEST(SimulatedDrivers, NoiseHasTheDeviationThatIsAskedFor) {
  Grow grow(calm({{"sensor_noise_c", 0.08}, {"sensor_noise_pct", 0.5}}));
  Context context = around(grow);
  const auto probe = air_sensor(context, "room");
  grow.run(hours{2});
  double sum = 0, square = 0;
  constexpr int kCount = 3000;
  for (int i = 0; i < kCount; ++i) {
    grow.run(seconds{1});
    const double x = *read(*probe)[0].value - grow.truth().room_c;
    sum += x;
    square += x * x;
  }
  const double mean = sum / kCount;
  EXPECT_NEAR(std::sqrt(square / kCount - mean * mean), 0.08, 0.006);
  EXPECT_NEAR(mean, 0, 0.01);
}

TEST(SimulatedDrivers, DropOutsComeAtTheirRate) {
  Grow grow(calm({{"sensor_dropout", 0.1}}));
  Context context = around(grow);
  const auto probe = air_sensor(context, "canopy");
  int lost = 0;
  for (int i = 0; i < 2000; ++i) {
    grow.run(seconds{1});
    const Deliveries out = read(*probe);
    if (!out[0].value) {
      EXPECT_EQ(out[0].fault, Fault::no_answer);
      ++lost;
    }
  }
  EXPECT_NEAR(lost, 200, 45);
}

TEST(SimulatedDrivers, ContactsTellTheirEdgesUntilTheSensorIsGone) {
  Grow grow;
  Context context = around(grow);
  auto sensor = kSimulatedContacts.make({}, context);
  int edges = 0;
  sensor->watch([&] { ++edges; });
  grow.set(Output::pump, 1000);
  grow.run(seconds{5});
  EXPECT_EQ(edges, 1);
  EXPECT_EQ(read(*sensor)[static_cast<std::size_t>(ContactChannel::pump_running)].value,
            static_cast<double>(Contact::set));
  sensor.reset();
  grow.set(Output::pump, 0);
  grow.run(seconds{5});
  EXPECT_EQ(edges, 1);
}

TEST(SimulatedDrivers, MayBeReadAndWrittenWhileTheTentAdvances) {
  Grow grow;
  Context context = around(grow);
  const auto probe = air_sensor(context, "canopy");
  const auto fan = kSimulatedOutput.make({}, Output::exhaust_fan, context);
  int answered = 0;
  std::thread strand([&] {
    for (int i = 0; i < 500; ++i) {
      EXPECT_EQ(fan->write(Permille{i}), Fault::none);
      const Deliveries out = read(*probe);
      answered += out[0].value.has_value() ? 1 : 0;
    }
  });
  for (int i = 0; i < 200; ++i) grow.run(seconds{10});
  strand.join();
  EXPECT_EQ(answered, 500);
  EXPECT_EQ(grow.truth().elapsed_s, 2000);
}

TEST(SimulatedDrivers, OutputsTakeOnlyTheLevelsTheyKnow) {
  Grow grow;
  Context context = around(grow);
  const auto pump = kSimulatedOutput.make({}, Output::pump, context);
  const auto fan = kSimulatedOutput.make({}, Output::exhaust_fan, context);
  EXPECT_EQ(pump->write(Permille{500}), Fault::out_of_range);
  EXPECT_EQ(pump->read_back(), kStopped);
  EXPECT_EQ(pump->write(kRunning), Fault::none);
  EXPECT_EQ(pump->read_back(), kRunning);
  EXPECT_EQ(fan->write(Permille{430}), Fault::none);
  EXPECT_EQ(fan->read_back(), Permille{430});
  EXPECT_EQ(fan->write(Permille{1001}), Fault::out_of_range);
  EXPECT_EQ(fan->write(Permille{-1}), Fault::out_of_range);
}

TEST(SimulatedDrivers, OutputsRestInTheirSafeStateUntilWritten) {
  Grow grow;
  for (const OutputInfo& row : kOutputs)
    EXPECT_EQ(grow.tent->written(row.output), row.safe) << row.name;
}

}  // namespace
}  // namespace neap::drivers
