#include "daemon/shell/timers.h"

#include <gtest/gtest.h>

#include <boost/asio/io_context.hpp>
#include <string>
#include <vector>

#include "daemon/shell/live_timers.h"
#include "tests/shell/support.h"

namespace neap::shell {
namespace {

TEST(Timers, EqualInstantsRunInTheOrderInWhichTheyWereAskedFor) {
  VirtualTimers timers(kUglyStart);
  std::string order;
  timers.at(kUglyStart + seconds{2}, [&] { order += 'c'; });
  timers.at(kUglyStart + seconds{1}, [&] { order += 'a'; });
  timers.at(kUglyStart + seconds{1}, [&] { order += 'b'; });
  timers.run_until(kUglyStart + seconds{2});
  EXPECT_EQ(order, "abc");
}

TEST(Timers, ACancelledTimerDoesNotRunAndCancellingASpentOneDoesNothing) {
  VirtualTimers timers(kUglyStart);
  int runs = 0;
  const TimerId gone = timers.at(kUglyStart + seconds{1}, [&] { ++runs; });
  const TimerId spent = timers.at(kUglyStart + seconds{1}, [&] { ++runs; });
  timers.cancel(gone);
  timers.run_until(kUglyStart + seconds{1});
  timers.cancel(spent);
  timers.run_until(kUglyStart + seconds{9});
  EXPECT_EQ(runs, 1);
}

TEST(Timers, TheClockReadsTheDueInstantWhileATimerRuns) {
  VirtualTimers timers(kUglyStart);
  Instant seen{};
  timers.at(kUglyStart + seconds{7}, [&] { seen = timers.now(); });
  timers.run_until(kUglyStart + seconds{60});
  EXPECT_EQ(seen, kUglyStart + seconds{7});
  EXPECT_EQ(timers.now(), kUglyStart + seconds{60});
}

// A world whose only contact changes at one instant.
class OneEdge final : public drivers::World {
 public:
  explicit OneEdge(Instant edge) : edge_(edge) {}
  Instant advance_to(Instant target) override {
    if (done_ || target < edge_) return target;
    done_ = true;
    if (on_edge) on_edge();
    return edge_;
  }
  FaultAnswer inject(std::string_view, bool, double) override { return {}; }
  std::span<const FaultName> fault_names() const override { return {}; }
  std::function<void()> on_edge;

 private:
  Instant edge_;
  bool done_ = false;
};

TEST(Timers, AnEdgeOfTheWorldIsHeardAtItsOwnInstantAndBeforeWhatIsDueThere) {
  OneEdge world(kUglyStart + seconds{5});
  VirtualTimers timers(kUglyStart, &world);
  std::string order;
  Instant heard{};
  world.on_edge = [&] {
    timers.post([&] {
      heard = timers.now();
      order += 'e';
    });
  };
  timers.at(kUglyStart + seconds{5}, [&] { order += 't'; });
  timers.run_until(kUglyStart + seconds{10});
  EXPECT_EQ(heard, kUglyStart + seconds{5});
  EXPECT_EQ(order, "et");
}

// A small machine of timers that start and cancel each other; what it notes must not depend on
// which clock runs it. `unit` is 60 s for an hour of virtual time, 1 ms for a live run.
std::vector<std::string> play(TimerQueue& timers, Millis unit, const std::function<void()>& run,
                              const std::function<void()>& finish) {
  std::vector<std::string> notes;
  const Instant start = timers.now() + unit;
  int left = 60;
  TimerId doomed = 0;
  std::function<void()> beat = [&] {
    notes.push_back("beat " + std::to_string(left));
    if (left % 7 == 0) doomed = timers.at(start + unit * 100, [&] { notes.push_back("never"); });
    if (left % 7 == 3) timers.cancel(doomed);
    if (left % 5 == 0)
      timers.at(start + unit * (60 - left),
                [&, n = left] { notes.push_back("echo " + std::to_string(n)); });
    if (left % 4 == 0) timers.post([&, n = left] { notes.push_back("post " + std::to_string(n)); });
    if (--left > 0)
      timers.at(start + unit * (60 - left), beat);
    else
      timers.at(start + unit * 62, finish);
  };
  timers.at(start, beat);
  run();
  return notes;
}

TEST(Timers, AnHourOfEventsIsTheSameOnTheVirtualAndOnTheLiveClock) {
  VirtualTimers virtual_timers(kUglyStart);
  const auto expected = play(
      virtual_timers, minutes{1}, [&] { virtual_timers.run_until(kUglyStart + hours{2}); },
      [&] { virtual_timers.stop(); });
  boost::asio::io_context io;
  LiveTimers live(io, kUglyStart);
  // 60 units of 20 ms: far more than a loaded machine needs between two events of one unit.
  const auto seen = play(
      live, Millis{20}, [&] { io.run(); }, [&] { io.stop(); });
  EXPECT_EQ(expected.size(), 87u);
  EXPECT_EQ(seen, expected);
}

TEST(LiveTimers, TheTickGoesOnFromWhereItIsToldAndNeverBack) {
  boost::asio::io_context io;
  LiveTimers timers(io, kUglyStart);
  EXPECT_GE(timers.now(), kUglyStart);
  timers.not_before(kUglyStart + hours{5});
  EXPECT_GE(timers.now(), kUglyStart + hours{5});
  timers.not_before(kUglyStart);
  EXPECT_GE(timers.now(), kUglyStart + hours{5});
}

}  // namespace
}  // namespace neap::shell
