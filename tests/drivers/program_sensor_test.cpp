#include <signal.h>
#include <sys/wait.h>

#include <condition_variable>
#include <mutex>

#include "drivers/program/messages.h"
#include "tests/drivers/program_fixture.h"

namespace neap::drivers {
namespace {

constexpr int kTemperature = 0;
constexpr int kHumidity = 1;
constexpr int kPh = 3;
constexpr int kContact = 6;

class ProgramSensorTest : public test::ProgramFixture {
 protected:
  std::unique_ptr<Sensor> open(const std::string& mode) {
    return kProgramSensor.make(params("probe.py", mode, 500), context_);
  }
  // As the hub does it, but waiting for the program instead of the time that begin() names.
  Deliveries read(Sensor& sensor) {
    EXPECT_EQ(sensor.begin().fault, Fault::none);
    expect_tick();
    Deliveries out;
    sensor.finish(out);
    return out;
  }
  // One read of a program of this mode gives `fault` on every channel and is the program's end.
  void expect_end(const std::string& mode, Fault fault);
};

void expect_all(const Deliveries& out, Fault fault) {
  ASSERT_EQ(out.size(), kProgramSensor.channels.size()) << "one delivery a channel";
  for (const Delivery& delivery : out) {
    EXPECT_FALSE(delivery.value);
    EXPECT_EQ(delivery.fault, fault) << "channel " << delivery.channel;
  }
}

void ProgramSensorTest::expect_end(const std::string& mode, Fault fault) {
  SCOPED_TRACE(mode);
  const auto sensor = open(mode);
  expect_all(read(*sensor), fault);
  expect_death();
}

TEST_F(ProgramSensorTest, DeliversWhatAGoodProgramSays) {
  const auto sensor = open("good");
  for (int round = 0; round < 3; ++round) {
    const auto out = read(*sensor);
    ASSERT_EQ(out.size(), 7u);
    EXPECT_EQ(out[kTemperature].value, 23.4);
    EXPECT_EQ(out[kTemperature].fault, Fault::none);
    EXPECT_FALSE(out[kHumidity].value) << "null is no reading";
    EXPECT_EQ(out[kHumidity].fault, Fault::no_answer);
    EXPECT_EQ(out[kPh].value, -5.0) << "judging is the core's";
    EXPECT_EQ(out[kContact].fault, Fault::no_answer);
  }
  EXPECT_EQ(starts(), 1u);
}

TEST_F(ProgramSensorTest, AsksToBeFetchedAfterTheTimeThatSettingsAllowTheAnswer) {
  const auto sensor = open("good");
  EXPECT_EQ(sensor->begin().ready_after, Millis{500});
}

TEST_F(ProgramSensorTest, NumbersItsRequestsAndPassesTheTickOn) {
  const auto sensor = open("good");
  read(*sensor);
  const std::string heard = folder_.read("heard");
  EXPECT_TRUE(heard.starts_with(R"({"neap":1,"seq":1,"t_ms":4294968000,"op":"hello")")) << heard;
  EXPECT_TRUE(heard.ends_with("{\"seq\":2,\"t_ms\":4294969000,\"op\":\"read\"}\n")) << heard;
}

TEST_F(ProgramSensorTest, CallsGarbageCorruptAndEndsTheProgram) {
  expect_end("garbage", Fault::corrupt);
}
TEST_F(ProgramSensorTest, CallsAnArrayCorrupt) { expect_end("array", Fault::corrupt); }
TEST_F(ProgramSensorTest, CallsNanCorrupt) { expect_end("nan", Fault::corrupt); }
TEST_F(ProgramSensorTest, CallsANumberBeyondDoubleCorrupt) {
  expect_end("overflow", Fault::corrupt);
}
TEST_F(ProgramSensorTest, CallsAnUnknownChannelCorrupt) { expect_end("typo", Fault::corrupt); }
TEST_F(ProgramSensorTest, CallsAnAnswerWithoutValuesCorrupt) {
  expect_end("no_values", Fault::corrupt);
}
TEST_F(ProgramSensorTest, CallsALineTooLongCorrupt) { expect_end("huge", Fault::corrupt); }
TEST_F(ProgramSensorTest, CallsALineWithoutEndCorrupt) { expect_end("endless", Fault::corrupt); }
TEST_F(ProgramSensorTest, CallsAFloodOfLinesCorrupt) { expect_end("flood", Fault::corrupt); }
TEST_F(ProgramSensorTest, CallsAnAnswerToNoQuestionCorrupt) {
  expect_end("future", Fault::corrupt);
}
TEST_F(ProgramSensorTest, CallsAnAnswerBeforeTheGreetingCorrupt) {
  expect_end("unasked", Fault::corrupt);
}
TEST_F(ProgramSensorTest, EndsAProgramThatRefusesTheGreeting) {
  expect_end("refuses", Fault::no_answer);
}
TEST_F(ProgramSensorTest, EndsAProgramThatIsAnOutput) {
  expect_end("wrong_role", Fault::no_answer);
}

TEST_F(ProgramSensorTest, CallsAStringCorruptOnItsChannelOnlyAndLetsTheProgramLive) {
  const auto sensor = open("string");
  for (int round = 0; round < 4; ++round) {
    const auto out = read(*sensor);
    EXPECT_EQ(out[kTemperature].fault, Fault::corrupt);
    EXPECT_EQ(out[kHumidity].fault, Fault::no_answer);
  }
  EXPECT_EQ(starts(), 1u);
}

TEST_F(ProgramSensorTest, BearsSixtyFourLinesBetweenTwoReadsAndNotOneMore) {
  const auto sensor = open("busy");
  EXPECT_EQ(read(*sensor)[kTemperature].value, 23.4) << "the greeting, 62 lines, the answer";
  EXPECT_EQ(read(*sensor)[kTemperature].value, 23.4) << "63 lines, the answer";
  expect_all(read(*sensor), Fault::corrupt);
}

TEST_F(ProgramSensorTest, TakesTheFirstOfTwoAnswers) {
  const auto sensor = open("twice");
  EXPECT_EQ(read(*sensor)[kTemperature].value, 20.0);
  EXPECT_EQ(read(*sensor)[kTemperature].value, 20.0);
}

TEST_F(ProgramSensorTest, LetsAProgramSayThatItHasNothingNow) {
  const auto sensor = open("nothing_now");
  for (int round = 0; round < 5; ++round) expect_all(read(*sensor), Fault::no_answer);
  EXPECT_EQ(starts(), 1u) << "an answer is no miss";
}

TEST_F(ProgramSensorTest, EndsASilentProgramAtTheThirdMissInARow) {
  const auto sensor = open("silent");
  for (int miss = 1; miss <= 3; ++miss) {
    expect_all(read(*sensor), Fault::no_answer);
    EXPECT_EQ(starts(), 1u);
  }
  expect_death();
  expect_all(read(*sensor), Fault::no_answer);
  EXPECT_EQ(starts(), 2u) << "the next begin() starts it anew";
}

TEST_F(ProgramSensorTest, DoesNotUseAnAnswerThatCameTooLate) {
  const auto sensor = open("late");
  for (int round = 0; round < 2; ++round) expect_all(read(*sensor), Fault::no_answer);
}

TEST_F(ProgramSensorTest, StartsADeadProgramAnewAtTheNextBegin) {
  const auto sensor = open("dies");
  expect_all(read(*sensor), Fault::no_answer);
  expect_death();
  expect_all(read(*sensor), Fault::no_answer);
  EXPECT_EQ(starts(), 2u);
}

TEST_F(ProgramSensorTest, LosesNoReadingToAProgramThatDiedBetweenTwoReads) {
  const auto sensor = open("good");
  EXPECT_EQ(read(*sensor)[kTemperature].value, 23.4);
  const pid_t pid = std::stoi(folder_.read("pid"));
  siginfo_t ended{};
  ASSERT_EQ(::kill(pid, SIGKILL), 0);
  ASSERT_EQ(::waitid(P_PID, static_cast<id_t>(pid), &ended, WEXITED | WNOWAIT), 0);
  expect_death();
  EXPECT_EQ(read(*sensor)[kTemperature].value, 23.4);
  EXPECT_EQ(starts(), 2u);
}

TEST_F(ProgramSensorTest, StillDeliversTheLastWordsOfAProgram) {
  const auto sensor = open("last_words");
  EXPECT_EQ(read(*sensor)[kTemperature].value, 23.4);
  expect_death();
  EXPECT_EQ(read(*sensor)[kTemperature].value, 23.4);
  EXPECT_EQ(starts(), 2u);
}

// A write into a pipe that nobody reads raises SIGPIPE, whose default action ends the process:
// without the guard this test would end here.
TEST_F(ProgramSensorTest, WritingToAProgramThatClosedItsInputEndsTheProgramOnly) {
  const auto sensor = open("deaf");
  EXPECT_EQ(read(*sensor)[kTemperature].value, 23.4);
  EXPECT_EQ(sensor->begin().fault, Fault::no_answer);
  Deliveries out;
  sensor->finish(out);
  expect_all(out, Fault::no_answer);
  expect_death();
}

TEST_F(ProgramSensorTest, SaysByeAndLetsTheProgramEndByItself) {
  auto sensor = open("good");
  read(*sensor);
  sensor.reset();
  expect_death();
  EXPECT_EQ(folder_.read("bye"), "x");
}

TEST_F(ProgramSensorTest, KillsAProgramThatIgnoresEverySignalItCan) {
  auto sensor = open("stubborn");
  read(*sensor);
  sensor.reset();
  expect_death();
}

TEST_F(ProgramSensorTest, KillsTheWholeFamily) {
  auto sensor = open("family");
  read(*sensor);
  sensor.reset();
  expect_death();  // the child holds the FIFO too
}

TEST_F(ProgramSensorTest, GivesTheProgramACleanEnvironment) {
  // One descriptor that a careless part of the process left inheritable, and one signal ignored.
  const Descriptor careless{::open("/dev/null", O_RDONLY)};
  const auto before = ::signal(SIGHUP, SIG_IGN);
  const auto sensor = open("environment");
  read(*sensor);
  ::signal(SIGHUP, before);
  EXPECT_EQ(folder_.read("environment"),
            "LANG=C.UTF-8\nNEAP_PROTOCOL=1\nPATH=/usr/local/bin:/usr/bin:/bin\n");
  EXPECT_EQ(folder_.read("folder"), "/");
  EXPECT_EQ(folder_.read("leads_its_group"), "True");
  EXPECT_EQ(folder_.read("descriptors"), "");
  EXPECT_EQ(folder_.read("ignored"), "SIGPIPE SIGXFSZ") << "Python itself ignores these two";
  EXPECT_EQ(folder_.read("blocked"), "set()");
}

TEST_F(ProgramSensorTest, GivesNoAnswerWhereTheProgramIsNotThere) {
  Params given;
  given.set_words("command", {"/nonexistent/probe"});
  const auto sensor = kProgramSensor.make(given, context_);
  EXPECT_EQ(sensor->begin().fault, Fault::no_answer);
  Deliveries out;
  sensor->finish(out);
  expect_all(out, Fault::no_answer);
}

TEST_F(ProgramSensorTest, StartsNothingBeforeTheFirstBegin) {
  const auto sensor = open("good");
  EXPECT_EQ(starts(), 0u);
}

// Counts the calls of the hub's edge listener and lets a test wait for the next one.
class Edges {
 public:
  void call() {
    const std::lock_guard lock(mutex_);
    ++count_;
    changed_.notify_all();
  }
  bool wait_for_count(int count) {
    std::unique_lock lock(mutex_);
    return changed_.wait_for(lock, std::chrono::seconds{60}, [&] { return count_ >= count; });
  }
  int count() {
    const std::lock_guard lock(mutex_);
    return count_;
  }

