// The process stands still for a while (stopped, starved, a laptop lid) and goes on: what was due
// meanwhile is due all at once, and the readings are old.
#include <gtest/gtest.h>

#include "tests/shell/simulated_run.h"

namespace neap::shell {
namespace {

// A clock that can run on while nobody is served, as the boot clock does under a stopped process.
class HaltingTimers final : public TimerQueue {
 public:
  HaltingTimers(Instant start, drivers::World* world) : now_(start), world_(world) {}

  Instant now() const override { return now_; }
  TimerId at(Instant due, Action action) override { return list_.add(due, std::move(action)); }
  void cancel(TimerId id) override { list_.cancel(id); }
  void post(Action action) override { posted_.push_back(std::move(action)); }

  void run_for(Millis span) {
    const Instant end = now_ + span;
    while (const auto due = list_.next_due()) {
      if (*due > end) break;
      now_ = std::max(now_, *due);
      serve(now_);
    }
    now_ = end;
    serve(now_);
  }
  void stand_still(Millis span) {
    now_ += span;
    serve(now_);
  }

 private:
  void serve(Instant moment) {
    while (Action action = list_.take_due(moment)) {
      world_->advance_to(moment);
      action();
      for (std::size_t i = 0; i < posted_.size(); ++i) std::exchange(posted_[i], {})();
      posted_.clear();
    }
  }

  Instant now_;
  drivers::World* world_;
  TimerList list_;
  std::vector<Action> posted_;
};

class Standstill : public testing::Test {
 protected:
  Standstill()
      : run_(demo_that_floods(), {.every_second = true},
             [this](Instant start, drivers::World* world) {
               auto owned = std::make_unique<HaltingTimers>(start, world);
               timers_ = owned.get();
               return owned;
             }) {}
  void ask(RequestKind kind) {
    Request request;
    request.kind = kind;
    run_.daemon().ask(request, [](const Answer&) {});
  }
  Permille pump() { return run_.daemon().gate().level(Output::pump).value_or(kRunning); }

  HaltingTimers* timers_ = nullptr;
  SimulatedDaemon run_;
};

TEST_F(Standstill, AfterItThePumpIsStoppedBeforeAnythingIsDecided) {
  timers_->run_for(minutes{5});
  ask(RequestKind::flood_start);
  timers_->run_for(seconds{5});
  ASSERT_EQ(pump(), kRunning);
  const std::uint64_t scans = run_.daemon().scans();
  timers_->stand_still(seconds{15});
  EXPECT_EQ(pump(), kStopped);
  EXPECT_EQ(run_.daemon().scans(), scans) << "decided on readings from before it";
  EXPECT_TRUE(run_.log().has("no scan renewed its lease"));
  timers_->run_for(seconds{2});
  EXPECT_GT(run_.daemon().scans(), scans);
}

TEST_F(Standstill, ACompressorThatLapsedRestsBeforeItStartsAgain) {
  timers_->run_for(minutes{5});
  Request request;
  request.kind = RequestKind::hold;
  request.output = Output::dehumidifier;
  request.level = kRunning;
  request.duration = hours{1};
  run_.daemon().ask(request, [](const Answer&) {});
  const auto level = [this] { return run_.daemon().gate().level(Output::dehumidifier); };
  for (int i = 0; i < 600 && level() != kRunning; ++i) timers_->run_for(seconds{1});
  ASSERT_EQ(level(), kRunning);
  timers_->stand_still(minutes{1});
  EXPECT_EQ(level(), kStopped);
  timers_->run_for(minutes{4});
  EXPECT_EQ(level(), kStopped);
}

// Shorter than a lease it is nothing: a scan a second late renews it.
TEST_F(Standstill, AShortOneIsNoticedByNobody) {
  timers_->run_for(minutes{5});
  ask(RequestKind::flood_start);
  timers_->run_for(seconds{5});
  ASSERT_EQ(pump(), kRunning);
  timers_->stand_still(seconds{2});
  EXPECT_EQ(pump(), kRunning);
}

// A strand that serves inline until it hangs; from then on it keeps what it is given.
class FailingStrand final : public Strand {
 public:
  void post(Action job, Action done) override {
    if (hangs) return kept_.push_back(std::move(job));
    job();
    done();
  }
  bool run(Action job, std::chrono::milliseconds) override {
    if (!hangs) job();
    return !hangs;
  }
  bool hangs = false;

 private:
  std::vector<Action> kept_;
};

const drivers::OutputDriverInfo* find_real(std::string_view name) {
  static const drivers::OutputDriverInfo real = [] {
    drivers::OutputDriverInfo info = *drivers::find_output_driver("simulated");
    info.simulated = false;  // on a strand of its own name, as hardware is
    return info;
  }();
  return name == "simulated" ? &real : drivers::find_output_driver(name);
}

TEST(Watchdog, IsNotFedWhileAWriteToAnOutputHangs) {
  std::uint64_t fed = 0;
  FailingStrand* strand = nullptr;
  SimulatedDaemon::How how;
  how.every_second = true;
  how.find = find_real;
  how.after_scan = [&fed] { ++fed; };
  how.strands = [&strand](Strands& strands) {
    auto owned = std::make_unique<FailingStrand>();
    strand = owned.get();
    strands.put("simulated", std::move(owned));
  };
  SimulatedRun run(demo_that_floods(), how);
  run.run_for(minutes{5});
  Request request;
  request.kind = RequestKind::flood_start;
  ASSERT_TRUE(run.ask(request).accepted);
  run.run_for(seconds{3});
  ASSERT_EQ(run.daemon().gate().level(Output::pump), kRunning);

  strand->hangs = true;
  request.kind = RequestKind::flood_stop;
  ASSERT_TRUE(run.ask(request).accepted);
  run.run_for(Gate::kHangs + seconds{1});
  const std::uint64_t fed_until_then = fed;
  const std::uint64_t scans = run.daemon().scans();
  run.run_for(minutes{1});
  EXPECT_EQ(fed, fed_until_then);
  EXPECT_GT(run.daemon().scans(), scans) << "it goes on all the same";
}

}  // namespace
}  // namespace neap::shell
