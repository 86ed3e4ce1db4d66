// Goal: a grow is told of with or without a daemon, its record says what it came to by the journal,
// and two grows stand beside each other.
#include "daemon/client/grow.h"

#include "tests/client/told.h"

namespace neap::client {
namespace {

using ::testing::AllOf;
using ::testing::HasSubstr;
using testing::json;
using testing::kDayMs;
using testing::kNoonUnixMs;
using testing::kTick;
using ::testing::Not;
using testing::Said;
using testing::ToldTent;
using testing::widest;

journal::DiaryEntry told(const ToldTent& tent, const char* id, std::int64_t unix_ms,
                         const char* kind, const char* name, std::optional<double> figure = {},
                         const char* mark = "", const char* says = "") {
  return {tent.at(unix_ms), id, unix_ms, kind, name, figure, mark, says};
}

journal::EventEntry stage(const ToldTent& tent, std::int64_t unix_ms, int number,
                          const char* name) {
  journal::EventEntry entry{tent.at(unix_ms), {}, name};
  entry.event.kind = EventKind::stage;
  entry.event.number = number;
  return entry;
}

// A photoperiod of a day, in the band for 18 of 24 h; 3 of 4 floods complete.
void put_day(journal::Writer& writer, const ToldTent& tent, std::int64_t began, double level_l) {
  writer.put(journal::ReadingEntry{tent.at(began - 1000), Point::reservoir_level, level_l,
                                   Quality::good, Fault::none});
  for (int i = 0; i < 4; ++i) {
    journal::EventEntry flood{tent.at(began + (4 + 4 * i) * 3'600'000), {}};
    flood.event.kind = EventKind::cycle_closed;
    flood.event.cycle.started_tick = tick_ms(flood.tick);
    flood.event.cycle.fill = minutes{2};
    flood.event.cycle.outcome = i < 3 ? FloodOutcome::complete : FloodOutcome::slow_drain;
    writer.put(flood);
  }
  journal::EventEntry closed{tent.at(began + kDayMs), {}};
  closed.event.kind = EventKind::day_closed;
  DayTally& day = closed.event.day;
  day.began_tick = tick_ms(tent.at(began));
  day.date = static_cast<std::int32_t>(began / kDayMs);
  day.day_known = hours{16};
  day.day_in_band = hours{14};
  day.night_known = hours{8};
  day.night_in_band = hours{4};
  day.any_vpd = true;
  writer.put(closed);
}

// Ten days from 2026-05-02 12:00, four in leafing and six in flowering; before it one of two days.
void put_grows(journal::Writer& writer, const ToldTent& tent) {
  const std::int64_t start = kNoonUnixMs - 30 * kDayMs;
  writer.put(told(tent, "o1", start - 5 * kDayMs, "grow_started", "april", 6, "", "lettuce"));
  writer.put(stage(tent, start - 5 * kDayMs, 1, "leafing"));
  writer.put(told(tent, "o2", start - 3 * kDayMs, "grow_ended", "april"));
  writer.put(told(tent, "a", start, "grow_started", "may", 12, "", "basil"));
  for (int day = 0; day < 10; ++day) {
    if (day == 4) writer.put(stage(tent, start + 4 * kDayMs, 2, "flowering"));
    put_day(writer, tent, start + day * kDayMs, 50 - 2.5 * day + (day > 3 ? 8 : 0));
  }
  for (const std::int64_t after : {10 * kDayMs - 1000, 11 * kDayMs})
    writer.put(journal::ReadingEntry{tent.at(start + after), Point::reservoir_level, 33,
                                     Quality::good, Fault::none});
  const auto measure = [&](const char* id, double day, const char* what, double value) {
    const auto when = start + static_cast<std::int64_t>(day * static_cast<double>(kDayMs));
    writer.put(journal::MeasurementEntry{tent.at(when), id, when, what, value, "", ""});
  };
  measure("1/ph", 1, "ph", 5.8);
  measure("2/ph", 2, "ph", 5.9);
  measure("3/ph_down", 2.1, "ph_down", 4);
  measure("4/ph", 2.5, "ph", 5.6);
  measure("5/ph", 4.5, "ph", 5.8);
  measure("6/topup", 3.5, "topup", 8);
  writer.put(told(tent, "b", start + 3 * kDayMs, "grow_note", "may", {}, "", "true leaves"));
  writer.put(told(tent, "c", start + 10 * kDayMs, "harvest", "may", 700, "good", "lower shoots"));
  writer.put(told(tent, "d", start + 10 * kDayMs, "harvest", "may", 140, "fair"));
  writer.put(told(tent, "e", start + 10 * kDayMs, "grow_ended", "may", {}, "", "bolting"));
}

TEST(GrowRecord, AStageCountsWhatHappenedInItAndNothingElse) {
  ToldTent tent;
  tent.journal([&](journal::Writer& writer) { put_grows(writer, tent); });
  const Said said = tent.run({"grow", "show", "may", "--json"});
  ASSERT_EQ(said.code, kExitDone) << said.err;
  const json shown = json::parse(said.out);
  ASSERT_EQ(shown["stages"].size(), 2u) << said.out;
  const json& leafing = shown["stages"][0];
  EXPECT_EQ(leafing["stage"], "leafing") << "entered before the grow began";
  EXPECT_EQ(leafing["days"], 4.0);
  EXPECT_EQ(leafing["floods"], (json{{"complete", 12}, {"did not drain in time", 4}}));
  EXPECT_EQ(leafing["photoperiods"], 4);
  EXPECT_EQ(leafing["water_used_l"], 10.0) << "the level fell by 2 L, and 8 L were topped up";
  EXPECT_EQ(shown["stages"][1]["days"], 6.0);
  EXPECT_EQ(shown["stages"][1]["water_used_l"], 15.0);
  EXPECT_EQ(shown["whole"]["water_days"], 10);
  EXPECT_EQ(shown["whole"]["tally"]["day_in_band_s"], 10 * 14 * 3600.0);
}

TEST(GrowRecord, ADayOnWhichTheLevelRoseAndNobodyToldOfATopUpHasNoWaterUse) {
  ToldTent tent;
  tent.journal([&](journal::Writer& writer) {
    put_grows(writer, tent);
    writer.put(journal::AmendmentEntry{tent.at(kNoonUnixMs), "w", "6/topup", std::nullopt, "no"});
  });
  const json shown = json::parse(tent.run({"grow", "show", "may", "--json"}).out);
  EXPECT_EQ(shown["whole"]["water_days"], 9);
  EXPECT_EQ(shown["whole"]["water_used_l"], 22.5);
}

TEST(GrowRecord, DriftLeavesOutWhatAPersonPouredIn) {
  ToldTent tent;
  tent.journal([&](journal::Writer& writer) { put_grows(writer, tent); });
  const json shown = json::parse(tent.run({"grow", "show", "may", "--json"}).out);
  // 5.8 to 5.9 in a day; the dose of acid and the top-up part the others.
  EXPECT_NEAR(shown["whole"]["ph"]["drift_per_day"].get<double>(), 0.1, 1e-9);
  EXPECT_NEAR(shown["whole"]["ph"]["mean"].get<double>(), 5.775, 1e-9);
  EXPECT_EQ(shown["whole"]["ec"], nullptr);
}

TEST(GrowRecord, APourToldInOneGoWithWhatCameOfItIsNoDrift) {
  ToldTent tent;
  tent.journal([&](journal::Writer& writer) {
    const std::int64_t start = kNoonUnixMs - 5 * kDayMs;
    writer.put(told(tent, "a", start, "grow_started", "may", 12, "", "basil"));
    const auto measure = [&](const char* id, double day, const char* what, double value) {
      const auto when = start + static_cast<std::int64_t>(day * static_cast<double>(kDayMs));
      writer.put(journal::MeasurementEntry{tent.at(when), id, when, what, value, "", ""});
    };
    measure("1/ph", 1, "ph", 6.2);
    measure("1/ec", 1, "ec", 1.6);
    measure("2/ph", 2, "ph", 6.6);
    measure("2/ec", 2, "ec", 1.5);
    measure("3/ec", 2.5, "ec", 2.0);  // one set, in the order of the daemon: by name
    measure("3/ph", 2.5, "ph", 5.8);
    measure("3/ph_down", 2.5, "ph_down", 3);
    measure("3/stock_a", 2.5, "stock_a", 50);
    measure("3/topup", 2.5, "topup", 5);
    measure("4/ph", 3.5, "ph", 6.1);
    measure("4/ec", 3.5, "ec", 1.9);
    writer.put(stage(tent, kNoonUnixMs, 1, "leafing"));
  });
  const json shown = json::parse(tent.run({"grow", "show", "may", "--json"}).out);
  // pH: 6.2 to 6.6, then 5.8 to 6.1, each in a day; EC falls by 0.1 in each.
  EXPECT_NEAR(shown["whole"]["ph"]["drift_per_day"].get<double>(), 0.35, 1e-9);
  EXPECT_NEAR(shown["whole"]["ec"]["drift_per_day"].get<double>(), -0.1, 1e-9);
}

TEST(GrowRecord, AHarvestIsSummedUpAPlant) {
  ToldTent tent;
  tent.journal([&](journal::Writer& writer) { put_grows(writer, tent); });
  const Said said = tent.run({"grow", "show", "may"});
  EXPECT_THAT(said.out,
              AllOf(HasSubstr("may: basil, 12 plants, 2026-05-02 to 2026-05-12"),
                    HasSubstr("840 g, 70 g a plant"), HasSubstr("700 g, good: lower shoots"),
                    HasSubstr("not complete: 10 did not drain in time"), HasSubstr("bolting")));
}

TEST(GrowRecord, EveryPageFitsAPageAndATelephone) {
  ToldTent tent;
  tent.journal([&](journal::Writer& writer) { put_grows(writer, tent); });
  for (const std::vector<std::string>& words : {std::vector<std::string>{"grow"},
                                                {"grow", "show", "may"},
                                                {"grow", "show", "april"},
                                                {"grow", "compare", "may", "april"}}) {
    EXPECT_LE(widest(tent.run(words).out), kPageWidth) << words.back();
    std::vector<std::string> narrow = words;
    narrow.push_back("--narrow");
    const Said said = tent.run(narrow);
    EXPECT_EQ(said.code, kExitDone) << said.err;
    EXPECT_LE(widest(said.out), kPhoneWidth) << said.out;
  }
}

TEST(GrowRecord, TwoGrowsStandBesideEachOther) {
  ToldTent tent;
  tent.journal([&](journal::Writer& writer) { put_grows(writer, tent); });
  const Said said = tent.run({"grow", "compare", "may", "april"});
  ASSERT_EQ(said.code, kExitDone) << said.err;
  EXPECT_THAT(said.out, AllOf(HasSubstr("                     may    april\n"),
                              HasSubstr("crop               basil  lettuce\n"),
                              HasSubstr("  a plant           70 g        -\n"),
                              HasSubstr("VPD in band       75.0 %        -\n"),
                              HasSubstr("floods, complete   30/40      0/0\n"),
                              HasSubstr("flowering, days      6.0        -\n")));
}

TEST(GrowVerb, WithoutADaemonEachWordWaitsInTheSpoolAndTheNextCommandKnowsIt) {
  ToldTent tent;
  EXPECT_THAT(tent.run({"grow", "start", "june", "basil", "plants=12", "at=2026-05-20"}).out,
              HasSubstr("Kept in"));
  const Said again = tent.run({"grow", "start", "july"});
  EXPECT_EQ(again.code, kExitRefused);
  EXPECT_THAT(again.err, HasSubstr("grow june is under way"));
  EXPECT_EQ(tent.run({"grow", "harvest", "1.2kg", "good", "sweet"}).code, kExitDone);
  EXPECT_EQ(tent.spooled(), 2u);
  const json listed = json::parse(tent.run({"grow", "list", "--json"}).out);
  ASSERT_EQ(listed["grows"].size(), 1u);
  EXPECT_EQ(listed["grows"][0]["harvest_g"], 1200.0);
  EXPECT_EQ(listed["grows"][0]["crop"], "basil");
  EXPECT_EQ(listed["grows"][0]["harvests"][0]["mark"], "good");
  EXPECT_EQ(listed["grows"][0]["harvests"][0]["says"], "sweet");
}

TEST(GrowVerb, WhatCannotBeMeantSoIsRefusedWithItsRuleAndStoresNothing) {
  ToldTent tent;
  const auto refused = [&](const std::vector<std::string>& words) {
    const Said said = tent.run(words);
    EXPECT_NE(said.code, kExitDone) << said.out;
    return said.err;
  };
  EXPECT_THAT(refused({"grow", "start"}), HasSubstr("NAME is missing"));
  EXPECT_THAT(refused({"grow", "start", "my grow"}), HasSubstr("1 to 40 letters"));
  EXPECT_THAT(refused({"grow", "start", "june", "plants=0"}), HasSubstr("plants"));
  EXPECT_THAT(refused({"grow", "start", "june", "at=2026-07-01"}), HasSubstr("in the future"));
  EXPECT_THAT(refused({"grow", "note", "hello"}), HasSubstr("no grow is under way"));
  EXPECT_THAT(refused({"grow", "end"}), HasSubstr("no grow is under way"));
  EXPECT_THAT(refused({"grow", "harvset", "3g"}), HasSubstr("did you mean \"harvest\"?"));
  EXPECT_EQ(tent.spooled(), 0u);
  tent.run({"grow", "start", "june"});
  EXPECT_THAT(refused({"grow", "harvest", "840"}), HasSubstr("no weight with its unit"));
  EXPECT_THAT(refused({"grow", "harvest", "-3g"}), HasSubstr("WEIGHT"));
  EXPECT_THAT(refused({"grow", "note", std::string(1001, 'x')}), HasSubstr("at most 1000"));
  EXPECT_THAT(refused({"grow", "end", "at=2026-05-01"}), HasSubstr("before its start"));
  EXPECT_THAT(refused({"grow", "show", "jnue"}), HasSubstr("no grow is called"));
  EXPECT_EQ(tent.spooled(), 1u);
}

TEST(GrowVerb, AWordThatWasToldWronglyIsWithdrawnByItsNumber) {
  ToldTent tent;
  tent.journal([&](journal::Writer& writer) { put_grows(writer, tent); });
  const json before = json::parse(tent.run({"grow", "show", "may", "--json"}).out);
  const auto number = before["grow"]["harvests"][1]["number"].get<int>();
  const std::string text = std::to_string(number);
  EXPECT_NE(tent.run({"grow", "withdraw", text}).code, kExitDone) << "it does not say why";
  EXPECT_EQ(tent.run({"grow", "withdraw", text, "weighed", "twice"}).code, kExitDone);
  const json after = json::parse(tent.run({"grow", "show", "may", "--json"}).out);
  EXPECT_EQ(after["grow"]["harvest_g"], 700.0);
}

TEST(GrowVerb, AWordThatLooksLikeAFigureOfAnotherActionStaysInTheWords) {
  ToldTent tent;
  tent.run({"grow", "start", "june", "basil", "of=seed", "at=2026-05-20"});
  tent.run({"grow", "note", "thinned", "to", "plants=10", "today", "at=07:30"});
  tent.run({"grow", "end", "plants=9", "left"});
  const json grow = json::parse(tent.run({"grow", "list", "--json"}).out)["grows"][0];
  EXPECT_EQ(grow["notes"][0]["says"], "thinned to plants=10 today");
  EXPECT_EQ(grow["crop"], "basil of=seed");
  EXPECT_EQ(grow["end"], "plants=9 left");
}

TEST(GrowVerb, TheStartAndTheEndOfAGrowAreTakenBackByTheirNumbers) {
  ToldTent tent;
  tent.journal([&](journal::Writer& writer) { put_grows(writer, tent); });
  const json may = json::parse(tent.run({"grow", "show", "may", "--json"}).out)["grow"];
  EXPECT_EQ(may["start_number"], 3);
  ASSERT_EQ(may["end_number"], 7);
  EXPECT_THAT(tent.run({"grow", "show", "may"}).out, HasSubstr("3 is its start, 7 its end"));
  EXPECT_THAT(tent.run({"grow", "end", "grow=may"}).err, HasSubstr("neap grow withdraw 7 WHY"));
  const Said said = tent.run({"grow", "withdraw", "7", "it", "goes", "on", "--json"});
  ASSERT_EQ(said.code, kExitDone) << said.err;
  EXPECT_EQ(json::parse(said.out)["withdrawn"]["kind"], "grow_ended");
  const json after = json::parse(tent.run({"grow", "show", "may", "--json"}).out)["grow"];
  EXPECT_EQ(after["to"], nullptr);
  EXPECT_EQ(after["end_number"], nullptr);
}

TEST(GrowVerb, AnEntryThatIsNoneOfAGrowIsWithdrawnOnlyWhereThatIsMeant) {
  ToldTent tent;
  tent.journal([&](journal::Writer& writer) {
    writer.put(told(tent, "f", kNoonUnixMs - kDayMs, "care", "filter", {}, "", "new"));
    writer.put(told(tent, "r", kNoonUnixMs - kDayMs, "look", "roots", {}, "trouble", "brown"));
    writer.put(told(tent, "t", kNoonUnixMs - kDayMs, "turnover", "rinse", {}, "done"));
  });
  const auto refused = [&](const char* number) {
    const Said said = tent.run({"grow", "withdraw", number, "an", "error"});
    EXPECT_EQ(said.code, kExitRefused) << said.out;
    return said.err;
  };
  EXPECT_THAT(refused("1"), AllOf(HasSubstr("entry 1 is the care of filter: new"),
                                  HasSubstr("neap care withdraw 1 WHY")));
  EXPECT_THAT(refused("2"), HasSubstr("neap grow withdraw 2 of=look WHY"));
  EXPECT_THAT(refused("3"), HasSubstr("neap grow withdraw 3 of=turnover WHY"));
  EXPECT_THAT(tent.run({"care", "withdraw", "3", "why"}).err, HasSubstr("of=turnover"));
  EXPECT_EQ(tent.spooled(), 0u);
  EXPECT_EQ(tent.run({"care", "withdraw", "1", "WHY"}).code, kExitDone);
  EXPECT_EQ(tent.run({"grow", "withdraw", "2", "of=look", "WHY"}).code, kExitDone);
  EXPECT_EQ(tent.run({"grow", "withdraw", "3", "of=turnover", "WHY"}).code, kExitDone);
  EXPECT_EQ(tent.spooled(), 3u);
}

TEST(GrowVerb, OfTwoGrowsOfOneNameTheNewestIsMeant) {
  ToldTent tent;
  tent.journal([&](journal::Writer& writer) {
    for (const int days : {4, 2})
      writer.put(told(tent, days == 4 ? "a" : "b", kNoonUnixMs - days * kDayMs, "grow_started",
                      "june", days));
  });
  const json shown = json::parse(tent.run({"grow", "show", "june", "--json"}).out);
  EXPECT_EQ(shown["grow"]["plants"], 2.0);
}

// A daemon whose journal writes an entry down a moment after it was answered for, as neapd's.
TEST(GrowVerb, WhatWasJustToldIsKnownToTheNextCommandWithItsNumber) {
  ToldTent tent;
  tent.journal([](journal::Writer&) {});
  journal::Options options;
  options.path = tent.journal_path();
  options.events_batch = Millis{300};
  const auto writer = journal::Writer::open(options);
  const testing::FakeDaemon daemon(
      [&](const json& request) {
        const json& args = request["args"];
        writer->put(journal::DiaryEntry{tent.at(kNoonUnixMs),
                                        args["spool_id"],
                                        args["happened_unix_ms"],
                                        args["kind"],
                                        args["subject"],
                                        {},
                                        args["mark"],
                                        args["says"]});
        return testing::FakeDaemon::success(request, {{"stored", 1}});
      },
      4);
  const auto run = [&](const std::vector<std::string>& words) {
    return tent.run(words, "", daemon.path());
  };
  EXPECT_THAT(run({"grow", "start", "june"}).out,
              HasSubstr("entry 1; to take it back: neap grow withdraw 1 WHY"));
  EXPECT_THAT(run({"grow", "start", "july"}).err, HasSubstr("grow june is under way"));
  EXPECT_EQ(json::parse(run({"grow", "note", "two", "leaves", "--json"}).out)["number"], 2);
  EXPECT_THAT(run({"care", "done", "filter"}).out, HasSubstr("neap care withdraw 3 WHY"));
  EXPECT_THAT(run({"grow", "withdraw", "2", "it", "was", "three"}).out,
              HasSubstr("Withdrawn: entry 2, a note of grow june: two leaves"));
  const json grow = json::parse(tent.run({"grow", "list", "--json"}).out)["grows"][0];
  EXPECT_TRUE(grow["notes"].empty()) << grow;
}

TEST(GrowVerb, ADaemonIsToldOverTheSocket) {
  json seen;
  const testing::FakeDaemon daemon([&](const json& request) {
    seen = request;
    return testing::FakeDaemon::success(request, json::object());
  });
  const Said said = testing::neap({"grow", "start", "june", "basil", "--socket", daemon.path(),
                                   "--journal", "/nowhere/j", "--state-dir", "/nowhere"});
  ASSERT_EQ(said.code, kExitDone) << said.err;
  EXPECT_EQ(seen["verb"], "diary");
  EXPECT_EQ(seen["args"]["kind"], "grow_started");
  EXPECT_EQ(seen["args"]["says"], "basil");
  EXPECT_FALSE(seen["args"].contains("figure"));
  EXPECT_THAT(said.out, HasSubstr("Grow june has begun: basil."));
}

}  // namespace
}  // namespace neap::client
