// Goal: anyone's model of a tent can be put behind neap: the real neapd runs a day on plant.py,
// which shares no equation and no figure with the simulated tent, and a plant that fails ends the
// run with its reason. Method: neapd --virtual as a program, its journal read afterwards.
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <sys/stat.h>
#include <sys/wait.h>

#include <cstdio>
#include <fstream>
#include <memory>
#include <string>

#include "daemon/journal/reader.h"
#include "daemon/settings/settings.h"
#include "daemon/shell/files.h"
#include "daemon/shell/options.h"
#include "tests/places.h"
#include "tests/shell/support.h"

namespace neap::shell {
namespace {

using ::testing::AllOf;
using ::testing::HasSubstr;

const std::string kFolder = places::in_project("tests/shell/plant/");

void replace_all(std::string& text, const std::string& what, const std::string& with) {
  for (std::size_t i = text.find(what); i != std::string::npos;
       i = text.find(what, i + with.size()))
    text.replace(i, what.size(), with);
}

std::string settings_text(const std::string& law, const std::string& misbehaviour, int within_ms) {
  std::string text = *read_file(kFolder + "plant.yaml", 64 * 1024);
  const std::string words = "{command: [/usr/bin/python3, " + kFolder + "plant.py" + misbehaviour +
                            "], lockstep: true, answer_within_ms: " + std::to_string(within_ms);
  replace_all(text, "PLANT_PART", words + ", part:");
  replace_all(text, "PLANT", words + "}");
  replace_all(text, "LAW", law);
  return text;
}

class LockstepTest : public testing::Test {
 protected:
  struct Run {
    int code = 0;
    std::string said;
  };
  // Both streams as one text.
  Run neapd(const std::string& settings, const std::string& how) {
    std::ofstream(dir_ / "settings.yaml") << settings;
    const std::string state = dir_ / ("state" + std::to_string(++runs_));
    ::mkdir(state.c_str(), 0750);
    journal_ = state + "/journal.db";
    const std::string command = places::in_build("neapd --settings ") + (dir_ / "settings.yaml") +
                                " --state-dir " + state + " --journal " + journal_ +
                                " --log-level error " + how + " 2>&1";
    FILE* const pipe = ::popen(command.c_str(), "r");
    Run run;
    char buffer[4096];
    while (std::fgets(buffer, sizeof buffer, pipe) != nullptr) run.said += buffer;
    const int status = ::pclose(pipe);
    run.code = WIFEXITED(status) ? WEXITSTATUS(status) : -1;
    return run;
  }
  Run day(const std::string& law, const std::string& misbehaviour = "", int within_ms = 5000) {
    return neapd(settings_text(law, misbehaviour, within_ms),
                 "--virtual --from 2026-03-02T05:59 --until 1446min");
  }
  std::unique_ptr<journal::Reader> reader() const {
    std::string error;
    auto opened = journal::Reader::open(journal_, error);
    EXPECT_TRUE(opened) << error;
    return opened;
  }

  TempDir dir_;
  std::string journal_;
  int runs_ = 0;
};

TEST_F(LockstepTest, ADayOnAPlantThatIsNotOursIsMostlyInBandAndFloodsAsPlanned) {
  const Run run = day("two_position");
  ASSERT_EQ(run.code, kExitDone) << run.said;
  const auto opened = reader();
  const auto cycles = opened->cycles({});
  ASSERT_EQ(cycles.size(), 3u);
  for (const journal::CycleEntry& cycle : cycles)
    EXPECT_EQ(cycle.row.outcome, FloodOutcome::complete);
  const auto days = opened->days({});
  ASSERT_FALSE(days.empty());
  const DayTally& tally = days.back().tally;
  const double known = static_cast<double>((tally.day_known + tally.night_known).count());
  const double inside = static_cast<double>((tally.day_in_band + tally.night_in_band).count());
  EXPECT_GT(known, 23.0 * 3'600'000);
  EXPECT_GT(inside / known, 0.85);
  EXPECT_LT(inside / known, 1.0) << "no plant with floods and lights is always in band";
}

TEST_F(LockstepTest, TheSameDayTwiceIsTheSameDay) {
  const std::string hours = "--virtual --trace-hash --from 2026-03-02T05:59 --until 6h";
  const Run once = neapd(settings_text("predictive", "", 5000), hours);
  const Run again = neapd(settings_text("predictive", "", 5000), hours);
  ASSERT_EQ(once.code, kExitDone) << once.said;
  EXPECT_EQ(once.said.size(), 17u) << once.said;  // 16 digits and the end of the line
  EXPECT_EQ(once.said, again.said);
  const Run other = neapd(settings_text("two_position", "", 5000), hours);
  EXPECT_NE(once.said, other.said) << "another law drives this plant otherwise";
}

struct Misbehaviour {
  const char* how;
  const char* said;
  int within_ms;
};

class LockstepFails : public LockstepTest, public testing::WithParamInterface<Misbehaviour> {};

TEST_P(LockstepFails, EndTheRunWithTheReasonAndTheRequest) {
  const Run run =
      day("two_position", std::string(", ") + GetParam().how + ", \"3600\"", GetParam().within_ms);
  EXPECT_EQ(run.code, kExitFailure);
  EXPECT_THAT(run.said, AllOf(HasSubstr("the plant in lockstep, /usr/bin/python3 "),
                              HasSubstr(GetParam().said), HasSubstr(R"("op":"read","part":")"),
                              HasSubstr("schema/program-driver.md")));
  const auto opened = reader();
  const std::int64_t ran = *opened->last_tick() - *opened->first_tick();
  EXPECT_GE(ran, 3'590'000) << "an hour was sound";
  EXPECT_LE(ran, 3'700'000) << "and the run ended there";
}

INSTANTIATE_TEST_SUITE_P(
    Plants, LockstepFails,
    testing::Values(Misbehaviour{"die", "the program has ended", 5000},
                    Misbehaviour{"late", "no answer within 400 ms of real time", 400},
                    Misbehaviour{"garbage", "a line that is no answer: warm and damp", 5000},
                    Misbehaviour{"sequence", "an answer out of sequence: ", 5000},
                    Misbehaviour{"mute", "an answer without values", 5000}),
    [](const auto& row) { return std::string(row.param.how); });

TEST_F(LockstepTest, APlantThatIsNotThereIsSaid) {
  std::string text = settings_text("two_position", "", 5000);
  replace_all(text, "/usr/bin/python3", "/nowhere/python3");
  const Run run = neapd(text, "--virtual --from 2026-03-02T05:59 --until 1h");
  EXPECT_EQ(run.code, kExitFailure);
  EXPECT_THAT(run.said, HasSubstr("the program cannot be started"));
}

TEST_F(LockstepTest, ALiveRunRefusesIt) {
  const Run run = neapd(settings_text("two_position", "", 5000), "--socket " + (dir_ / "s"));
  EXPECT_EQ(run.code, kExitSettings);
  EXPECT_THAT(run.said, AllOf(HasSubstr("sensors.canopy is in lockstep; time does not wait for a "
                                        "program when neapd runs live"),
                              HasSubstr("neap simulate")));
}

TEST_F(LockstepTest, SettingsSayWhatBelongsTogether) {
  std::string text = settings_text("two_position", "", 5000);
  replace_all(text, ", part: canopy", "");
  const auto without = settings::load_text(text);
  ASSERT_FALSE(without.problems.empty());
  EXPECT_THAT(without.problems[0].message, HasSubstr("lockstep is true without a part"));
}

}  // namespace
}  // namespace neap::shell
