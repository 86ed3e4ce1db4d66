#include "daemon/journal/reader.h"

#include <cmath>

#include "daemon/core/instant.h"
#include "daemon/journal/file_reader.h"
#include "tests/journal/support.h"

namespace neap::journal::testing {
namespace {

std::unique_ptr<Reader> open_reader(const std::string& path) {
  std::string error;
  auto reader = Reader::open(path, error);
  EXPECT_NE(reader, nullptr) << error;
  return reader;
}

// Every field away from its default, so that a forgotten column shows.
CycleRow some_cycle() {
  CycleRow c;
  c.started_tick = kStart + 1234;
  c.slot = {20605, 3};
  c.origin = FloodOrigin::catch_up;
  c.outcome = FloodOutcome::slow_drain;
  c.fill = Millis{61250};
  c.soak = Millis{300001};
  c.drain = Millis{422000};
  c.pump_on = Millis{361251};
  c.litres_known = true;
  c.litres_out = 18.37;
  c.litres_back = 16.9;
  return c;
}

DayTally some_day() {
  DayTally d;
  d.date = 20605;
  d.began_tick = kStart + 77;
  d.day_known = Millis{57600000};
  d.day_in_band = Millis{50000001};
  d.night_known = Millis{28800000};
  d.night_in_band = Millis{20000002};
  d.below = Millis{3};
  d.above = Millis{4};
  d.kpa_h_out = 0.123;
  d.humid = Millis{5};
  d.floods_planned = 6;
  d.floods_started = 5;
  d.floods_complete = 4;
  d.litres_out = 70.5;
  d.litres_back = 63.25;
  d.pump_on = Millis{900000};
  d.dehumidifier_on = Millis{7000000};
  d.dehumidifier_starts = 9;
  d.humidifier_on = Millis{10};
  d.fan_hours = 12.5;
  d.fan_moves = 141;
  d.vpd_lowest = 0.61;
  d.vpd_highest = 1.44;
  d.any_vpd = true;
  return d;
}

void expect_same(const CycleRow& a, const CycleRow& b) {
  EXPECT_EQ(a.started_tick, b.started_tick);
  EXPECT_EQ(a.slot, b.slot);
  EXPECT_EQ(a.origin, b.origin);
  EXPECT_EQ(a.outcome, b.outcome);
  EXPECT_EQ(a.fill, b.fill);
  EXPECT_EQ(a.soak, b.soak);
  EXPECT_EQ(a.drain, b.drain);
  EXPECT_EQ(a.pump_on, b.pump_on);
  EXPECT_EQ(a.litres_known, b.litres_known);
  EXPECT_EQ(a.litres_out, b.litres_out);
  EXPECT_EQ(a.litres_back, b.litres_back);
  EXPECT_EQ(a.dip_known, b.dip_known);
  EXPECT_EQ(a.vpd_before_kpa, b.vpd_before_kpa);
  EXPECT_EQ(a.vpd_lowest_kpa, b.vpd_lowest_kpa);
  EXPECT_EQ(a.recovery, b.recovery);
  EXPECT_EQ(a.recovered, b.recovered);
}

void expect_same(const DayTally& a, const DayTally& b) {
  EXPECT_EQ(a.date, b.date);
  EXPECT_EQ(a.began_tick, b.began_tick);
  EXPECT_EQ(a.day_known, b.day_known);
  EXPECT_EQ(a.day_in_band, b.day_in_band);
  EXPECT_EQ(a.night_known, b.night_known);
  EXPECT_EQ(a.night_in_band, b.night_in_band);
  EXPECT_EQ(a.below, b.below);
  EXPECT_EQ(a.above, b.above);
  EXPECT_EQ(a.kpa_h_out, b.kpa_h_out);
  EXPECT_EQ(a.humid, b.humid);
  EXPECT_EQ(a.floods_planned, b.floods_planned);
  EXPECT_EQ(a.floods_started, b.floods_started);
  EXPECT_EQ(a.floods_complete, b.floods_complete);
  EXPECT_EQ(a.litres_out, b.litres_out);
  EXPECT_EQ(a.litres_back, b.litres_back);
  EXPECT_EQ(a.pump_on, b.pump_on);
  EXPECT_EQ(a.dehumidifier_on, b.dehumidifier_on);
  EXPECT_EQ(a.dehumidifier_starts, b.dehumidifier_starts);
  EXPECT_EQ(a.humidifier_on, b.humidifier_on);
  EXPECT_EQ(a.fan_hours, b.fan_hours);
  EXPECT_EQ(a.fan_moves, b.fan_moves);
  EXPECT_EQ(a.any_vpd, b.any_vpd);
  EXPECT_EQ(a.vpd_lowest, b.vpd_lowest);
  EXPECT_EQ(a.vpd_highest, b.vpd_highest);
}

void expect_same(const Event& a, const Event& b) {
  EXPECT_EQ(a.kind, b.kind);
  EXPECT_EQ(a.because, b.because);
  EXPECT_EQ(a.output, b.output);
  EXPECT_EQ(a.level, b.level);
  EXPECT_EQ(a.point, b.point);
  EXPECT_EQ(a.alarm, b.alarm);
  EXPECT_EQ(a.alarm_from, b.alarm_from);
  EXPECT_EQ(a.alarm_to, b.alarm_to);
  EXPECT_EQ(a.latch, b.latch);
  EXPECT_EQ(a.phase, b.phase);
  EXPECT_EQ(a.slot, b.slot);
  EXPECT_EQ(a.number, b.number);
  EXPECT_EQ(a.request_id, b.request_id);
  EXPECT_EQ(a.accepted, b.accepted);
  expect_same(a.cycle, b.cycle);
  expect_same(a.day, b.day);
}

constexpr EventKind kKinds[] = {
    EventKind::actuation,    EventKind::alarm,         EventKind::latch_set,
    EventKind::latch_reset,  EventKind::flood_phase,   EventKind::cycle_closed,
    EventKind::slot_skipped, EventKind::cycle_settled, EventKind::stage,
    EventKind::targets,      EventKind::reading_state, EventKind::request,
    EventKind::time,         EventKind::service,       EventKind::day_closed,
    EventKind::boot,         EventKind::settings,      EventKind::client,
    EventKind::fault,        EventKind::step_test};

TEST(Reader, EveryKindOfEventComesBackAsItWasPutIn) {
  const Directory here;
  std::vector<EventEntry> put;
  std::int64_t ms = 0;
  for (const EventKind kind : kKinds) {
    EventEntry blank{at(ms += 10), {}};
    blank.event.kind = kind;
    EventEntry full{at(ms += 10), {}};
    full.event.kind = kind;
    full.event.because = because(Reason::vpd_below_band, 0.72, 0.8, -1.25);
    full.event.output = Output::humidifier;
    full.event.level = Permille{455};
    full.event.point = Point::leak_rack;
    full.event.alarm = Alarm::bucket_full;
    full.event.alarm_from = AlarmState::acknowledged;
    full.event.alarm_to = AlarmState::shelved;
    full.event.latch = Latch::fill_failed;
    full.event.phase = FloodPhase::drain;
    full.event.slot = {20605, 4};
    full.event.number = -7;
    full.event.request_id = 4000000000U;
    full.event.accepted = true;
    full.name = "flowering";
    if (kind == EventKind::cycle_closed || kind == EventKind::cycle_settled) {
      blank.event.cycle.started_tick = ms;  // the key of the row: no two cycles share it
      full.event.cycle = some_cycle();
      full.event.cycle.started_tick = ms + 1;
      full.event.cycle.dip_known = full.event.cycle.recovered = true;
      full.event.cycle.vpd_before_kpa = 1.02;
      full.event.cycle.vpd_lowest_kpa = 0.41;
      full.event.cycle.recovery = Millis{1234567};
    }
    if (kind == EventKind::day_closed) full.event.day = some_day();
    put.push_back(blank);
    put.push_back(full);
  }
  {
    const auto writer = Writer::open(options_for(here.file()));
    for (const EventEntry& entry : put) writer->put(entry);
  }
  const auto found = open_reader(here.file())->events({}, {}, 1000);
  ASSERT_EQ(found.size(), put.size());
  for (std::size_t i = 0; i < put.size(); ++i) {
    SCOPED_TRACE("kind " + std::to_string(static_cast<int>(put[i].event.kind)));
    EXPECT_EQ(found[i].number, static_cast<std::int64_t>(i) + 1);
    EXPECT_EQ(found[i].at.tick, tick_ms(put[i].tick));
    expect_same(found[i].event, put[i].event);
    EXPECT_EQ(found[i].name, put[i].name);
  }
}

TEST(Reader, AReadingOfEveryPointComesBackInWholeQuantaExactly) {
  const Directory here;
  {
    const auto writer = Writer::open(options_for(here.file()));
    for (const PointInfo& p : kPoints) {
      writer->put(ReadingEntry{at(0), p.point, p.lowest, Quality::good, Fault::none});
      writer->put(ReadingEntry{at(1), p.point, p.highest, Quality::uncertain, Fault::stale});
      writer->put(ReadingEntry{at(2), p.point, 2.5 * p.quantum, Quality::good, Fault::none});
      writer->put(ReadingEntry{at(3), p.point, std::nullopt, Quality::bad, Fault::saturated});
    }
  }
  const auto reader = open_reader(here.file());
  for (const PointInfo& p : kPoints) {
    SCOPED_TRACE(p.name);
    const auto rows = reader->readings(p.point, {}, 0, 100);
    ASSERT_EQ(rows.size(), 4U);
    EXPECT_EQ(rows[0].value, p.lowest);
    EXPECT_EQ(rows[0].quality, Quality::good);
    EXPECT_EQ(rows[0].at.tick, kStart);
    EXPECT_EQ(rows[1].value, p.highest);
    EXPECT_EQ(rows[1].quality, Quality::uncertain);
    EXPECT_EQ(rows[1].fault, Fault::stale);
    // Half a quantum goes away from zero: the nearest double to 0.03, 0.003 or 3.
    EXPECT_EQ(rows[2].value, 3 / (1 / p.quantum));
    EXPECT_EQ(rows[3].value, std::nullopt);
    EXPECT_EQ(rows[3].quality, Quality::bad);
    EXPECT_EQ(rows[3].fault, Fault::saturated);
  }
}

TEST(Reader, AValueThatIsNoNumberIsAbsentAndOutOfRange) {
  const Directory here;
  {
    const auto writer = Writer::open(options_for(here.file()));
    writer->put(reading(0, Point::canopy_vpd, std::nan("")));
    writer->put(reading(1, Point::canopy_vpd, HUGE_VAL));
    writer->put(reading(2, Point::canopy_vpd, 1e300));
  }
  const auto rows = open_reader(here.file())->readings(Point::canopy_vpd, {}, 0, 10);
  ASSERT_EQ(rows.size(), 3U);
  for (const ReadingRow& row : rows) {
    EXPECT_EQ(row.value, std::nullopt);
    EXPECT_EQ(row.quality, Quality::bad);
    EXPECT_EQ(row.fault, Fault::out_of_range);
  }
}

TEST(Reader, ARecoveredCycleReplacesItsRowAndKeepsBothEvents) {
  const Directory here;
  EventEntry closed{at(5000), {}};
  closed.event.kind = EventKind::cycle_closed;
  closed.event.cycle = some_cycle();
  EventEntry recovered{at(9000), closed.event};
  recovered.event.kind = EventKind::cycle_settled;
  recovered.event.cycle.dip_known = recovered.event.cycle.recovered = true;
  recovered.event.cycle.vpd_before_kpa = 1.02;
  recovered.event.cycle.vpd_lowest_kpa = 0.41;
  recovered.event.cycle.recovery = Millis{1234567};
  const auto writer = Writer::open(options_for(here.file()));
  writer->put(closed);
  writer->flush();
  const auto reader = open_reader(here.file());
  ASSERT_EQ(reader->cycles({}).size(), 1U);
  expect_same(reader->cycles({}).front().row, closed.event.cycle);
  writer->put(recovered);
  writer->flush();
  ASSERT_EQ(reader->cycles({}).size(), 1U);
  expect_same(reader->cycles({}).front().row, recovered.event.cycle);
  EXPECT_EQ(reader->events({}, {}, 10).size(), 2U);
}

TEST(Reader, BootsSettingsAndMeasurementsComeBack) {
  const Directory here;
  {
    const auto writer = Writer::open(options_for(here.file()));
    writer->put(boot(0, false));
    writer->put(clock(0, kNoonUnixMs, TimeQuality::synced));
    writer->put(SettingsEntry{at(1), 0xfedcba9876543210U, "first", true, "new"});
    writer->put(SettingsEntry{at(2), 17, "second", true, "night band wider"});
    writer->put(SettingsEntry{at(3), 18, "third", false, "line 3: unknown key"});
    writer->put(MeasurementEntry{at(7200000), "a", kNoonUnixMs + 3600000, "ph", 5.9, "noon + 1 h"});
    writer->put(MeasurementEntry{at(7200001), "b", kNoonUnixMs + 1800000, "ec", 1.6, ""});
    writer->put(ClientEntry{at(7), 1000, 4242, "hold", true, "pump 60 s"});
  }
  const auto reader = open_reader(here.file());
  const auto boots = reader->boots({});
  ASSERT_EQ(boots.size(), 1U);
  EXPECT_EQ(boots[0].version, "0.1.0");
  EXPECT_FALSE(boots[0].clean_before);
  EXPECT_EQ(boots[0].at.unix_ms, kNoonUnixMs);
  EXPECT_EQ(boots[0].at.utc_offset_s, kSummer);

  const auto settings = reader->settings({});
  ASSERT_EQ(settings.size(), 3U);
  EXPECT_EQ(settings[0].hash, 0xfedcba9876543210U);
  EXPECT_FALSE(settings[2].accepted);
  EXPECT_EQ(settings[2].note, "line 3: unknown key");
  EXPECT_EQ(reader->settings_in_force(), "second");

  // Backdated ones stand where they were taken.
  const auto measured = reader->measurements({});
  ASSERT_EQ(measured.size(), 2U);
  EXPECT_EQ(measured[0].quantity, "ec");
  EXPECT_EQ(measured[0].taken.tick, kStart + 1800000);
  EXPECT_EQ(measured[1].quantity, "ph");
  EXPECT_EQ(measured[1].value, 5.9);
  EXPECT_EQ(measured[1].note, "noon + 1 h");
  EXPECT_EQ(measured[1].taken.unix_ms, kNoonUnixMs + 3600000);
  EXPECT_EQ(Shell(here.file()).value("SELECT uid, pid, verb, accepted, detail FROM client"),
            "1000|4242|hold|1|pump 60 s");
}

EventEntry alarm_event(std::int64_t ms, Alarm alarm, AlarmState from, AlarmState to) {
  EventEntry entry{at(ms), {}};
  entry.event.kind = EventKind::alarm;
  entry.event.alarm = alarm;
  entry.event.alarm_from = from;
  entry.event.alarm_to = to;
  entry.event.because = because(Reason::air_too_warm, 31.5, 30);
  return entry;
}

TEST(Reader, AnAlarmIsOneSpanFromRaisingToClearingHoweverItIsAnswered) {
  const Directory here;
  constexpr auto normal = AlarmState::normal;
  constexpr auto unacked = AlarmState::unacknowledged;
  constexpr auto acked = AlarmState::acknowledged;
  constexpr auto returned = AlarmState::returned;
  constexpr auto shelved = AlarmState::shelved;
  constexpr auto hot = Alarm::over_temperature;
  {
    const auto writer = Writer::open(options_for(here.file()));
    // Acknowledged, then cleared.
    writer->put(alarm_event(1, hot, normal, unacked));
    writer->put(alarm_event(2, hot, unacked, acked));
    writer->put(alarm_event(3, hot, acked, normal));
    // Cleared by itself, raised again before anybody acknowledged, shelved, and still there.
    writer->put(alarm_event(4, hot, normal, unacked));
    writer->put(alarm_event(5, Alarm::leak_damp, normal, unacked));
    writer->put(alarm_event(6, hot, unacked, returned));
    writer->put(alarm_event(7, hot, returned, unacked));
    writer->put(alarm_event(8, hot, unacked, shelved));
    writer->put(alarm_event(9, hot, shelved, unacked));
    // Cleared, and acknowledged afterwards.
    writer->put(alarm_event(10, Alarm::leak_damp, unacked, returned));
    writer->put(alarm_event(11, Alarm::leak_damp, returned, normal));
  }
  const auto reader = open_reader(here.file());
  const auto spans = reader->alarms({});
  ASSERT_EQ(spans.size(), 4U);
  EXPECT_EQ(spans[0].raised.tick, kStart + 1);
  ASSERT_TRUE(spans[0].cleared);
  EXPECT_EQ(spans[0].cleared->tick, kStart + 3);
  EXPECT_TRUE(spans[0].acknowledged);
  EXPECT_EQ(spans[0].because, because(Reason::air_too_warm, 31.5, 30));
  EXPECT_EQ(spans[1].raised.tick, kStart + 4);
  ASSERT_TRUE(spans[1].cleared);
  EXPECT_EQ(spans[1].cleared->tick, kStart + 6);
  EXPECT_FALSE(spans[1].acknowledged);
  EXPECT_EQ(spans[2].alarm, Alarm::leak_damp);
  ASSERT_TRUE(spans[2].cleared);
  EXPECT_EQ(spans[2].cleared->tick, kStart + 10);
  EXPECT_TRUE(spans[2].acknowledged);
  EXPECT_EQ(spans[3].raised.tick, kStart + 7);
  EXPECT_FALSE(spans[3].cleared);

  // Only those that share time with the span.
  EXPECT_EQ(reader->alarms({kStart + 7, std::nullopt}).size(), 2U);
  EXPECT_EQ(reader->alarms({std::nullopt, kStart + 3}).size(), 1U);
}

TEST(Reader, ASpanAndKindsChooseAndALimitKeepsTheNewest) {
  const Directory here;
  {
    const auto writer = Writer::open(options_for(here.file()));
    for (int i = 0; i < 10; ++i) writer->put(numbered_event(i * 1000, i));
    EventEntry other{at(4500), {}};
    other.event.kind = EventKind::service;
    writer->put(other);
  }
  const auto reader = open_reader(here.file());
  const auto newest = reader->events({}, {EventKind::stage}, 3);
  ASSERT_EQ(newest.size(), 3U);
  EXPECT_EQ(newest[0].event.number, 7);
  EXPECT_EQ(newest[2].event.number, 9);
  EXPECT_EQ(reader->events({kStart + 3000, kStart + 5000}, {}, 100).size(), 4U);
  EXPECT_EQ(
      reader->events({kStart + 3000, kStart + 5000}, {EventKind::service, EventKind::boot}, 100)
          .size(),
      1U);
  EXPECT_EQ(reader->first_tick(), kStart);
  EXPECT_EQ(reader->last_tick(), kStart + 9000);
}

// A scan of a year of readings outlasts the reader's time, and the journal seems empty.
TEST(Reader, FirstAndLastTickReadNoWholeTable) {
  const Directory here;
  Writer::open(options_for(here.file()))->flush();
  Shell shell(here.file());
  for (const char* query : {kFirstTick, kLastTick})
    for (const std::string& step : shell.rows(std::string("EXPLAIN QUERY PLAN ") + query))
      for (const char* table : {"SCAN reading", "SCAN event"})
        EXPECT_EQ(step.find(table), std::string::npos) << step;
}

TEST(Reader, BucketsAreMeansOfUsableReadingsAndAsGoodAsTheWorstOfThem) {
  const Directory here;
  const std::int64_t skew = 60000 - kStart % 60000;  // to the first whole minute of the tick
  {
    const auto writer = Writer::open(options_for(here.file()));
    writer->put(reading(skew, Point::canopy_vpd, 1.0));
    writer->put(
        ReadingEntry{at(skew + 1), Point::canopy_vpd, 2.0, Quality::uncertain, Fault::stale});
    writer->put(ReadingEntry{at(skew + 2), Point::canopy_vpd, 90.0, Quality::bad, Fault::jump});
    writer->put(reading(skew + 3, Point::room_vpd, 77));
    writer->put(
        ReadingEntry{at(skew + 60000), Point::canopy_vpd, std::nullopt, Quality::bad, Fault::jump});
  }
  const auto reader = open_reader(here.file());
  const auto rows = reader->readings(Point::canopy_vpd, {}, 60000, 100);
  ASSERT_EQ(rows.size(), 2U);
  EXPECT_EQ(rows[0].at.tick, kStart + skew);
  EXPECT_EQ(rows[0].value, 1.5);
  EXPECT_EQ(rows[0].quality, Quality::uncertain);
  EXPECT_EQ(rows[1].value, std::nullopt);
  EXPECT_EQ(rows[1].quality, Quality::bad);
  EXPECT_EQ(rows[1].fault, Fault::jump);

  const auto sums = reader->summaries({});
  ASSERT_EQ(sums.size(), 2U);
  EXPECT_EQ(sums[0].point, Point::canopy_vpd);
  EXPECT_EQ(sums[0].count, 2);
  EXPECT_EQ(sums[0].missing, 2);
  EXPECT_EQ(sums[0].lowest, 1.0);
  EXPECT_EQ(sums[0].mean, 1.5);
  EXPECT_EQ(sums[0].highest, 2.0);
  EXPECT_EQ(sums[0].latest, 2.0);
  EXPECT_EQ(sums[0].latest_at.tick, kStart + skew + 1);
}

TEST(Reader, SaysWhyItCannotOpenAFile) {
  const Directory here;
  std::string error;
  EXPECT_EQ(Reader::open(here.file(), error), nullptr);
  EXPECT_NE(error.find("there is no journal " + here.file()), std::string::npos) << error;

  const std::string foreign = here.path() / "other.db";
  {
    sqlite3* db = nullptr;
    sqlite3_open(foreign.c_str(), &db);
    sqlite3_exec(db, "CREATE TABLE t(a)", nullptr, nullptr, nullptr);
    sqlite3_close(db);
  }
  EXPECT_EQ(Reader::open(foreign, error), nullptr);
  EXPECT_NE(error.find("not a journal of neap"), std::string::npos) << error;
}

}  // namespace
}  // namespace neap::journal::testing
