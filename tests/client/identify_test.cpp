// Goal: what the journal has becomes the record that daemon/identify wants, and too little of it is
// called too little. Method: half an hour written by the journal's own writer.
#include "daemon/client/tent_record.h"
#include "daemon/journal/journal.h"
#include "daemon/settings/settings.h"
#include "tests/client/support.h"
#include "tests/places.h"

namespace neap::client {
namespace {

using ::testing::HasSubstr;
using testing::json;

constexpr std::int64_t kStart = 4294967000;  // ms

class IdentifyVerb : public ::testing::Test {
 protected:
  IdentifyVerb() {
    journal::Options options;
    options.path = directory_.file("journal.db");
    options.durability = journal::Durability::simulated;
    writer_ = journal::Writer::open(options);
    writer_->put(journal::ClockEntry{instant(Millis{kStart}),
                                     {testing::kNoonUnixMs, 7200, TimeQuality::synced}});
    for (int second = 0; second <= 1800; second += 10) {
      if (second > 600 && second < 900) continue;  // five minutes of silence
      put(second, Point::canopy_temperature, 25);
      put(second, Point::canopy_humidity, 60 + second / 600.0);
      put(second, Point::room_temperature, 21);
      put(second, Point::room_humidity, 50);
      put(second, Point::reservoir_level, 40);
    }
  }
  void put(int second, Point point, double value) {
    writer_->put(journal::ReadingEntry{at(second), point, value, Quality::good, Fault::none});
  }
  void put_level(int second, Output output, int permille, Reason why = Reason::none) {
    Event event;
    event.kind = EventKind::actuation;
    event.output = output;
    event.level = Permille{permille};
    event.because = because(why);
    writer_->put(journal::EventEntry{at(second), event});
  }
  static Instant at(int second) { return instant(Millis{kStart} + seconds{second}); }
  identify::Record record() {
    writer_->flush();
    std::string error;
    const auto reader = journal::Reader::open(directory_.file("journal.db"), error);
    const auto settings =
        settings::load_text(read_settings_text(places::in_project("config/demo.yaml")));
    return tent_record(*reader, settings.loaded->plan, kStart, kStart + 1'800'000);
  }
  testing::Said ask(std::vector<std::string> words) {
    writer_->flush();
    words.insert(words.end(), {"--journal", directory_.file("journal.db"), "--settings",
                               places::in_project("config/demo.yaml")});
    return testing::neap(words);
  }

