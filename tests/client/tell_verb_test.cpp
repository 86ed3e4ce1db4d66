// Goal: `neap tell` shows what was told and what waits, and tries each way, on a terminal and on a
// telephone.
#include "tests/client/teller_bench.h"

namespace neap::client {
namespace {

using ::testing::HasSubstr;
using testing::kMinute;
using testing::TellerTest;

class TellVerb : public TellerTest {
 protected:
  testing::Said tell(std::vector<std::string> words) {
    words.insert(words.begin(), "tell");
    words.insert(words.end(), {"--settings", globals_.settings, "--tell-dir", globals_.tell_dir});
    return testing::neap(words, {}, false, {}, [this] { return now_.unix_ms; });
  }
  static void fits(const std::string& text, std::size_t width) {
    std::istringstream lines(text);
    for (std::string line; std::getline(lines, line);) EXPECT_LE(columns(line), width) << line;
  }
};

TEST_F(TellVerb, ListsWhatWasToldAndWhatWaits) {
  see_it_write();
  pass(kMinute);
  raise(Alarm::reservoir_low);
  look();
  pass(kMinute);
  why_ = "exit code 6: could not resolve the name of the machine that the mail should go to";
  raise(Alarm::leak);
  look();
  const auto said = tell({});
  EXPECT_EQ(said.code, kExitRefused) << "a way that fails is a finding";
  EXPECT_THAT(said.out, HasSubstr("mail"));
  EXPECT_THAT(said.out, HasSubstr("fails since 06-01 14:02, once: exit code 6"));
  EXPECT_THAT(said.out, HasSubstr("Waits\n  mail  Water at a leak probe"));
  EXPECT_THAT(said.out, HasSubstr("06-01 14:01  mail: Reservoir low"));
  fits(said.out, kPageWidth);
  const auto narrow = tell({"--narrow"});
  EXPECT_THAT(narrow.out, HasSubstr("watcher  told 06-01 14:00; works"));
  fits(narrow.out, kPhoneWidth);
}

TEST_F(TellVerb, BeforeAnythingWasToldItSaysWhatToStart) {
  const auto said = tell({});
  EXPECT_EQ(said.code, kExitFailed);
  EXPECT_THAT(said.err, HasSubstr("nothing was told yet"));
  EXPECT_THAT(said.err, HasSubstr("neap tell run"));
}

TEST_F(TellVerb, ATrialStartsEveryHookAndSaysWhatEachDid) {
  settings(R"(telling:
  hooks:
    - {name: good, command: [/bin/echo, sent by road]}
    - {name: bad, command: [/bin/false], tells: heartbeat}
    - {name: gone, command: [/nowhere/hook]}
)");
  const auto said = tell({"try"});
  EXPECT_EQ(said.code, kExitRefused);
  EXPECT_THAT(said.out, HasSubstr("good  done: sent by road"));
  EXPECT_THAT(said.out, HasSubstr("bad   exit code 1"));
  EXPECT_THAT(said.out, HasSubstr("gone  No such file or directory"));
  fits(said.out, kPageWidth);
}

TEST_F(TellVerb, AnotherWordIsRefusedWithThoseThatThereAre) {
  const auto said = tell({"shout"});
  EXPECT_EQ(said.code, kExitUsage);
  EXPECT_THAT(said.err, HasSubstr("ACTION is \"shout\"; must be try or run"));
}

}  // namespace
}  // namespace neap::client
