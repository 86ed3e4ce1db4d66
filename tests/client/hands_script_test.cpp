// Goal: a simulated grow's hands are a text file of commands as typed; what is wrong in it is told
// with its line, and nothing runs.
#include "daemon/client/hands_script.h"

#include <fstream>

#include "tests/client/support.h"
#include "tests/places.h"

namespace neap::client {
namespace {

using ::testing::HasSubstr;
using testing::json;
using testing::Said;

constexpr std::int32_t kFirstDay = 20514;  // 2026-03-02

json parsed(const std::string& text) { return parse_hands("hands.txt", text, kFirstDay); }

std::string complaint(const std::string& text) {
  try {
    parsed(text);
  } catch (const Failure& failure) {
    return std::string(failure.what()) + " | " + failure.remedy();
  }
  return "accepted";
}

TEST(HandsScript, ALineIsATimeAndWhatIsTyped) {
  const json list = parsed(
      "# the first days\n\n"
      "day 1 07:30  measure change=50 ph=5.6\r\n"
      "day 30 18:05 neap measure ec=1600us --note \"two words\"\n");
  ASSERT_EQ(list.size(), 2u);
  EXPECT_EQ(list[0]["at"], "2026-03-02T07:30");
  EXPECT_EQ(list[0]["args"]["values"], (json{{"change_l", 50.0}, {"ph", 5.6}}));
  EXPECT_EQ(list[1]["at"], "2026-03-31T18:05");
  EXPECT_EQ(list[1]["args"]["values"]["ec"], 1.6);
  EXPECT_EQ(list[1]["args"]["note"], "two words");
}

TEST(HandsScript, WhatIsWrongIsToldWithItsLine) {
  EXPECT_THAT(complaint("day 1 07:30 measure ph=59"),
              HasSubstr("hands.txt:1: ph is \"59\", outside 0 to 14 | did you mean ph=5.9?"));
  EXPECT_THAT(complaint("#\n07:30 measure ph=5.9"),
              HasSubstr("hands.txt:2: does not begin with a time"));
  EXPECT_THAT(complaint("day 0 07:30 measure ph=5.9"), HasSubstr("hands.txt:1: day is"));
  EXPECT_THAT(complaint("day 1 25:30 measure ph=5.9"), HasSubstr("is no time of day"));
  EXPECT_THAT(complaint("day 1 07:30 flood start"), HasSubstr("is nothing that hands do here"));
  EXPECT_THAT(complaint("day 1 07:30"), HasSubstr("says no command"));
  EXPECT_THAT(complaint("day 1 07:30 measure"), HasSubstr("measures nothing"));
  EXPECT_THAT(complaint("day 1 07:30 measure ph=5.9 at=08:00"), HasSubstr("has a second time"));
  EXPECT_THAT(complaint("day 1 07:30 measure ph=5.9 --note \"open"), HasSubstr("a quote"));
  EXPECT_THAT(complaint("day 2 07:30 measure ph=5.9\nday 1 08:00 measure ph=5.9"),
              HasSubstr("hands.txt:2: is earlier than the line before"));
}

TEST(HandsScript, SimulateHandsItToTheDaemonAsJson) {
  const testing::Directory directory;
  const std::string daemon = directory.file("neapd");
  std::ofstream(daemon) << "#!/bin/sh\nwhile [ \"$1\" != --hands ]; do shift; done\ncp \"$2\" "
                        << directory.file("told") << "\nexit 3\n";
  std::filesystem::permissions(daemon, std::filesystem::perms::owner_all);
  std::ofstream(directory.file("hands.txt")) << "day 2 08:00 measure ph=5.9\n";
  testing::neap(
      {"simulate", places::in_project("config/demo.yaml"), "--hands", directory.file("hands.txt")},
      {{"NEAPD", daemon}});
  std::ifstream told(directory.file("told"));
  EXPECT_EQ(json::parse(told, nullptr, false)[0]["at"], "2026-03-03T08:00");
  const Said none = testing::neap(
      {"simulate", places::in_project("config/demo.yaml"), "--hands", "/nowhere/hands.txt"});
  EXPECT_EQ(none.code, kExitUsage);
  EXPECT_THAT(none.err, HasSubstr("which cannot be read"));
}

}  // namespace
}  // namespace neap::client
