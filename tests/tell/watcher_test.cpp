// Goal: a second machine rings on silence, once, and says what the tent says when it is back.
// Method: the real script, told what time it is.
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <sys/wait.h>

#include <array>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>

#include "tests/places.h"

namespace neap {
namespace {

using nlohmann::json;
using ::testing::HasSubstr;

constexpr std::int64_t kTen = 1'780'308'600;  // 2026-06-01 10:10 UTC

class Watcher : public ::testing::Test {
 protected:
  Watcher() {
    std::string pattern = (std::filesystem::temp_directory_path() / "neap-watch-XXXXXX").string();
    folder_ = ::mkdtemp(pattern.data());
  }
  ~Watcher() override { std::filesystem::remove_all(folder_); }

  // What it printed, both streams together; its exit code in code_.
  std::string run(const std::string& action, std::int64_t at, const std::string& in = "",
                  const std::string& tell = "") {
    std::ofstream(folder_ / "in") << in;
    const std::string command = "TZ=UTC " + places::in_project("deploy/neap-watch") + " " + action +
                                " --dir " + (folder_ / "state").string() + " --at " +
                                std::to_string(at) + (tell.empty() ? "" : " --tell " + tell) +
                                " < " + (folder_ / "in").string() + " 2>&1";
    std::FILE* pipe = ::popen(command.c_str(), "r");
    std::string out;
    std::array<char, 4096> chunk{};
    while (const std::size_t got = std::fread(chunk.data(), 1, chunk.size(), pipe))
      out.append(chunk.data(), got);
    code_ = WEXITSTATUS(::pclose(pipe));
    return out;
  }
  static json beat() {
    return {
        {"neap", 1},  {"tent", "box-room"},       {"kind", "heartbeat"}, {"every_s", 600},
        {"ok", true}, {"verdict", "All is well"}, {"worst", ""},         {"priority", "advisory"},
        {"recap", ""}};
  }

  std::filesystem::path folder_;
  int code_ = 0;
};

TEST_F(Watcher, RingsOnceOnSilenceAndOnReturnSaysWhatTheTentSays) {
  EXPECT_EQ(run("beat", kTen, beat().dump()), "");
  EXPECT_EQ(run("check", kTen + 1500), "");
  EXPECT_THAT(run("check", kTen + 1501),
              HasSubstr("box-room: not heard since 10:10: power, network"));
  EXPECT_EQ(run("check", kTen + 3600), "") << "once";
  json back = beat();
  back["recap"] = "out 10:12-13:40 (power or crash), one flood missed, caught up 13:45";
  const std::string said = run("beat", kTen + 3 * 3600 + 1800, back.dump());
  EXPECT_THAT(said, HasSubstr("heard again; silent 10:10-13:40"));
  EXPECT_THAT(said, HasSubstr("one flood missed, caught up 13:45"));
}

TEST_F(Watcher, WhatCouldNotBeToldIsTriedByTheNextCheck) {
  run("beat", kTen, beat().dump());
  EXPECT_THAT(run("check", kTen + 4000, "", "/bin/false"), HasSubstr("exit code 1"));
  const std::string got = (folder_ / "got").string();
  run("check", kTen + 4300, "", "/usr/bin/tee " + got);
  std::ifstream in(got);
  const json told = json::parse(in, nullptr, false);
  EXPECT_EQ(told["kind"], "silence");
  EXPECT_THAT(told["subject"].get<std::string>(), HasSubstr("box-room: not heard since 10:10"));
}

TEST_F(Watcher, WhatWasHeardIsWrittenDownBeforeAnybodyIsTold) {
  run("beat", kTen, beat().dump());
  run("check", kTen + 1501, "", "/bin/false");
  // The program that tells shows what the watcher knows by then; the tent's own hook may have given
  // up waiting for it.
  const std::string known = (folder_ / "state" / "box-room.json").string();
  const std::string said = run("beat", kTen + 9000, beat().dump(), "/bin/cat " + known);
  EXPECT_THAT(said, HasSubstr("\"heard\": " + std::to_string(kTen + 9000)));
}

TEST_F(Watcher, AnAlarmOfHighPriorityIsToldHereToo) {
  json bad = beat();
  bad["ok"] = false;
  bad["worst"] = "leak";
  bad["priority"] = "high";
  bad["verdict"] = "Water at a leak probe";
  EXPECT_THAT(run("beat", kTen, bad.dump()), HasSubstr("box-room: Water at a leak probe"));
  EXPECT_EQ(run("beat", kTen + 600, bad.dump()), "") << "each alarm once";
}

TEST_F(Watcher, ABeatIsRefusedWhereNobodyChecks) {
  run("check", kTen);
  run("beat", kTen + 600, beat().dump());
  EXPECT_EQ(code_, 0);
  EXPECT_THAT(run("beat", kTen + 3600, beat().dump()), HasSubstr("nobody checks here since 10:10"));
  EXPECT_EQ(code_, 3) << "the tent's own machine hears of it";
}

TEST_F(Watcher, WhatIsNoHeartbeatIsRefusedWithARemedy) {
  for (const std::string& text : {std::string("{"), std::string("[1]"), std::string("{\"neap\":1}"),
                                  std::string(70'000, 'x')}) {
    EXPECT_THAT(run("beat", kTen, text), HasSubstr("neap-watch: "));
    EXPECT_EQ(code_, 2);
  }
}

TEST_F(Watcher, ATentsNameReachesNoOtherFolder) {
  json evil = beat();
  evil["tent"] = "../../etc/x";
  run("beat", kTen, evil.dump());
  EXPECT_EQ(code_, 0);
  EXPECT_TRUE(std::filesystem::exists(folder_ / "state" / "_.._etc_x.json"));
}

TEST_F(Watcher, AClockSetBackRingsNoFalseAlarmAndNoneTooLate) {
  run("beat", kTen, beat().dump());
  EXPECT_EQ(run("check", kTen - 3600), "");
  EXPECT_THAT(run("check", kTen - 3600 + 1501), HasSubstr("not heard since 09:10"));
}

}  // namespace
}  // namespace neap
