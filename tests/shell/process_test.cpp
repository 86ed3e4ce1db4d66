// The real binary: killed in mid-flood, started on ruined settings, stopped politely. The pump is a
// level_file in a folder of the test, so that its line is seen from outside the process.
#include <fcntl.h>
#include <gtest/gtest.h>
#include <sched.h>
#include <signal.h>
#include <sys/mount.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <sys/wait.h>
#include <unistd.h>

#include <chrono>
#include <cstring>
#include <fstream>
#include <thread>

#include "daemon/journal/reader.h"
#include "daemon/shell/frames.h"
#include "tests/places.h"
#include "tests/shell/simulated_run.h"

namespace neap::shell {
namespace {

constexpr std::chrono::seconds kGenerous{30};

bool eventually(const std::function<bool()>& done) {
  const auto end = std::chrono::steady_clock::now() + kGenerous;
  while (!done()) {
    if (std::chrono::steady_clock::now() > end) return false;
    std::this_thread::yield();
  }
  return true;
}

class ProcessTest : public testing::Test {
 protected:
  ProcessTest() {
    settings_text = demo_that_floods();
    const std::string simulated = "  pump:\n    driver: simulated\n";
    const std::size_t at = settings_text.find(simulated);
    EXPECT_NE(at, std::string::npos);
    settings_text.replace(
        at, simulated.size(),
        "  pump:\n    driver: level_file\n    with: {path: " + (dir / "pump") + "}\n");
    const std::string path = "  drain_path: through_pump\n";
    settings_text.insert(settings_text.find(path), "  water_proven: by_hand\n");
    write("settings.yaml", settings_text);
    write("pump", "0");
    EXPECT_EQ(::mkdir((dir / "state").c_str(), 0750), 0);
  }
  ~ProcessTest() override {
    if (pid > 0) {
      ::kill(pid, SIGKILL);
      ::waitpid(pid, nullptr, 0);
    }
  }
  void write(const std::string& name, const std::string& text) const {
    std::ofstream(dir / name, std::ios::trunc) << text;
  }
  std::string pump() const {
    std::string text = read_file(dir / "pump", 64).value_or("?");
    return text.substr(0, text.find('\n'));
  }
  // `before` runs in the child, and ends it when it fails.
  static int run_program(
      const std::vector<std::string>& words, bool wait, pid_t& child,
      const std::function<bool()>& before = [] { return true; }) {
    std::vector<char*> argv;
    for (const std::string& word : words) argv.push_back(const_cast<char*>(word.c_str()));
    argv.push_back(nullptr);
    child = ::fork();
    if (child == 0) {
      const int quiet = ::open("/dev/null", O_RDWR);
      ::dup2(quiet, 2);
      if (!before()) ::_exit(126);
      ::execv(argv[0], argv.data());
      ::_exit(127);
    }
    return wait ? wait_for(child) : 0;
  }
  static int wait_for(pid_t child) {
    int status = 0;
    ::waitpid(child, &status, 0);
    return WIFEXITED(status) ? WEXITSTATUS(status) : -WTERMSIG(status);
  }
  void start(const std::function<bool()>& before = [] { return true; }) {
    run_program({places::in_build("neapd"), "--settings", dir / "settings.yaml", "--state-dir",
                 dir / "state", "--journal", dir / "state/journal.db", "--socket", dir / "socket"},
                false, pid, before);
  }
  // One request on a connection of its own; empty while the daemon is not there.
  std::string ask(const std::string& request) const {
    const int fd = ::socket(AF_UNIX, SOCK_STREAM, 0);
    sockaddr_un address{};
    address.sun_family = AF_UNIX;
    const std::string path = dir / "socket";
    std::memcpy(address.sun_path, path.c_str(), path.size() + 1);
    std::string answer;
    if (::connect(fd, reinterpret_cast<sockaddr*>(&address), sizeof address) == 0) {
      const std::string frame = *make_frame(request);
      ::send(fd, frame.data(), frame.size(), MSG_NOSIGNAL);
      char head[4];
      if (::recv(fd, head, sizeof head, MSG_WAITALL) == 4) {
        const std::size_t length =
            static_cast<unsigned char>(head[2]) * 256u + static_cast<unsigned char>(head[3]);
        answer.resize(length);
        ::recv(fd, answer.data(), length, MSG_WAITALL);
      }
    }
    ::close(fd);
    return answer;
  }
  // What the daemon says of itself once it answers.
  std::string status() const {
    std::string text;
    EXPECT_TRUE(eventually([&] {
      text = ask(R"({"id":1,"verb":"status"})");
      return text.find("\"tick\"") != std::string::npos;
    }));
    return text;
  }
  void expect_safe_mode_that_names_the_disk() {
    EXPECT_TRUE(eventually([&] { return pump() == "0"; }));
    std::string now;
    EXPECT_TRUE(eventually([&] {  // the alarm comes with the first scan
      now = status();
      return now.find("state-unsaved") != std::string::npos;
    })) << now;
    EXPECT_NE(now.find("\"safe_mode\":true"), std::string::npos) << now;
    const std::string refused = ask(R"({"id":7,"verb":"flood","args":{"action":"start"}})");
    EXPECT_EQ(refused.find("\"ok\":true"), std::string::npos) << refused;
    EXPECT_EQ(pump(), "0");
    EXPECT_EQ(::waitpid(pid, nullptr, WNOHANG), 0) << "it has left";
  }
  bool flood_runs() {
    return eventually([&, id = 0]() mutable {
      ask(R"({"id":)" + std::to_string(++id) + R"(,"verb":"flood","args":{"action":"start"}})");
      return pump() == "1";
    });
  }