  testing::Directory directory_;
  std::unique_ptr<journal::Writer> writer_;
};

TEST_F(IdentifyVerb, ReadingsAreHeldAsLongAsTheDaemonBelievesThemAndNoLonger) {
  const identify::Record r = record();
  ASSERT_EQ(r.steps.size(), 180u);
  ASSERT_TRUE(r.steps[30].canopy);
  EXPECT_NEAR(r.steps[30].canopy->percent, 60.5, 0.01);
  EXPECT_EQ(r.steps[30].room->celsius, 21);
  EXPECT_EQ(r.steps[30].level_l, 40);
  EXPECT_TRUE(r.steps[64].canopy);   // 40 s after the last reading
  EXPECT_FALSE(r.steps[70].canopy);  // 100 s after it
  EXPECT_TRUE(r.steps[90].canopy);
}

TEST_F(IdentifyVerb, LevelsAreMeansOverAStep) {
  put_level(100, Output::exhaust_fan, 400);
  put_level(205, Output::exhaust_fan, 800);
  put_level(303, Output::dehumidifier, 1000);
  const identify::Record r = record();
  EXPECT_NEAR(r.steps[0].fan, 1, 1e-9);  // safe, before anything is told of it
  EXPECT_NEAR(r.steps[19].fan, 0.4, 1e-9);
  EXPECT_NEAR(r.steps[20].fan, 0.6, 1e-9);
  EXPECT_NEAR(r.steps[21].fan, 0.8, 1e-9);
  EXPECT_NEAR(r.steps[30].dehumidifier, 0.7, 1e-9);
}

TEST_F(IdentifyVerb, TheEndOfAHoldIsNotTakenForItsLevel) {
  put_level(100, Output::exhaust_fan, 300);
  put_level(200, Output::exhaust_fan, 900, Reason::operator_hold_expired);
  EXPECT_NEAR(record().steps[30].fan, 0.3, 1e-9);
}

TEST_F(IdentifyVerb, FloodsAndServiceAreMarked) {
  Event flood;
  flood.kind = EventKind::cycle_closed;
  flood.cycle.started_tick = kStart + 300'000;
  flood.cycle.outcome = FloodOutcome::complete;
  flood.cycle.fill = seconds{100};
  flood.cycle.soak = seconds{200};
  flood.cycle.drain = seconds{60};
  writer_->put(journal::EventEntry{at(660), flood});
  Event service;
  service.kind = EventKind::service;
  service.number = 1;
  writer_->put(journal::EventEntry{at(1000), service});
  service.number = 0;
  writer_->put(journal::EventEntry{at(1200), service});
  const identify::Record r = record();
  ASSERT_EQ(r.floods.size(), 1u);
  EXPECT_EQ(r.floods[0].began, 30u);
  EXPECT_EQ(r.floods[0].drained, 67u);
  EXPECT_TRUE(r.floods[0].complete);
  EXPECT_FALSE(r.steps[29].water_moves);
  EXPECT_TRUE(r.steps[65].water_moves);
  EXPECT_FALSE(r.steps[66].water_moves);
  EXPECT_FALSE(r.steps[99].disturbed);
  EXPECT_TRUE(r.steps[100].disturbed);
  EXPECT_FALSE(r.steps[120].disturbed);
}

TEST_F(IdentifyVerb, StepTestsAreFoundInTheJournalWholeOrCutShort) {
  const auto put_test = [&](int second, Output output, int begun) {
    Event event;
    event.kind = EventKind::step_test;
    event.output = output;
    event.number = begun;
    if (begun == 0) event.because = because(Reason::step_test_done);
    writer_->put(journal::EventEntry{at(second), event});
  };
  put_test(100, Output::exhaust_fan, 1);
  put_test(405, Output::exhaust_fan, 0);
  put_test(1000, Output::dehumidifier, 1);  // still under way at the end
  const identify::Record r = record();
  ASSERT_EQ(r.tests.size(), 2u);
  EXPECT_TRUE(r.tests[0].of_fan);
  EXPECT_EQ(r.tests[0].from, 10u);
  EXPECT_EQ(r.tests[0].to, 41u);
  EXPECT_FALSE(r.tests[1].of_fan);
  EXPECT_EQ(r.tests[1].from, 100u);
  EXPECT_EQ(r.tests[1].to, 180u);
}

TEST_F(IdentifyVerb, HalfAnHourIsNotEnoughAndThatIsSaid) {
  const auto said = ask({"identify"});
  EXPECT_EQ(said.code, kExitDone) << said.err;
  EXPECT_THAT(said.out, HasSubstr("Not enough data: 0.5 h"));
  const json whole = json::parse(ask({"identify", "--json"}).out);
  EXPECT_TRUE(whole["found"]["exhaust_flow"]["value"].is_null());
  EXPECT_EQ(whole["found"]["exhaust_flow"]["lack"], "less than a day of readings");
  EXPECT_TRUE(whole["proposals"].empty());
  EXPECT_EQ(whole["step_tests"], (json{{"fan", 0}, {"dehumidifier", 0}}));
}

TEST_F(IdentifyVerb, ATimeThatTheJournalHasNotIsRefused) {
  const auto said = ask({"identify", "--from", "2030-01-01"});
  EXPECT_NE(said.code, kExitDone);
  EXPECT_THAT(said.err, HasSubstr("nothing"));
}

}  // namespace
}  // namespace neap::client
