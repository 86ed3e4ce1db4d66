// Goal: leaks and clogging come out of a journal with the day each was flagged, and mixes with
// where their figures came from. Method: the reservoir of tests/solution/reservoir_model.h written
// by the journal's own writer.
#include "daemon/client/water.h"

#include <array>
#include <cmath>

#include "daemon/client/mix_view.h"
#include "daemon/client/water_record.h"
#include "daemon/journal/journal.h"
#include "daemon/settings/settings.h"
#include "daemon/words/figures.h"
#include "tests/client/support.h"
#include "tests/places.h"
#include "tests/solution/reservoir_model.h"

namespace neap::client {
namespace {

using ::testing::AllOf;
using ::testing::HasSubstr;
using testing::json;
using ::testing::Not;
using testing::Said;

constexpr std::int64_t kStart = 4294967000;                            // ms
constexpr std::int64_t kMidnight = testing::kNoonUnixMs - 43'200'000;  // 2026-06-01 UTC
constexpr int kDays = 24;
constexpr int kTroubleDay = 16;  // 2026-06-17

// 24 days of a table, written once: from day 16 on 100 mL/h leak and the drain clogs by 3 % a day.
class WaterVerb : public ::testing::Test {
 protected:
  static void SetUpTestSuite() {
    directory_ = new testing::Directory;
    journal::Options options;
    options.path = journal();
    options.durability = journal::Durability::simulated;
    const auto writer = journal::Writer::open(options);
    writer->put(journal::ClockEntry{at(0), WallTime{kMidnight, 0, TimeQuality::synced}});
    solution::model::Reservoir reservoir({}, {0.1, kTroubleDay * 24.0, false}, 77);
    const solution::WaterRecord record = reservoir.live(kDays);
    solution::model::Noise noise(5);
    std::size_t next = 0;
    for (const solution::Level& level : record.levels) {
      for (; next < record.floods.size() && record.floods[next].began_h <= level.at_h; ++next)
        flood(*writer, record.floods[next], noise);
      put(*writer, level.at_h, Point::reservoir_level, level.litres);
      const double of_day = std::fmod(level.at_h, 24);
      if (std::fmod(of_day * 6, 1) < 0.01)  // air and EC every ten minutes
        put(*writer, level.at_h, Point::canopy_vpd, of_day >= 6 && of_day < 22 ? 1.0 : 0.6),
            put(*writer, level.at_h, Point::solution_ec, 1.2 + 0.01 * level.at_h / 24);
    }
    writer->flush();
  }
  static void TearDownTestSuite() { delete directory_; }

