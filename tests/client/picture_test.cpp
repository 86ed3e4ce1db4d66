// Goal: the picture of a simulated span is a sound SVG document that shows what the journal holds.
// Method: pictures with figures chosen by hand, read back from the text; a checker of tags written
// here stands in for an XML parser, and turns broken documents red below.
#include "daemon/client/picture.h"

#include <filesystem>
#include <fstream>
#include <regex>

#include "daemon/client/svg.h"
#include "daemon/client/whole_file.h"
#include "tests/client/support.h"

namespace neap::client {
namespace {

using ::testing::AllOf;
using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using ::testing::Not;

constexpr std::int64_t kStart = 4294967000;  // ms; no test begins at zero
constexpr std::int64_t kHour = 3'600'000;

std::int64_t at(double hours_in) { return kStart + static_cast<std::int64_t>(hours_in * kHour); }

// Every tag closed in its order, no bare '<' or '&': what is wrong first, or nothing.
std::string xml_trouble(const std::string& text) {
  static const std::regex token(
      R"(<\?xml[^<>]*\?>|<(/?)([A-Za-z]+)((?: [A-Za-z:-]+="[^<"]*")*)(/?)>|)"
      R"(&(?:amp|lt|gt|quot|#39);|[^<&]+|[<&])");
  std::vector<std::string> open;
  for (std::sregex_iterator it(text.begin(), text.end(), token), end; it != end; ++it) {
    const std::smatch& m = *it;
    if (m.str() == "<" || m.str() == "&") return "stray " + text.substr(m.position(), 20);
    if (!m[2].matched || m[4] == "/") continue;
    if (m[1] != "/") {
      open.push_back(m[2]);
    } else {
      if (open.empty() || open.back() != m[2].str()) return "not open: " + m[2].str();
      open.pop_back();
    }
  }
  return open.empty() ? std::string() : "not closed: " + open.back();
}

std::size_t count_of(const std::string& text, const std::string& part) {
  std::size_t count = 0;
  for (std::size_t i = text.find(part); i != std::string::npos; i = text.find(part, i + 1)) ++count;
  return count;
}

// A day from 06:00 with the light off in its last 8 h, two floods and one alarm.
Picture a_day() {
  Picture picture;
  picture.name = "box-room";
  picture.facts = {"law rule, seed 7"};
  picture.from = at(0);
  picture.to = at(24);
  for (int i = 0; i <= 24 * 60; ++i) {
    const bool light = i < 16 * 60;
    const Band band =
        light ? Band{Kilopascal{0.7}, Kilopascal{1.1}} : Band{Kilopascal{0.5}, Kilopascal{0.9}};
    picture.aims.push_back(
        {at(i / 60.0), band, light, false, Celsius{12}, Celsius{29}, PercentRh{88}});
  }
  picture.marks = {{at(0), "06:00"}, {at(18), "03-21"}};
  picture.vpd = {{{at(0), 0.8}, {at(23), 0.9}}};
  picture.exhaust_fan.emplace();
  picture.strips.push_back({"dehumidifier", {}});
  picture.floods = {{at(1), at(1.25)}, {at(9), at(9.25)}};
  picture.alarms = {{at(3), at(4)}};
  return picture;
}

TEST(SvgText, WhatAPersonNamedCannotLeaveItsPlaceInTheDocument) {
  EXPECT_EQ(escaped("a<b>&\"'c"), "a&lt;b&gt;&amp;&quot;&#39;c");
  EXPECT_EQ(escaped("caf\xC3\xA9 \xE2\x82\xAC"), "caf\xC3\xA9 \xE2\x82\xAC");
  EXPECT_EQ(escaped("\x1b[1m\xff\xC3"), "?[1m??") << "control characters and broken UTF-8";
  EXPECT_EQ(escaped("\xEF\xBF\xBF\xED\xA0\x80"), "??????") << "what XML 1.0 has no place for";
}

TEST(SvgText, TheCheckerOfTagsFindsWhatIsBroken) {
  EXPECT_THAT(xml_trouble("<svg><g></g></svg>"), IsEmpty());
  EXPECT_THAT(xml_trouble("<svg><g></svg>"), HasSubstr("not open"));
  EXPECT_THAT(xml_trouble("<svg>"), HasSubstr("not closed"));
  EXPECT_THAT(xml_trouble("<svg>a & b</svg>"), HasSubstr("stray"));
  EXPECT_THAT(xml_trouble("<svg a=\"<\"></svg>"), HasSubstr("stray"));
}

