#include "daemon/shell/hub.h"

#include <gtest/gtest.h>

#include <array>

#include "tests/shell/support.h"

namespace neap::shell {
namespace {

using drivers::ChannelSpec;
using drivers::Context;
using drivers::Deliveries;
using drivers::Params;
using drivers::SensorInfo;

// What the fake sensor says next, and how often it was asked.
struct Script {
  std::optional<double> value = 21.5;
  Fault fault = Fault::none;
  Fault wire = Fault::none;  // told beside a value
  Fault begin_fault = Fault::none;
  Millis ready_after{};
  std::string trouble;
  int begins = 0;
  int finishes = 0;
  int revivals = 0;
  bool can_be_revived = false;
  std::function<void()> on_edge;
};
Script* script = nullptr;

class FakeSensor final : public drivers::Sensor {
 public:
  drivers::Started begin() override {
    ++script->begins;
    return {script->begin_fault, script->ready_after};
  }
  void finish(Deliveries& out) override {
    ++script->finishes;
    const bool lost = script->fault != Fault::none;
    out.push({0, lost ? std::nullopt : script->value, lost ? script->fault : script->wire});
  }
  bool revive() override {
    ++script->revivals;
    return script->can_be_revived;
  }
  void watch(std::function<void()> on_edge) override { script->on_edge = std::move(on_edge); }
  std::string trouble() const override { return script->trouble; }
};

constexpr std::array kChannels{ChannelSpec{"only", "", -1000, 1000}};
constexpr SensorInfo kFake{"fake",
                           "for tests",
                           kChannels,
                           {},
                           Millis{100},
                           Millis{50},
                           false,
                           [](const Params&) { return std::string("bus"); },
                           [](const Params&, Context&) -> std::unique_ptr<drivers::Sensor> {
                             return std::make_unique<FakeSensor>();
                           },
                           nullptr,
                           "dtoverlay=fake"};

class HubTest : public testing::Test {
 protected:
  HubTest() { script = &said; }
  void open(Point point, Millis period) {
    drivers::Hardware hardware;
    hardware.sensors.push_back({"probe", "fake", {}, period, {{0, point}}});
    hub.open(hardware, context);
  }
  const Sample& at(Point point) const { return hub.image()[point]; }
  void run_to(Millis after) { timers.run_until(kUglyStart + after); }

