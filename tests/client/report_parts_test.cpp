// Goal: what the report adds to counts says what the journal holds: times out of the band with what
// coincided, energy, changed settings; and the HTML page has the figures of the text.
// Method: small journals, figures worked out by hand; the page taken apart as text.
#include "daemon/client/report_parts.h"

#include <fstream>
#include <iterator>

#include "daemon/client/excursions.h"
#include "daemon/client/report_html.h"
#include "tests/client/report_bench.h"
#include "tests/places.h"

namespace neap::client {
namespace {

using ::testing::Contains;
using ::testing::ElementsAre;
using ::testing::HasSubstr;
using testing::kStart;
using ::testing::Not;
using testing::plan;
using testing::ReportTest;

constexpr std::int64_t kMinute = 60'000;

class Excursions : public ReportTest {
 protected:
  // A reading each minute from `from` on, so many.
  void vpd(int from, int count, double value) {
    for (int i = 0; i < count; ++i) reading((from + i) * 60, Point::canopy_vpd, value);
  }
  std::vector<Excursion> worst(std::size_t most) {
    return worst_excursions(*reader(), plan(), kStart, kStart + 300 * kMinute, most);
  }
};

TEST_F(Excursions, AShortReturnToTheBandEndsNoneAndALongOneDoes) {
  vpd(0, 10, 0.9);
  vpd(10, 5, 0.6);   // 0.1 kPa under for 5 min
  vpd(15, 15, 0.9);  // in the band for less than 20 min
  vpd(30, 5, 0.5);   // 0.2 kPa under for 5 min
  vpd(35, 30, 0.9);
  vpd(65, 3, 1.3);  // 0.2 kPa over for 3 min
  vpd(68, 30, 0.9);
  const auto found = worst(5);
  ASSERT_EQ(found.size(), 2U);
  EXPECT_EQ(found[0].from.tick, kStart + 10 * kMinute);
  EXPECT_EQ(found[0].to.tick, kStart + 35 * kMinute);
  EXPECT_EQ(found[0].out, minutes{10});
  EXPECT_TRUE(found[0].below);
  EXPECT_DOUBLE_EQ(found[0].furthest_kpa, 0.5);
  EXPECT_DOUBLE_EQ(found[0].edge_kpa, 0.7);
  EXPECT_EQ(found[0].furthest, kStart + 30 * kMinute);
  EXPECT_NEAR(found[0].kpa_h, (0.1 * 5 + 0.2 * 5) / 60, 1e-9);
  EXPECT_FALSE(found[1].below);
  EXPECT_DOUBLE_EQ(found[1].edge_kpa, 1.1);
  EXPECT_EQ(found[1].out, minutes{3});
}

TEST_F(Excursions, TheWorstByAreaAreKeptAndStandInOrderOfTime) {
  for (const auto& [at, value] : {std::pair{0, 0.65}, {60, 0.3}, {120, 0.6}}) {
    vpd(at, 5, value);
    vpd(at + 5, 55, 0.9);
  }
  const auto found = worst(2);
  ASSERT_EQ(found.size(), 2U);
  EXPECT_EQ(found[0].from.tick, kStart + 60 * kMinute);
  EXPECT_EQ(found[1].from.tick, kStart + 120 * kMinute);
}

TEST_F(Excursions, LessThanThreeMinutesOutIsNone) {
  vpd(0, 5, 0.9);
  vpd(5, 2, 0.2);
  vpd(7, 30, 0.9);
  EXPECT_TRUE(worst(5).empty());
}

TEST_F(Excursions, AirThatSwingsThroughTheBandIsOutOnBothSides) {
  for (int i = 0; i < 6; ++i) {
    vpd(4 * i, 2, 0.5);
    vpd(4 * i + 2, 2, 1.4);
  }
  const auto found = worst(5);
  ASSERT_EQ(found.size(), 2U);
  EXPECT_EQ(found[0].out, minutes{12});
  EXPECT_EQ(found[1].out, minutes{12});
}

TEST_F(Excursions, WhatCoincidesIsSaidAndWhatIsLongGoneIsNot) {
  Plan tent = plan();
  tent.outputs[Output::exhaust_fan].emplace().variable = true;
  actuation(60, Output::light, 1000);
  cycle(60 * 60, FloodOrigin::slot, FloodOutcome::complete);
  actuation(60 * 60, Output::exhaust_fan, 630);
  actuation(65 * 60, Output::light, 0);
  actuation(66 * 60, Output::light, 300);
  actuation(67 * 60, Output::light, 600);
  vpd(70, 5, 0.5);
  const auto opened = reader();
  auto found = worst_excursions(*opened, tent, kStart, kStart + 300 * kMinute, 5);
  ASSERT_EQ(found.size(), 1U);
  explain(*opened, tent, found[0]);
  EXPECT_THAT(found[0].with, ElementsAre("flood at 13:00", "light off at 13:05",
                                         "light on at 13:06", "exhaust fan at 63 %"));
}

class Energy : public ReportTest {
 protected:
  Energy() {
    loaded_.plan = plan();
    for (const Output output : {Output::light, Output::exhaust_fan, Output::air_pump, Output::pump})
      loaded_.plan.outputs[output].emplace().safe = info(output).safe;
    loaded_.rated_w[Output::light] = 200;
    loaded_.rated_w[Output::exhaust_fan] = 40;
    loaded_.rated_w[Output::air_pump] = 6;
  }
  double kwh(Output output, std::int64_t from_s, std::int64_t to_s) {
    for (const EnergyOf& one :
         energy_of(*reader(), loaded_, kStart + from_s * 1000, kStart + to_s * 1000))
      if (one.output == output) return one.kwh;
    return -1;
  }

