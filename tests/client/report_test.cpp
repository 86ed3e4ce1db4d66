// Goal: the report counts what the journal holds, and counts an open day as the daemon would.
// Method: small journals written with journal::Writer, figures worked out by hand.
#include "daemon/client/report.h"

#include <fstream>
#include <iterator>

#include "daemon/client/ahead.h"
#include "daemon/client/tally.h"
#include "tests/client/report_bench.h"
#include "tests/places.h"

namespace neap::client {
namespace {

using ::testing::AllOf;
using ::testing::Contains;
using ::testing::HasSubstr;
using testing::kStart;
using testing::lines_of;
using testing::plan;
using testing::ReportTest;
using testing::widest;

TEST_F(ReportTest, TimeInBandIsCountedFromReadings) {
  // 30 s in band, 30 s under by 0.2, 30 s over by 0.1; then silence, of which 60 s are held.
  reading(0, Point::canopy_vpd, 0.9);
  reading(30, Point::canopy_vpd, 0.5);
  reading(60, Point::canopy_vpd, 1.2);
  reading(90, Point::canopy_vpd, 0.8);
  const DayTally tally = tally_of(*reader(), plan(), kStart, kStart + 600'000);
  EXPECT_EQ(tally.day_known, seconds{150});
  EXPECT_EQ(tally.day_in_band, seconds{90});
  EXPECT_EQ(tally.below, seconds{30});
  EXPECT_EQ(tally.above, seconds{30});
  EXPECT_EQ(tally.night_known, seconds{0});
  EXPECT_NEAR(tally.kpa_h_out, (0.2 * 30 + 0.1 * 30) / 3600, 1e-9);
  EXPECT_NEAR(tally.vpd_lowest, 0.5, 1e-9);
  EXPECT_NEAR(tally.vpd_highest, 1.2, 1e-9);
}

TEST_F(ReportTest, TheAirIsJudgedByTheSettingsOfItsTime) {
  const auto settings = [&](std::int64_t s, const std::string& band) {
    std::ifstream file(places::in_project("config/demo.yaml"));
    std::string text{std::istreambuf_iterator<char>(file), {}};
    const auto replace = [&](const std::string& piece, const std::string& by) {
      for (std::size_t at = text.find(piece); at != std::string::npos;
           at = text.find(piece, at + 1))
        text.replace(at, piece.size(), by);
    };
    replace("start: 2026-03-02", "start: 2026-05-10");
    replace("vpd_day: 0.7..1.1 kPa", "vpd_day: " + band);
    journal::SettingsEntry entry;
    entry.tick = tick(s * 1000);
    entry.text = text;
    writer_->put(entry);
  };
  settings(0, "0.7..1.1 kPa");
  reading(10, Point::canopy_vpd, 1.2);
  reading(40, Point::canopy_vpd, 1.2);
  settings(60, "0.7..1.3 kPa");
  reading(70, Point::canopy_vpd, 1.2);
  const DayTally tally = tally_of(*reader(), plan(), kStart + 10'000, kStart + 100'000);
  EXPECT_EQ(tally.above, seconds{50});
  EXPECT_EQ(tally.day_in_band, seconds{40});
}

TEST_F(ReportTest, AReadingWithoutAValueEndsTheOneBefore) {
  reading(0, Point::canopy_vpd, 0.9);
  reading(10, Point::canopy_vpd, std::nullopt);
  EXPECT_EQ(tally_of(*reader(), plan(), kStart, kStart + 600'000).day_known, seconds{10});
}

TEST_F(ReportTest, NightHasItsOwnBand) {
  const std::int64_t ten_hours = 36'000;  // 22:00, lights off
  reading(ten_hours, Point::canopy_vpd, 0.6);
  const DayTally tally =
      tally_of(*reader(), plan(), kStart + ten_hours * 1000, kStart + (ten_hours + 40) * 1000);
  EXPECT_EQ(tally.night_known, seconds{40});
  EXPECT_EQ(tally.night_in_band, seconds{40});
  EXPECT_EQ(tally.day_known, seconds{0});
}

TEST_F(ReportTest, OutputsAreCountedFromWhatTheyWereBeforeTheSpan) {
  actuation(0, Output::dehumidifier, 1000);
  actuation(0, Output::exhaust_fan, 200);
  actuation(100, Output::dehumidifier, 0);
  actuation(160, Output::dehumidifier, 1000);
  actuation(161, Output::dehumidifier, 1000);  // told again: no start
  actuation(160, Output::exhaust_fan, 240);    // 4 %: no move
  actuation(200, Output::exhaust_fan, 700);
  actuation(210, Output::pump, 1000);
  actuation(250, Output::pump, 0);
  const DayTally tally = tally_of(*reader(), plan(), kStart + 50'000, kStart + 300'000);
  EXPECT_EQ(tally.dehumidifier_on, seconds{50 + 140});
  EXPECT_EQ(tally.dehumidifier_starts, 1);
  EXPECT_EQ(tally.fan_moves, 1);
  EXPECT_NEAR(tally.fan_hours, (0.2 * 110 + 0.24 * 40 + 0.7 * 100) / 3600, 1e-9);
  EXPECT_EQ(tally.pump_on, seconds{40});
}

TEST_F(ReportTest, FloodsPlannedAreThoseStartedBySlotAndThoseSkipped) {
  cycle(100, FloodOrigin::slot, FloodOutcome::complete);
  cycle(2000, FloodOrigin::slot, FloodOutcome::tripped);
  cycle(4000, FloodOrigin::catch_up, FloodOutcome::complete);
  cycle(6000, FloodOrigin::operator_request, FloodOutcome::complete);
  Event skipped;
  skipped.kind = EventKind::slot_skipped;
  skipped.slot = {20605, 3};
  writer_->put(journal::EventEntry{tick(3'000'000), skipped});
  const DayTally tally = tally_of(*reader(), plan(), kStart, kStart + 8'000'000);
  EXPECT_EQ(tally.floods_planned, 3);
  EXPECT_EQ(tally.floods_started, 3);
  EXPECT_EQ(tally.floods_complete, 3);
  EXPECT_NEAR(tally.litres_out, 60, 1e-9);
  EXPECT_NEAR(tally.litres_back, 56.8, 1e-9);
}

TEST_F(ReportTest, AClosedDayIsTakenAsTheDaemonSummedItUpAndTheRestIsCounted) {
  reading(100, Point::canopy_vpd, 0.9);   // before the closed day: counted
  reading(1000, Point::canopy_vpd, 0.1);  // inside it: the daemon's figures stand
  reading(3000, Point::canopy_vpd, 1.0);  // after it: counted
  Event closed;
  closed.kind = EventKind::day_closed;
  closed.day.date = 20605;
  closed.day.began_tick = kStart + 500'000;
  closed.day.day_known = seconds{1500};
  closed.day.day_in_band = seconds{1400};
  closed.day.floods_planned = 4;
  closed.day.floods_complete = 4;
  writer_->put(journal::EventEntry{tick(2'000'000), closed});
  const auto opened = reader();
  const Report report = make_report(*opened, plan(), kStart, kStart + 4'000'000);
  ASSERT_EQ(report.days.size(), 3u);
  EXPECT_EQ(report.total.day_known, seconds{60 + 1500 + 60});
  EXPECT_EQ(report.total.day_in_band, seconds{60 + 1400 + 60});
  EXPECT_EQ(report.total.floods_planned, 4);
  EXPECT_FALSE(report.total.vpd_lowest < 0.5) << "the reading inside the closed day was counted";
}

TEST_F(ReportTest, ADayThatBeganBeforeTheSpanIsCountedAfreshFromTheSpansStart) {
  reading(1000, Point::canopy_vpd, 0.9);
  Event closed;
  closed.kind = EventKind::day_closed;
  closed.day.date = 20604;
  closed.day.began_tick = kStart - 5'000'000;
  closed.day.day_known = hours{9};
  writer_->put(journal::EventEntry{tick(2'000'000), closed});
  const auto opened = reader();
  const Report report = make_report(*opened, plan(), kStart, kStart + 4'000'000);
  EXPECT_EQ(report.total.day_known, seconds{60});
}

TEST_F(ReportTest, TheStageIsTheOneEnteredLast) {
  const auto enter = [&](std::int64_t s, int index) {
    Event stage;
    stage.kind = EventKind::stage;
    stage.number = index;
    writer_->put(journal::EventEntry{tick(s * 1000), stage});
  };
  Plan made = plan();
  made.programme.stages.push_back(made.programme.stages.front());
  made.programme.stages[0].days = 30;
  made.programme.start_date = 20600;
  enter(0, 0);
  StageNow now = stage_in_journal(*reader(), made.programme, 20605);
  EXPECT_EQ(now.index, 0);
  EXPECT_EQ(now.entered_date, 20600) << "chosen by days at the first start: it began before";
  enter(100, 1);
  enter(200, 0);
  now = stage_in_journal(*reader(), made.programme, 20605);
  EXPECT_EQ(now.index, 0);
  EXPECT_EQ(now.entered_date, 20605) << "entered again by a person's word";
  EXPECT_EQ(stage_in_journal(*reader(), made.programme, 20605, kStart + 150'000).index, 1);
}

TEST_F(ReportTest, ReadsWellWithinEightyColumns) {
  cycle(100, FloodOrigin::slot, FloodOutcome::complete);
  reading(0, Point::reservoir_level, 41.0);
  reading(600, Point::reservoir_level, 40.2);
  reading(600, Point::canopy_temperature, std::nullopt);
  Event alarm;
  alarm.kind = EventKind::alarm;
  alarm.alarm = Alarm::reservoir_low;
  alarm.alarm_to = AlarmState::unacknowledged;
  alarm.because = because(Reason::reservoir_low);
  writer_->put(journal::EventEntry{tick(900'000), alarm});
  Event latch;
  latch.kind = EventKind::latch_set;
  latch.latch = Latch::leak;
  writer_->put(journal::EventEntry{tick(950'000), latch});
  const auto opened = reader();
  const Report report = make_report(*opened, plan(), kStart, kStart + 7'200'000);
  const std::string text = render_report(report, Look{});
  EXPECT_LE(widest(text), kPageWidth) << text;
  EXPECT_THAT(lines_of(text),
              AllOf(Contains("box-room, report of 2 h: 2026-06-01 12:00 to 2026-06-01 14:00"),
                    Contains(HasSubstr("1 planned, 1 started, 1 complete")),
                    Contains(HasSubstr("15.0 L out, 14.2 L back; 0.8 L stayed")),
                    Contains(HasSubstr("41.0 L at the start, 40.2 L at the end")),
                    Contains(HasSubstr("2 of 3 had a value, 1 is missing")),
                    Contains(HasSubstr("1 set, 0 reset")), Contains(HasSubstr("to the end"))));
  const auto as_json = report_json(report, {});
  EXPECT_EQ(as_json["total"]["floods_complete"], 1);
  EXPECT_EQ(as_json["cycles"][0]["outcome"], "complete");
  EXPECT_EQ(as_json["alarms"][0]["cleared"], nullptr);
}

TEST_F(ReportTest, TheDifferenceOfWaterIsThatOfTheShownFigures) {
  Report report;
  report.total.litres_out = 10.04;
  report.total.litres_back = 9.46;  // shown as 10.0 and 9.5
  EXPECT_THAT(render_report(report, Look{}), HasSubstr("10.0 L out, 9.5 L back; 0.5 L stayed"));
}

TEST_F(ReportTest, WithoutReadingsTheVpdIsNotKnownAndSaysWhy) {
  Report report;
  report.total.fan_moves = 1;
  const std::string text = render_report(report, Look{});
  EXPECT_THAT(text, HasSubstr("not known: no readings yet (they are written each minute)"));
  EXPECT_THAT(text, HasSubstr(" 1 move, "));
}

TEST_F(ReportTest, AYearOfDaysIsToldByTheWeek) {
  Report report;
  DayTally day;
  day.floods_planned = 3;
  day.floods_complete = 2;
  for (int i = 0; i < 90; ++i) {
    day.date = 20605 + i;
    report.days.push_back(day);
  }
  const std::string text = render_report(report, Look{});
  EXPECT_THAT(lines_of(text), Contains(HasSubstr("14/21")));
  EXPECT_LT(lines_of(text).size(), 40u);
}

}  // namespace
}  // namespace neap::client
