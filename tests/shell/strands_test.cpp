#include "daemon/shell/strands.h"

#include <gtest/gtest.h>

#include <atomic>
#include <boost/asio/executor_work_guard.hpp>
#include <boost/asio/io_context.hpp>
#include <future>
#include <thread>

#include "daemon/shell/live_timers.h"
#include "tests/shell/support.h"

namespace neap::shell {
namespace {

TEST(Strands, JobsOfOneBusRunInOrderAndTheirEndIsHeardOnTheLoop) {
  boost::asio::io_context io;
  const auto work = boost::asio::make_work_guard(io);
  LiveTimers timers(io, kUglyStart);
  Strands strands(timers, true);
  Strand& bus = strands.get("bus", false);
  std::string order;  // touched by one strand, then by the loop
  std::atomic<bool> on_other_thread{true};
  const auto loop = std::this_thread::get_id();
  bool done_on_loop = false;
  for (const char name : {'a', 'b', 'c'})
    bus.post(
        [&order, &on_other_thread, name, loop] {
          order += name;
          if (std::this_thread::get_id() == loop) on_other_thread = false;
        },
        [&, name] {
          done_on_loop = std::this_thread::get_id() == loop;
          if (name == 'c') io.stop();
        });
  io.run();
  EXPECT_EQ(order, "abc");
  EXPECT_TRUE(on_other_thread);
  EXPECT_TRUE(done_on_loop);
}

TEST(Strands, AStuckBusHoldsUpNeitherAnotherBusNorTheEnd) {
  boost::asio::io_context io;
  const auto work = boost::asio::make_work_guard(io);
  LiveTimers timers(io, kUglyStart);
  const auto release = std::make_shared<std::promise<void>>();
  const auto gone = std::make_shared<std::promise<void>>();
  std::shared_future<void> released = release->get_future().share();
  {
    Strands strands(timers, true);
    strands.get("stuck", false)
        .post(
            [released, gone] {
              released.wait();
              gone->set_value();
            },
            [] { FAIL() << "the loop was told of a strand that is closed"; });
    bool other = false;
    strands.get("other", false)
        .post([] {},
              [&] {
                other = true;
                io.stop();
              });
    io.run();
    EXPECT_TRUE(other);
    EXPECT_FALSE(strands.get("stuck", false).run([] {}, std::chrono::milliseconds(20)));
  }
  release->set_value();
  gone->get_future().wait();
}

TEST(Strands, SimulatedDriversRunOnTheLoopEvenInALiveDaemon) {
  boost::asio::io_context io;
  LiveTimers timers(io, kUglyStart);
  Strands strands(timers, true);
  std::thread::id where;
  strands.get("simulated", true).post([&] { where = std::this_thread::get_id(); }, [] {});
  EXPECT_EQ(where, std::this_thread::get_id());
}

}  // namespace
}  // namespace neap::shell
