#include "daemon/words/words.h"

#include <gtest/gtest.h>

#include <fstream>
#include <limits>
#include <regex>
#include <set>
#include <string>

#include "daemon/core/request.h"
#include "tests/places.h"

namespace neap::words {
namespace {

constexpr Style kUs{false};
constexpr double kNan = std::numeric_limits<double>::quiet_NaN();

// The enumerators of Reason as its header lists them: name and number.
std::vector<std::pair<std::string, int>> reasons() {
  std::ifstream file{places::in_project("daemon/core/reason.h")};
  const std::string text{std::istreambuf_iterator<char>{file}, {}};
  const std::size_t begin = text.find("enum class Reason");
  const std::string body = text.substr(begin, text.find("};", begin) - begin);
  std::vector<std::pair<std::string, int>> found;
  const std::regex line{R"(\n\s*(\w+) = (\d+),)"};
  for (std::sregex_iterator it{body.begin(), body.end(), line}, end; it != end; ++it)
    found.emplace_back((*it)[1], std::stoi((*it)[2]));
  return found;
}

TEST(Reasons, EveryEnumeratorHasOneRowUnderItsOwnName) {
  const auto listed = reasons();
  ASSERT_GT(listed.size(), 90U);
  std::set<int> numbers;
  for (const auto& [name, number] : listed) {
    EXPECT_TRUE(numbers.insert(number).second) << name << " reuses " << number;
    EXPECT_EQ(info(static_cast<Reason>(number)).key, name);
  }
}

TEST(Reasons, NoRowIsLeftOverAndAnUnknownNumberReadsAsNone) {
  std::set<int> listed;
  for (const auto& [name, number] : reasons()) listed.insert(number);
  for (int n = 0; n < 1000; ++n) {
    const ReasonInfo& row = info(static_cast<Reason>(n));
    EXPECT_EQ(static_cast<int>(row.reason), listed.count(n) == 1 ? n : 0);
  }
}

TEST(Reasons, EveryTemplateIsFilledInCompletely) {
  for (const auto& [name, number] : reasons()) {
    for (const double arg : {0.0, 1.0, 2.5, -3.0, 1e30, kNan}) {
      const std::string text = sentence(because(static_cast<Reason>(number), arg, arg, arg));
      EXPECT_FALSE(text.empty()) << name;
      EXPECT_EQ(text.find_first_of("{}[]"), std::string::npos) << name << ": " << text;
      EXPECT_NE(text.back(), '.') << name;
    }
  }
}

TEST(Reasons, ReadAsSentences) {
  EXPECT_EQ(sentence(because(Reason::vpd_below_band, 0.718, 0.8, 1.2)),
            "VPD 0.72 kPa under the band 0.80 to 1.20");
  EXPECT_EQ(sentence(because(Reason::air_too_warm, 31.24, 30)), "air 31.2 C over the limit 30.0 C");
  EXPECT_EQ(sentence(because(Reason::leak_wet, static_cast<double>(slot(Point::leak_floor)))),
            "leak probe on the floor is wet");
  EXPECT_EQ(sentence(because(Reason::cause_persists, 0)), "leak: the cause persists");
  EXPECT_EQ(sentence(because(Reason::flood_missed)), "flood missed");
  EXPECT_EQ(sentence(because(Reason::flood_missed, 19 * 3600 + 40 * 60)),
            "flood missed; roots safe until about 19:40");
  EXPECT_EQ(sentence(because(Reason::roots_safe_until, kSecondsPerDay, 3600)),
            "roots safe until about 00:00; no flood has filled the tray for 1 h");
  EXPECT_EQ(sentence(because(Reason::roots_safe_until, 70'800)), "roots safe until about 19:40");
  EXPECT_EQ(
      sentence(because(Reason::reading_lost, static_cast<double>(slot(Point::canopy_humidity)),
                       static_cast<double>(Fault::stale))),
      "canopy humidity: too old");
  EXPECT_EQ(sentence(because(Reason::budget_day, 1805, 3600)),
            "pump time of 24 hours used up: 30 min 05 s of 1 h");
}

TEST(Reasons, AFigureThatIsNotKnownIsLeftOut) {
  EXPECT_EQ(sentence(because(Reason::budget_day)), "pump time of 24 hours used up");
  EXPECT_EQ(sentence(because(Reason::min_off_dwell)), "minimum off time not over");
  EXPECT_EQ(sentence(because(Reason::min_off_dwell, 300)), "minimum off time of 5 min not over");
  EXPECT_EQ(sentence(because(Reason::leak_wet)), "a probe is wet");
}

TEST(Reasons, AFahrenheitReaderSeesNoCelsius) {
  EXPECT_EQ(sentence(because(Reason::air_too_warm, 31.24, 30), kUs),
            "air 88.2 F over the limit 86.0 F");
  EXPECT_EQ(sentence(because(Reason::condensation_near, 1.5), kUs),
            "condensation near: dew point 2.7 F under the coldest surface");
}

TEST(Reasons, AnArgumentThatIsNoEnumeratorIsNotTakenForItsNeighbour) {
  for (const double odd : {-1.0, 0.5, 200.0, 1e30, kNan}) {
    EXPECT_EQ(sentence(because(Reason::leak_wet, odd)), "a probe is wet") << odd;
    EXPECT_EQ(sentence(because(Reason::latched, odd)), "latch unknown is set") << odd;
    EXPECT_EQ(sentence(because(Reason::step_test_alarm, odd)), "alarm unknown stands") << odd;
  }
}

TEST(Values, CarryTheDigitsTheInstrumentAnswersFor) {
  EXPECT_EQ(value(Point::canopy_temperature, 24.26), "24.3 C");
  EXPECT_EQ(value(Point::canopy_humidity, 61.4), "61 %");
  EXPECT_EQ(value(Point::canopy_vpd, 1.0163), "1.02 kPa");
  EXPECT_EQ(value(Point::reservoir_level, 37.85), "37.9 L");
  EXPECT_EQ(value(Point::solution_ph, 5.849), "pH 5.85");
  EXPECT_EQ(value(Point::solution_ec, 1.6), "1.60 mS/cm");
  EXPECT_EQ(value(Point::canopy_vapour_density, 13.82), "13.8 g/m3");
  EXPECT_EQ(value(Point::light_level, 12345), "12345 lx");
}

// Fahrenheit and the US gallon (3.785411784 L) by definition.
TEST(Values, InUsUnits) {
  EXPECT_EQ(value(Point::canopy_temperature, -40, kUs), "-40.0 F");
  EXPECT_EQ(value(Point::canopy_temperature, 100.0 / 3, kUs), "92.0 F");
  EXPECT_EQ(value(Point::canopy_dew_point, 0, kUs), "32.0 F");
  EXPECT_EQ(value(Point::reservoir_level, 37.85411784, kUs), "10.0 gal");
  EXPECT_EQ(value(Point::canopy_vpd, 1, kUs), "1.00 kPa");
}

TEST(Values, NeverShowAMinusBeforeZeroNorANumberThatIsNone) {
  EXPECT_EQ(value(Point::leaf_vpd, -0.001), "0.00 kPa");
  EXPECT_EQ(value(Point::leaf_vpd, -0.006), "-0.01 kPa");
  EXPECT_EQ(value(Point::canopy_temperature, kNan), "no number");
}

TEST(Values, ContactsSayWhatTheyWatch) {
  EXPECT_EQ(value(Point::leak_floor, 1), "wet");
  EXPECT_EQ(value(Point::leak_floor, 0), "dry");
  EXPECT_EQ(value(Point::leak_floor, 2), "damp");
  EXPECT_EQ(value(Point::tray_full, 1), "reached");
  EXPECT_EQ(value(Point::reservoir_low, 0), "low");
  EXPECT_EQ(value(Point::bucket_full, 0), "not full");
  EXPECT_EQ(value(Point::pump_running, 3), "faulty");
  EXPECT_EQ(value(Point::leak_floor, 7), "unknown");
  EXPECT_EQ(value(Point::leak_floor, kNan), "unknown");
}

TEST(Values, EveryContactHasWords) {
  for (const PointInfo& row : kPoints) {
    if (row.kind != PointKind::contact) continue;
    EXPECT_NE(value(row.point, 0), "unknown") << row.name;
    EXPECT_NE(value(row.point, 0), value(row.point, 1)) << row.name;
  }
}

TEST(Levels, UseTheOutputsOwnWords) {
  EXPECT_EQ(level(Output::pump, kRunning), "running");
  EXPECT_EQ(level(Output::pump, kStopped), "stopped");
  EXPECT_EQ(level(Output::drain_valve, kRunning), "open");
  EXPECT_EQ(level(Output::drain_valve, kStopped), "closed");
  EXPECT_EQ(level(Output::exhaust_fan, Permille{450}), "45 %");
  EXPECT_EQ(level(Output::exhaust_fan, Permille{455}), "45.5 %");
  EXPECT_EQ(level(Output::exhaust_fan, kRunning), "running");
}

TEST(Durations, ShowTheTwoLargestParts) {
  EXPECT_EQ(duration(Millis{0}), "0 s");
  EXPECT_EQ(duration(seconds{45}), "45 s");
  EXPECT_EQ(duration(seconds{60}), "1 min");
  EXPECT_EQ(duration(seconds{200}), "3 min 20 s");
  EXPECT_EQ(duration(seconds{125}), "2 min 05 s");
  EXPECT_EQ(duration(minutes{125}), "2 h 05 min");
  EXPECT_EQ(duration(hours{24}), "1 d");
  EXPECT_EQ(duration(hours{51}), "2 d 03 h");
  EXPECT_EQ(duration(seconds{-75}), "-1 min 15 s");
}

TEST(Durations, RoundToTheNearestSecond) {
  EXPECT_EQ(duration(Millis{1499}), "1 s");
  EXPECT_EQ(duration(Millis{59500}), "1 min");
}

// Dates by `date -u -d @...`.
TEST(Times, AreLocalAndCivil) {
  EXPECT_EQ(civil_date(0), "1970-01-01");
  EXPECT_EQ(civil_date(20605), "2026-06-01");
  EXPECT_EQ(civil_date(19782), "2024-02-29");
  EXPECT_EQ(civil_date(-1), "1969-12-31");
  EXPECT_EQ(clock_time(6 * 3600), "06:00");
  EXPECT_EQ(clock_time(86399), "23:59");
  EXPECT_EQ(local_time(1780286405999, 7200), "2026-06-01 06:00:05");
  EXPECT_EQ(local_time(1780286405000, -5 * 3600), "2026-05-31 23:00:05");
}

TEST(Printable, LeavesWordsAloneInAnyLanguage) {
  EXPECT_EQ(printable("Erdbeeren, 1.2 kPa"), "Erdbeeren, 1.2 kPa");
  EXPECT_EQ(printable("Grünkohl 草莓 🍓"), "Grünkohl 草莓 🍓");
}

TEST(Printable, DisarmsControlsAndEscapes) {
  EXPECT_EQ(printable("\x1b[2J"), "\\x1b[2J");
  EXPECT_EQ(printable("a\nb\tc\x7f"), "a\\x0ab\\x09c\\x7f");
  EXPECT_EQ(printable(std::string_view{"\0x", 2}), "\\x00x");
  EXPECT_EQ(printable("\xc2\x9b"
                      "31m"),
            "\\xc2\\x9b31m");  // the one-character escape introducer
  EXPECT_EQ(printable("\u202e"
                      "abc"),
            "\\xe2\\x80\\xaeabc");  // right-to-left override
}

TEST(Printable, ShowsBytesThatAreNoUtf8) {
  EXPECT_EQ(printable("\xff"), "\\xff");
  EXPECT_EQ(printable("\xc1\x81"), "\\xc1\\x81");           // overlong A
  EXPECT_EQ(printable("\xed\xa0\x80"), "\\xed\\xa0\\x80");  // surrogate
  EXPECT_EQ(printable("\xe2\x82"), "\\xe2\\x82");           // cut short
  EXPECT_EQ(printable("\xf5\x80\x80\x80"), "\\xf5\\x80\\x80\\x80");
  EXPECT_EQ(printable("\xe2\x82"
                      "A"),
            "\\xe2\\x82"
            "A");
}

TEST(Names, AreThoseOfTheTradeAndNeverEmpty) {
  EXPECT_EQ(name(Fault::no_answer), "no answer");
  EXPECT_EQ(name(FloodPhase::fill), "fill");
  EXPECT_EQ(name(FloodOutcome::interrupted), "interrupted");
  EXPECT_EQ(name(FloodOrigin::catch_up), "catch-up");
  EXPECT_EQ(name(AlarmState::unacknowledged), "unacknowledged");
  EXPECT_EQ(name(Priority::advisory), "advisory");
  EXPECT_EQ(name(static_cast<Fault>(200)), "unknown");
  EXPECT_EQ(name(TimeQuality::restored), "not confirmed by a time source");
  for (int i = 0; i <= 10; ++i) EXPECT_NE(name(static_cast<Fault>(i)), "unknown") << i;
  for (int i = 1; i <= 18; ++i) EXPECT_NE(name(static_cast<EventKind>(i)), "unknown") << i;
}

TEST(EventSentences, SayWhatHappenedAndWhy) {
  Event event;
  event.kind = EventKind::actuation;
  event.output = Output::exhaust_fan;
  event.level = Permille{450};
  event.because = because(Reason::vpd_below_band, 0.72, 0.8, 1.2);
  EXPECT_EQ(sentence(event), "exhaust fan 45 %: VPD 0.72 kPa under the band 0.80 to 1.20");

  event.because = {};
  EXPECT_EQ(sentence(event), "exhaust fan 45 %");
}

TEST(EventSentences, AnAlarmGivesItsReasonWhenRaisedAndNotWhenItEnds) {
  Event event;
  event.kind = EventKind::alarm;
  event.alarm = Alarm::leak;
  event.because = because(Reason::leak_wet, static_cast<double>(slot(Point::leak_rack)));
  event.alarm_to = AlarmState::unacknowledged;
  EXPECT_EQ(sentence(event), "alarm leak unacknowledged: leak probe under the rack is wet");
  event.alarm_from = AlarmState::unacknowledged;
  event.alarm_to = AlarmState::returned;
  EXPECT_EQ(sentence(event), "alarm leak returned");
}

TEST(EventSentences, AClosedCycleIsToldInOneLine) {
  Event event;
  event.kind = EventKind::cycle_closed;
  event.cycle.slot = {20605, 2};
  event.cycle.outcome = FloodOutcome::complete;
  event.cycle.fill = seconds{200};
  event.cycle.soak = minutes{5};
  event.cycle.drain = seconds{245};
  EXPECT_EQ(sentence(event),
            "flood 2 of 2026-06-01 complete: fill 3 min 20 s, soak 5 min, drain 4 min 05 s");
  event.cycle.litres_known = true;
  event.cycle.litres_out = 37.85411784;
  event.cycle.litres_back = 35;
  EXPECT_EQ(sentence(event, kUs),
            "flood 2 of 2026-06-01 complete: fill 3 min 20 s, soak 5 min, drain 4 min 05 s, "
            "10.0 gal out, 9.2 gal back");
}

TEST(EventSentences, TheDipIsToldOnceTheAirHasRecovered) {
  Event event;
  event.kind = EventKind::cycle_settled;
  event.cycle.dip_known = true;
  event.cycle.vpd_before_kpa = 1.02;
  event.cycle.vpd_lowest_kpa = 0.61;
  event.cycle.recovered = true;
  event.cycle.recovery = minutes{14};
  EXPECT_EQ(sentence(event),
            "flood settled, VPD 1.02 kPa fell to 0.61 kPa, back in band 14 min after the pump "
            "stopped");
  event.cycle.recovered = false;
  EXPECT_EQ(sentence(event), "flood settled, VPD 1.02 kPa fell to 0.61 kPa, not back in band");
  event.cycle.dip_known = false;
  event.cycle.litres_known = true;
  event.cycle.litres_out = 29.1;
  event.cycle.litres_back = 28.4;
  EXPECT_EQ(sentence(event), "flood settled: 0.7 L stayed in the tray");
}

TEST(EventSentences, ADayWithoutReadingsIsNotKnownRatherThanZero) {
  Event event;
  event.kind = EventKind::day_closed;
  event.day.date = 20605;
  event.day.day_known = hours{16};
  event.day.day_in_band = hours{12};
  event.day.floods_planned = 4;
  event.day.floods_complete = 3;
  EXPECT_EQ(sentence(event),
            "day 2026-06-01: VPD in band 75 % by day, not known by night, 3 of 4 floods complete");
}

TEST(EventSentences, ARequestIsAnsweredWithItsNumber) {
  Event event;
  event.kind = EventKind::request;
  event.request_id = 12;
  event.accepted = true;
  event.because = because(Reason::request_accepted);
  EXPECT_EQ(sentence(event), "request 12 accepted");
  event.accepted = false;
  event.because = because(Reason::cause_persists, static_cast<double>(Latch::slow_drain));
  EXPECT_EQ(sentence(event), "request 12 refused: drain: the cause persists");
}

TEST(EventSentences, ARequestSaysWhatWasAskedFor) {
  Event event;
  event.kind = EventKind::request;
  event.request_id = 14;
  event.accepted = true;
  event.because = because(Reason::request_accepted);
  event.output = Output::exhaust_fan;
  event.level = Permille{450};
  event.alarm = Alarm::spread;
  event.latch = Latch::lost_water;
  const auto asked = [&](RequestKind kind) {
    event.number = static_cast<std::int32_t>(kind);
    return sentence(event);
  };
  EXPECT_EQ(asked(RequestKind::reset_latch), "request 14 (reset lost-water) accepted");
  EXPECT_EQ(asked(RequestKind::hold), "request 14 (hold exhaust_fan 45 %) accepted");
  EXPECT_EQ(asked(RequestKind::release), "request 14 (release exhaust_fan) accepted");
  EXPECT_EQ(asked(RequestKind::shelve), "request 14 (shelve spread) accepted");
  EXPECT_EQ(asked(RequestKind::acknowledge), "request 14 (ack) accepted");
  EXPECT_EQ(asked(RequestKind::service_begin), "request 14 (service begin) accepted");
  event.accepted = false;
  event.because = because(Reason::flood_not_running);
  EXPECT_EQ(asked(RequestKind::flood_stop),
            "request 14 (flood stop) refused: no flood is under way");
}

TEST(EventSentences, AStageAFaultAndWhatWasAskedForAreNamedAndStagesCountFromOne) {
  Event event;
  event.kind = EventKind::stage;
  event.number = 1;
  event.because = because(Reason::stage_entered, 1);
  EXPECT_EQ(sentence(event, {}, "leafing"), "stage leafing in force, number 2");
  EXPECT_EQ(sentence(event), "stage number 2 in force");
  event.kind = EventKind::fault;
  event.because = because(Reason::fault_asked, 1000, 0.25);
  EXPECT_EQ(sentence(event, {}, "hose_burst"),
            "fault hose_burst begun: asked by uid 1000, severity 0.25");
  event.number = 0;
  event.because = because(Reason::fault_asked, 1000);
  EXPECT_EQ(sentence(event, {}, "hose_burst"), "fault hose_burst ended: asked by uid 1000");
  event.kind = EventKind::step_test;
  event.output = Output::exhaust_fan;
  event.because = because(Reason::step_test_alarm, static_cast<double>(Alarm::bucket_full));
  EXPECT_EQ(sentence(event), "step test of the exhaust fan ended: alarm bucket-full stands");
  event.kind = EventKind::request;
  event.request_id = 15;
  event.accepted = true;
  event.because = because(Reason::request_accepted);
  event.number = static_cast<std::int32_t>(RequestKind::acknowledge);
  EXPECT_EQ(sentence(event, {}, "all"), "request 15 (ack all) accepted");
  event.number = static_cast<std::int32_t>(RequestKind::enter_stage);
  EXPECT_EQ(sentence(event, {}, "leafing"), "request 15 (stage leafing) accepted");
}

TEST(Remedies, AreOfTheReasonAndFilledInCompletely) {
  EXPECT_EQ(remedy(because(Reason::latched, static_cast<double>(Latch::slow_drain))),
            "when its cause is gone: `neap reset drain`");
  EXPECT_EQ(remedy(because(Reason::latch_not_set)), "there is nothing to reset");
  EXPECT_EQ(remedy(because(Reason::not_fitted)), "`neap status` lists what is fitted");
  EXPECT_EQ(remedy(because(Reason::hold_forbidden)), "");
  EXPECT_EQ(sentence(because(Reason::hold_forbidden)),
            "the air pump may not be held stopped: the roots need air; pull its plug instead");
  for (const auto& [name, number] : reasons()) {
    const std::string text = remedy(because(static_cast<Reason>(number)));
    EXPECT_EQ(text.find_first_of("{}[]"), std::string::npos) << name << ": " << text;
    EXPECT_FALSE(text.ends_with('.')) << name;
  }
}

TEST(EventSentences, EveryKindHasOne) {
  for (int kind = 1; kind <= 18; ++kind) {
    Event event;
    event.kind = static_cast<EventKind>(kind);
    event.because = because(Reason::safe_state);
    EXPECT_NE(sentence(event), "unknown event") << kind;
    EXPECT_FALSE(sentence(event).empty()) << kind;
  }
}

}  // namespace
}  // namespace neap::words