  Script said;
  KeptLog log;
  VirtualTimers timers{kUglyStart};
  Strands strands{timers, false};
  Context context;
  std::vector<Arrival> arrivals;
  Hub hub{timers, strands, log.sink(), [this](Arrival a) { arrivals.push_back(a); },
          [](std::string_view) { return &kFake; }};
};

TEST_F(HubTest, TheFirstReadIsAtStartAndTheRestOnAGridOfWholePeriods) {
  open(Point::canopy_temperature, seconds{10});
  EXPECT_EQ(at(Point::canopy_temperature).count, 1u);
  EXPECT_EQ(at(Point::canopy_temperature).taken, kUglyStart);
  run_to(seconds{3});  // the grid: 4294970000 is the next multiple of 10 s
  EXPECT_EQ(at(Point::canopy_temperature).count, 2u);
  EXPECT_EQ(tick_ms(at(Point::canopy_temperature).taken), 4294970000);
}

TEST_F(HubTest, AConversionIsFetchedWhenItIsReadyAndStampedThen) {
  said.ready_after = Millis{750};
  open(Point::canopy_temperature, seconds{10});
  run_to(Millis{749});
  EXPECT_EQ(said.finishes, 0);
  EXPECT_EQ(at(Point::canopy_temperature).fault, Fault::never_read);
  run_to(Millis{750});
  EXPECT_EQ(at(Point::canopy_temperature).value, 21.5);
  EXPECT_EQ(at(Point::canopy_temperature).taken, kUglyStart + Millis{750});
}

TEST_F(HubTest, APointWithoutASensorSaysThatNoneIsFitted) {
  open(Point::canopy_temperature, seconds{10});
  EXPECT_EQ(at(Point::room_temperature).fault, Fault::not_fitted);
  drivers::Hardware nothing;
  hub.open(nothing, context);
  EXPECT_EQ(at(Point::canopy_temperature).fault, Fault::not_fitted);
  EXPECT_FALSE(at(Point::canopy_temperature).value);
}

TEST_F(HubTest, AFaultIsDeliveredWithoutAValueAndToldOnceAndItsEndOnce) {
  open(Point::canopy_temperature, seconds{1});
  said.fault = Fault::corrupt;
  run_to(seconds{10});
  EXPECT_FALSE(at(Point::canopy_temperature).value);
  EXPECT_EQ(at(Point::canopy_temperature).fault, Fault::corrupt);
  said.fault = Fault::none;
  run_to(seconds{20});
  ASSERT_EQ(log.lines.size(), 2u);
  EXPECT_NE(log.lines[1].find("reads again"), std::string::npos);
}

TEST_F(HubTest, ASilentDeviceIsAskedLessAndLessDownToEveryFiveMinutesAndForgivenAtOnce) {
  said.begin_fault = Fault::no_answer;
  open(Point::canopy_temperature, seconds{10});
  run_to(hours{1});
  const int asked = said.begins;
  EXPECT_LT(asked, 24);  // 5 at 10 s, then 20, 40, 80, 160, 300 s ...
  EXPECT_GT(asked, 14);
  run_to(hours{2});
  EXPECT_NEAR(said.begins - asked, 12, 1);
  said.begin_fault = Fault::none;
  run_to(hours{2} + minutes{6});
  const int recovered = said.begins;
  run_to(hours{2} + minutes{7});
  EXPECT_EQ(said.begins - recovered, 6);  // each 10 s again
}

TEST_F(HubTest, ADeviceThatAnswersBadlyIsNotAskedLessForIt) {
  said.fault = Fault::corrupt;
  open(Point::canopy_temperature, seconds{10});
  run_to(minutes{10});
  EXPECT_GE(said.begins, 60);
}

TEST_F(HubTest, AnEdgeIsReadAtOnceAndTwiceMoreWithinTheLeakWindow) {
  said.value = 0;
  open(Point::leak_floor, seconds{10});
  run_to(seconds{4});
  arrivals.clear();
  const int before = said.begins;
  said.value = 1;
  said.on_edge();
  run_to(seconds{4} + Millis{300});
  EXPECT_EQ(said.begins - before, 3);
  EXPECT_EQ(arrivals, std::vector<Arrival>(3, Arrival::edge));
  EXPECT_EQ(at(Point::leak_floor).value, 1);
  EXPECT_EQ(at(Point::leak_floor).taken, kUglyStart + seconds{4} + Millis{200});
}

TEST_F(HubTest, AContactThatOnlyPollingSawChangeIsConfirmedJustSo) {
  said.value = 0;
  open(Point::leak_floor, seconds{1});
  run_to(Millis{1500});
  arrivals.clear();
  said.value = 1;
  run_to(Millis{2300});
  EXPECT_EQ(arrivals, std::vector<Arrival>(3, Arrival::edge));
}

TEST_F(HubTest, AQuietContactIsNothingToDecideAbout) {
  said.value = 0;
  open(Point::leak_floor, seconds{1});
  run_to(Millis{500});
  arrivals.clear();
  run_to(Millis{5500});
  EXPECT_EQ(arrivals, std::vector<Arrival>(5, Arrival::routine));
}

TEST_F(HubTest, ALostReadIsTriedAgainAfterASecondAndOnlyOnce) {
  open(Point::canopy_temperature, minutes{1});
  run_to(seconds{14});  // whole minutes of tick are 13 s after the start, and 73, 133
  const int before = said.begins;
  said.fault = Fault::corrupt;
  run_to(seconds{75});
  EXPECT_EQ(said.begins - before, 2);
  run_to(seconds{132});
  EXPECT_EQ(said.begins - before, 2) << "the third try waits for its turn";
  run_to(seconds{133});
  EXPECT_EQ(said.begins - before, 3);
}

TEST_F(HubTest, ASensorThatFailsIsRevivedAtTheThirdReadAndSeldomAfterwards) {
  said.can_be_revived = true;
  said.begin_fault = Fault::hung;
  open(Point::canopy_temperature, seconds{10});
  run_to(seconds{2});
  EXPECT_EQ(said.revivals, 0);
  EXPECT_EQ(said.begins, 2);
  run_to(seconds{4});
  EXPECT_EQ(said.begins, 3);
  EXPECT_EQ(said.revivals, 1);
  EXPECT_TRUE(log.has("sensor probe was reset"));
  run_to(hours{1});
  EXPECT_EQ(said.revivals, 1 + (said.begins - 3) / 6);
  EXPECT_LT(said.revivals, 5);
}

TEST_F(HubTest, ASensorThatReadsIsNeverRevived) {
  open(Point::canopy_temperature, seconds{10});
  for (int i = 0; i < 20; ++i) {
    said.fault = i % 2 == 0 ? Fault::corrupt : Fault::none;
    run_to(seconds{10} * (i + 1));
  }
  EXPECT_EQ(said.revivals, 0);
}

TEST_F(HubTest, WhatIsWrongIsToldWithWhatToDo) {
  said.begin_fault = Fault::denied;
  open(Point::canopy_temperature, seconds{10});
  run_to(minutes{1});
  EXPECT_TRUE(log.has("sensor probe: no right to open it; add the user of neapd to the group"));
}

TEST_F(HubTest, AnAbsentSensorIsAskedLessAndLessToo) {
  said.begin_fault = Fault::absent;
  open(Point::canopy_temperature, seconds{10});
  run_to(hours{1});
  EXPECT_LT(said.begins, 25);
  EXPECT_TRUE(log.has("check its name, and the board's boot configuration: dtoverlay=fake"));
}

TEST_F(HubTest, AFaultyProbesWireIsToldBesideItsContact) {
  said.value = static_cast<double>(Contact::faulty);
  open(Point::leak_floor, seconds{1});
  said.wire = Fault::open_wire;
  run_to(seconds{10});
  EXPECT_EQ(at(Point::leak_floor).value, static_cast<double>(Contact::faulty));
  EXPECT_TRUE(log.has("sensor probe: wire open; check the probe's cable"));
}

// A strand whose jobs end when the test says so.
// A driver that hangs at the end of the process keeps its watch, and the watch's thread rings on.
// The rest of this is ASan's to say: the hub and its queue are gone when the edge comes.
TEST(HubEdges, AnEdgeAfterTheHubIsGoneReachesNobody) {
  Script said;
  script = &said;
  KeptLog log;
  VirtualTimers timers{kUglyStart};
  Strands strands{timers, false};
  Context context;
  int arrivals = 0;
  auto hub = std::make_unique<Hub>(
      timers, strands, log.sink(), [&](Arrival) { ++arrivals; },
      [](std::string_view) { return &kFake; });
  drivers::Hardware hardware;
  hardware.sensors.push_back({"probe", "fake", {}, seconds{10}, {{0, Point::leak_floor}}});
  hub->open(hardware, context);
  timers.run_until(kUglyStart + seconds{1});
  const int before = arrivals;
  const std::function<void()> ring = said.on_edge;
  ring();
  timers.run_until(kUglyStart + seconds{2});
  ASSERT_GT(arrivals, before) << "an edge is heard while the hub is there";
  hub.reset();
  const int after = arrivals;
  ring();
  timers.run_until(kUglyStart + minutes{1});
  EXPECT_EQ(arrivals, after);
}

class SlowBus final : public Strand {
 public:
  void post(Action job, Action done) override {
    jobs.emplace_back(std::move(job), std::move(done));
  }
  bool run(Action, std::chrono::milliseconds) override { return false; }
  void work() {
    auto [job, done] = std::move(jobs.front());
    jobs.erase(jobs.begin());
    job();
    done();
  }
  std::vector<std::pair<Action, Action>> jobs;
};

TEST(HubStrand, ASensorOverItsDeadlineIsBadAndNobodyWaitsAndItsLateAnswerIsDropped) {
  Script said;
  script = &said;
  KeptLog log;
  VirtualTimers timers(kUglyStart);
  Strands strands(timers, true);
  auto owned = std::make_unique<SlowBus>();
  SlowBus& bus = *owned;
  strands.put("bus", std::move(owned));
  Context context;
  Hub hub(
      timers, strands, log.sink(), [](Arrival) {}, [](std::string_view) { return &kFake; });
  drivers::Hardware hardware;
  hardware.sensors.push_back({"probe", "fake", {}, seconds{10}, {{0, Point::canopy_temperature}}});
  hub.open(hardware, context);
  timers.run_until(kUglyStart + seconds{2});
  EXPECT_EQ(hub.image()[Point::canopy_temperature].fault, Fault::no_answer);
  EXPECT_EQ(bus.jobs.size(), 1u);  // and no second read was queued behind the first
  timers.run_until(kUglyStart + seconds{30});
  EXPECT_EQ(bus.jobs.size(), 1u);
  bus.work();  // begin() comes back at last
  EXPECT_FALSE(hub.image()[Point::canopy_temperature].value);
  // The next read comes by its own schedule, backed off by now; then the bus answers at once.
  for (int i = 0; i < 600 && bus.jobs.empty(); ++i) timers.run_until(timers.now() + seconds{1});
  ASSERT_EQ(bus.jobs.size(), 1u);
  bus.work();
  ASSERT_EQ(bus.jobs.size(), 1u);
  bus.work();
  EXPECT_EQ(hub.image()[Point::canopy_temperature].value, 21.5);
}

TEST_F(HubTest, WhatTheDriverKnowsOfItsFaultIsToldOnceWithIt) {
  said.begin_fault = Fault::no_answer;
  said.trouble = "line 7 is held by \"other\"";
  open(Point::tray_full, seconds{1});
  run_to(seconds{20});
  EXPECT_TRUE(log.has("sensor probe: no answer: line 7 is held by \"other\""));
}

}  // namespace
}  // namespace neap::shell