  static std::string journal() { return directory_->file("journal.db"); }
  static Instant at(double hour) {
    return instant(Millis{kStart + std::llround(hour * 3'600'000)});
  }
  static void put(journal::Writer& writer, double hour, Point point, double value) {
    writer.put(journal::ReadingEntry{at(hour), point, value, Quality::good, Fault::none});
  }
  static void flood(journal::Writer& writer, const solution::Flood& of,
                    solution::model::Noise& noise) {
    Event event;
    event.kind = EventKind::cycle_closed;
    event.cycle.started_tick = tick_ms(at(of.began_h));
    event.cycle.slot = {20605 + static_cast<std::int32_t>(of.began_h / 24), 1};
    event.cycle.outcome = FloodOutcome::complete;
    const double clogged =
        std::exp(0.03 * std::max(0.0, of.began_h / 24 - kTroubleDay) + 0.02 * noise.normal());
    event.cycle.fill = Millis{std::llround(180'000 * std::exp(0.02 * noise.normal()))};
    event.cycle.soak = minutes{8};
    event.cycle.drain = Millis{std::llround(500'000 * clogged)};
    event.cycle.litres_known = true;
    event.cycle.litres_out = 29;
    event.cycle.litres_back = 28;
    writer.put(journal::EventEntry{at(of.drained_h), event});
  }
  static Said ask(std::vector<std::string> words) {
    words.insert(words.end(),
                 {"--journal", journal(), "--settings", places::in_project("config/demo.yaml")});
    return testing::neap(words);
  }
  static inline testing::Directory* directory_ = nullptr;
};

TEST_F(WaterVerb, FlagsALeakAndACloggingDrainWithTheirDays) {
  const Said said = ask({"water", "--json"});
  ASSERT_EQ(said.code, 0) << said.err;
  const json water = json::parse(said.out);
  ASSERT_FALSE(water["leaks"].empty());
  const json leak = water["leaks"][0];
  EXPECT_EQ(leak["by"], "idle_slope");
  EXPECT_TRUE(leak["stands"]);
  EXPECT_NEAR(leak["l_per_h"].get<double>(), 0.1, 0.03);
  const std::int64_t flagged = leak["flagged"]["tick"].get<std::int64_t>() - kStart;
  EXPECT_GT(flagged, kTroubleDay * 24 * 3'600'000LL);
  EXPECT_LT(flagged, (kTroubleDay + 2) * 24 * 3'600'000LL);
  EXPECT_TRUE(water["fill"]["flagged"].is_null());
  EXPECT_NEAR(water["drain"]["commissioned_s"].get<double>(), 500, 8);
  EXPECT_NEAR(water["drain"]["change"].get<double>(), std::expm1(0.03 * 7.7), 0.05);
  EXPECT_FALSE(water["drain"]["slow_at"].is_null());
  EXPECT_NEAR(water["ec_per_day_ms_cm"].get<double>(), 0.01, 0.001);
  EXPECT_NEAR(water["visible_within_two_days_l_per_h"].get<double>(), 0.04, 0.02);
}

TEST_F(WaterVerb, SaysItToAPersonOnAPageAndOnATelephone) {
  const Said page = ask({"water"});
  EXPECT_THAT(page.out, HasSubstr("2026-06-17"));
  EXPECT_THAT(page.out, HasSubstr("while nothing floods"));
  EXPECT_THAT(page.out, HasSubstr("roots and medium"));
  EXPECT_LE(testing::widest(page.out), kPageWidth);
  EXPECT_LE(testing::widest(ask({"water", "--narrow"}).out), kPhoneWidth);
}

TEST_F(WaterVerb, MeasureKnowsWhatTheReservoirHolds) {
  const Said said = ask({"measure", "level=300"});
  EXPECT_EQ(said.code, kExitUsage);
  EXPECT_THAT(said.err, HasSubstr("the reservoir holds 60 L"));
}

TEST(WaterText, ALeakOutOfSightIsNotCalledOver) {
  WaterView view;
  view.leaks.emplace_back();
  view.leaks[0].lost_sight = true;
  EXPECT_THAT(water_findings(view, 0, 1)[0].text,
              AllOf(HasSubstr("not to be told from plants that grow"), Not(HasSubstr("ended"))));
  view.leaks[0].lost_sight = false;
  EXPECT_THAT(water_findings(view, 0, 1)[0].text, HasSubstr("ended"));
}

// `neap away` of a daemon whose level and EC are told by hand.
Said away(const std::string& journal, const std::string& phase, bool in_force) {
  const testing::FakeDaemon daemon(
      [&](const json& request) {
        json status = {{"flood", {{"phase", phase}}}};
        for (const auto& [quantity, value] : {std::pair{"level", 60.0}, {"ec", 1.5}})
          status["by_hand"].push_back(
              {{"quantity", quantity}, {"value", value}, {"in_force", in_force}});
        return testing::FakeDaemon::success(request,
                                            request["verb"] == "status" ? status : json::object());
      },
      2);
  return testing::neap({"away", "1d", "--journal", journal, "--settings",
                        places::in_project("config/demo.yaml"), "--socket", daemon.path()});
}

TEST_F(WaterVerb, AwayTakesFiguresByHandOnlyWhileTheyAreInForceAndNoneInMidFlood) {
  EXPECT_THAT(away(journal(), "idle", true).out,
              AllOf(HasSubstr("water: 60 L for"), HasSubstr("EC 1.50 mS/cm becomes")));
  EXPECT_THAT(away(journal(), "idle", false).out, HasSubstr("what the tent drinks is not known"));
  EXPECT_THAT(away(journal(), "drain", true).out,
              AllOf(HasSubstr("a flood is under way"), Not(HasSubstr("60 L"))));
}

TEST_F(WaterVerb, BeforeTheTroubleAllIsWell) {
  const json water = json::parse(ask({"water", "--json", "--to", "2026-06-16"}).out);
  EXPECT_TRUE(water["leaks"].empty());
  EXPECT_TRUE(water["drain"]["flagged"].is_null());
  const double per_day = water["lost_l_per_day"].get<double>();
  EXPECT_NEAR(per_day, 2.64 * std::pow(1.02, 13), 0.5);
}

TEST_F(WaterVerb, TheReportNamesWhatWasFlagged) {
  const Said report = ask({"report", "--since", "2d"});
  EXPECT_THAT(report.out, HasSubstr("leak"));
  EXPECT_THAT(report.out, HasSubstr("slower than commissioned, flagged 2026-06-1"));
  const json early = json::parse(ask({"report", "--day", "2026-06-10", "--json"}).out);
  EXPECT_TRUE(early["water"].empty()) << early["water"];
}

// The model's plants take 2.64 L on day 0 and 2 % more each day; the leak of 100 mL/h adds 2.4.
TEST_F(WaterVerb, AwayKnowsFromTheJournalWhatTheTentDrinks) {
  const json status{{"readings", {{{"point", info(Point::reservoir_level).name}, {"value", 50}}}}};
  const testing::FakeDaemon daemon(
      [&](const json& request) {
        return testing::FakeDaemon::success(request,
                                            request["verb"] == "status" ? status : json::object());
      },
      2);
  const Said said = ask({"away", "2d", "--socket", daemon.path()});
  const double per_day = json::parse(ask({"water", "--json"}).out)["lost_l_per_day"];
  EXPECT_NEAR(per_day, 2.64 * std::pow(1.02, 22) + 2.4, 0.8);
  EXPECT_THAT(said.out, HasSubstr(words::decimals(per_day, 1) + " L a day")) << said.err;
}

TEST_F(WaterVerb, MixTakesLevelAndEcFromTheJournalAndSaysSo) {
  const Said said = ask({"mix", "topup", "to=58", "target=1.4"});
  EXPECT_EQ(said.code, 0) << said.err;
  EXPECT_THAT(said.out, HasSubstr("58.0 L of 1.40 mS/cm"));
  EXPECT_THAT(said.out, HasSubstr("by its sensor, 2026-06-24"));
  EXPECT_THAT(said.out, HasSubstr("part_b"));
}

// A flood that is under way, or one whose tray still drips, holds water that is not in the
// reservoir's level.
class WrittenJournal : public ::testing::Test {
 protected:
  WrittenJournal() {
    journal::Options options;
    options.path = directory_.file("journal.db");
    options.durability = journal::Durability::simulated;
    writer_ = journal::Writer::open(options);
    writer_->put(journal::ClockEntry{at(0), WallTime{kMidnight, 0, TimeQuality::synced}});
  }
  void level(double hour, double litres) {
    writer_->put(journal::ReadingEntry{at(hour), Point::reservoir_level, litres, Quality::good,
                                       Fault::none});
  }
  void phase(double hour, FloodPhase phase) {
    Event event;
    event.kind = EventKind::flood_phase;
    event.phase = phase;
    writer_->put(journal::EventEntry{at(hour), event});
  }
  void closed(double hour) {
    Event event;
    event.kind = EventKind::cycle_closed;
    event.cycle.started_tick = tick_ms(at(hour));
    event.cycle.outcome = FloodOutcome::complete;
    event.cycle.fill = minutes{4};
    event.cycle.soak = minutes{8};
    event.cycle.drain = minutes{12};
    writer_->put(journal::EventEntry{at(hour + 0.4), event});
  }
  Said top_up() {
    writer_->flush();
    return testing::neap({"mix", "topup", "ec=1.4", "to=58", "target=1.4", "--journal",
                          directory_.file("journal.db"), "--settings",
                          places::in_project("config/demo.yaml")});
  }

  Said go_away() {
    writer_->flush();
    return away(directory_.file("journal.db"), "idle", true);
  }
  void service(double hour, bool begun) {
    Event event;
    event.kind = EventKind::service;
    event.number = begun ? 1 : 0;
    writer_->put(journal::EventEntry{at(hour), event});
  }
  void vpd(double hour) {
    writer_->put(
        journal::ReadingEntry{at(hour), Point::canopy_vpd, 1.0, Quality::good, Fault::none});
  }
  std::string flushed() {
    writer_->flush();
    return directory_.file("journal.db");
  }

 private:
  static Instant at(double hour) {
    return instant(Millis{kStart + std::llround(hour * 3'600'000)});
  }
  testing::Directory directory_;
  std::unique_ptr<journal::Writer> writer_;
};
using MixInFloods = WrittenJournal;
using WaterRecorded = WrittenJournal;

TEST_F(WaterRecorded, WhatTheAirAskedIsCountedFromFloodToFloodWhoeverWorkedInBetween) {
  for (int step = 0; step <= 14 * 6; ++step) vpd(step / 6.0);
  closed(1);
  service(3, true);
  service(3.5, false);
  closed(5);
  closed(12);
  std::string error;
  const auto reader = journal::Reader::open(flushed(), error);
  ASSERT_TRUE(reader) << error;
  const HourScale scale{kStart};
  const auto floods =
      water_record(*reader, scale, kStart, kStart + Millis{hours{14}}.count()).floods;
  ASSERT_EQ(floods.size(), 4u);
  EXPECT_TRUE(floods[1].worked);
  EXPECT_FALSE(floods[1].demand);
  ASSERT_TRUE(floods[2].demand && floods[3].demand);
  EXPECT_NEAR(*floods[3].demand / *floods[2].demand, 7.0 / 4, 0.1) << "of 7 h and 4 h";
}

TEST_F(WaterRecorded, RightAfterAStartALevelThatIsFittedIsNotCalledUnmeasured) {
  vpd(0.5);
  const Said said = testing::neap({"water", "--journal", flushed(), "--settings",
                                   places::in_project("config/demo.yaml"), "--narrow"});
  EXPECT_EQ(said.code, 0) << said.err;
  EXPECT_THAT(said.out, HasSubstr("no level is in the"));
}

TEST_F(WaterRecorded, CleaningsAndCommissioningsAreRenewals) {
  std::vector<journal::MeasurementRow> rows(4);
  rows[0].quantity = "ph";
  rows[1].quantity = "ph";
  rows[1].note = "service clean: roots";  // as check_in.cpp writes it
  rows[2].quantity = "level";
  rows[2].note = "service topup";
  rows[3].quantity = "pump_flow";
  for (journal::MeasurementRow& row : rows) row.taken.tick = kStart;
  rows[3].taken.tick = kStart + 1;
  std::vector<journal::DiaryRow> diary(2);
  diary[0].kind = diary[1].kind = "care";
  diary[0].subject = "strainer";
  diary[1].subject = "bucket";
  diary[0].happened.tick = diary[1].happened.tick = kStart + 3'600'000;
  const auto found = renewals(rows, diary, {kStart});
  ASSERT_EQ(found.size(), 3u);
  EXPECT_FALSE(found[0].commissioned);
  EXPECT_TRUE(found[1].commissioned);
  EXPECT_FALSE(found[2].commissioned);
  EXPECT_EQ(found[2].at_h, 1);
}

TEST_F(MixInFloods, ALevelOfARunningFloodOrADrippingTrayIsPassedOver) {
  level(9.9, 50);
  phase(10, FloodPhase::fill);
  closed(10);
  level(10.3, 31);
  phase(10.4, FloodPhase::rest);
  level(11.5, 41);  // 1.1 h after the drain
  EXPECT_THAT(top_up().out, HasSubstr("Top-up of 50.0 L"));
  level(11.7, 49);
  EXPECT_THAT(top_up().out, HasSubstr("Top-up of 49.0 L"));
  phase(12, FloodPhase::fill);
  level(12.1, 33);
  EXPECT_THAT(top_up().out, HasSubstr("Top-up of 49.0 L"));
}

TEST_F(MixInFloods, AwayDoesNotReckonByThatOfADrippingTrayEither) {
  closed(10);
  level(11.5, 41);
  EXPECT_THAT(go_away().out, HasSubstr("still drips"));
  level(11.7, 49);
  EXPECT_THAT(go_away().out, Not(HasSubstr("still drips")));
}

TEST_F(MixInFloods, WithNoOtherLevelItAsksForOne) {
  phase(10, FloodPhase::fill);
  level(10.1, 33);
  const Said said = top_up();
  EXPECT_EQ(said.code, kExitUsage);
  EXPECT_THAT(said.err, HasSubstr("in or just after a flood"));
  EXPECT_THAT(said.err, HasSubstr("level=38"));
}

TEST(MixVerb, AFreshReservoirAsWorkedOutByHand) {
  const auto ask = [](std::vector<std::string> words) {
    words.insert(words.end(), {"--journal", "/nowhere/journal.db", "--settings",
                               places::in_project("config/demo.yaml")});
    return testing::neap(words);
  };
  const json mix = json::parse(ask({"mix", "fresh", "to=50", "target=1.3", "--json"}).out);
  EXPECT_NEAR(mix["stocks"][0]["ml"].get<double>(), 62.547, 0.001);  // tests/solution/mix_test
  EXPECT_NEAR(mix["water_l"].get<double>(), 49.875, 0.001);
  const Said narrow = ask({"mix", "fresh", "to=50", "target=1.3", "--narrow"});
  EXPECT_LE(testing::widest(narrow.out), kPhoneWidth);
  EXPECT_THAT(narrow.out, HasSubstr("63 mL"));

  EXPECT_THAT(ask({"mix", "topup", "level=30", "ec=2.4", "to=50", "target=1.2"}).err,
              HasSubstr("take solution out first"));
  EXPECT_THAT(ask({"mix", "fresh", "to=70", "target=1.3"}).err, HasSubstr("60.0 L"));
  EXPECT_THAT(ask({"mix", "fresh", "to=50"}).err, HasSubstr("target=1.4"));
  EXPECT_THAT(ask({"mix", "topup", "to=50", "target=1.3"}).err, HasSubstr("level=38"));
  EXPECT_THAT(ask({"mix", "soup"}).err, HasSubstr("fresh topup ph"));
  EXPECT_THAT(ask({"mix", "fresh", "litres=50"}).err, HasSubstr("is no figure of a mix"));

  const Said ph = ask({"mix", "ph", "ph=6.8", "level=50", "target=5.9"});
  EXPECT_THAT(ph.out, HasSubstr("0.25 mL of ph_down"));
  EXPECT_THAT(ph.out, HasSubstr("measure ph_down=0.25"));
  EXPECT_THAT(ph.out, Not(HasSubstr("cannot overshoot")));
  EXPECT_THAT(ph.out, HasSubstr("first try"));
  EXPECT_THAT(ph.out, HasSubstr("never water into acid"));
  EXPECT_THAT(ask({"mix", "ph", "ph=5.93", "level=50", "target=5.9"}).out,
              HasSubstr("Near enough"));
}

journal::MeasurementRow noted(int minute, const char* quantity, double value) {
  journal::MeasurementRow row;
  row.taken.tick = kStart + std::int64_t{minute} * 60'000;
  row.quantity = quantity;
  row.value = value;
  return row;
}

TEST(DosesNoted, ADoseIsLearntFromWithAPhOnBothSides) {
  const auto doses = doses_noted(
      {noted(0, "level", 42), noted(1, "ph", 6.4), noted(5, "ph_down", 3), noted(40, "ph", 6.1)},
      true, 50);
  ASSERT_EQ(doses.size(), 1u);
  EXPECT_EQ(doses[0].millilitres, 3);
  EXPECT_EQ(doses[0].ph_before, 6.4);
  EXPECT_EQ(doses[0].ph_after, 6.1);
  EXPECT_EQ(doses[0].litres, 42);
}

// `neap measure ph=6.1 ph_down=3` tells in one go what was poured and what came of it.
TEST(DosesNoted, APhOfTheDosesOwnSetIsThePhAfterIt) {
  std::vector<journal::MeasurementRow> rows{noted(1, "ph", 6.4), noted(30, "ph", 6.1),
                                            noted(30, "ph_down", 3), noted(300, "ph", 6.3)};
  const std::array ids{"a/ph", "b/ph", "b/ph_down", "c/ph"};
  for (std::size_t i = 0; i < rows.size(); ++i) rows[i].id = ids[i];
  const auto doses = doses_noted(rows, true, 50);
  ASSERT_EQ(doses.size(), 1u);
  EXPECT_EQ(doses[0].ph_before, 6.4);
  EXPECT_EQ(doses[0].ph_after, 6.1);
}

TEST(DosesNoted, ATopUpOrTheOtherBottleInBetweenSpoilsIt) {
  EXPECT_TRUE(doses_noted({noted(1, "ph", 6.4), noted(5, "ph_down", 3), noted(9, "topup", 5),
                           noted(40, "ph", 6.1)},
                          true, 50)
                  .empty());
  EXPECT_TRUE(doses_noted({noted(1, "ph", 6.4), noted(5, "ph_down", 3), noted(9, "ph_up", 1),
                           noted(40, "ph", 6.1)},
                          true, 50)
                  .empty());
  EXPECT_TRUE(  // half a day later
      doses_noted({noted(1, "ph", 6.4), noted(5, "ph_down", 3), noted(740, "ph", 6.1)}, true, 50)
          .empty());
  EXPECT_TRUE(doses_noted({noted(1, "ph", 6.4), noted(5, "ph_down", 3), noted(9, "change", 50),
                           noted(40, "ph", 6.1)},
                          true, 50)
                  .empty());
  const auto two = doses_noted(
      {noted(1, "ph", 6.4), noted(5, "ph_down", 3), noted(20, "ph_down", 2), noted(60, "ph", 6.0)},
      true, 50);
  ASSERT_EQ(two.size(), 1u);
  EXPECT_EQ(two[0].millilitres, 5);
}

}  // namespace
}  // namespace neap::client