 private:
  std::mutex mutex_;
  std::condition_variable changed_;
  int count_ = 0;
};

TEST_F(ProgramSensorTest, CallsForAnEarlyReadOnceBetweenTwoReads) {
  Edges edges;
  const auto sensor = open("edge");
  sensor->watch([&] { edges.call(); });
  EXPECT_EQ(sensor->begin().fault, Fault::none);
  expect_tick();  // three edges at once, before the first answer
  expect_tick();  // and one with it
  EXPECT_TRUE(edges.wait_for_count(1));
  Deliveries out;
  sensor->finish(out);
  EXPECT_EQ(out[kContact].value, 1.0);
  EXPECT_EQ(edges.count(), 1);

  EXPECT_EQ(sensor->begin().fault, Fault::none);
  EXPECT_TRUE(edges.wait_for_count(2)) << "after a read an edge calls again";
}

TEST_F(ProgramSensorTest, ReadsAlikeWithAndWithoutAWatcher) {
  const auto sensor = open("good");
  sensor->watch([] {});
  for (int round = 0; round < 3; ++round) EXPECT_EQ(read(*sensor)[kTemperature].value, 23.4);
}

TEST_F(ProgramSensorTest, CountsLinesFromReadToReadHoweverTheyAreTakenIn) {
  ASSERT_EQ(::mkfifo((folder_ / "go").c_str(), 0600), 0);
  Edges edges;
  const auto sensor = open("drip");
  sensor->watch([&] { edges.call(); });
  EXPECT_EQ(sensor->begin().fault, Fault::none);
  ASSERT_TRUE(edges.wait_for_count(1)) << "the watcher has taken the first half in";
  Descriptor{::open((folder_ / "go").c_str(), O_WRONLY | O_CLOEXEC)}.reset();
  expect_tick();
  Deliveries out;
  sensor->finish(out);
  expect_all(out, Fault::corrupt);
}

TEST_F(ProgramSensorTest, EndsAFloodUnderTheWatcherToo) {
  const auto sensor = open("flood");
  sensor->watch([] {});
  expect_all(read(*sensor), Fault::corrupt);
  expect_death();
}

TEST(ProgramDriver, CheckWantsTheAbsolutePathOfAProgram) {
  Params params;
  EXPECT_EQ(kProgramSensor.check(params),
            "command is empty; it must name the program by its absolute path");
  params.set_words("command", {"python3", "probe.py"});
  EXPECT_EQ(kProgramSensor.check(params),
            "command begins with \"python3\"; it must name the program by its absolute path, such "
            "as /usr/local/bin/probe");
  params.set_words("command", {"/usr/bin/python3", "probe.py"});
  EXPECT_EQ(kProgramSensor.check(params), "");
}

TEST(ProgramDriver, SharesAStrandBetweenUsersOfOneCommand) {
  Params params;
  params.set_words("command", {"/usr/local/bin/probe", "-u"});
  EXPECT_EQ(kProgramSensor.strand(params), "program: /usr/local/bin/probe -u");
  EXPECT_EQ(kProgramOutput.strand(params), kProgramSensor.strand(params));
}

}  // namespace
}  // namespace neap::drivers
