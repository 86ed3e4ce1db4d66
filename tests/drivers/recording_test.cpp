// The recorder and the replayer, and every recording of tests/drivers/recordings read again by the
// driver it names.
#include "drivers/bus/recording.h"

#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>
#include <set>
#include <sstream>

#include "tests/drivers/fake_kernel.h"
#include "tests/drivers/sht_model.h"
#include "tests/places.h"

namespace neap::drivers {
namespace {

namespace fs = std::filesystem;

struct Expected {
  std::string channel;
  std::optional<double> value;
  Fault fault = Fault::none;
};

struct Recording {
  std::string driver;
  Params params;
  std::vector<std::string> exchanges;
  std::vector<std::vector<Expected>> reads;
};

// "= humidity 56.5", "= humidity !corrupt", "= contact 3 !open_wire".
Expected expected_of(std::istringstream& words) {
  Expected expected;
  words >> expected.channel;
  for (std::string word; words >> word;) {
    if (word.starts_with('!')) {
      const auto fault = recorded_fault(word.substr(1));
      EXPECT_TRUE(fault) << word;
      expected.fault = fault.value_or(Fault::none);
    } else {
      expected.value = std::stod(word);
    }
  }
  return expected;
}

Recording load(const fs::path& file) {
  Recording recording;
  std::ifstream in{file};
  std::map<std::string, std::vector<std::string>> words_of;
  for (std::string line; std::getline(in, line);) {
    if (line.empty() || line.starts_with('#')) continue;
    std::istringstream words{line};
    std::string kind, name;
    words >> kind;
    const bool setting = kind == "with" || kind == "word";
    if (setting || kind == "driver") words >> name;
    std::string rest;
    if (setting) std::getline(words >> std::ws, rest);
    if (kind == "driver") {
      recording.driver = name;
    } else if (kind == "with") {
      recording.params.set(name, rest);
    } else if (kind == "word") {
      words_of[name].push_back(rest);
      recording.params.set_words(name, words_of[name]);
    } else if (line == "read") {
      recording.reads.emplace_back();
    } else if (kind == "=") {
      recording.reads.back().push_back(expected_of(words));
    } else {
      recording.exchanges.push_back(line);
    }
  }
  return recording;
}

std::vector<fs::path> recordings() {
  std::vector<fs::path> files;
  for (const auto& entry : fs::directory_iterator{places::in_project("tests/drivers/recordings")})
    files.push_back(entry.path());
  std::sort(files.begin(), files.end());
  return files;
}

void expect_read(const SensorInfo& info, Sensor& sensor, const std::vector<Expected>& expected) {
  const Started started = sensor.begin();
  if (!expected.empty() && expected[0].channel == "begin") {
    EXPECT_EQ(started.fault, expected[0].fault);
    return;
  }
  ASSERT_EQ(started.fault, Fault::none);
  Deliveries out;
  sensor.finish(out);
  ASSERT_EQ(out.size(), expected.size());
  for (std::size_t i = 0; i < expected.size(); ++i) {
    SCOPED_TRACE(expected[i].channel);
    EXPECT_EQ(info.channels[static_cast<std::size_t>(out[i].channel)].name, expected[i].channel);
    EXPECT_EQ(out[i].fault, expected[i].fault);
    ASSERT_EQ(out[i].value.has_value(), expected[i].value.has_value());
    if (!expected[i].value) continue;
    EXPECT_NEAR(*out[i].value, *expected[i].value, 1e-5);
  }
}

TEST(Recordings, AreReadAgainToTheValuesBesideThem) {
  ASSERT_FALSE(recordings().empty());
  for (const fs::path& file : recordings()) {
    SCOPED_TRACE(file.filename().string());
    const Recording recording = load(file);
    const SensorInfo* info = find_sensor_driver(recording.driver);
    ASSERT_NE(info, nullptr) << recording.driver;
    ASSERT_FALSE(recording.reads.empty());
    EXPECT_EQ(info->check ? info->check(recording.params) : "", "");
    const auto kernel = std::make_shared<ReplayedKernel>(recording.exchanges);
    Context context;
    context.kernel = kernel;
    const auto sensor = info->make(recording.params, context);
    for (const auto& expected : recording.reads) expect_read(*info, *sensor, expected);
    EXPECT_EQ(kernel->divergence(), "");
    EXPECT_EQ(kernel->left(), 0u) << "lines that the driver never asked for";
  }
}

// They hold a process or a request of lines, and have peers of their own in the tests.
const std::set<std::string_view> kAskOtherwise{"program", "gpio_contact", "tachometer"};

TEST(Recordings, ThereIsOneForEveryDriverOfARealPart) {
  std::set<std::string> recorded;
  for (const fs::path& file : recordings()) recorded.insert(load(file).driver);
  for (const SensorInfo* info : sensor_drivers()) {
    const bool asks_files = !info->simulated && !kAskOtherwise.contains(info->name);
    EXPECT_TRUE(!asks_files || recorded.contains(std::string{info->name})) << info->name;
  }
}

TEST(Recorder, WritesEachExchangeAndTheReplayerAnswersTheSame) {
  const auto machine = std::make_shared<test::FakeKernel>();
  machine->files["class/hwmon/hwmon0/name"] = "sht4x";
  machine->files["class/hwmon/hwmon0/empty"] = "";
  machine->files["class/hwmon/hwmon0/lines"] = "two\nlines \\n";
  machine->links["class/hwmon/hwmon0"] = "devices/1-0044/hwmon/hwmon0";
  const auto chip = std::make_shared<test::ShtModel>(std::vector<std::uint8_t>{0xFD});
  chip->words = {0xBE, 0xEF, 0x92, 0x00, 0x01, 0x02};
  machine->chips[{"i2c-1", 0x44}] = chip;

  const auto ask_all = [](Kernel& kernel) {
    std::ostringstream said;
    said << kernel.read("class/hwmon/hwmon0/name").text.value_or("none") << "|";
    said << static_cast<int>(kernel.read("class/hwmon/hwmon0/empty").fault) << "|";
    said << kernel.read("class/hwmon/hwmon0/lines").text.value_or("none") << "|";
    said << static_cast<int>(kernel.write("class/hwmon/hwmon0/name", "a\\b\n")) << "|";
    said << static_cast<int>(kernel.write("nowhere", "1\n")) << "|";
    for (const std::string& name : kernel.list("class/hwmon")) said << name << ",";
    said << kernel.resolve("class/hwmon/hwmon0").value_or("none") << "|";
    said << kernel.resolve("nowhere").value_or("none") << "|";
    const std::array<std::uint8_t, 1> command{0xFD};
    std::array<std::uint8_t, 6> words{};
    said << static_cast<int>(kernel.transfer("i2c-1", 0x44, command, {})) << "|";
    said << static_cast<int>(kernel.transfer("i2c-1", 0x44, {}, words)) << "|";
    for (const std::uint8_t byte : words) said << static_cast<int>(byte) << ",";
    said << static_cast<int>(kernel.transfer("i2c-1", 0x45, command, words));
    return said.str();
  };
  std::vector<std::string> lines;
  const auto recorder =
      recording_kernel(machine, [&lines](const std::string& line) { lines.push_back(line); });
  const std::string live = ask_all(*recorder);
  ASSERT_EQ(lines.size(), 11u);
  EXPECT_EQ(lines[0], "read class/hwmon/hwmon0/name -> sht4x");
  EXPECT_EQ(lines[1], "read class/hwmon/hwmon0/empty -> !no_answer");
  EXPECT_EQ(lines[2], "read class/hwmon/hwmon0/lines -> two\\nlines \\\\n");
  EXPECT_EQ(lines[3], "write class/hwmon/hwmon0/name a\\\\b\\n -> ok");
  EXPECT_EQ(lines[8], "i2c i2c-1 0x44 write FD -> ok");
  EXPECT_EQ(lines[9], "i2c i2c-1 0x44 read 6 -> BE EF 92 00 01 02");
  EXPECT_EQ(lines[10], "i2c i2c-1 0x45 write FD read 6 -> !no_answer");

  ReplayedKernel replayed(lines);
  EXPECT_EQ(ask_all(replayed), live);
  EXPECT_EQ(replayed.divergence(), "");
  EXPECT_EQ(replayed.left(), 0u);
}

TEST(Replayer, TellsWhereADriverAsksOtherThings) {
  ReplayedKernel kernel({"read a -> 1", "read b -> 2"});
  EXPECT_EQ(kernel.read("a").text, "1");
  EXPECT_EQ(kernel.read("c").fault, Fault::no_answer);
  EXPECT_EQ(kernel.divergence(), "the driver asks \"read c\", the recording has \"read b -> 2\"");
  EXPECT_EQ(kernel.read("b").text, "2");
  EXPECT_EQ(kernel.read("d").fault, Fault::no_answer);
  EXPECT_NE(kernel.divergence().find("read c"), std::string::npos) << "the first one stays";
}

TEST(Replayer, TakesNoBytesThatAreNotAsMany) {
  for (const char* bytes : {"BE EF", "BE EF 92 00", "BE EF 9", "BE EF XX", ""}) {
    ReplayedKernel kernel({std::string{"i2c i2c-1 0x44 read 3 -> "} + bytes});
    std::array<std::uint8_t, 3> into{};
    EXPECT_EQ(kernel.transfer("i2c-1", 0x44, {}, into), Fault::no_answer) << bytes;
  }
}

}  // namespace
}  // namespace neap::drivers
