// Ruling 7, whole: one hour of the demo with everything that a daemon has, on the clock that jumps
// and on the live one, leaves the same journal. The live side is what neapd runs live: the Asio
// loop, its timerfd and strands with threads; only its tick runs kPace times as fast as the boot
// clock (live_timers.h).
#include <gtest/gtest.h>

#include <algorithm>
#include <boost/asio/io_context.hpp>

#include "daemon/journal/reader.h"
#include "daemon/shell/live_timers.h"
#include "daemon/words/words.h"
#include "tests/shell/simulated_run.h"

namespace neap::shell {
namespace {

constexpr int kPace = 1500;  // an hour in 2.4 s
// Before lights-on at 06:00 and the first flood, which the hour has time to end.
constexpr std::int64_t kFromMs = kMidnightMs + (5 * 60 + 58) * 60'000;
constexpr Millis kSpan = hours{1} + Millis{500};
// The live queue hears an edge of the simulated world when its next timer is due, the jumping one
// at the edge itself: between the two lies a scan at most.
constexpr Millis kTolerance = seconds{1};
constexpr std::chrono::seconds kGenerous{30};

std::string settings_text() {
  std::string text = demo_that_floods();
  const std::string first = "spread: 4, first_after: 45 min";
  return text.replace(text.find(first), first.size(), "spread: 4, first_after: 31 min");
}

struct Row {
  Millis at{};  // since the start
  Event event;
  std::string text;
};

std::vector<Row> journalled(const std::string& path, Instant start) {
  std::string error;
  const auto reader = journal::Reader::open(path, error);
  EXPECT_TRUE(reader) << error;
  std::vector<Row> rows;
  if (!reader) return rows;
  for (const journal::EventRow& row : reader->events({}, {}, 100'000))
    rows.push_back({Millis{row.at.tick} - Millis{tick_ms(start)}, row.event,
                    words::sentence(row.event, {}, row.name)});
  return rows;
}

// Someone holds the light for a while, so that an operator's request, its answer and its lease are
// among what is compared.
void ask_midway(TimerQueue& queue, Daemon& daemon) {
  queue.at(queue.now() + minutes{20}, [&daemon] {
    Request request;
    request.kind = RequestKind::hold;
    request.output = Output::light;
    request.level = Permille{300};
    request.duration = minutes{3};
    daemon.ask(request, [](const Answer&) {});
  });
}

std::vector<Row> jumping_hour() {
  SimulatedRun run(settings_text(), SimulatedDaemon::How{true, false, kFromMs});
  EXPECT_TRUE(run.started());
  ask_midway(run.queue(), run.daemon());
  run.run_for(kSpan);
  return journalled(run.close(), run.start());
}

// A thread does the work, and the tick waits for it as it waits for what is due: at this pace the
// moment that a card takes would put the pump's start seconds of tent time off.
class WaitedStrand final : public Strand {
 public:
  explicit WaitedStrand(TimerQueue& loop) : loop_(loop), thread_(make_threaded_strand(loop)) {}
  void post(Action job, Action done) override {
    EXPECT_TRUE(run(std::move(job), kGenerous));
    loop_.post(std::move(done));
  }
  bool run(Action job, std::chrono::milliseconds limit) override {
    return thread_->run(std::move(job), limit);
  }

 private:
  TimerQueue& loop_;
  std::unique_ptr<Strand> thread_;
};

std::vector<Row> live_hour() {
  boost::asio::io_context io;
  SimulatedDaemon live(settings_text(), SimulatedDaemon::How{true, true, kFromMs},
                       [&io](Instant start, drivers::World* world) {
                         auto queue = std::make_unique<LiveTimers>(io, start, kPace);
                         queue->set_world(world);
                         queue->at(start, [] {});  // the tick waits here until the loop runs
                         return queue;
                       });
  EXPECT_TRUE(live.started());
  live.strands().put("state file", std::make_unique<WaitedStrand>(live.queue()));
  ask_midway(live.queue(), live.daemon());
  std::string path;
  live.queue().at(live.start() + kSpan, [&] {
    path = live.close();  // here the tick stands, as it does where the jumping clock ends
    io.stop();
  });
  io.run();
  return journalled(path, live.start());
}

std::string told(const Row& row) { return words::duration(row.at) + " " + row.text; }

TEST(BothClocks, AnHourOfTheWholeDaemonIsJournalledAlike) {
  const std::vector<Row> jumped = jumping_hour();
  const std::vector<Row> lived = live_hour();
  const auto has = [&jumped](EventKind kind, Output output) {
    return std::any_of(jumped.begin(), jumped.end(), [&](const Row& row) {
      return row.event.kind == kind && row.event.output == output;
    });
  };
  EXPECT_TRUE(has(EventKind::actuation, Output::light)) << "no light edge in the hour";
  EXPECT_TRUE(has(EventKind::actuation, Output::pump)) << "no flood in the hour";
  EXPECT_TRUE(has(EventKind::cycle_closed, Output::pump)) << "the flood did not end";
  EXPECT_TRUE(has(EventKind::request, Output::light)) << "nobody asked for anything";
  const std::size_t both = std::min(jumped.size(), lived.size());
  for (std::size_t i = 0; i < both; ++i) {
    ASSERT_EQ(lived[i].event.kind, jumped[i].event.kind)
        << told(lived[i]) << " / " << told(jumped[i]);
    ASSERT_EQ(lived[i].text, jumped[i].text) << i;
    ASSERT_LE(std::chrono::abs(lived[i].at - jumped[i].at), kTolerance)
        << told(lived[i]) << " / " << told(jumped[i]);
  }
  EXPECT_EQ(lived.size(), jumped.size());
}

}  // namespace
}  // namespace neap::shell