  settings::Loaded loaded_;
};

TEST_F(Energy, IsPowerTimesHoursAndAFansTheCubeOfItsLevel) {
  actuation(0, Output::light, 500);
  actuation(0, Output::exhaust_fan, 500);
  actuation(0, Output::pump, 1000);
  actuation(3600, Output::light, 0);
  EXPECT_NEAR(kwh(Output::light, 0, 7200), 0.1, 1e-9);  // 200 W, half, 1 h
  EXPECT_NEAR(kwh(Output::exhaust_fan, 0, 7200), 0.040 * 0.125 * 2, 1e-9);
  EXPECT_NEAR(kwh(Output::light, 1800, 7200), 0.05, 1e-9);
  EXPECT_EQ(kwh(Output::pump, 0, 7200), -1) << "no power is told of it";
}

TEST_F(Energy, WhatRunsInItsSafeStateRunsFromTheStartOn) {
  writer_->put(journal::BootEntry{tick(0), "0.1.0", false});
  EXPECT_NEAR(kwh(Output::air_pump, 3600, 7200), 0.006, 1e-9);
  EXPECT_NEAR(kwh(Output::light, 3600, 7200), 0, 1e-9);
}

Report small_report() {
  Report report;
  report.name = "<box & room>";
  report.from = {0, testing::kNoonUnixMs, 0};
  report.to = {3'600'000, testing::kNoonUnixMs + 3'600'000, 0};
  report.total.floods_planned = 3;
  report.energy = {{Output::light, 1.5}, {Output::exhaust_fan, 0.25}};
  report.settings = {{report.from, {"table.soak_limit: 20 min -> 15 min"}}};
  for (int i = 0; i < 20; ++i) {
    journal::MeasurementRow row;
    row.quantity = "ph";
    row.value = 5.5 + 0.1 * i;
    report.measurements.push_back(row);
  }
  return report;
}

TEST(ReportParts, ManyMeasurementsAreTheirRange) {
  const std::string text = render_report(small_report(), Look{});
  EXPECT_LE(testing::widest(text), kPageWidth) << text;
  EXPECT_THAT(testing::lines_of(text), Contains("  pH          20   5.50  6.45      7.40  7.40"))
      << text;
  EXPECT_THAT(text, HasSubstr("1.75 kWh by rated powers: light 1.50, exhaust fan 0.25"));
  EXPECT_THAT(text, HasSubstr("table.soak_limit: 20 min -> 15 min"));
}

// The text of a page's cells, as a browser would show it.
std::vector<std::string> cells_of(const std::string& page) {
  std::vector<std::string> cells;
  for (std::size_t at = 0; (at = page.find("<t", at)) != std::string::npos; ++at) {
    if (page[at + 2] != 'd' && page[at + 2] != 'h') continue;
    const std::size_t begin = page.find('>', at) + 1;
    cells.push_back(page.substr(begin, page.find("</t", begin) - begin));
  }
  return cells;
}

TEST(ReportHtml, HasEachCellOfTheTextAndAsksForNothingElsewhere) {
  const Report report = small_report();
  Chart chart;
  chart.name = report.name;
  chart.curves.emplace_back().columns.resize(4);
  chart.span = {0, 3'600'000};
  const std::string page = html_page(report, chart, {});
  std::vector<std::string> expected;
  for (const ReportPart& part : parts_of(report, {})) {
    for (const Cell& cell : part.table.heading()) expected.push_back(escaped(cell.text));
    for (const auto& row : part.table.rows())
      for (const Cell& cell : row) expected.push_back(escaped(cell.text));
  }
  EXPECT_EQ(cells_of(page), expected);
  EXPECT_THAT(page, HasSubstr("&lt;box &amp; room&gt;"));
  EXPECT_THAT(page, Not(HasSubstr("<box")));
  EXPECT_THAT(page, HasSubstr("default-src 'none'"));
  for (const char* foreign : {"src=", "href=", "url(", "<script", "@import"})
    EXPECT_THAT(page, Not(HasSubstr(foreign)));
}

}  // namespace
}  // namespace neap::client
