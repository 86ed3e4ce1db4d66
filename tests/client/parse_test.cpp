// Goal: what a person types is understood, and what is not gets place, value, rule and remedy.
#include "daemon/client/parse.h"

#include "tests/client/support.h"

namespace neap::client {
namespace {

using ::testing::AllOf;
using ::testing::HasSubstr;

template <class Act>
std::string complaint(Act act) {
  try {
    act();
  } catch (const Failure& failure) {
    EXPECT_EQ(failure.code(), kExitUsage);
    return std::string(failure.what()) + " | " + failure.remedy();
  }
  return "no complaint";
}

Millis length(std::string_view text) {
  return parse_duration("for", text, seconds{1}, hours{24 * 400});
}

TEST(Parse, ReadsLengthsOfTimeAsPeopleWriteThem) {
  EXPECT_EQ(length("90s"), seconds{90});
  EXPECT_EQ(length("10m"), minutes{10});
  EXPECT_EQ(length("10 min"), minutes{10});
  EXPECT_EQ(length("1h30m"), minutes{90});
  EXPECT_EQ(length("1.5h"), minutes{90});
  EXPECT_EQ(length("3d"), hours{72});
  EXPECT_EQ(length("2w"), hours{336});
}

TEST(Parse, RefusesWhatIsNoLengthOfTime) {
  for (const char* text : {"", "10", "m", "10 moons", "-5m", "5m-", "1e9h", "nan s", "inf h",
                           "99999999999999d", "5mm"})
    EXPECT_THAT(complaint([&] { length(text); }),
                AllOf(HasSubstr("for is \"" + std::string(text) + "\""), HasSubstr("write 90s")))
        << text;
}

TEST(Parse, ALengthOutsideItsBoundsNamesTheBounds) {
  EXPECT_EQ(complaint([] { parse_duration("the length after for", "5h", seconds{1}, hours{4}); }),
            "the length after for is \"5h\", outside 1 s to 4 h | "
            "choose a length of time inside it");
}

TEST(Parse, BothBoundsOfALengthCount) {
  const auto within = [](std::string_view text) {
    return parse_duration("for", text, minutes{20}, minutes{60});
  };
  EXPECT_EQ(within("20m"), minutes{20});
  EXPECT_EQ(within("60m"), minutes{60});
  EXPECT_THAT(complaint([&] { within("1199s"); }), HasSubstr("outside 20 min to 1 h"));
  EXPECT_THAT(complaint([&] { within("3601s"); }), HasSubstr("outside 20 min to 1 h"));
}

TEST(Parse, TakesForOffTheEnd) {
  std::vector<std::string> words{"pump", "running", "for", "1h", "30m"};
  EXPECT_EQ(take_for(words, seconds{1}, hours{4}), minutes{90});
  EXPECT_THAT(words, ::testing::ElementsAre("pump", "running"));
  EXPECT_EQ(take_for(words, seconds{1}, hours{4}), std::nullopt);
}

TEST(Parse, ALevelIsAWordOfItsOutputOrAPercentage) {
  EXPECT_EQ(parse_level(Output::pump, "stopped"), kStopped);
  EXPECT_EQ(parse_level(Output::drain_valve, "open"), kRunning);
  EXPECT_EQ(parse_level(Output::exhaust_fan, "45%"), Permille{450});
  EXPECT_EQ(parse_level(Output::exhaust_fan, "45 %"), Permille{450});
  EXPECT_EQ(parse_level(Output::light, "0.1%"), Permille{1});
}

TEST(Parse, ALevelThatAnOutputCannotTakeIsRefused) {
  EXPECT_EQ(complaint([] { parse_level(Output::pump, "on"); }),
            "LEVEL is \"on\", which is no level of the flood pump | write stopped or running");
  EXPECT_EQ(complaint([] { parse_level(Output::pump, "45%"); }),
            "LEVEL is \"45%\", and the flood pump knows two positions only | "
            "write stopped or running");
  EXPECT_EQ(complaint([] { parse_level(Output::exhaust_fan, "101%"); }),
            "LEVEL is \"101%\", outside 0% to 100% | write stopped or running, or 45%");
  for (const char* text : {"", "%", "open", "45", "-1%", "nan%", "4 5 %%"})
    EXPECT_NE(complaint([&] { parse_level(Output::exhaust_fan, text); }), "no complaint") << text;
}

TEST(Parse, AMisspeltNameGetsTheNearestOne) {
  EXPECT_EQ(parse_output("fan"), Output::exhaust_fan);
  EXPECT_EQ(parse_output("exhaust-fan"), Output::exhaust_fan);
  EXPECT_EQ(complaint([] { parse_output("dehumidifer"); }),
            "OUTPUT is \"dehumidifer\", and there is none of that name | "
            "did you mean \"dehumidifier\"?");
  EXPECT_EQ(complaint([] { parse_latch("xyzzyx"); }),
            "LATCH is \"xyzzyx\", and there is none of that name | "
            "use one of: leak, overflow, lost-water, fill, drain, weld, state");
  EXPECT_EQ(parse_latch("lost_water"), Latch::lost_water);
  EXPECT_EQ(parse_point("canopy.vpd"), Point::canopy_vpd);
  EXPECT_EQ(parse_kind("flood_ended"), EventKind::cycle_closed);
}

TEST(Parse, WhatIsNotPrintableNeverReachesTheTerminal) {
  EXPECT_THAT(complaint([] { parse_output("\x1b[2J"); }), HasSubstr("\\x1b[2J"));
}

TEST(Parse, ReadsDatesThatExist) {
  EXPECT_EQ(read_date_time("1970-01-02")->civil, (CivilTime{1, 0}));
  EXPECT_EQ(read_date_time("2026-06-01T14:30")->civil, (CivilTime{20605, 52200}));
  EXPECT_EQ(read_date_time("2026-06-01 14:30:10")->civil, (CivilTime{20605, 52210}));
  for (const char* text : {"2026-02-29", "2026-13-01", "2026-6-1", "2026-06-01T24:00",
                           "2026-06-01T1430", "2026-06-01x14:30", "yesterday"})
    EXPECT_FALSE(read_date_time(text)) << text;
  EXPECT_EQ(complaint([] { parse_date_time("--from", "2026-02-29"); }),
            "--from is \"2026-02-29\", which is no date | write 2026-06-01 or 2026-06-01T14:30");
}

}  // namespace
}  // namespace neap::client