  TempDir dir;
  std::string settings_text;
  pid_t pid = 0;
};

TEST_F(ProcessTest, KilledInMidFloodItIsSafeAgainBeforeTheNextStartIsReadyAndTheBudgetStaysSpent) {
  start();
  ASSERT_TRUE(flood_runs());
  ::kill(pid, SIGKILL);
  EXPECT_EQ(wait_for(pid), -SIGKILL);
  EXPECT_EQ(pump(), "1");  // nobody is left to stop it: the file keeps its level
  start();
  EXPECT_TRUE(eventually([&] { return pump() == "0"; }));
  std::string status;
  EXPECT_TRUE(eventually([&] {
    status = ask(R"({"id":1,"verb":"status"})");
    return !status.empty();
  }));
  EXPECT_EQ(pump(), "0");
  EXPECT_EQ(status.find("\"day_s\":0.0"), std::string::npos) << "the pump's debit was forgotten";
}

TEST_F(ProcessTest, WithRuinedSettingsThePumpIsStoppedAllTheSame) {
  start();
  ASSERT_TRUE(flood_runs());
  ::kill(pid, SIGKILL);
  wait_for(pid);
  write("settings.yaml", "neap: 1\nname: [");
  ::unlink((dir / "state/journal.db").c_str());  // nor is there an older revision to fall back on
  start();
  EXPECT_EQ(wait_for(pid), 3);
  pid = 0;
  EXPECT_EQ(pump(), "0");
}

TEST_F(ProcessTest, WithRuinedSettingsItRunsOnTheRevisionBefore) {
  start();
  ASSERT_TRUE(eventually([&] { return !ask(R"({"id":1,"verb":"ping"})").empty(); }));
  ::kill(pid, SIGTERM);
  EXPECT_EQ(wait_for(pid), 0);
  write("settings.yaml", "neap: 1\nname: [");
  start();
  EXPECT_TRUE(eventually([&] { return !ask(R"({"id":1,"verb":"ping"})").empty(); }));
}

TEST_F(ProcessTest, AskedToStopInMidFloodItStopsThePumpAndLeavesProperly) {
  start();
  ASSERT_TRUE(flood_runs());
  ::kill(pid, SIGTERM);
  EXPECT_EQ(wait_for(pid), 0);
  pid = 0;
  EXPECT_EQ(pump(), "0");
  StateFile file(dir / "state/state", false);
  EXPECT_TRUE(file.load().stored->boot.clean_stop);
}

TEST_F(ProcessTest, OutputsSafeStopsThePumpOfADeadDaemonFromTheManifestAlone) {
  start();
  ASSERT_TRUE(flood_runs());
  ::kill(pid, SIGKILL);
  wait_for(pid);
  write("settings.yaml", "");
  pid_t helper = 0;
  EXPECT_EQ(run_program({places::in_build("neap-outputs-safe"), dir / "state"}, true, helper), 0);
  EXPECT_EQ(pump(), "0");
  EXPECT_EQ(run_program({places::in_build("neap-outputs-safe"), dir.path()}, true, helper), 4);
  pid = 0;
}

// What a full card does to everything but the pump's own line. The child keeps it to its end.
bool fill_the_card() {
  new FullCard;
  return true;
}

TEST_F(ProcessTest, OnAFullCardItStartsInSafeModeWithThePumpStoppedAndSaysWhatToDo) {
  start();
  ASSERT_TRUE(flood_runs());
  ::kill(pid, SIGKILL);
  wait_for(pid);
  ASSERT_EQ(pump(), "1");
  start(fill_the_card);
  expect_safe_mode_that_names_the_disk();
}

TEST_F(ProcessTest, OnAFullCardAFirstRunAnswersToo) {
  start(fill_the_card);
  expect_safe_mode_that_names_the_disk();
}

TEST_F(ProcessTest, OnACardThatTurnedReadOnlyItStartsInSafeModeWithThePumpStopped) {
  if (::geteuid() != 0) GTEST_SKIP() << "making a disk read-only needs root";
  start();
  ASSERT_TRUE(flood_runs());
  ::kill(pid, SIGKILL);
  wait_for(pid);
  ASSERT_EQ(pump(), "1");
  const std::string state = dir / "state";
  start([state] {
    const char* const path = state.c_str();
    return ::unshare(CLONE_NEWNS) == 0 &&
           ::mount(nullptr, "/", nullptr, MS_REC | MS_PRIVATE, nullptr) == 0 &&
           ::mount(path, path, nullptr, MS_BIND, nullptr) == 0 &&
           ::mount(nullptr, path, nullptr, MS_BIND | MS_REMOUNT | MS_RDONLY, nullptr) == 0;
  });
  expect_safe_mode_that_names_the_disk();
}

// The state file is written on change; the journal may know of a later tick. The half hour of safe
// mode counts from there.
TEST_F(ProcessTest, SafeModeLastsItsHalfHourFromTheNewestTickOfTheJournal) {
  const std::int64_t saved = 4294967000;
  const std::int64_t journalled = saved + Millis{minutes{5}}.count();
  {
    BootRecord record;
    record.last_tick = saved;
    record.dirty_starts = {saved - 60'000, saved};
    record.dirty_count = 2;
    StateFile file(dir / "state/state", true);
    ASSERT_EQ(file.save({{}, record}), "");
    journal::Options options;
    options.path = dir / "state/journal.db";
    const auto writer = journal::Writer::open(options);
    writer->put(journal::EventEntry{instant(Millis{journalled}), Event{}});
    writer->flush();
    ASSERT_FALSE(writer->trouble()) << writer->trouble_text();
  }
  start();
  ASSERT_TRUE(eventually([&] { return !ask(R"({"id":1,"verb":"ping"})").empty(); }));
  const auto stored = StateFile(dir / "state/state", true).load().stored;
  ASSERT_TRUE(stored);
  EXPECT_EQ(stored->boot.dirty_count, 3);
  EXPECT_GE(stored->boot.safe_mode_until, journalled + Boot::kSafeMode.count());
}

// The state directory was emptied, or is another one than before: the journal knows better.
TEST_F(ProcessTest, AStateLostBesideALivingJournalHoldsFloodsUntilAPersonHasLooked) {
  start();
  status();
  ::kill(pid, SIGTERM);
  EXPECT_EQ(wait_for(pid), 0);
  for (const char* name : {"state", "outputs.a", "outputs.b"})
    EXPECT_EQ(::unlink((dir / ("state/" + std::string(name))).c_str()), 0);
  start();
  const std::string now = status();
  EXPECT_NE(now.find(R"("latch":"state")"), std::string::npos) << now;
  EXPECT_EQ(now.find("\"day_s\":0.0"), std::string::npos) << "nor is the day's budget known";
}

TEST_F(ProcessTest, ASecondDaemonOnTheSameStateIsRefused) {
  start();
  ASSERT_TRUE(eventually([&] { return !ask(R"({"id":1,"verb":"ping"})").empty(); }));
  pid_t second = 0;
  EXPECT_EQ(
      run_program({places::in_build("neapd"), "--settings", dir / "settings.yaml", "--state-dir",
                   dir / "state", "--journal", dir / "other.db", "--socket", dir / "other"},
                  true, second),
      4);
}

TEST_F(ProcessTest, AMeasurementWrittenWhileItWasDownIsTakenInAndItsFileGoes) {
  EXPECT_EQ(::mkdir((dir / "state/spool").c_str(), 0750), 0);
  write("state/spool/a1.json", R"({"spool_id":"a1","values":{"ph":5.9}})");
  write("state/spool/a2.json", R"({"spool_id":"a2","values":{"ph":59}})");
  start();
  EXPECT_TRUE(eventually(
      [&] { return ::access((dir / "state/spool/a2.json.refused").c_str(), F_OK) == 0; }));
  ::kill(pid, SIGTERM);
  EXPECT_EQ(wait_for(pid), 0);
  pid = 0;
  std::string error;
  const auto reader = journal::Reader::open(dir / "state/journal.db", error);
  ASSERT_TRUE(reader) << error;
  const auto rows = reader->measurements({});
  ASSERT_EQ(rows.size(), 1u);
  EXPECT_EQ(rows[0].value, 5.9);
}

}  // namespace
}  // namespace neap::shell
