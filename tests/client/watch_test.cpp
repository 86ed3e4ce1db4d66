// Goal: `neap watch` says what matters at each size, in UTF-8 and in ASCII, and while neapd is
// down. Method: screens composed of a known state, beside those of tests/client/watch; what was
// composed is left in build/*/client_tests/watch.
#include "daemon/client/watch.h"

#include <cmath>
#include <fstream>
#include <sstream>

#include "tests/client/states.h"
#include "tests/client/support.h"
#include "tests/places.h"

namespace neap::client {
namespace {

using ::testing::AllOf;
using ::testing::HasSubstr;
using testing::json;
using testing::lines_of;
using ::testing::Not;

std::string text_of(const TonedLine& line) {
  std::string text;
  for (const Toned& each : line) text += each.text;
  return text;
}

std::string text_of(const Screen& screen) {
  std::string text;
  for (const TonedLine& line : screen.lines) {
    const std::string each = text_of(line);
    text += each.substr(0, each.find_last_not_of(' ') + 1) + "\n";
  }
  return text;
}

// Six hours to noon, a curve that leaves its band, a flood and an alarm.
Curve curve_of(Point point, std::size_t columns, double middle, double swing,
               std::optional<Scale> band) {
  Curve curve;
  curve.point = point;
  curve.columns.resize(columns);
  constexpr double kTurns = 12.566;  // two
  for (std::size_t i = 0; i < columns; ++i) {
    const double mean =
        middle + swing * std::sin(kTurns * static_cast<double>(i) / static_cast<double>(columns));
    curve.columns[i] = {ChartColumn::Figures{mean, mean, mean}, band};
  }
  curve.whole = {middle - swing, middle, middle + swing};
  curve.newest = middle;
  return curve;
}

void put_record(const WatchView& view, Watched& seen) {
  const auto page = chart_page_of(view);
  if (!page) return;
  constexpr std::int64_t kHour = 3'600'000;
  const std::int64_t to = testing::kNoonUnixMs;
  Chart chart;
  chart.span = {to - 6 * kHour, to};
  for (int hour = 10; hour < 14; ++hour)  // of local time, which is 14:00 at the end
    chart.marks.push_back({to - (14 - hour) * kHour, std::to_string(hour) + ":00"});
  const std::size_t columns = columns_of(*page);
  chart.curves = {curve_of(Point::canopy_vpd, columns, 0.9, 0.35, Scale{0.7, 1.1}),
                  curve_of(Point::canopy_temperature, columns, 23, 2, std::nullopt),
                  curve_of(Point::reservoir_level, columns, 40, 4, Scale{25, 50})};
  chart.floods = {{to - 2 * kHour, to - 2 * kHour + 900'000}};
  chart.alarms = {{Alarm::reservoir_low, {to - kHour, to - kHour / 2}}};
  seen.record.chart = std::move(chart);
  seen.record.chart_page = *page;
}

Watched seen(json status, const WatchView& view) {
  Watched out;
  out.status = std::move(status);
  out.unix_ms = testing::kNoonUnixMs;
  out.utc_offset_s = 7200;
  const CivilTime noon = civil_of({out.unix_ms, out.utc_offset_s, TimeQuality::synced});
  out.record.coming = {{{noon.date, 8 * 3600}, "flood 2"},  // gone by
                       {{noon.date, 55200}, "flood 3"},
                       {{noon.date, 71400}, "flood 4"},
                       {{noon.date, 79200}, "lights off"},
                       {{noon.date + 1, 21600}, "lights on"}};
  out.record.events = {{"06-01 13:59:07", "exhaust fan 45 %: VPD 0.82 kPa, low in the band"},
                       {"06-01 11:26:40", "flood phase rest"}};
  put_record(view, out);
  return out;
}

WatchView view(std::size_t columns, std::size_t rows, bool utf8, WatchPage page = WatchPage::now) {
  return {columns, rows, utf8, page, 0, 0};
}

std::string read_file(const std::string& path) {
  std::ifstream in(path);
  std::stringstream text;
  text << in.rdbuf();
  return text.str();
}

// Compares with tests/client/watch/NAME.txt, after what every screen must be.
void expect_as_kept(const std::string& name, const Screen& screen, const WatchView& at) {
  const std::string text = text_of(screen);
  EXPECT_EQ(screen.lines.size(), at.rows) << name;
  EXPECT_LE(testing::widest(text), at.columns) << name;
  EXPECT_THAT(lines_of(text).back(), HasSubstr("q quit")) << name;
  const bool ascii = std::all_of(text.begin(), text.end(), [](char c) { return c > 0; });
  EXPECT_TRUE(at.utf8 || ascii) << text;
  const std::filesystem::path fresh = places::in_build("client_tests/watch/" + name + ".txt");
  std::filesystem::create_directories(fresh.parent_path());
  std::ofstream(fresh) << text;
  EXPECT_EQ(text, read_file(places::in_project("tests/client/watch/" + name + ".txt"))) << name;
}

TEST(Watch, ScreensAreAsTheyWereLookedAt) {
  const struct {
    const char* name;
    json status;
    WatchView at;
  } rows[] = {
      {"now-42x20-ascii", testing::flood_running(), view(42, 20, false)},
      {"now-42x20", testing::all_well(), view(42, 20, true)},
      {"now-80x24-ascii", testing::infeasible(), view(80, 24, false)},
      {"now-80x24", testing::flood_running(), view(80, 24, true)},
      {"now-132x43-ascii", testing::leak_latched(), view(132, 43, false)},
      {"now-132x43", testing::flood_running(), view(132, 43, true)},
      {"now-lost-80x24", testing::sensor_lost(), view(80, 24, true)},
      {"curves-42x20-ascii", testing::all_well(), view(42, 20, false, WatchPage::curves)},
      {"curves-80x24", testing::all_well(), view(80, 24, true, WatchPage::curves)},
      {"curves-132x43", testing::all_well(), view(132, 43, true, WatchPage::curves)},
      {"alarms-42x20-ascii", testing::leak_latched(), view(42, 20, false, WatchPage::alarms)},
      {"events-80x24", testing::all_well(), view(80, 24, true, WatchPage::events)},
  };
  for (const auto& row : rows)
    expect_as_kept(row.name, compose(seen(row.status, row.at), row.at), row.at);
}

TEST(Watch, GoesOnWhileNeapdIsDownAndSaysSinceWhen) {
  for (const auto& [columns, rows] : {std::pair{42, 20}, {80, 24}, {132, 43}}) {
    const WatchView at =
        view(static_cast<std::size_t>(columns), static_cast<std::size_t>(rows), true);
    Watched down = seen(testing::daemon_down(), at);
    down.silence = Silence{kExitNoDaemon, "no daemon at /run/neap/neap.sock: Connection refused",
                           testing::kNoonUnixMs - 65'000};
    expect_as_kept("down-" + std::to_string(columns) + "x" + std::to_string(rows),
                   compose(down, at), at);
  }
}

TEST(Watch, ADaemonThatHangsIsNotSaidToBeStopped) {
  const WatchView at = view(80, 24, true);
  Watched silent = seen(testing::daemon_down(), at);
  silent.silence = Silence{kExitFailed, "the daemon did not answer in time", testing::kNoonUnixMs};
  EXPECT_THAT(text_of(compose(silent, at)),
              AllOf(HasSubstr("\nneapd gives no answer since 2026-06-01 14:00:00\n"),
                    HasSubstr("did not answer in time"), Not(HasSubstr("does not run"))));
}

TEST(Watch, AJournalThatCannotBeReadIsSaidAndTheRestStays) {
  WatchView at = view(80, 24, true);
  Watched lost = seen(testing::all_well(), at);
  lost.record = {};
  lost.record.trouble = "cannot open /var/lib/neap/journal.db";
  EXPECT_THAT(text_of(compose(lost, at)),
              AllOf(HasSubstr("Journal: cannot open /var/lib"), HasSubstr("VPD 0.82 kPa")));
  for (const WatchPage page : {WatchPage::curves, WatchPage::events}) {
    at.page = page;
    EXPECT_THAT(text_of(compose(lost, at)), HasSubstr("Journal: cannot open /var/lib"));
  }
}

TEST(Watch, BelowTheSizeOfATelephoneItSaysSoUnderTheVerdict) {
  const WatchView at = view(30, 8, true);
  EXPECT_EQ(text_of(compose(seen(testing::leak_latched(), at), at)),
            "Water on the floor\n"
            "This screen is 30x8, neap\n"
            "watch wants 42x20; q quits\n");
  for (std::size_t columns = 1; columns < 140; columns += 3)
    for (std::size_t rows = 1; rows < 50; rows += 3) {
      const WatchView any = view(columns, rows, true);
      const Screen screen = compose(seen(testing::leak_latched(), any), any);
      EXPECT_LE(screen.lines.size(), rows);
      EXPECT_LE(testing::widest(text_of(screen)), columns) << columns << "x" << rows;
    }
}

TEST(Watch, ScrollsToItsLastLineAndNoFurther) {
  WatchView at = view(42, 20, true);
  const Watched all = seen(testing::leak_latched(), at);
  const Screen top = compose(all, at);
  ASSERT_GT(top.furthest, 0U);
  EXPECT_THAT(text_of(top), AllOf(HasSubstr(std::to_string(top.furthest + 1) + " more lines"),
                                  Not(HasSubstr("canopy.vpd"))));
  at.scroll = top.furthest + 100;
  const std::string bottom = text_of(compose(all, at));
  EXPECT_THAT(bottom, AllOf(HasSubstr("canopy.vpd"), Not(HasSubstr("more lines"))));
  EXPECT_THAT(lines_of(bottom)[1], HasSubstr("Water on the floor"));  // stays in sight
}

TEST(Watch, TonesSayNothingThatTheWordsDoNotSay) {
  const WatchView at = view(80, 24, true);
  for (const json& status : {testing::infeasible(), testing::sensor_lost()}) {
    const Screen screen = compose(seen(status, at), at);
    std::string toned;
    for (const TonedLine& line : screen.lines)
      for (const Toned& each : line)
        if (each.tone == Tone::bad || each.tone == Tone::warning) toned += each.text + "\n";
    EXPECT_THAT(toned, ::testing::AnyOf(HasSubstr("under the band"), HasSubstr("not known")));
  }
}

TEST(Watch, AnAsciiTerminalGetsAsciiWhateverTheSettingsName) {
  json status = testing::all_well();
  status["name"] = "Gew\u00e4chshaus \u6e29\u5ba4";
  const WatchView at = view(80, 24, false);
  EXPECT_THAT(text_of(compose(seen(status, at), at)), HasSubstr("Gew?chshaus ??  2026-06-01"));
}

TEST(Watch, NeedsATerminalAndSaysWhatDoesNot) {
  const testing::Said said = testing::neap({"watch"});
  EXPECT_EQ(said.code, kExitUsage);
  EXPECT_EQ(said.err,
            "neap: neap watch paints a screen, and this is no terminal\n"
            "  `neap status` prints the same once\n");
  EXPECT_THAT(testing::neap({"watch", "--json"}).out, HasSubstr("neap status --json"));
}

TEST(TonedLines, AreWhatTonedMade) {
  const Look look{true, {}};
  const auto lines = toned_lines("a " + toned(look, Tone::bad, "b\nc") + "\n\n" +
                                 toned(look, Tone::quiet, "d") + toned(look, Tone::good, "e"));
  ASSERT_EQ(lines.size(), 4U);
  EXPECT_EQ(lines[0][0].tone, Tone::plain);
  EXPECT_EQ(lines[0][1].text, "b");
  EXPECT_EQ(lines[1][0].tone, Tone::bad);  // over the end of a line
  EXPECT_TRUE(lines[2].empty());
  EXPECT_EQ(lines[3][0].tone, Tone::quiet);
  EXPECT_EQ(lines[3][1].tone, Tone::good);
  EXPECT_EQ(text_of(lines[3]), "de");
}

}  // namespace
}  // namespace neap::client