TEST(Picture, HasTheBandOfDayAndNightTheFloodsAndTheAlarm) {
  const std::string svg = draw(a_day());
  EXPECT_THAT(xml_trouble(svg), IsEmpty());
  EXPECT_EQ(count_of(svg, "<path class=\"day\""), 1u);
  EXPECT_EQ(count_of(svg, "<path class=\"night\""), 1u);
  EXPECT_EQ(count_of(svg, "<rect class=\"flood\""), 2u);
  EXPECT_EQ(count_of(svg, "<rect class=\"alarm\""), 1u);
  EXPECT_THAT(svg, AllOf(HasSubstr(">air VPD, kPa<"), HasSubstr(">temperature, C<"),
                         HasSubstr(">law rule, seed 7<"), HasSubstr(">03-21<")));
}

TEST(Picture, AFloodStandsAtItsTimeAndAtItsLength) {
  const std::string svg = draw(a_day());
  // 150 px to the left of the plot, 736 px for 24 h: 9 h are 276 px, a quarter of an hour 7.7.
  EXPECT_THAT(svg, HasSubstr("<rect class=\"flood\" x=\"426\""));
  EXPECT_TRUE(std::regex_search(svg, std::regex("class=\"flood\" x=\"426\" [^>]*width=\"7.7\"")));
}

TEST(Picture, ANameThatIsMarkupIsStillAName) {
  Picture picture = a_day();
  picture.name = "</svg><script>&";
  const std::string svg = draw(picture);
  EXPECT_THAT(xml_trouble(svg), IsEmpty());
  EXPECT_THAT(svg, AllOf(Not(HasSubstr("<script")), HasSubstr("&lt;script&gt;")));
}

TEST(Picture, OfLeafVpdInUsUnitsSaysSo) {
  Picture picture = a_day();
  picture.band_of = BandOf::leaf;
  picture.metric = false;
  EXPECT_THAT(draw(picture), AllOf(HasSubstr(">leaf VPD, kPa<"), HasSubstr(">temperature, F<"),
                                   HasSubstr(">80<")));
}

TEST(Picture, WithNothingMeasuredIsStillADocument) {
  Picture picture;
  picture.from = at(0);
  picture.to = at(24);
  EXPECT_THAT(xml_trouble(draw(picture)), IsEmpty());
}

TEST(Picture, FallowHasNoBand) {
  Picture picture = a_day();
  for (Aim& aim : picture.aims) aim.fallow = true;
  EXPECT_EQ(count_of(draw(picture), "<path class=\"day\""), 0u);
}

TEST(Picture, AYearOfNoiseStaysUnder400KB) {
  Picture picture = a_day();
  picture.to = at(24 * 365);
  const auto noise = [&](double middle) {
    Thinner thinner(picture.from, picture.to, minutes{1});
    for (std::int64_t tick = picture.from; tick < picture.to; tick += 60'000)
      thinner.add(
          {tick, middle * (1 + 0.3 * static_cast<double>(tick / 60'000 * 7919 % 101) / 101)});
    return std::move(thinner).runs();
  };
  picture.vpd = picture.room_vpd = noise(0.8);
  picture.canopy_temperature = picture.room_temperature = noise(20);
  picture.canopy_humidity = picture.room_humidity = noise(60);
  EXPECT_LT(draw(picture).size(), 400'000u);
}

TEST(Thinner, KeepsTheLowestAndTheHighestOfAColumnInTheirOrder) {
  Thinner thinner(kStart, kStart + 736'000, minutes{1});  // a column is a second
  for (const auto& [ms, value] : {std::pair{100, 2.0}, {200, 9.0}, {300, 1.0}, {900, 3.0}})
    thinner.add({kStart + ms, value});
  thinner.add({kStart + 1500, 4.0});
  const Trace runs = std::move(thinner).runs();
  ASSERT_EQ(runs.size(), 1u);
  std::vector<double> values;
  for (const Spot& spot : runs[0]) values.push_back(spot.value);
  EXPECT_THAT(values, ElementsAre(9, 1, 4));
}

TEST(Thinner, ASilentSensorLeavesAGapAndNoLineAcrossIt) {
  Thinner thinner(kStart, kStart + 24 * kHour, minutes{1});
  thinner.add({kStart, 1});
  thinner.add({kStart + 60'000, 1});
  thinner.add({kStart + 120'001, 2});
  EXPECT_EQ(std::move(thinner).runs().size(), 2u);
}

TEST(WholeFile, ReplacesWhatWasThereAndLeavesNothingBeside) {
  testing::Directory directory;
  std::ofstream(directory.file("day.svg")) << "a much longer text than the new one";
  EXPECT_EQ(write_whole_file(directory.file("day.svg"), "new", 0644), "");
  std::ifstream in(directory.file("day.svg"));
  EXPECT_EQ(std::string(std::istreambuf_iterator<char>(in), {}), "new");
  std::filesystem::create_directory(directory.file("taken.svg"));
  EXPECT_NE(write_whole_file(directory.file("taken.svg"), "new", 0644), "");
  const std::filesystem::directory_iterator files(directory.path());
  EXPECT_EQ(std::distance(begin(files), end(files)), 2) << "day.svg and taken.svg";
}

}  // namespace
}  // namespace neap::client
