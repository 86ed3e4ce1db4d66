// What people start from must be true: the example sensor works as it stands, and every line that
// schema/program-driver.md shows is a line that neap says or understands.
#include <gtest/gtest.h>
#include <unistd.h>

#include <fstream>

#include "drivers/program/messages.h"
#include "drivers/program/process.h"
#include "tests/drivers/temporary_folder.h"
#include "tests/places.h"

namespace neap::drivers::program {
namespace {

constexpr const char* kPython = "/usr/bin/python3";
constexpr Millis kGenerous{60000};

// The next line of the program, or nothing when it ended or stayed silent.
std::optional<std::string> wait_for_line(Process& process) {
  for (auto stream = Process::Stream::open; stream == Process::Stream::open;) {
    process.wait(kGenerous);
    stream = process.take_in();
    if (auto line = process.next_line()) return line;
  }
  return std::nullopt;
}

class RoomSensor : public testing::Test {
 protected:
  void SetUp() override {
    if (::access(kPython, X_OK) != 0) GTEST_SKIP() << "python3 is not at " << kPython;
  }
  std::optional<Process> start(const std::vector<std::string>& arguments = {}) const {
    std::vector<std::string> command{kPython, "-B",
                                     places::in_project("tests/drivers/programs/room_sensor.py")};
    command.insert(command.end(), arguments.begin(), arguments.end());
    return Process::start(command);
  }
  static Answer ask(Process& process, const std::string& request) {
    EXPECT_TRUE(process.send(request));
    const auto line = wait_for_line(process);
    const auto answer = line ? parse_answer(*line) : std::nullopt;
    EXPECT_TRUE(answer) << line.value_or("no line");
    return answer.value_or(Answer{});
  }
  static ChannelValues read(Process& process, const Stamp& stamp) {
    const Answer answer = ask(process, read_request(stamp));
    EXPECT_EQ(answer.seq, stamp.seq);
    return answer.values.value_or(ChannelValues{});
  }
};

constexpr std::int64_t kMidnight = 86400000LL * 50;
constexpr std::int64_t kNoon = kMidnight + 43200000;

TEST_F(RoomSensor, GreetsAsASensor) {
  auto program = start();
  ASSERT_TRUE(program);
  EXPECT_EQ(ask(*program, hello_to_sensor({1, kMidnight})).role, Role::sensor);
}

TEST_F(RoomSensor, MakesUpARoomThatIsWarmestAndDriestHalfADayAfterItsColdest) {
  auto program = start();
  ASSERT_TRUE(program);
  const auto night = read(*program, {1, kMidnight});
  const auto day = read(*program, {2, kNoon});
  EXPECT_EQ(night[0].value, 18.0);
  EXPECT_EQ(day[0].value, 22.0);
  EXPECT_EQ(night[1].value, 58.0);
  EXPECT_EQ(day[1].value, 46.0);
}

TEST_F(RoomSensor, TellsTheRowsOfAFileAndBeginsAgain) {
  test::TemporaryFolder folder;
  folder.write("room.csv", "time,temperature,humidity\n0,19.5,61\n1,,60\n2,21,nan\n");
  auto program = start({(folder / "room.csv").string()});
  ASSERT_TRUE(program);
  const auto first = read(*program, {1, kNoon});
  const auto second = read(*program, {2, kNoon});
  const auto third = read(*program, {3, kNoon});
  const auto fourth = read(*program, {4, kNoon});
  EXPECT_EQ(first[0].value, 19.5);
  EXPECT_EQ(first[1].value, 61.0);
  EXPECT_FALSE(second[0].value) << "an empty cell is no reading";
  EXPECT_EQ(second[1].value, 60.0);
  EXPECT_EQ(third[0].value, 21.0);
  EXPECT_FALSE(third[1].value);
  EXPECT_EQ(fourth[0].value, 19.5);
}

TEST_F(RoomSensor, EndsByItselfAtTheEndOfItsInput) {
  auto program = start();
  ASSERT_TRUE(program);
  program->close_input();
  EXPECT_FALSE(wait_for_line(*program));
}

struct Page {
  std::vector<std::string> requests;
  std::vector<std::string> answers;
};

Page read_page() {
  Page page;
  std::ifstream file{places::in_project("schema/program-driver.md")};
  const std::string request = "neap     {";
  const std::string answer = "program  {";
  for (std::string line; std::getline(file, line);) {
    if (line.starts_with(request)) page.requests.push_back(line.substr(request.size() - 1));
    if (line.starts_with(answer)) page.answers.push_back(line.substr(answer.size() - 1));
  }
  return page;
}

TEST(ProgramPage, ShowsRequestsAsNeapWritesThem) {
  const std::vector<std::string> said{
      hello_to_sensor({1, 4294968000}),
      hello_to_output({1, 4294968000}, Output::exhaust_fan),
      read_request({2, 4294969000}),
      write_request({2, 4294969000}, kRunning),
      read_request({3, 4294970000}),
      hello_to_plant({1, 1000}, "2026-03-02T06:00"),
      write_request({2, 1000}, Output::exhaust_fan, kRunning),
      read_back_request({3, 1000}, Output::exhaust_fan),
      read_request({4, 11000}, "canopy"),
  };
  EXPECT_EQ(read_page().requests, said);
}

TEST(ProgramPage, ShowsAnswersThatNeapUnderstands) {
  const Page page = read_page();
  EXPECT_EQ(page.answers.size(), 10u);
  for (const std::string& line : page.answers) EXPECT_TRUE(parse_answer(line)) << line;
}

TEST(ProgramPage, NamesEveryChannelWithItsUnit) {
  std::ifstream file{places::in_project("schema/program-driver.md")};
  const std::string page{std::istreambuf_iterator<char>{file}, {}};
  for (const ChannelSpec& channel : kChannels) {
    const std::string row = "| `" + std::string{channel.name} + "` | " + std::string{channel.unit};
    EXPECT_NE(page.find(row), std::string::npos) << row;
  }
}

}  // namespace
}  // namespace neap::drivers::program
