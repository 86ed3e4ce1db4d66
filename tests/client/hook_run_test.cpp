// Goal: a hook that hangs, fails, floods, lingers or is not there holds nothing up and leaves
// nothing behind; what it gets is what was told, and little else. Method: real programs.
#include "daemon/client/hook_run.h"

#include <signal.h>
#include <sys/stat.h>

#include <chrono>
#include <fstream>

#include "tests/client/support.h"

namespace neap::client {
namespace {

using testing::Directory;
using ::testing::HasSubstr;
using ::testing::Not;

class HookRun : public ::testing::Test {
 protected:
  std::string program(const std::string& lines, mode_t mode = 0755) {
    const std::string path = folder_.file("hook" + std::to_string(++count_));
    std::ofstream(path) << "#!/bin/sh\n" << lines << "\n";
    ::chmod(path.c_str(), mode);
    return path;
  }
  std::string file(const std::string& name) const { return folder_.file(name); }
  // A process that was killed dies when the kernel comes to it.
  static bool ends(const std::string& pid) {
    const auto until = std::chrono::steady_clock::now() + seconds{20};
    while (std::chrono::steady_clock::now() < until) {
      const std::string status = content("/proc/" + std::to_string(std::stoi(pid)) + "/stat");
      if (status.empty() || status.find(") Z ") != std::string::npos) return true;
    }
    return false;
  }
  static std::string content(const std::string& path) {
    std::ifstream in(path);
    return {std::istreambuf_iterator<char>(in), {}};
  }

 private:
  Directory folder_;
  int count_ = 0;
};

TEST_F(HookRun, WhatIsToldComesOnStandardInputAndTheWordsAsTheyStand) {
  const std::string got = file("got");
  const HookEnd end =
      run_hook({program("cat > \"$1\"; echo \"$2\" >> \"$1\""), got, "$(id); `id` *"},
               "{\"neap\":1}\n", seconds{5});
  EXPECT_TRUE(end.done) << end.why;
  EXPECT_EQ(content(got), "{\"neap\":1}\n$(id); `id` *\n") << "no shell looks at them";
}

TEST_F(HookRun, ItsEnvironmentIsAPathAndALanguageAndNothingElseIsOpen) {
  ::setenv("NEAP_TEST_SECRET", "s3cret", 1);
  const std::string got = file("got");
  const int open = ::dup(1);  // without CLOEXEC: a library might have left one like it
  const HookEnd end =
      run_hook({program("env > \"$1\"; ls /proc/self/fd >> \"$1\""), got}, "", seconds{5});
  ::close(open);
  EXPECT_TRUE(end.done) << end.why;
  EXPECT_THAT(content(got), HasSubstr("PATH="));
  EXPECT_THAT(content(got), Not(HasSubstr("s3cret")));
  EXPECT_THAT(content(got), HasSubstr("0\n1\n2\n"));
  EXPECT_THAT(content(got), Not(HasSubstr("\n" + std::to_string(open) + "\n4\n")));
  EXPECT_THAT(content(got), Not(HasSubstr("\n5\n")));
}

TEST_F(HookRun, OneThatFailsIsToldWithItsFirstLine) {
  const HookEnd end =
      run_hook({program("echo 'no route to host' >&2; echo more; exit 7")}, "x", seconds{5});
  EXPECT_FALSE(end.done);
  EXPECT_EQ(end.why, "exit code 7: no route to host");
}

TEST_F(HookRun, OneThatDiesByASignalIsToldSo) {
  const HookEnd end = run_hook({program("kill -SEGV $$")}, "x", seconds{5});
  EXPECT_FALSE(end.done);
  EXPECT_THAT(end.why, HasSubstr("ended by signal Segmentation fault"));
}

TEST_F(HookRun, OneThatHangsIsKilledAtItsLimitWithAllThatItStarted) {
  const std::string child = file("child");
  const auto began = std::chrono::steady_clock::now();
  const HookEnd end = run_hook({program("sleep 300 & echo $! > \"$1\"; trap '' TERM; wait"), child},
                               "x", Millis{400});
  EXPECT_LT(std::chrono::steady_clock::now() - began, seconds{30});
  EXPECT_FALSE(end.done);
  EXPECT_THAT(end.why, HasSubstr("no end within"));
  EXPECT_TRUE(ends(content(child)));
}

TEST_F(HookRun, WhatItLeavesBehindIsEndedAndHoldsNothingUp) {
  const std::string child = file("child");
  const auto began = std::chrono::steady_clock::now();
  const HookEnd end =
      run_hook({program("sleep 300 & echo $! > \"$1\"; echo sent"), child}, "x", seconds{60});
  EXPECT_LT(std::chrono::steady_clock::now() - began, seconds{30}) << "its output is still open";
  EXPECT_TRUE(end.done) << end.why;
  EXPECT_EQ(end.last_word, "sent");
  EXPECT_TRUE(ends(content(child)));
}

TEST_F(HookRun, OneThatWritesWithoutEndIsReadUpToItsLimitAndKeptToALine) {
  const HookEnd end = run_hook({program("exec tr '\\0' x < /dev/zero")}, "x", Millis{300});
  EXPECT_FALSE(end.done);
  EXPECT_THAT(end.why, HasSubstr("so it was killed"));
  EXPECT_LE(end.last_word.size(), 160U);
}

TEST_F(HookRun, OneThatReadsNothingIsNoTrouble) {
  const HookEnd end =
      run_hook({program("exec 0<&-; exit 0")}, std::string(1 << 20, 'x'), seconds{5});
  EXPECT_TRUE(end.done) << end.why;
}

TEST_F(HookRun, AMillionBytesArriveWhole) {
  const std::string got = file("got");
  const HookEnd end =
      run_hook({program("wc -c > \"$1\""), got}, std::string(1'000'000, 'x'), seconds{20});
  EXPECT_TRUE(end.done) << end.why;
  EXPECT_EQ(std::atoi(content(got).c_str()), 1'000'000);
}

TEST_F(HookRun, OneThatIsNotThereOrNotSafeIsNotStarted) {
  EXPECT_EQ(run_hook({"/nowhere/hook"}, "x", seconds{5}).why, "No such file or directory");
  EXPECT_EQ(run_hook({"/tmp"}, "x", seconds{5}).why, "it is no regular file");
  EXPECT_EQ(run_hook({program("exit 0", 0644)}, "x", seconds{5}).why,
            "cannot be started: Permission denied");
  EXPECT_THAT(run_hook({program("exit 0", 0777)}, "x", seconds{5}).why,
              HasSubstr("every user of this machine may write it: chmod o-w "));
}

TEST_F(HookRun, ControlCharactersOfItsLineReachNoTerminal) {
  const HookEnd end = run_hook({program("printf '\\033[2Jgone\\n'; exit 1")}, "x", seconds{5});
  EXPECT_THAT(end.why, Not(HasSubstr("\033")));
  EXPECT_THAT(end.why, HasSubstr("gone"));
}

}  // namespace
}  // namespace neap::client
