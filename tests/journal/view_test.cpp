// What a person sees in the sqlite3 shell.
#include "daemon/journal/schema.h"
#include "tests/journal/support.h"

namespace neap::journal::testing {
namespace {

EventEntry event(std::int64_t ms, EventKind kind, Because why = {}) {
  EventEntry entry{at(ms), {}};
  entry.event.kind = kind;
  entry.event.because = why;
  return entry;
}

class Views : public ::testing::Test {
 protected:
  Views() : writer_(Writer::open(options_for(here_.file()))) {
    writer_->put(boot(0));
    writer_->put(clock(0, kNoonUnixMs, TimeQuality::synced));
  }
  std::string value(const std::string& sql) {
    writer_->flush();
    EXPECT_FALSE(writer_->trouble()) << writer_->trouble_text();
    return Shell(here_.file()).value(sql);
  }
  std::vector<std::string> rows(const std::string& sql) {
    writer_->flush();
    return Shell(here_.file()).rows(sql);
  }

  const Directory here_;
  std::unique_ptr<Writer> writer_;
};

TEST_F(Views, ReadingsCarryNamesUnitsAndWhyOneIsAbsent) {
  writer_->put(reading(1000, Point::canopy_temperature, 24.31));
  writer_->put(ReadingEntry{at(1000), Point::leak_floor, 1.0, Quality::good, Fault::none});
  writer_->put(
      ReadingEntry{at(2000), Point::solution_ec, std::nullopt, Quality::bad, Fault::no_answer});
  EXPECT_EQ(rows("SELECT local, point, value, unit, says, quality, fault FROM v_readings"),
            (std::vector<std::string>{
                "2026-06-01 14:00:01|canopy.temperature|24.31|C||good|",
                "2026-06-01 14:00:01|leak.floor|1.0||wet|good|",
                "2026-06-01 14:00:02|solution.ec||mS/cm||bad|no answer",
            }));
}

TEST_F(Views, EveryContactSaysWhatItsNumberMeans) {
  writer_->flush();  // the tables are there
  std::int64_t ms = 1000;
  std::int64_t contacts = 0;
  for (const PointInfo& row : kPoints) {
    if (row.kind != PointKind::contact) continue;
    ++contacts;
    for (const Contact contact : {Contact::clear, Contact::set, Contact::damp, Contact::faulty})
      writer_->put(reading(++ms, row.point, static_cast<double>(contact)));
  }
  EXPECT_EQ(value("SELECT count(says), count(DISTINCT point || ' ' || says) FROM v_readings"),
            std::to_string(contacts * 4) + "|" + std::to_string(contacts * 4));
  EXPECT_EQ(rows("SELECT value, says FROM v_readings WHERE point = 'tray.full'"),
            (std::vector<std::string>{"0.0|not reached", "1.0|reached", "2.0|damp", "3.0|faulty"}));
  EXPECT_EQ(value("SELECT says FROM v_readings WHERE point = 'reservoir.low' AND value = 0"),
            "low");
}

TEST_F(Views, ActuationsSayWhatWasDrivenHowFarAndWhy) {
  EventEntry fan =
      event(1000, EventKind::actuation, because(Reason::vpd_below_band, 0.724, 0.8, 1.2));
  fan.event.output = Output::exhaust_fan;
  fan.event.level = Permille{455};
  EventEntry valve = event(2000, EventKind::actuation, because(Reason::safe_state));
  valve.event.output = Output::drain_valve;
  valve.event.level = kRunning;
  writer_->put(fan);
  writer_->put(valve);
  EXPECT_EQ(rows("SELECT local, output, level, because FROM v_actuations"),
            (std::vector<std::string>{
                "2026-06-01 14:00:01|exhaust_fan|45.5 %|VPD 0.72 kPa under the band 0.80 to 1.20",
                "2026-06-01 14:00:02|drain_valve|open|safe state",
            }));
}

TEST_F(Views, EventsNameTheirSubjectAndTheirDetail) {
  EventEntry alarm = event(1, EventKind::alarm, because(Reason::air_too_warm, 31.5, 30));
  alarm.event.alarm = Alarm::over_temperature;
  alarm.event.alarm_to = AlarmState::unacknowledged;
  writer_->put(alarm);
  EventEntry latch = event(2, EventKind::latch_set, because(Reason::leak_wet, 16));
  latch.event.latch = Latch::leak;
  writer_->put(latch);
  EventEntry phase = event(3, EventKind::flood_phase, because(Reason::flood_soaking));
  phase.event.phase = FloodPhase::soak;
  writer_->put(phase);
  EventEntry skipped = event(4, EventKind::slot_skipped);
  skipped.event.slot = {20605, 3};
  writer_->put(skipped);
  EventEntry request = event(5, EventKind::request, because(Reason::request_accepted));
  request.event.accepted = true;
  request.name = "leak";
  writer_->put(request);
  EventEntry stage = event(6, EventKind::stage, because(Reason::stage_entered, 1));
  stage.event.number = 1;
  stage.name = "leafing";
  writer_->put(stage);
  EventEntry fault = event(7, EventKind::fault, because(Reason::fault_asked, 1000));
  fault.name = "hose_burst";
  writer_->put(fault);
  EventEntry test =
      event(8, EventKind::step_test,
            because(Reason::step_test_alarm, static_cast<double>(Alarm::bucket_full)));
  test.event.output = Output::dehumidifier;
  writer_->put(test);
  EXPECT_EQ(rows("SELECT number, event, subject, detail FROM v_events"),
            (std::vector<std::string>{
                "1|alarm|over-temperature|normal > unacknowledged",
                "2|latch set|leak|",
                "3|flood phase|soak|",
                "4|slot skipped|2026-06-01 no. 3|",
                "5|request|leak|accepted",
                "6|stage|leafing|number 2",
                "7|fault|hose_burst|ended",
                "8|step test|dehumidifier|ended",
            }));
  EXPECT_EQ(value("SELECT because FROM v_events WHERE number = 8"), "alarm bucket-full stands");
  EXPECT_EQ(value("SELECT alarm, acknowledged, cleared, because FROM v_alarms"),
            "over-temperature|||air 31.5 C over the limit 30.0 C");
}

TEST_F(Views, FloodsAndDaysReadAsARecord) {
  EventEntry closed = event(500000, EventKind::cycle_closed);
  CycleRow& c = closed.event.cycle;
  c.started_tick = kStart + 10000;
  c.slot = {20605, 3};
  c.outcome = FloodOutcome::complete;
  c.fill = Millis{61500};
  c.soak = Millis{300000};
  c.drain = Millis{90000};
  c.pump_on = Millis{361500};
  c.litres_known = true;
  c.litres_out = 18.371;
  c.litres_back = 17;
  writer_->put(closed);
  EXPECT_EQ(value("SELECT * FROM v_floods"),
            "2026-06-01 14:00:10|2026-06-01 no. 3|schedule|complete|61.5|300.0|90.0|361.5|18.37|"
            "17.0||||4294977000");

  EventEntry day = event(600000, EventKind::day_closed);
  day.event.day.date = 20605;
  day.event.day.began_tick = kStart;
  day.event.day.day_known = Millis{1000};
  day.event.day.day_in_band = Millis{925};
  day.event.day.floods_planned = 4;
  writer_->put(day);
  EXPECT_EQ(value("SELECT date, began, closed, day_in_band_percent, night_in_band_percent, "
                  "vpd_lowest_kpa, floods_planned FROM v_days"),
            "2026-06-01|2026-06-01 14:00:00|2026-06-01 14:10:00|92.5|||4");
}

TEST_F(Views, MeasurementsSettingsAndBootsAreDated) {
  writer_->put(MeasurementEntry{at(60000), "a", kNoonUnixMs + 30000, "ec", 1.6, "by hand"});
  writer_->put(SettingsEntry{at(1000), 0xfedcba9876543210U, "text", false, "line 3"});
  EXPECT_EQ(value("SELECT local, quantity, value, unit, note FROM v_measurements"),
            "2026-06-01 14:00:30|ec|1.6|mS/cm|by hand");
  writer_->put(MeasurementEntry{at(61000), "b", kNoonUnixMs, "pump_flow", 583, "neap commission"});
  EXPECT_EQ(value("SELECT value, unit FROM v_measurements WHERE quantity = 'pump_flow'"),
            "583.0|L/h");
  EXPECT_EQ(value("SELECT local, hash, answer, note FROM v_settings"),
            "2026-06-01 14:00:01|fedcba9876543210|refused|line 3");
  writer_->put(StopEntry{at(70000), "asked to stop"});
  EXPECT_EQ(value("SELECT local, version, run_before, stopped, stopped_why FROM v_boots"),
            "2026-06-01 14:00:00|0.1.0|stopped properly|2026-06-01 14:01:10|asked to stop");
}

TEST_F(Views, NoReasonLeavesAPlaceUnfilled) {
  std::int64_t ms = 0;
  for (int number = 0; number < 1024; ++number) {
    const ReasonInfo& row = info(static_cast<Reason>(number));
    if (static_cast<int>(row.reason) == number)
      writer_->put(event(++ms, EventKind::targets, because(row.reason, 3, 2, 1)));
  }
  EXPECT_EQ(value("SELECT count(*) > 80 FROM v_events"), "1");
  EXPECT_EQ(rows("SELECT because FROM v_events WHERE because IS NULL OR because = '' "
                 "OR because GLOB '*[[{}]*'"),
            std::vector<std::string>{});
}

TEST(ReasonParts, AreTheWordsAndFiguresOfATemplateInOrder) {
  EXPECT_EQ(reason_parts("{0:.0f} % at {1:p}[, for {2:t} over {0:c}] now"),
            (std::vector<ReasonPart>{
                {"", 0, "%.0f", 0},
                {" % at ", 1, "p", 0},
                {", for ", 2, "t", 5},
                {" over ", 0, "c", 5},
                {" now", std::nullopt, "", 0},
            }));
}

TEST_F(Views, APartInBracketsIsLeftOutWhenItsFiguresAreZero) {
  writer_->put(event(1, EventKind::targets, because(Reason::none)));
  writer_->put(event(2, EventKind::targets, because(Reason::none, 0, 75)));
  writer_->flush();
  Shell shell(here_.file());
  shell.rows("DELETE FROM reason_part WHERE reason = 0");
  int place = 0;
  for (const ReasonPart& part : reason_parts("dry[ for {1:t}] 5 %"))
    shell.rows("INSERT INTO reason_part VALUES (0, " + std::to_string(++place) + ", '" +
               part.words + "', " + (part.argument ? std::to_string(*part.argument) : "NULL") +
               ", '" + part.kind + "', " + std::to_string(part.needs) + ")");
  EXPECT_EQ(shell.rows("SELECT because FROM v_events"),
            (std::vector<std::string>{"dry 5 %", "dry for 1 min 15 s 5 %"}));
}

}  // namespace
}  // namespace neap::journal::testing
