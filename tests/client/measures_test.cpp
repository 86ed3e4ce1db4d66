// Goal: what a person types after `neap measure` means what they meant, or they are asked; and what
// was told is listed beside the probes, corrected and withdrawn without losing it.
#include "daemon/client/measures.h"

#include <filesystem>
#include <fstream>

#include "daemon/journal/journal.h"
#include "tests/client/support.h"
#include "tests/places.h"

namespace neap::client {
namespace {

using ::testing::AllOf;
using testing::FakeDaemon;
using ::testing::HasSubstr;
using testing::json;
using testing::kNoonUnixMs;
using testing::neap;
using testing::Said;

std::string complaint(const std::vector<std::string>& words,
                      std::optional<double> reservoir_l = {}) {
  try {
    parse_measured(words, reservoir_l);
  } catch (const Failure& failure) {
    return std::string(failure.what()) + " | " + failure.remedy();
  }
  return "accepted";
}

double only(const std::string& word) {
  const Measured found = parse_measured({word});
  EXPECT_EQ(found.values.size(), 1u) << word;
  return found.values.empty() ? -1 : found.values.front().value;
}

TEST(Measures, TheFourOfADayAreRead) {
  const Measured found = parse_measured({"ph=5.9", "ec=1.6", "water=20.4", "level=38"});
  ASSERT_EQ(found.values.size(), 4u);
  EXPECT_EQ(found.values[0].hand, Hand::ph);
  EXPECT_EQ(found.values[1].value, 1.6);
  EXPECT_EQ(found.values[2].hand, Hand::temperature);
  EXPECT_EQ(found.values[3].hand, Hand::level);
}

TEST(Measures, UnitsThatMetersHaveAreConverted) {
  EXPECT_DOUBLE_EQ(only("ec=1600uS/cm"), 1.6);
  EXPECT_DOUBLE_EQ(only("ec=1600us"), 1.6);
  EXPECT_DOUBLE_EQ(only("ec=1600 uS/cm"), 1.6);
  EXPECT_DOUBLE_EQ(only("ec=1.6mS/cm"), 1.6);
  EXPECT_DOUBLE_EQ(only("ec=800ppm500"), 1.6);   // EC x 500, facts: unit trap
  EXPECT_DOUBLE_EQ(only("ec=1120ppm700"), 1.6);  // EC x 700
  EXPECT_DOUBLE_EQ(only("water=68F"), 20);
  EXPECT_DOUBLE_EQ(only("temp=68F"), 20);
  EXPECT_NEAR(only("level=10gal"), 37.854, 0.001);  // US liquid gallon: 231 cubic inches
  EXPECT_DOUBLE_EQ(only("ph-down=3mL"), 3);
}

TEST(Measures, AFigureInTheWrongUnitIsAskedAbout) {
  EXPECT_EQ(complaint({"ec=1600"}),
            "ec is \"1600\", outside 0 to 20 | is it uS/cm? then write ec=1600uS/cm, which is 1.60 "
            "mS/cm; if it is ppm, say which scale: ec=1600ppm500 or ec=1600ppm700");
  EXPECT_EQ(complaint({"ec=800ppm"}),
            "ec is \"800ppm\", and ppm has two scales | look at the meter: write ec=800ppm500 "
            "(1.60 mS/cm) or ec=800ppm700 (1.14 mS/cm)");
  EXPECT_EQ(complaint({"ph=59"}), "ph is \"59\", outside 0 to 14 | did you mean ph=5.9?");
  EXPECT_EQ(complaint({"water=68"}),
            "water is \"68\", outside 0 to 50 | is it Fahrenheit? then write water=68F");
}

TEST(Measures, AFigureThatNoReservoirHasIsAskedAboutUntilItHasItsUnit) {
  EXPECT_EQ(
      complaint({"ec=14"}),
      "ec is \"14\", which no solution for plants has (0.0 to 6.0) | did you mean ec=1.40? If "
      "it is what the meter shows, write it with its unit: ec=14mS/cm");
  EXPECT_EQ(
      complaint({"ph=2.9"}),
      "ph is \"2.9\", which no solution for plants has (3.5 to 9.0) | measure again. If it is "
      "what the meter shows, write it with its unit: ph=2.9pH");
  EXPECT_EQ(complaint({"water=45"}).substr(0, 16), "water is \"45\", w");
  EXPECT_EQ(only("ec=14mS/cm"), 14);
  EXPECT_EQ(only("ph=2.9pH"), 2.9);
  EXPECT_EQ(only("ec=6"), 6);
}

TEST(Measures, MoreThanTheReservoirHoldsIsAskedAboutUntilItHasItsUnit) {
  EXPECT_EQ(complaint({"level=300"}, 60),
            "level is \"300\", and the reservoir holds 60 L by table.reservoir_capacity | read it "
            "again. If it is so, write it with its unit: level=300L");
  EXPECT_THAT(complaint({"topup=80"}, 60), HasSubstr("the reservoir holds 60 L"));
  EXPECT_THAT(complaint({"change=80"}, 60), HasSubstr("the reservoir holds 60 L"));
  EXPECT_EQ(complaint({"level=65"}, 60), "accepted") << "to the brim";
  EXPECT_EQ(complaint({"level=300L"}, 60), "accepted");
  EXPECT_EQ(complaint({"level=300"}), "accepted") << "nobody knows the reservoir";
  EXPECT_EQ(complaint({"ph_down=80"}, 60), "accepted");
}

TEST(Measures, WordsThatAreNoMeasurementAreRefused) {
  EXPECT_EQ(complaint({"ph=15"}), "ph is \"15\", outside 0 to 14 | check the figure and its unit");
  EXPECT_THAT(complaint({"ph=5.9", "ph=6"}), HasSubstr("a second value for ph"));
  EXPECT_THAT(complaint({"water=20", "temperature=21"}),
              HasSubstr("a second value for temperature"));
  EXPECT_THAT(complaint({"ph=5,9"}), HasSubstr("which is no number"));
  EXPECT_THAT(complaint({"ph=nan"}), HasSubstr("outside 0 to 14"));
  EXPECT_THAT(complaint({"hp=5.9"}), HasSubstr("did you mean \"ph\"?"));
  EXPECT_THAT(complaint({"5.9"}), HasSubstr("which is no name=value"));
  EXPECT_THAT(complaint({"level=38C"}), HasSubstr("write it in L"));
  EXPECT_THAT(complaint({"ph=5.9", "at="}), HasSubstr("which says nothing"));
}

TEST(Measures, AMomentIsTodayYesterdayOrADate) {
  EXPECT_EQ(parse_measured({"ph=6", "at=yesterday", "19:10"}).at, "yesterday 19:10");
  const std::int32_t today = 20605;
  EXPECT_EQ(parse_moment("07:30", today).second_of_day, 7 * 3600 + 1800);
  EXPECT_EQ(parse_moment("yesterday 19:10", today).date, today - 1);
  EXPECT_EQ(parse_moment("2026-06-01T19:10", today).date, 20605);
  EXPECT_THROW(parse_moment("soon", today), Failure);
  EXPECT_THROW(parse_moment("2026-06-01", today), Failure);
}

// A tent in Brussels (UTC+2 in June), at 14:00 of its time.
class MeasureVerb : public ::testing::Test {
 protected:
  Said ask(std::vector<std::string> words) {
    words.insert(words.end(), {"--journal", directory_.file("journal.db"), "--state-dir",
                               directory_.path().string(), "--settings",
                               places::in_project("config/demo.yaml")});
    return neap(words);
  }
  // What was asked of the daemon, and what the person saw.
  json asked(std::vector<std::string> words, Said& said, const json& result = json::object()) {
    json seen;
    const FakeDaemon daemon([&](const json& request) {
      seen = request;
      return FakeDaemon::success(request, result);
    });
    words.insert(words.end(), {"--socket", daemon.path()});
    said = ask(std::move(words));
    return seen;
  }
  testing::Directory directory_;
};

TEST_F(MeasureVerb, AMeasurementOfThisMorningIsDatedInTheTentsOwnZone) {
  Said said;
  const json seen = asked({"measure", "ph=5.9", "at=07:30", "photo=roots.jpg"}, said);
  EXPECT_EQ(said.code, kExitDone) << said.err;
  EXPECT_EQ(seen["args"]["taken_unix_ms"], kNoonUnixMs - (6 * 60 + 30) * 60000);
  EXPECT_EQ(seen["args"]["photo"], "roots.jpg");
  EXPECT_EQ(said.out, "Noted for 07:30: pH 5.90.\n");
}

TEST(Measures, ABandOfECHasHundredthsOthersTenths) {
  EXPECT_EQ(hand_band_text(Hand::ec, {1.25, 1.6}), "1.25 to 1.60");
  EXPECT_EQ(hand_band_text(Hand::ph, {5.5, 6.5}), "5.5 to 6.5");
}

TEST_F(MeasureVerb, ATimeThatIsStillToComeIsNotNoted) {
  const Said said = ask({"measure", "ph=5.9", "at=19:10", "--socket", "/nowhere/s"});
  EXPECT_EQ(said.code, kExitUsage);
  EXPECT_THAT(said.err, AllOf(HasSubstr("at is \"19:10\", which is 5 h 10 min in the future"),
                              HasSubstr("write at=yesterday 19:10 if that was meant")));
}

TEST_F(MeasureVerb, AMeasurementForAFittedProbeShowsItsDrift) {
  Said said;
  asked({"measure", "ph=5.9", "ec=1.6"}, said,
        {{"stored", 2}, {"flood", "soak"}, {"probes", {{"ph", 6.05}, {"ec", 1.6}}}});
  EXPECT_EQ(said.out,
            "Noted: pH 5.90, EC 1.60 mS/cm.\n"
            "  The probe for pH shows 6.05: 0.15 over the hand.\n"
            "  The probe for EC shows 1.60, as by hand.\n"
            "  A flood is under way (soak): level, pH and EC settle when the tray has\n"
            "  drained; measure again then.\n");
}

TEST_F(MeasureVerb, BytesThatAreNoTextAreNeitherStoredNorSpooled) {
  std::filesystem::create_directory(directory_.file("spool"));
  const Said said = ask({"measure", "ph=5.9", "--note", "\xff", "--socket", "/nowhere/s"});
  EXPECT_EQ(said.code, kExitUsage);
  EXPECT_THAT(said.err, HasSubstr("note is \"\\xff\", which is no UTF-8 text"));
  EXPECT_TRUE(std::filesystem::is_empty(directory_.file("spool")));
}

class Told : public MeasureVerb {
 protected:
  static constexpr std::int64_t kStart = 4294967000;  // ms; no test begins at zero
  static Instant at(Millis after) { return instant(Millis{kStart} + after); }
  Told() {
    journal::Options options;
    options.path = directory_.file("journal.db");
    options.durability = journal::Durability::simulated;
    writer_ = journal::Writer::open(options);
    writer_->put(journal::ClockEntry{at(Millis{0}), {kNoonUnixMs, 7200, TimeQuality::synced}});
    for (int minute = 0; minute <= 60; minute += 1)
      writer_->put(journal::ReadingEntry{at(minutes{minute}), Point::solution_ph,
                                         6.0 + minute / 100.0, Quality::good, Fault::none});
    CycleRow row;
    row.started_tick = tick_ms(at(minutes{40}));
    row.fill = minutes{3};
    row.soak = minutes{8};
    row.drain = minutes{5};
    Event event;
    event.kind = EventKind::cycle_closed;
    event.cycle = row;
    writer_->put(journal::EventEntry{at(minutes{56}), event});
    tell("a/ph", minutes{20}, "ph", 5.9);
    tell("b/ph", minutes{45}, "ph", 5.9);
    tell("c/ec", minutes{50}, "ec", 1.6);
    writer_->flush();
  }
  void tell(const std::string& id, Millis after, const std::string& quantity, double value) {
    writer_->put(journal::MeasurementEntry{at(after), id, kNoonUnixMs + after.count(), quantity,
                                           value, "", ""});
  }
  std::unique_ptr<journal::Writer> writer_;
};

TEST_F(Told, EachStandsBesideTheProbeAndSaysWhetherWaterWasUnderWay) {
  const Said said = ask({"measure"});
  EXPECT_THAT(said.out, HasSubstr("6.20 (+0.30)"));
  const json list = json::parse(ask({"measure", "--json"}).out)["measurements"];
  ASSERT_EQ(list.size(), 3u);
  EXPECT_NEAR(list[0]["probe"].get<double>(), 6.2, 1e-9);
  EXPECT_FALSE(list[0]["in_flood"].get<bool>());
  EXPECT_TRUE(list[1]["in_flood"].get<bool>());
  EXPECT_TRUE(list[2]["probe"].is_null()) << "no EC probe is fitted";
}

TEST_F(Told, ACorrectionNamesTheMeasurementByItsOwnId) {
  Said said;
  const json seen = asked({"measure", "--correct", "1", "ph=6.0", "--note", "misread"}, said);
  EXPECT_EQ(seen["verb"], "amend");
  EXPECT_EQ(seen["args"]["of"], "a/ph");
  EXPECT_EQ(seen["args"]["value"], 6.0);
  EXPECT_EQ(said.out,
            "Corrected: pH 5.90 of 2026-06-01 14:20 is pH 6.00 now. The journal keeps what\n"
            "  was told.\n"
            "  neapd knows it, but the journal has not written it down yet: `neap alarms`\n"
            "  says what is wrong.\n")
      << "this neapd answers and writes nothing";
}

TEST_F(Told, WhatTheJournalShowsIsSaidWithoutMore) {
  writer_->put(journal::AmendmentEntry{at(minutes{71}), "y", "a/ph", 6.0, "misread"});
  writer_->flush();
  Said said;
  asked({"measure", "--correct", "1", "ph=6.0"}, said);
  EXPECT_THAT(said.out, AllOf(HasSubstr("Corrected: pH 6.00"), Not(HasSubstr("written"))));
}

TEST_F(Told, ACorrectionOfNothingOrOfAnotherQuantityIsRefused) {
  EXPECT_THAT(ask({"measure", "--correct", "9", "ph=6"}).err,
              HasSubstr("there is no measurement 9 in the journal"));
  EXPECT_THAT(ask({"measure", "--correct", "3", "ph=6"}).err,
              HasSubstr("measurement 3 is of ec, not of ph"));
  EXPECT_THAT(ask({"measure", "--correct", "1"}).err, HasSubstr("takes the one value"));
  EXPECT_THAT(ask({"measure", "--withdraw", "1"}).err,
              HasSubstr("why it is withdrawn is not said"));
}

TEST_F(Told, WhatWasWithdrawnIsNotRevivedByACorrection) {
  writer_->put(journal::AmendmentEntry{at(minutes{71}), "y", "b/ph", std::nullopt, "in a buffer"});
  writer_->flush();
  const Said said = ask({"measure", "--correct", "2", "ph=6.0", "--socket", "/nowhere/s"});
  EXPECT_EQ(said.code, kExitRefused);
  EXPECT_THAT(said.err, AllOf(HasSubstr("measurement 2 was withdrawn"), HasSubstr("measure anew")));
}

TEST_F(Told, AWithdrawalWaitsInTheSpoolWhileNoDaemonRuns) {
  std::filesystem::create_directory(directory_.file("spool"));
  const Said said =
      ask({"measure", "--withdraw", "2", "--note", "in a buffer", "--socket", "/nowhere/s"});
  EXPECT_EQ(said.code, kExitDone) << said.err;
  EXPECT_LE(testing::widest(said.out), kPageWidth);
  int files = 0;
  for (const auto& file : std::filesystem::directory_iterator(directory_.file("spool"))) {
    std::ifstream in(file.path());
    const json kept = json::parse(in);
    EXPECT_EQ(kept["of"], "b/ph");
    EXPECT_FALSE(kept.contains("value"));
    ++files;
  }
  EXPECT_EQ(files, 1);
}

TEST_F(Told, WhatWasWithdrawnOrCorrectedIsStillListed) {
  writer_->put(journal::AmendmentEntry{at(minutes{70}), "x", "a/ph", 6.0, "misread"});
  writer_->put(journal::AmendmentEntry{at(minutes{71}), "y", "b/ph", std::nullopt, "in a buffer"});
  writer_->flush();
  const std::string out = ask({"measure"}).out;
  EXPECT_THAT(out, AllOf(HasSubstr("told as pH 5.90"), HasSubstr("withdrawn: in a")));
}

}  // namespace
}  // namespace neap::client
