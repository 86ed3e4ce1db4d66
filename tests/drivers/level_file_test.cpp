#include "drivers/outputs/level_file.h"

#include <gtest/gtest.h>
#include <sys/stat.h>

#include "tests/drivers/temporary_folder.h"

namespace neap::drivers {
namespace {

namespace fs = std::filesystem;

class LevelFileTest : public testing::Test {
 protected:
  Params params(std::initializer_list<std::pair<const char*, const char*>> more = {}) const {
    Params given;
    given.set("path", (folder_ / "line").string());
    for (const auto& [name, value] : more) given.set(name, value);
    return given;
  }
  std::unique_ptr<OutputDriver> open(const Params& given) {
    Context context;
    context.sysfs_root = folder_.path().string();
    return kLevelFile.make(given, Output::exhaust_fan, context);
  }
  std::string line() const { return folder_.read("line"); }

  test::TemporaryFolder folder_;
};

TEST_F(LevelFileTest, WritesOneAndZeroByDefault) {
  folder_.write("line", "0\n");
  const auto output = open(params());
  EXPECT_EQ(output->write(kRunning), Fault::none);
  EXPECT_EQ(line(), "1\n");
  EXPECT_EQ(output->write(kStopped), Fault::none);
  EXPECT_EQ(line(), "0\n");
}

TEST_F(LevelFileTest, LeavesNothingOfALongerNumberBehind) {
  folder_.write("line", "65535\n");
  EXPECT_EQ(open(params())->write(kStopped), Fault::none);
  EXPECT_EQ(line(), "0\n");
}

TEST_F(LevelFileTest, NeverCreatesTheFile) {
  EXPECT_EQ(open(params())->write(kRunning), Fault::absent);
  EXPECT_FALSE(fs::exists(folder_ / "line"));
  EXPECT_FALSE(open(params())->read_back());
}

TEST_F(LevelFileTest, SaysNoAnswerWhereTheFileMayNotBeWritten) {
  fs::create_directory(folder_ / "line");
  EXPECT_EQ(open(params())->write(kRunning), Fault::no_answer);
}

TEST_F(LevelFileTest, IsNotHeldUpByAPipeThatNobodyReads) {
  ASSERT_EQ(::mkfifo((folder_ / "line").c_str(), 0600), 0);
  EXPECT_EQ(open(params())->write(kRunning), Fault::no_answer);
  EXPECT_FALSE(open(params())->read_back());
}

TEST_F(LevelFileTest, ScalesAVariableOutputLinearly) {
  folder_.write("line", "0\n");
  const auto output = open(params({{"running", "255"}, {"variable", "true"}}));
  EXPECT_EQ(output->write(Permille{500}), Fault::none);
  EXPECT_EQ(line(), "128\n");  // 127.5, rounded away from zero
  EXPECT_EQ(output->write(kRunning), Fault::none);
  EXPECT_EQ(line(), "255\n");
}

TEST_F(LevelFileTest, InvertsByExchangingTheTwoNumbers) {
  folder_.write("line", "0\n");
  const auto output = open(params({{"running", "0"}, {"stopped", "40000"}, {"variable", "true"}}));
  EXPECT_EQ(output->write(kStopped), Fault::none);
  EXPECT_EQ(line(), "40000\n");
  EXPECT_EQ(output->write(Permille{250}), Fault::none);
  EXPECT_EQ(line(), "30000\n");
  EXPECT_EQ(output->read_back(), Permille{250});
}

TEST_F(LevelFileTest, ReadsBackEveryLevelThatItWrote) {
  folder_.write("line", "0\n");
  const auto output = open(params({{"running", "40000"}, {"variable", "true"}}));
  for (int level = 0; level <= 1000; level += 8) {
    ASSERT_EQ(output->write(Permille{level}), Fault::none);
    ASSERT_EQ(output->read_back(), Permille{level});
  }
}

TEST_F(LevelFileTest, RefusesALevelBetweenWhereOnlyTwoExist) {
  folder_.write("line", "0\n");
  EXPECT_EQ(open(params())->write(Permille{500}), Fault::out_of_range);
  EXPECT_EQ(line(), "0\n");
}

TEST_F(LevelFileTest, RefusesALevelBeyondFull) {
  folder_.write("line", "0\n");
  const auto output = open(params({{"variable", "true"}}));
  EXPECT_EQ(output->write(Permille{1001}), Fault::out_of_range);
  EXPECT_EQ(output->write(Permille{-1}), Fault::out_of_range);
  EXPECT_EQ(line(), "0\n");
}

TEST_F(LevelFileTest, DoesNotReadALevelOutOfANumberThatIsNone) {
  const auto relay = open(params());
  const auto fan = open(params({{"running", "255"}, {"variable", "true"}}));
  for (const char* text : {"", "\n", "x\n", "256\n", "-1\n", "1 1\n"}) {
    folder_.write("line", text);
    EXPECT_FALSE(relay->read_back()) << text;
    EXPECT_FALSE(fan->read_back()) << text;
  }
}

TEST_F(LevelFileTest, TakesARelativePathUnderTheSysfsRoot) {
  folder_.write("class/leds/pump/brightness", "0\n");
  Params given;
  given.set("path", "class/leds/pump/brightness");
  EXPECT_EQ(open(given)->write(kRunning), Fault::none);
  EXPECT_EQ(folder_.read("class/leds/pump/brightness"), "1\n");
}

TEST_F(LevelFileTest, SeesOneResourceBehindTwoNames) {
  folder_.write("line", "0\n");
  fs::create_symlink(folder_ / "line", folder_ / "alias");
  Params alias;
  alias.set("path", (folder_ / "./alias").string());
  EXPECT_EQ(kLevelFile.resource(alias, Output::pump), kLevelFile.resource(params(), Output::light));
  Params relative;
  relative.set("path", "class/leds/pump/brightness");
  Params absolute;
  absolute.set("path", "/sys/class/leds/pump/brightness");
  EXPECT_EQ(kLevelFile.resource(relative, Output::pump),
            kLevelFile.resource(absolute, Output::pump));
}

TEST_F(LevelFileTest, CheckRefusesTwoEqualNumbers) {
  EXPECT_EQ(kLevelFile.check(params()), "");
  EXPECT_EQ(kLevelFile.check(params({{"stopped", "1"}})),
            "running and stopped are both 1; they must differ, or the output cannot be told to do "
            "anything");
}

}  // namespace
}  // namespace neap::drivers
