// Every fault of the simulated tent does what its one line says, live and scripted.
#include <cmath>
#include <functional>
#include <set>

#include "drivers/simulated/faults.h"
#include "tests/drivers/simulated_grow.h"

namespace neap::drivers {
namespace {

using namespace simulated;

// Runs a story and measures one number at its end; with the fault it differs from without.
struct Story {
  std::string_view fault;
  std::function<void(Grow&)> run;
  std::function<double(const Grow&)> measure;
  double sound_least, sound_most;    // without the fault
  double faulty_least, faulty_most;  // with it
};

void pump_for(Grow& grow, Millis span) {
  grow.set(Output::pump, 1000);
  grow.run(span);
}
void flood_and_drain(Grow& grow) {
  pump_for(grow, minutes{5});
  grow.set(Output::pump, 0);
  grow.run(minutes{4});
}
void flood(Grow& grow) { pump_for(grow, minutes{5}); }
void wait(Grow& grow) { grow.run(minutes{30}); }
void wait_with_full_fan(Grow& grow) {
  grow.set(Output::exhaust_fan, 1000);
  grow.run(minutes{30});
}
void light_and_wait(Grow& grow) {
  grow.set(Output::light, 500);
  grow.run(minutes{1});
}
void grow_one_day(Grow& grow) { grow.grow_days(1); }
void dry_for_an_hour(Grow& grow) {
  grow.set(Output::dehumidifier, 1000);
  grow.run(hours{1});
}
void wet_for_an_hour(Grow& grow) {
  grow.set(Output::humidifier, 1000);
  grow.run(hours{1});
}
void empty_the_reservoir(Grow& grow) {
  grow.tent->inject("hose_burst", true, 1);
  pump_for(grow, minutes{10});
}

void close_the_first_of_two(Grow& grow) {
  grow.tent->fit_second_contact();
  pump_for(grow, minutes{1});
}

void start_the_pump(Grow& grow) {
  grow.set(Output::pump, 1000);
  grow.run(seconds{1});
}

double contact(const Grow& grow, ContactChannel which) {
  return static_cast<double>(grow.tent->contacts()[static_cast<std::size_t>(which)]);
}
double answered(const Said& said) { return said.value ? 1 : 0; }

// The pump turns: 1; its switch is in automatic: 10.
double turns_and_automatic(const Grow& g) {
  return contact(g, ContactChannel::pump_running) + 10 * contact(g, ContactChannel::pump_auto);
}

const std::vector<Story>& stories() {
  using C = ContactChannel;
  static const std::vector<Story> kStories{
      // 5 L/min at severity 1, an hour's half of the reservoir in ten minutes
      {"leak", wait, [](const Grow& g) { return g.truth().floor_l; }, 0, 0, 49, 51},
      {"hose_burst", flood, [](const Grow& g) { return g.truth().tray_l; }, 20, 30, 0, 0},
      {"standpipe_blocked", flood, [](const Grow& g) { return contact(g, C::tray_high); }, 0, 0, 1,
       1},
      {"drain_blocked", flood_and_drain, [](const Grow& g) { return g.truth().tray_l; }, 5, 15, 18,
       30},
      {"drain_slow", flood_and_drain, [](const Grow& g) { return g.truth().tray_l; }, 5, 15, 18,
       30},
      {"pump_dead", flood, [](const Grow& g) { return contact(g, C::pump_running); }, 1, 1, 0, 0},
      {"pump_weak", flood, [](const Grow& g) { return g.truth().ledger.pumped_kg; }, 40, 60, 5, 25},
      {"pump_welded", wait, [](const Grow& g) { return contact(g, C::pump_running); }, 0, 0, 1, 1},
      {"pump_contact_welded", wait, [](const Grow& g) { return contact(g, C::pump_running); }, 0, 0,
       1, 1},
      // of a pump that has two: the first alone is closed
      {"pump_series_welded", close_the_first_of_two,
       [](const Grow& g) { return contact(g, C::pump_running); }, 0, 0, 1, 1},
      {"tray_float_stuck_clear", flood, [](const Grow& g) { return contact(g, C::tray_full); }, 1,
       1, 0, 0},
      {"tray_float_stuck_set", wait, [](const Grow& g) { return contact(g, C::tray_full); }, 0, 0,
       1, 1},
      {"reservoir_float_stuck", empty_the_reservoir,
       [](const Grow& g) { return contact(g, C::reservoir_low); }, 0, 0, 1, 1},
      {"reservoir_not_refilled", grow_one_day,
       [](const Grow& g) { return g.truth().ledger.refilled_kg; }, 0.3, 9, 0, 0},
      {"level_sensor_silent", wait, [](const Grow& g) { return answered(g.tent->level()); }, 1, 1,
       0, 0},
      {"solution_sensor_silent", wait,
       [](const Grow& g) { return answered(g.tent->solution().temperature); }, 1, 1, 0, 0},
      {"leak_probe_open", wait, [](const Grow& g) { return contact(g, C::leak_floor); }, 0, 0, 3,
       3},
      {"leak_probe_damp", wait, [](const Grow& g) { return contact(g, C::leak_floor); }, 0, 0, 2,
       2},
      {"canopy_sensor_silent", wait,
       [](const Grow& g) { return answered(g.tent->air(Place::canopy).humidity); }, 1, 1, 0, 0},
      {"canopy_sensor_frozen", light_and_wait,
       [](const Grow& g) {
         const double before = *g.tent->air(Place::canopy).temperature.value;
         double moved = 0;
         for (int i = 1; i <= 5; ++i) {
           g.tent->advance_to(g.now + seconds{i});
           moved += std::abs(*g.tent->air(Place::canopy).temperature.value - before);
         }
         return moved;
       },
       0.02, 10, 0, 0},
      {"canopy_sensor_wild", wait,
       [](const Grow& g) {
         double furthest = 0;
         for (int i = 1; i <= 20; ++i) {
           g.tent->advance_to(g.now + seconds{i});
           furthest = std::max(
               furthest, std::abs(*g.tent->air(Place::canopy).temperature.value - g.truth().air_c));
         }
         return furthest;
       },
       0, 1, 10, 25},
      {"canopy_sensor_drift", wait,
       [](const Grow& g) {
         return *g.tent->air(Place::canopy).humidity.value - g.truth().air_percent;
       },
       -2.5, 2.5, 5.5, 10.5},
      {"canopy_humidity_saturated", wait,
       [](const Grow& g) { return *g.tent->air(Place::canopy).humidity.value; }, 30, 95, 100, 100},
      {"room_sensor_silent", wait,
       [](const Grow& g) { return answered(g.tent->air(Place::room).temperature); }, 1, 1, 0, 0},
      // Full exhaust: the tent is within 2 g/kg of the room; without it far above.
      {"fan_dead", wait, [](const Grow& g) { return 1000 * (g.truth().air_w - g.truth().room_w); },
       0.05, 1, 2, 20},
      {"filter_clogged", wait_with_full_fan,
       [](const Grow& g) { return 1000 * (g.truth().air_w - g.truth().room_w); }, 0.05, 1, 1.5, 10},
      {"circulation_fan_dead", wait,
       [](const Grow& g) { return g.truth().air_c - g.truth().room_c; }, -0.2, 0.5, -2, -0.3},
      {"dehumidifier_dead", dry_for_an_hour,
       [](const Grow& g) { return g.truth().ledger.dehumidified_kg; }, 0.02, 0.2, 0, 0},
      {"dehumidifier_welded", wait, [](const Grow& g) { return g.truth().ledger.dehumidified_kg; },
       0, 0, 0.01, 0.1},
      {"humidifier_dead", wet_for_an_hour,
       [](const Grow& g) { return g.truth().ledger.humidified_kg; }, 0.24, 0.26, 0, 0},
      {"bucket_full", dry_for_an_hour, [](const Grow& g) { return contact(g, C::bucket_full); }, 0,
       0, 1, 1},
      {"light_dead", light_and_wait, [](const Grow& g) { return g.truth().ledger.light_j; }, 4000,
       5000, 0, 0},
      {"light_stuck_on", light_and_wait, [](const Grow& g) { return g.truth().ledger.light_j; },
       4000, 5000, 8900, 9100},
      {"air_pump_dead", wait, [](const Grow& g) { return contact(g, C::air_pump_running); }, 1, 1,
       0, 0},
      {"supply_sags", start_the_pump,
       [](const Grow& g) { return contact(g, C::board_undervoltage); }, 0, 0, 1, 1},
      {"bus_stuck", wait,
       [](const Grow& g) { return answered(g.tent->air(Place::canopy).humidity); }, 1, 1, 0, 0},
      // half a litre in half an hour at severity 1, and no probe is wet
      {"reservoir_seeps", wait,
       [](const Grow& g) {
         return g.truth().ledger.spilled_kg + (g.truth().floor_l > 0 ? 100 : 0);
       },
       0, 0, 0.499, 0.501},
      {"tray_float_bounces", wait,
       [](const Grow& g) {
         double edges = 0;
         for (int i = 1; i <= 10; ++i) {
           const double before = contact(g, C::tray_full);
           g.tent->advance_to(g.now + seconds{i});
           edges += std::abs(contact(g, C::tray_full) - before);
         }
         return edges;
       },
       0, 0, 10, 10},
      {"pump_switch_hand", wait, turns_and_automatic, 10, 10, 1, 1},
      {"pump_switch_off", flood, turns_and_automatic, 11, 11, 0, 0},
      {"button_pressed", wait, [](const Grow& g) { return contact(g, C::button_pressed); }, 0, 0, 1,
       1},
  };
  return kStories;
}

double told(const Story& story, bool with_fault) {
  Grow grow(calm({{"refill_below_l", 49.9},
                  {"reservoir_start_l", 50},
                  {"circulation_fan_w", 30},
                  {"reservoir_low_l", 10}}));
  if (with_fault) grow.fault(story.fault);
  story.run(grow);
  return story.measure(grow);
}

TEST(SimulatedFaults, EachDoesWhatItsLineSays) {
  for (const Story& story : stories()) {
    const double sound = told(story, false);
    EXPECT_GE(sound, story.sound_least) << story.fault;
    EXPECT_LE(sound, story.sound_most) << story.fault;
    const double faulty = told(story, true);
    EXPECT_GE(faulty, story.faulty_least) << story.fault;
    EXPECT_LE(faulty, story.faulty_most) << story.fault;
  }
}

TEST(SimulatedFaults, EveryFaultHasItsStory) {
  std::set<std::string_view> told_of, named;
  for (const Story& story : stories()) told_of.insert(story.fault);
  Grow grow;
  for (const World::FaultName& row : grow.tent->fault_names()) {
    named.insert(row.name);
    EXPECT_FALSE(row.meaning.empty()) << row.name;
  }
  EXPECT_EQ(told_of, named);
  EXPECT_EQ(named.size(), kTentFaultCount);
}

TEST(SimulatedFaults, AreRefusedWithTheReason) {
  Grow grow;
  const auto unknown = grow.tent->inject("gremlin", true, 1);
  EXPECT_FALSE(unknown.accepted);
  EXPECT_NE(unknown.message.find("gremlin"), std::string::npos);
  EXPECT_NE(unknown.message.find("pump_welded"), std::string::npos);
  const auto severe = grow.tent->inject("leak", true, 1.5);
  EXPECT_FALSE(severe.accepted);
  EXPECT_NE(severe.message.find("0 to 1"), std::string::npos);
  EXPECT_FALSE(grow.tent->inject("leak", true, std::nan("")).accepted);
}

TEST(SimulatedFaults, LiftedAreGone) {
  Grow grow;
  grow.fault("pump_welded");
  grow.run(minutes{1});
  EXPECT_TRUE(grow.truth().floats.pump_running);
  grow.fault("pump_welded", false);
  grow.run(minutes{1});
  EXPECT_FALSE(grow.truth().floats.pump_running);
}

TEST(SimulatedFaults, AScriptedFaultComesAndGoesOnTime) {
  SimulationSetup setup;
  setup.parameters = calm();
  setup.faults = {{"light_stuck_on", minutes{10}, minutes{5}, 1}};
  Grow grow(setup);
  grow.run(minutes{10});
  EXPECT_EQ(grow.truth().ledger.light_j, 0);
  grow.run(hours{1});
  EXPECT_DOUBLE_EQ(grow.truth().ledger.light_j, 150.0 * 300);
}

TEST(SimulatedFaults, ALeakReachesTheProbesLateAndIsMoppedWhenMended) {
  Grow grow;
  grow.fault("leak", true, 0);  // 5 mL/min
  const auto beside =
      grow.run_until(hours{1}, [](const Truth& t) { return t.floats.leak_reservoir; });
  ASSERT_TRUE(beside);
  EXPECT_NEAR(*beside, 120, 15);  // 10 mL
  const auto floor = grow.run_until(hours{1}, [](const Truth& t) { return t.floats.leak_floor; });
  ASSERT_TRUE(floor);
  EXPECT_GT(*floor, 20);
  grow.fault("leak", false);
  grow.run(seconds{1});
  EXPECT_FALSE(grow.truth().floats.leak_floor);
  EXPECT_EQ(grow.truth().floor_l, 0);
}

TEST(SimulatedFaults, SeverityScales) {
  const auto leaked = [](double severity) {
    Grow grow;
    grow.fault("leak", true, severity);
    grow.run(minutes{3});
    return grow.truth().ledger.spilled_kg;
  };
  EXPECT_NEAR(leaked(0), 0.015, 0.0005);
  EXPECT_NEAR(leaked(1), 15, 0.1);
  EXPECT_NEAR(leaked(0.5), std::sqrt(0.015 * 15), 0.01);  // logarithmic
}

}  // namespace
}  // namespace neap::drivers
