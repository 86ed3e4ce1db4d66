#include "tests/drivers/program_fixture.h"

namespace neap::drivers {
namespace {

class ProgramOutputTest : public test::ProgramFixture {
 protected:
  void SetUp() override {
    test::ProgramFixture::SetUp();
    folder_.write("line", "0");
  }
  std::unique_ptr<OutputDriver> open(const std::string& mode, Output output,
                                     int answer_within_ms = 5000) {
    return kProgramOutput.make(params("relay.py", mode, answer_within_ms), output, context_);
  }
  std::string line() const { return folder_.read("line"); }
};

TEST_F(ProgramOutputTest, DrivesAndReadsBack) {
  const auto fan = open("good", Output::exhaust_fan);
  for (const int level : {1000, 420, 0, 1000}) {
    EXPECT_EQ(fan->write(Permille{level}), Fault::none);
    EXPECT_EQ(line(), std::to_string(level));
    EXPECT_EQ(fan->read_back(), Permille{level});
  }
  EXPECT_EQ(starts(), 1u);
  EXPECT_EQ(folder_.read("outputs"), "exhaust_fan\n");
}

TEST_F(ProgramOutputTest, ReadBackTellsTheLineNotTheWish) {
  const auto fan = open("good", Output::exhaust_fan);
  EXPECT_EQ(fan->write(kRunning), Fault::none);
  folder_.write("line", "300");
  EXPECT_EQ(fan->read_back(), Permille{300});
}

TEST_F(ProgramOutputTest, StartsNothingToReadBack) {
  EXPECT_FALSE(open("good", Output::exhaust_fan)->read_back());
  EXPECT_EQ(starts(), 0u);
}

TEST_F(ProgramOutputTest, TheLineGoesSafeWhenTheDriverEnds) {
  auto pump = open("good", Output::pump);
  EXPECT_EQ(pump->write(kRunning), Fault::none);
  EXPECT_EQ(line(), "1000");
  pump.reset();
  EXPECT_EQ(line(), "0");
  expect_death();
}

TEST_F(ProgramOutputTest, APumpProgramProvesInAFirstRunThatItIsSafeOnEndOfInput) {
  const auto pump = open("good", Output::pump);
  EXPECT_EQ(pump->write(kStopped), Fault::none);
  EXPECT_EQ(starts(), 2u) << "the proof and the work";
  EXPECT_EQ(pump->write(kRunning), Fault::none);
  EXPECT_EQ(starts(), 2u) << "proven once";
}

TEST_F(ProgramOutputTest, NoPumpForAProgramThatDoesNotDeclareItselfSafeOnEndOfInput) {
  EXPECT_EQ(open("undeclared", Output::pump)->write(kRunning), Fault::no_answer);
  EXPECT_EQ(line(), "0");
}

TEST_F(ProgramOutputTest, NoPumpForAProgramThatDeclaresButOutlivesItsInput) {
  EXPECT_EQ(open("ignores_eof", Output::pump, 2000)->write(kRunning), Fault::no_answer);
  EXPECT_EQ(line(), "0");
  expect_death();
}

TEST_F(ProgramOutputTest, NoPumpForAProgramThatDoesNotSayWhatItDidAtTheEnd) {
  EXPECT_EQ(open("silent_at_eof", Output::pump)->write(kRunning), Fault::no_answer);
  EXPECT_EQ(line(), "0");
}

TEST_F(ProgramOutputTest, NoPumpForAProgramThatRunsOnAtTheEnd) {
  EXPECT_EQ(open("runs_on", Output::pump)->write(kRunning), Fault::no_answer);
  EXPECT_EQ(line(), "0");
}

TEST_F(ProgramOutputTest, AFanMayStandBehindAProgramThatProvesNothing) {
  EXPECT_EQ(open("silent_at_eof", Output::exhaust_fan)->write(kRunning), Fault::none);
  EXPECT_EQ(line(), "1000");
}

TEST_F(ProgramOutputTest, BelievesNoProgramThatDidNotDoWhatWasAsked) {
  const auto fan = open("stuck", Output::circulation_fan);
  EXPECT_EQ(fan->write(kStopped), Fault::none);
  EXPECT_EQ(fan->write(kRunning), Fault::corrupt);
  expect_death();
}

TEST_F(ProgramOutputTest, TakesTheNearestStepBetweenTheEnds) {
  const auto fan = open("steps", Output::exhaust_fan);
  EXPECT_EQ(fan->write(Permille{420}), Fault::none);
  EXPECT_EQ(fan->read_back(), Permille{400});
}

TEST_F(ProgramOutputTest, AProgramThatCannotIsNoAnswer) {
  EXPECT_EQ(open("cannot", Output::light)->write(kRunning), Fault::no_answer);
  expect_death();
}

TEST_F(ProgramOutputTest, GarbageIsCorruptAndEndsTheProgram) {
  EXPECT_EQ(open("garbage", Output::light)->write(kRunning), Fault::corrupt);
  expect_death();
}

TEST_F(ProgramOutputTest, AFloodOfLinesIsCorruptWhateverComesAfterIt) {
  EXPECT_EQ(open("flood", Output::light)->write(kRunning), Fault::corrupt);
  expect_death();
}

TEST_F(ProgramOutputTest, ALevelBeyondFullIsCorrupt) {
  EXPECT_EQ(open("wild", Output::light)->write(kRunning), Fault::corrupt);
}

// The pump was told to run and the program fell silent: closing its input is the one message left.
TEST_F(ProgramOutputTest, APumpWhoseProgramFallsSilentIsStoppedByTheEndOfItsInput) {
  const auto pump = open("mute", Output::pump, 2000);
  EXPECT_EQ(pump->write(kRunning), Fault::no_answer);
  EXPECT_EQ(line(), "0");
  expect_death();
}

TEST_F(ProgramOutputTest, StartsAnEndedProgramAnewAtTheNextWrite) {
  const auto fan = open("stuck", Output::exhaust_fan);
  EXPECT_EQ(fan->write(kRunning), Fault::corrupt);
  EXPECT_EQ(fan->write(kStopped), Fault::none);
  EXPECT_EQ(starts(), 2u);
}

TEST_F(ProgramOutputTest, SaysNoAnswerWhereTheProgramIsNotThere) {
  Params given;
  given.set_words("command", {"/nonexistent/relay"});
  EXPECT_EQ(kProgramOutput.make(given, Output::light, context_)->write(kRunning), Fault::no_answer);
  EXPECT_EQ(kProgramOutput.make(Params{}, Output::pump, context_)->write(kRunning),
            Fault::no_answer);
}

}  // namespace
}  // namespace neap::drivers
