// Goal: a chart shows what the journal holds: curves, band, gaps, floods, alarms, local time.
// Method: journals of a few readings, golden pictures of them.
#include "daemon/client/chart.h"

#include <fstream>
#include <regex>

#include "daemon/journal/journal.h"
#include "tests/client/support.h"
#include "tests/places.h"

namespace neap::client {
namespace {

using ::testing::AllOf;
using ::testing::HasSubstr;
using testing::json;
using testing::lines_of;
using ::testing::Not;
using testing::Said;

constexpr std::int64_t kStart = 4294967000;  // ms; no test begins at zero
const std::map<std::string, std::string> kUtf8Locale{{"LANG", "de_DE.UTF-8"}};

class ChartVerb : public ::testing::Test {
 protected:
  ChartVerb() {
    journal::Options options;
    options.path = directory_.file("journal.db");
    options.durability = journal::Durability::simulated;
    writer_ = journal::Writer::open(options);
    clock(minutes{0}, testing::kNoonUnixMs);  // 2026-06-01 14:00 local
    Event stage;
    stage.kind = EventKind::stage;
    stage.number = 0;  // establishing
    writer_->put(journal::EventEntry{instant(Millis{kStart}), stage, "establishing"});
  }
  void clock(Millis after, std::int64_t unix_ms, std::int32_t utc_offset_s = 7200) {
    writer_->put(journal::ClockEntry{instant(Millis{kStart} + after),
                                     {unix_ms, utc_offset_s, TimeQuality::synced}});
  }
  void put(Millis after, Point point, std::optional<double> value) {
    writer_->put(journal::ReadingEntry{instant(Millis{kStart} + after), point, value,
                                       value ? Quality::good : Quality::bad,
                                       value ? Fault::none : Fault::no_answer});
  }
  // A reading a minute.
  void put(int from_minute, int to_minute, Point point,
           const std::function<std::optional<double>(int)>& value) {
    for (int minute = from_minute; minute <= to_minute; ++minute)
      put(minutes{minute}, point, value(minute));
  }
  Said ask(std::vector<std::string> words,
           const std::map<std::string, std::string>& variables = {}) {
    writer_->flush();
    words.insert(words.begin(), "chart");
    words.insert(words.end(), {"--journal", directory_.file("journal.db"), "--settings",
                               places::in_project("config/demo.yaml")});
    return testing::neap(words, variables);
  }
  json ask_json(std::vector<std::string> words) {
    words.push_back("--json");
    return json::parse(ask(words).out);
  }
  testing::Directory directory_;
  std::unique_ptr<journal::Writer> writer_;
};

TEST_F(ChartVerb, DrawsARiseInCharacters) {
  put(0, 120, Point::room_temperature, [](int minute) { return 20 + minute / 24.0; });
  EXPECT_EQ("\n" + ask({"room.temperature", "--narrow"}).out, R"(
box-room, 2026-06-01 14:00 to 16:00
room temperature: least 20.0 C,
  mean 22.5 C, greatest 25.0 C,
  newest 25.0 C
    26
                                      -***
    24                         -*******
                        -*******
    22           -*******
          -*******
    20 ****
       +-------+--------+--------+-------+
     14:00   14:30    15:00    15:30 16:00
*: mean of 3 min 26 s, -: least and
  greatest
0 floods; 0 alarms
)");
}

TEST_F(ChartVerb, InUtf8ACharacterHasEightDots) {
  put(0, 120, Point::room_temperature,
      [](int minute) { return minute < 60 ? 20 + minute / 24.0 : 30 - minute / 12.0; });
  const Said said = ask({"room.temperature", "--narrow"}, kUtf8Locale);
  EXPECT_EQ("\n" + said.out, R"(
box-room, 2026-06-01 14:00 to 16:00
room temperature: least 20.0 C,
  mean 21.9 C, greatest 25.0 C,
  newest 20.0 C
    26
                        ⢰⠢⣀
    24                  ⢸  ⠑⠢⣀
                        ⢸     ⠑⠢⢄
    22            ⢀⣀⠤⠤⠒⠊⠁        ⠉⠢⢄
            ⢀⣀⠤⠔⠒⠉⠁                 ⠉⠢⢄⡀
    20 ⣀⠤⠔⠒⠉⠁                          ⠈⠒⢄
       ┬───────┬────────┬────────┬───────┬
     14:00   14:30    15:00    15:30 16:00
line: mean of 1 min 43 s, dots beside it:
  least and greatest
0 floods; 0 alarms
)");
}

TEST_F(ChartVerb, WhereThereWasNoValueIsAGap) {
  put(0, 120, Point::room_humidity, [](int minute) -> std::optional<double> {
    if (minute >= 40 && minute < 60) return std::nullopt;  // the probe says nothing
    return 50 + minute % 10;
  });
  // Silence of a derived point is written by nobody.
  put(0, 30, Point::room_vpd, [](int) { return 1.0; });
  put(80, 120, Point::room_vpd, [](int) { return 1.2; });
  EXPECT_EQ("\n" + ask({"room.humidity", "room.vpd", "--narrow"}).out, R"(
box-room, 2026-06-01 14:00 to 16:00
room humidity: least 50 %, mean 54 %,
  greatest 59 %, newest 50 %
    60   -  -  -  -        -  - -  -  -  -
           -  -  -*       *  *  *  *  *
    55  ** ** **-*       -::-::*-:*-:* :**
       *  *  *  *        * ** *- :: :: *
    50 - -- -- --       *  -  -  *  *  - -
room VPD: least 1.00 kPa, mean 1.11 kPa,
  greatest 1.20 kPa, newest 1.20 kPa
   1.2                        ************

   1.1

   1.0 **********
       +-------+--------+--------+-------+
     14:00   14:30    15:00    15:30 16:00
*: mean of 3 min 26 s, -: least and
  greatest
0 floods; 0 alarms
)");
}

TEST_F(ChartVerb, AValueStandsUntilTheNextWhereColumnsAreNarrow) {
  for (int minute = 0; minute <= 60; minute += 5) put(minutes{minute}, Point::tray_wet, 0);
  put(minutes{22}, Point::tray_wet, 1);
  put(minutes{24}, Point::tray_wet, 0);
  put(minutes{42}, Point::tray_wet, std::nullopt);                // stands no longer
  put(minutes{50} + seconds{20}, Point::tray_wet, std::nullopt);  // in the column of the value
  EXPECT_EQ("\n" + ask({"tray.wet", "--narrow"}).out, R"(
box-room, 2026-06-01 14:00 to 15:00
tray floor contact: newest dry
   wet             **
                   : :
                   : :
                   : :
                   : :
                   : :
   dry ************  **********  ****  ***
       +-------+--------+--------+-------+
     14:00   14:15    14:30    14:45 15:00
*: mean of 1 min 43 s, -: least and
  greatest
0 floods; 0 alarms
)");
}

TEST_F(ChartVerb, OneValueAndAConstantHaveAScale) {
  put(minutes{70}, Point::solution_temperature, 19.5);
  put(0, 120, Point::room_humidity, [](int) { return 48.25; });
  EXPECT_EQ("\n" + ask({"solution.temperature", "room.humidity", "room.vpd", "--narrow"}).out,
            R"(
box-room, 2026-06-01 14:00 to 16:00
solution temperature: least 19.5 C,
  mean 19.5 C, greatest 19.5 C,
  newest 19.5 C
    25 ...................................
       ...................................
    20 ....................**.............
       ...................................
    15 ...................................
room humidity: least 48 %, mean 48 %,
  greatest 48 %, newest 48 %
  48.4

  48.2 ***********************************

  48.0
room VPD: no readings in that time
       +-------+--------+--------+-------+
     14:00   14:30    15:00    15:30 16:00
*: mean of 3 min 26 s, -: least and
  greatest, .: band
0 floods; 0 alarms
)");
}

TEST_F(ChartVerb, ABandOutsideTheValuesIsDrawnToo) {
  put(0, 120, Point::solution_ph, [](int minute) { return 7.4 + minute * 0.001; });
  EXPECT_EQ("\n" + ask({"solution.ph", "--narrow"}).out, R"(
box-room, 2026-06-01 14:00 to 16:00
solution pH: least pH 7.40, mean pH 7.46,
  greatest pH 7.52, newest pH 7.52
     8
       ***********************************
     7
       ...................................
     6 ...................................
       ...................................
     5
       +-------+--------+--------+-------+
     14:00   14:30    15:00    15:30 16:00
*: mean of 3 min 26 s, -: least and
  greatest, .: band
0 floods; 0 alarms
)");
  EXPECT_THAT(ask({"solution.ph", "--color", "always"}).out, HasSubstr("\x1b[33m*"));
}

TEST_F(ChartVerb, FloodsAndAlarmsStandBelow) {
  put(0, 240, Point::room_temperature, [](int) { return 21; });
  Event flood;
  flood.kind = EventKind::cycle_closed;
  flood.cycle.started_tick = kStart + Millis{minutes{60}}.count();
  flood.cycle.fill = minutes{2};
  flood.cycle.soak = minutes{5};
  flood.cycle.drain = minutes{8};
  writer_->put(journal::EventEntry{instant(Millis{kStart} + minutes{75}), flood});
  Event alarm;
  alarm.kind = EventKind::alarm;
  alarm.alarm = Alarm::leak;
  alarm.alarm_from = AlarmState::normal;
  alarm.alarm_to = AlarmState::unacknowledged;
  writer_->put(journal::EventEntry{instant(Millis{kStart} + minutes{120}), alarm});
  alarm.alarm_from = AlarmState::unacknowledged;
  alarm.alarm_to = AlarmState::normal;
  writer_->put(journal::EventEntry{instant(Millis{kStart} + minutes{180}), alarm});
  EXPECT_EQ("\n" + ask({"room.temperature"}).out, R"(
box-room, 2026-06-01 14:00 to 18:00
room temperature: least 21.0 C, mean 21.0 C, greatest 21.0 C, newest 21.0 C
 21.10


 21.05

 21.00 *************************************************************************

 20.95


 20.90
floods                   ^^^^^
alarms                                     !!!!!!!!!!!!!!!!!!!
       +--------+--------+--------+--------+--------+--------+--------+--------+
     14:00    14:30    15:00    15:30    16:00    16:30    17:00    17:30  18:00
*: mean of 3 min 17 s, -: least and greatest
1 flood; 1 alarm: leak
)");
}

TEST_F(ChartVerb, OnTheDayOfWinterTimeTheAxisIsTheTentsClock) {
  // 2026-10-25 00:00 in central Europe; at 03:00 summer time it is 02:00 again.
  constexpr std::int64_t kMidnight = 1792879200000;
  clock(hours{1}, kMidnight);
  clock(hours{4}, kMidnight + Millis{hours{3}}.count(), 3600);
  put(60, 60 * 26, Point::room_temperature, [](int minute) { return minute / 60.0; });
  EXPECT_EQ(
      "\n" + ask({"room.temperature", "--since", "2026-10-25", "--until", "2026-10-25T12:00"}).out,
      R"(
box-room, 2026-10-25 00:00 to 12:00
room temperature: least 1.0 C, mean 7.5 C, greatest 14.0 C, newest 14.0 C
    15
                                                                         *******
                                                                -********
    10                                                  *********
                                               -********-
                                       *********
                              -********-
     5                *********
              ********-
       *******-
     0
       +----------+----+-----------+----------+----------+----------+----------+
     10-25      02:00            04:00      06:00      08:00      10:00    12:00
*: mean of 10 min 41 s, -: least and greatest
0 floods; 0 alarms
)");
}

TEST_F(ChartVerb, AnOutageIsAsWideAsItWasLong) {
  put(0, 60, Point::canopy_vpd, [](int) { return 0.6; });
  writer_->put(journal::BootEntry{instant(Millis{kStart} + minutes{61}), "1", false});
  clock(minutes{61}, testing::kNoonUnixMs + Millis{hours{3}}.count());  // the tick stood for 2 h
  put(61, 120, Point::canopy_vpd, [](int) { return 0.8; });
  EXPECT_EQ("\n" + ask({"--narrow"}).out, R"(
box-room, 2026-06-01 14:00 to 17:59
air VPD: least 0.60 kPa, mean 0.70 kPa,
  greatest 0.80 kPa, newest 0.80 kPa
   1.0
       .........                 .........
   0.8 .........                 *********
       .........                 .........
   0.6 *********                 .........
       .........                 .........
   0.4
       +-------+--------+--------+--------
     14:00   15:00    16:00    17:00
*: mean of 6 min 50 s, -: least and
  greatest, .: band
0 floods; 0 alarms
)");
}

TEST_F(ChartVerb, AYearHasRoomInEightyColumnsAndInFortyTwo) {
  for (int day = 0; day < 366; ++day)
    for (int hour = 0; hour < 24; hour += 6)
      put(hours{day * 24 + hour}, Point::room_temperature, 20 + hour / 6.0 + day / 60.0);
  for (const char* size : {"--ascii", "--narrow"}) {
    const Said said = ask({"room.temperature", "--since", "4000d", size}, kUtf8Locale);
    EXPECT_LE(testing::widest(said.out), size[2] == 'n' ? kPhoneWidth : kPageWidth);
    EXPECT_THAT(said.out,
                AllOf(HasSubstr("2026-06-01"), HasSubstr("2027-06-02"), HasSubstr("least 20.0 C")));
  }
  const json said = ask_json({"room.temperature", "--since", "4000d"});
  EXPECT_EQ(said["points"][0]["columns"].size(), 73u);
  for (const json& column : said["points"][0]["columns"])
    EXPECT_EQ(column["greatest"].get<double>() - column["least"].get<double>() >= 3, true);
}

TEST_F(ChartVerb, WithoutAPointItIsTheVpdWithItsBand) {
  put(0, 120, Point::canopy_vpd, [](int minute) { return 0.4 + minute / 150.0; });
  const Said said = ask({});
  EXPECT_THAT(said.out, AllOf(HasSubstr("air VPD: least 0.40 kPa, mean 0.80 kPa, greatest 1.20"),
                              HasSubstr(".: band")));
  EXPECT_THAT(ask({"--color", "always"}).out, HasSubstr(".\x1b[0m*")) << "each in its own tone";
  const json point = ask_json({})["points"][0];
  EXPECT_EQ(point["point"], "canopy.vpd");
  EXPECT_EQ(point["columns"][0]["band"], json({0.5, 0.9}));  // by day, as config/demo.yaml has it
  EXPECT_EQ(point["columns"][0]["least"], 0.4);
  EXPECT_EQ(point["newest"], 1.2);
  EXPECT_EQ(point["columns"][0]["unix_ms"], testing::kNoonUnixMs);
}

TEST_F(ChartVerb, JsonHasNothingWhereNothingWas) {
  put(0, 30, Point::room_vpd, [](int) { return 1.0; });
  put(80, 120, Point::room_vpd, [](int) { return 1.2; });
  const json said = ask_json({"room.vpd"});
  const json& columns = said["points"][0]["columns"];
  EXPECT_EQ(said["column_s"], 98.63);  // 2 h in 73 columns, to a millisecond
  EXPECT_EQ(columns[0]["mean"], 1.0);
  EXPECT_TRUE(columns[40]["mean"].is_null());
  EXPECT_TRUE(columns[40]["band"].is_null());
  EXPECT_EQ(columns[72]["mean"], 1.2);
}

TEST_F(ChartVerb, APointThatIsNotThereIsAnErrorWithThoseThatAre) {
  put(0, 10, Point::room_vpd, [](int) { return 1.0; });
  const Said said = ask({"room.vdp"});
  EXPECT_EQ(said.code, kExitUsage);
  EXPECT_THAT(said.err, AllOf(HasSubstr("POINT is \"room.vdp\", and there is none of that name"),
                              HasSubstr("did you mean \"room.vpd\"? This tent has "),
                              HasSubstr("solution.ph"), Not(HasSubstr("outdoor.humidity"))));
  EXPECT_LE(testing::widest(said.err), kPageWidth);
}

TEST_F(ChartVerb, TimesAreThoseOfReadings) {
  put(0, 120, Point::room_vpd, [](int minute) { return minute; });
  const auto ends = [&](std::vector<std::string> words) {
    const json said = ask_json(words);
    return said["from"]["local"].get<std::string>().substr(11) + " " +
           said["to"]["local"].get<std::string>().substr(11);
  };
  EXPECT_EQ(ends({"room.vpd", "--since", "30min"}), "15:30:00 16:00:00");
  EXPECT_EQ(ends({"room.vpd", "--until", "2026-06-01T15:00"}), "14:00:00 15:00:00");
  EXPECT_EQ(ends({"room.vpd", "--since", "2026-06-01T14:30", "--until", "1h"}),
            "14:30:00 15:00:00");
  EXPECT_EQ(ask({"--since", "1h", "--until", "2h"}).err,
            "neap: --since 1h is not before --until 2h\n"
            "  a length of time, such as 2h, counts back from the newest entry\n");
  EXPECT_THAT(ask({"--until", "2026-05-01"}).err,
              HasSubstr("ask for a time from 2026-06-01 14:00:00 to 2026-06-01 16:00:00"));
  EXPECT_EQ(ask({"--until", "soon"}).code, kExitUsage);
}

TEST_F(ChartVerb, TheLocaleSaysWhetherThereAreDots) {
  put(0, 10, Point::room_vpd, [](int) { return 1.0; });
  const auto dotted = [&](const std::map<std::string, std::string>& variables) {
    return ask({"room.vpd"}, variables).out.find("\xE2\xA0") != std::string::npos;
  };
  EXPECT_TRUE(dotted(kUtf8Locale));
  EXPECT_TRUE(dotted({{"LC_ALL", ""}, {"LC_CTYPE", "C.utf8"}, {"LANG", "C"}}));
  EXPECT_FALSE(dotted({{"LC_ALL", "C"}, {"LANG", "de_DE.UTF-8"}}));
  EXPECT_FALSE(dotted({}));
}

TEST_F(ChartVerb, ATerminalIsFilledFromFortyTwoColumnsUp) {
  put(0, 120, Point::room_vpd, [](int minute) { return minute; });
  writer_->flush();
  const auto width_on = [&](std::size_t columns_of_terminal, bool terminal) {
    std::istringstream in;
    std::ostringstream out;
    Surroundings around{out,     out, terminal, false, [](const char*) { return std::nullopt; },
                        nullptr, "",  in};
    around.out_columns = columns_of_terminal;
    run({"chart", "room.vpd", "--color", "never", "--journal", directory_.file("journal.db"),
         "--settings", places::in_project("config/demo.yaml")},
        around);
    return testing::widest(out.str());
  };
  EXPECT_EQ(width_on(132, true), 132u);
  EXPECT_EQ(width_on(30, true), kPhoneWidth);
  EXPECT_EQ(width_on(0, true), kPageWidth) << "a terminal that does not say";
  EXPECT_EQ(width_on(132, false), kPageWidth) << "a pipe";
}

TEST_F(ChartVerb, TheSamePictureIsWrittenAsSvg) {
  put(0, 60, Point::canopy_vpd, [](int) { return 1.0; });
  put(90, 120, Point::canopy_vpd, [](int) { return 1.2; });
  const std::string path = directory_.file("day.svg");
  const Said said = ask({"--svg", path});
  EXPECT_EQ(said.code, kExitDone) << said.err;
  std::ifstream in(path);
  const std::string svg{std::istreambuf_iterator<char>(in), {}};
  EXPECT_THAT(svg, AllOf(HasSubstr(">air VPD, kPa<"), HasSubstr("<path class=\"day\""),
                         HasSubstr(">15:00<"), Not(HasSubstr("href"))));
  std::smatch mean;
  ASSERT_TRUE(
      std::regex_search(svg, mean, std::regex("<path class=\"mean\" d=\"(M[^M\"]*M[^M\"]*)\"")))
      << "two runs, with the gap between them";
  EXPECT_EQ(ask({"--svg", directory_.file("day.png")}).code, kExitUsage);
}

TEST(ChartFigures, InUsUnitsAreThoseOfTheHeading) {
  const words::Style us{false};
  EXPECT_DOUBLE_EQ(in_style(Point::room_temperature, 20, us), 68);
  EXPECT_EQ(unit_in_style(Point::room_temperature, us), "F");
  EXPECT_NEAR(in_style(Point::reservoir_level, 37.85411784, us), 10, 1e-9);
  EXPECT_EQ(unit_in_style(Point::reservoir_level, us), "gal");
  EXPECT_EQ(in_style(Point::solution_ph, 5.9, us), 5.9);
}

}  // namespace
}  // namespace neap::client
