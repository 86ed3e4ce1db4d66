// Goal: `neap simulate` runs the daemon with the right words and tells how it ended. Method: small
// shell scripts in the daemon's place; the real one runs in tests/scenarios.
#include <sys/stat.h>

#include <fstream>

#include "daemon/client/process.h"
#include "tests/client/support.h"
#include "tests/places.h"

namespace neap::client {
namespace {

using ::testing::AllOf;
using ::testing::ElementsAre;
using ::testing::HasSubstr;
using testing::Said;

const std::string kDemo = places::in_project("config/demo.yaml");

std::string script(const testing::Directory& directory, const std::string& body) {
  const std::string path = directory.file("neapd");
  std::ofstream(path) << "#!/bin/sh\n" << body;
  ::chmod(path.c_str(), 0755);
  return path;
}

TEST(Process, HandsOverBothStreamsLineByLineAndTheExitCode) {
  testing::Directory directory;
  std::vector<std::string> out;
  std::vector<std::string> err;
  const Outcome outcome = run_program(
      {script(directory, "echo one; echo \"$1\"; echo bad >&2; printf last; exit 7\n"), "a b;c"},
      [&](std::string_view line) { out.emplace_back(line); },
      [&](std::string_view line) { err.emplace_back(line); });
  EXPECT_EQ(outcome.code, 7);
  EXPECT_EQ(outcome.signal, 0);
  EXPECT_THAT(out, ElementsAre("one", "a b;c", "last"));
  EXPECT_THAT(err, ElementsAre("bad"));
}

TEST(Process, ASignalIsToldApartFromAnExitCode) {
  testing::Directory directory;
  const auto ignore = [](std::string_view) {};
  const Outcome outcome = run_program({script(directory, "kill -9 $$\n")}, ignore, ignore);
  EXPECT_EQ(outcome.signal, 9);
}

TEST(Process, WhatCannotBeRunIsAFailure) {
  const auto ignore = [](std::string_view) {};
  EXPECT_THROW(run_program({"/nowhere/neapd"}, ignore, ignore), Failure);
}

TEST(Simulate, StartsTheDaemonOnItsVirtualClockAtTheFirstLightsOn) {
  testing::Directory directory;
  const std::string daemon =
      script(directory, "echo \"$@\" > " + directory.file("words") + "; cp \"$2\" " +
                            directory.file("settings") + "; exit 3\n");
  const Said said = testing::neap(
      {"simulate", kDemo, "--days", "3", "--seed", "99", "--confirm-stages"}, {{"NEAPD", daemon}});
  EXPECT_EQ(said.code, kExitFailed);
  EXPECT_THAT(said.err, HasSubstr("neapd ended with exit code 3"));
  std::ifstream in(directory.file("words"));
  const std::string words{std::istreambuf_iterator<char>(in), {}};
  EXPECT_THAT(words, AllOf(HasSubstr("--virtual --until 3d --from 2026-03-02T06:00"),
                           HasSubstr("--confirm-stages"), HasSubstr("--progress"),
                           HasSubstr("--relative-to " + places::in_project("config "))));
  std::ifstream settings(directory.file("settings"));
  const std::string text{std::istreambuf_iterator<char>(settings), {}};
  EXPECT_THAT(text, AllOf(HasSubstr("\n  seed: 99\n"), ::testing::Not(HasSubstr("seed: 7"))));
}

TEST(Simulate, TheDaemonsLogReachesThePersonAndItsProgressDoesNot) {
  testing::Directory directory;
  const std::string daemon = script(
      directory, "echo '{\"progress\":0.5,\"tick\":1}' >&2; echo 'error: \033[1mx' >&2; exit 1\n");
  const Said said = testing::neap({"simulate", kDemo}, {{"NEAPD", daemon}});
  EXPECT_THAT(said.err,
              AllOf(HasSubstr("error: \\x1b[1mx\n"), ::testing::Not(HasSubstr("progress"))));
}

TEST(Simulate, WrongSettingsAreToldBeforeAnythingRuns) {
  testing::Directory directory;
  std::ofstream(directory.file("bad.yaml")) << "neap: 1\n";
  const Said said =
      testing::neap({"simulate", directory.file("bad.yaml")}, {{"NEAPD", "/nowhere/neapd"}});
  EXPECT_EQ(said.code, kExitRefused);
  EXPECT_THAT(said.err, HasSubstr("bad.yaml"));
}

TEST(Simulate, AJournalThatExistsIsNotWrittenInto) {
  testing::Directory directory;
  std::ofstream(directory.file("j.db")) << "x";
  const Said said = testing::neap({"simulate", kDemo, "--journal", directory.file("j.db")},
                                  {{"NEAPD", "/nowhere/neapd"}});
  EXPECT_EQ(said.code, kExitUsage);
  EXPECT_THAT(said.err, HasSubstr("which exists already"));
}

TEST(Simulate, APictureThatCouldNotBeWrittenIsRefusedBeforeTheRun) {
  const std::map<std::string, std::string> no_daemon{{"NEAPD", "/nowhere/neapd"}};
  const Said ending = testing::neap({"simulate", kDemo, "--svg", "/tmp/day.png"}, no_daemon);
  EXPECT_EQ(ending.code, kExitUsage);
  EXPECT_THAT(ending.err, HasSubstr("--svg is /tmp/day.png, which does not end in .svg"));
  const Said folder = testing::neap({"simulate", kDemo, "--svg", "/nowhere/day.svg"}, no_daemon);
  EXPECT_EQ(folder.code, kExitUsage);
  EXPECT_THAT(folder.err, HasSubstr("there is no folder /nowhere"));
}

TEST(Simulate, AnotherLawIsPutIntoTheSettingsThatRun) {
  testing::Directory directory;
  const std::string daemon =
      script(directory, "cp \"$2\" " + directory.file("settings") + "; exit 3\n");
  testing::neap({"simulate", kDemo, "--law", "predictive"}, {{"NEAPD", daemon}});
  std::ifstream settings(directory.file("settings"));
  const std::string text{std::istreambuf_iterator<char>(settings), {}};
  EXPECT_THAT(text, HasSubstr("\n  law: predictive\n"));
}

TEST(Simulate, ALawThatIsNoneIsToldWithTheNearest) {
  const Said said =
      testing::neap({"simulate", kDemo, "--law", "predictiv"}, {{"NEAPD", "/nowhere/neapd"}});
  EXPECT_EQ(said.code, kExitUsage);
  EXPECT_THAT(said.err, AllOf(HasSubstr("--law is predictiv, which is no climate law"),
                              HasSubstr("did you mean \"predictive\"?")));
}

}  // namespace
}  // namespace neap::client
