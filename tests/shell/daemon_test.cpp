#include <gtest/gtest.h>

#include <fstream>
#include <functional>
#include <optional>

#include "daemon/shell/loop.h"
#include "tests/shell/simulated_run.h"

namespace neap::shell {
namespace {

std::string seeded(int seed) {
  std::string text = demo_that_floods();
  const std::size_t at = text.find("seed: 7");
  return text.replace(at, 7, "seed: " + std::to_string(seed));
}

TEST(Daemon, ADayOfTheDemoIsTheSameEachTimeAndAnotherWithAnotherSeed) {
  std::set<std::uint64_t> hashes;
  for (const int seed : {7, 7, 8}) {
    SimulatedRun run(seeded(seed));
    ASSERT_TRUE(run.started());
    run.run_for(hours{24});
    hashes.insert(run.daemon().trace_hash());
  }
  EXPECT_EQ(hashes.size(), 2u);
}

// Ruling 4: scan() does not depend on its step. The hash covers every command and every reading.
TEST(Daemon, ScanningEachSecondAndScanningWhenDueDecideAlike) {
  for (int seed = 1; seed <= 5; ++seed) {
    SimulatedRun fine(seeded(seed), true);
    SimulatedRun coarse(seeded(seed), false);
    ASSERT_TRUE(fine.started() && coarse.started());
    fine.run_for(hours{24});
    coarse.run_for(hours{24});
    EXPECT_EQ(fine.daemon().trace_hash(), coarse.daemon().trace_hash()) << "seed " << seed;
    EXPECT_LT(coarse.daemon().scans(), fine.daemon().scans());
  }
}

Request flood_start() {
  Request request;
  request.kind = RequestKind::flood_start;
  return request;
}

TEST(Daemon, ARequestIsAnsweredByTheScanMadeForIt) {
  SimulatedRun run(demo_that_floods());
  run.run_for(minutes{5});
  const std::uint64_t before = run.daemon().scans();
  Request request;
  request.kind = RequestKind::hold;
  request.output = Output::light;
  request.level = kRunning;
  request.duration = minutes{1};
  EXPECT_TRUE(run.ask(request).accepted);
  EXPECT_EQ(run.daemon().scans(), before + 1);
  EXPECT_EQ(run.daemon().gate().level(Output::light), kRunning);
  run.run_for(minutes{2});
  EXPECT_EQ(run.daemon().gate().level(Output::light), kStopped);
}

// An output of a test: it looks at each level that is about to be written, and says whether it is.
using Writes = std::function<Fault(Output, std::optional<Permille> now, Permille wanted)>;
Writes* writes = nullptr;

class WatchedOutput final : public drivers::OutputDriver {
 public:
  explicit WatchedOutput(Output output) : output_(output) {}
  Fault write(Permille level) override {
    const Fault fault = (*writes)(output_, level_, level);
    if (fault == Fault::none) level_ = level;
    return fault;
  }
  std::optional<Permille> read_back() override { return level_; }

 private:
  Output output_;
  std::optional<Permille> level_;
};

constexpr drivers::OutputDriverInfo kWatched{
    "watched",
    "for tests",
    {},
    true,
    false,
    true,
    [](const drivers::Params&) { return std::string("bus"); },
    [](const drivers::Params&, Output) { return std::string(); },
    [](const drivers::Params&, Output output,
       drivers::Context&) -> std::unique_ptr<drivers::OutputDriver> {
      return std::make_unique<WatchedOutput>(output);
    }};

// What a crash would find in the state file at the moment the pump's line goes up.
TEST(Daemon, ThePumpsDebitIsOnTheCardBeforeThePumpRuns) {
  std::string state_path;
  std::vector<bool> debited;
  Writes look = [&](Output output, std::optional<Permille>, Permille wanted) {
    if (output != Output::pump || wanted != kRunning) return Fault::none;
    const auto found = StateFile(state_path, false).load();
    debited.push_back(found.stored && found.stored->kept.budget.run_open &&
                      found.stored->kept.flood_was_running && !found.stored->boot.clean_stop);
    return Fault::none;
  };
  writes = &look;
  SimulatedRun run(demo_that_floods(), false, [](std::string_view) { return &kWatched; });
  state_path = run.dir() / "state";
  run.run_for(minutes{5});
  const Answer answer = run.ask(flood_start());
  ASSERT_TRUE(answer.accepted) << static_cast<int>(answer.because.reason);
  run.run_for(seconds{5});
  EXPECT_EQ(debited, std::vector<bool>{true});
}

// A card that stalls: jobs wait until the test lets them go.
class StalledStrand final : public Strand {
 public:
  void post(Action job, Action done) override { waiting_.emplace_back(job, done); }
  bool run(Action job, std::chrono::milliseconds) override {
    job();
    return true;
  }
  void let_go() {
    for (const auto& [job, done] : std::exchange(waiting_, {})) {
      job();
      done();
    }
  }

 private:
  std::vector<std::pair<Action, Action>> waiting_;
};

TEST(Daemon, AStalledCardHoldsThePumpsStartBackAndNothingElse) {
  SimulatedRun run(demo_that_floods());
  run.run_for(minutes{5});
  auto owned = std::make_unique<StalledStrand>();
  StalledStrand& card = *owned;
  run.strands().put("state file", std::move(owned));
  ASSERT_TRUE(run.ask(flood_start()).accepted);
  run.run_for(seconds{5});
  EXPECT_EQ(run.daemon().gate().level(Output::pump), kStopped) << "no debit on the card yet";
  Request request;
  request.kind = RequestKind::hold;
  request.output = Output::light;
  request.level = Permille{300};
  request.duration = minutes{1};
  EXPECT_TRUE(run.ask(request).accepted);
  EXPECT_EQ(run.daemon().gate().level(Output::light), Permille{300});
  card.let_go();  // the write before the newest
  card.let_go();
  run.run_for(seconds{1});
  EXPECT_EQ(run.daemon().gate().level(Output::pump), kRunning);
  // It stalls again while the pump runs: a wet floor still stops it at once.
  ASSERT_TRUE(run.world().inject("leak", true, 1).accepted);
  for (int i = 0; i < 300 && run.daemon().hub().image()[Point::leak_reservoir].value != 1; ++i)
    run.run_for(seconds{1});
  ASSERT_EQ(run.daemon().hub().image()[Point::leak_reservoir].value, 1);
  EXPECT_EQ(run.daemon().gate().level(Output::pump), kStopped);
}

const AlarmRecord& alarm_of(SimulatedRun& run, Alarm alarm) {
  return run.daemon().state().kept.alarms[static_cast<std::size_t>(alarm)];
}

TEST(Daemon, ACardThatDoesNotAnswerIsToldAsSuchAndNotAsADeadPump) {
  SimulatedRun run(demo_that_floods());
  run.run_for(minutes{5});
  auto owned = std::make_unique<StalledStrand>();
  StalledStrand& card = *owned;
  run.strands().put("state file", std::move(owned));
  ASSERT_TRUE(run.ask(flood_start()).accepted);
  run.run_for(seconds{25});
  EXPECT_EQ(run.daemon().state().flood.phase, FloodPhase::fill) << "it waits for its debit";
  run.run_for(seconds{10});
  EXPECT_EQ(run.daemon().state().flood.row.outcome, FloodOutcome::tripped);
  EXPECT_EQ(run.daemon().state().flood.last_end.reason, Reason::state_unsaved);
  EXPECT_EQ(alarm_of(run, Alarm::state_unsaved).state, AlarmState::unacknowledged);
  EXPECT_EQ(alarm_of(run, Alarm::pump_no_effect).state, AlarmState::normal);
  EXPECT_TRUE(run.log().has("the card has not answered for 30 s"));
  for (int i = 0; i < 180; ++i) {  // half an hour of a card that answers again
    card.let_go();
    run.run_for(seconds{10});
    ASSERT_EQ(run.daemon().gate().level(Output::pump), kStopped) << "that flood is over";
  }
  EXPECT_EQ(alarm_of(run, Alarm::state_unsaved).state, AlarmState::returned);
}

TEST(Daemon, AStartThatWaitedForTheCardFillsAsLongAsAnyOther) {
  SimulatedRun run(demo_that_floods());
  run.run_for(minutes{5});
  auto owned = std::make_unique<StalledStrand>();
  StalledStrand& card = *owned;
  run.strands().put("state file", std::move(owned));
  ASSERT_TRUE(run.ask(flood_start()).accepted);
  run.run_for(seconds{25});
  for (int i = 0; i < 3; ++i) card.let_go();
  ASSERT_EQ(run.daemon().gate().level(Output::pump), kRunning);
  run.run_for(seconds{15});
  EXPECT_EQ(run.daemon().state().flood.phase, FloodPhase::fill)
      << "20 s without effect are not over";
  EXPECT_LE(run.timers().now() - run.daemon().state().flood.fill_started, seconds{16});
}

TEST(Daemon, OnACardThatRefusesTheDebitThePumpDoesNotStart) {
  SimulatedRun run(demo_that_floods());
  run.run_for(minutes{5});
  {
    const FullCard card;
    run.ask(flood_start());
    for (int i = 0; i < 60; ++i) {
      run.run_for(seconds{1});
      ASSERT_EQ(run.daemon().gate().level(Output::pump), kStopped) << i;
    }
    EXPECT_EQ(alarm_of(run, Alarm::state_unsaved).state, AlarmState::unacknowledged);
    EXPECT_FALSE(run.ask(flood_start()).accepted);
    EXPECT_EQ(run.daemon().state().verdicts.of[Output::pump].because.reason, Reason::state_unsaved);
  }
  EXPECT_TRUE(run.log().has("no flood starts until it can be written"));
  run.run_for(hours{1});
  EXPECT_EQ(alarm_of(run, Alarm::state_unsaved).state, AlarmState::returned);
  ASSERT_TRUE(run.ask(flood_start()).accepted);
  run.run_for(seconds{5});
  EXPECT_EQ(run.daemon().gate().level(Output::pump), kRunning);
}

// A flood under way was debited before it began: a card that fails now does not cut it.
TEST(Daemon, ACardThatFailsInMidFloodStopsNoPump) {
  SimulatedRun run(demo_that_floods());
  run.run_for(minutes{5});
  ASSERT_TRUE(run.ask(flood_start()).accepted);
  run.run_for(seconds{10});
  ASSERT_EQ(run.daemon().gate().level(Output::pump), kRunning);
  const FullCard card;
  Request ack;  // something to be kept
  ack.kind = RequestKind::service_end;
  run.ask(ack);
  run.run_for(seconds{20});
  EXPECT_EQ(run.daemon().gate().level(Output::pump), kRunning);
}

TEST(Daemon, WithoutADiskItStartsInSafeModeAndLeavesItWhenTheDiskIsBack) {
  auto card = std::make_unique<FullCard>();
  SimulatedRun run(demo_that_floods());
  EXPECT_TRUE(run.daemon().safe_mode());
  run.run_for(minutes{2});
  EXPECT_EQ(alarm_of(run, Alarm::state_unsaved).state, AlarmState::unacknowledged);
  EXPECT_EQ(run.ask(flood_start()).because.reason, Reason::safe_mode);
  EXPECT_TRUE(run.log().has("nothing can be written in " + run.dir().path()));
  card.reset();
  run.run_for(seconds{30});
  EXPECT_FALSE(run.daemon().safe_mode());
  EXPECT_TRUE(load_manifest(run.dir().path())) << "outputs-safe must know what to drive";
  EXPECT_TRUE(run.ask(flood_start()).accepted);
}

TEST(Daemon, AManifestThatStandsOnTheDiskIsNotWrittenAgainAtAStart) {
  const TempDir dir;
  Manifest manifest;
  manifest.revision = 7;
  ASSERT_EQ(save_manifest(dir.path(), manifest), "");
  {
    const FullCard card;
    EXPECT_EQ(save_manifest(dir.path(), manifest), "");
    manifest.revision = 8;
    EXPECT_NE(save_manifest(dir.path(), manifest), "");
  }
  std::ofstream(dir / "outputs.b", std::ios::trunc) << "torn";
  manifest.revision = 7;
  ASSERT_EQ(save_manifest(dir.path(), manifest), "");
  EXPECT_EQ(*read_file(dir / "outputs.b", 1 << 20), to_text(manifest)) << "a torn copy is healed";
}

// A pump that does not obey its stop: what it took nobody knows, so nothing is given back.
TEST(Daemon, APumpThatIsNotProvenStoppedIsCreditedNothingByTheStop) {
  Writes deaf = [](Output output, std::optional<Permille> now, Permille) {
    return output == Output::pump && now == kRunning ? Fault::no_answer : Fault::none;
  };
  writes = &deaf;
  SimulatedRun run(demo_that_floods(), false, [](std::string_view) { return &kWatched; });
  run.run_for(minutes{5});
  ASSERT_TRUE(run.ask(flood_start()).accepted);
  run.run_for(seconds{5});
  ASSERT_EQ(run.daemon().gate().driven(Output::pump)->level, kRunning);
  const PumpRun debited = run.daemon().state().kept.budget.runs[0];
  ASSERT_GT(debited.ms, 60'000);
  run.daemon().stop("test", true);
  const auto found = StateFile(run.dir() / "state", false).load();
  ASSERT_TRUE(found.stored);
  EXPECT_EQ(found.stored->kept.budget.runs[0].ms, debited.ms);
}

TEST(Daemon, AWetFloorStopsThePumpInTheScanThatSeesIt) {
  SimulatedRun run(demo_that_floods());
  run.run_for(minutes{5});
  ASSERT_TRUE(run.ask(flood_start()).accepted);
  run.run_for(seconds{10});
  ASSERT_EQ(run.daemon().gate().level(Output::pump), kRunning);
  ASSERT_TRUE(run.world().inject("hose_burst", true, 1).accepted);
  for (int i = 0; i < 600; ++i) {
    run.run_for(seconds{1});
    if (run.daemon().hub().image()[Point::leak_floor].value == 1) break;
  }
  ASSERT_EQ(run.daemon().hub().image()[Point::leak_floor].value, 1);
  EXPECT_EQ(run.daemon().gate().level(Output::pump), kStopped);
  run.run_for(seconds{1});
  EXPECT_TRUE(run.daemon().state().kept.kernel.latched[static_cast<std::size_t>(Latch::leak)]);
}

TEST(Daemon, ARefusedReloadLeavesEverythingAsItWas) {
  SimulatedRun run(demo_that_floods());
  run.run_for(minutes{5});
  const std::string manifest = *read_file(run.dir() / "outputs.a", 1 << 20);
  const std::uint64_t hash = run.daemon().loaded().hash;
  std::ofstream(run.dir() / "bad.yaml") << demo_with("soak_limit: 20 min", "soak_limit: 20 mim");
  const Applied applied = run.apply(run.dir() / "bad.yaml");
  EXPECT_FALSE(applied.applied);
  EXPECT_EQ(applied.problems.size(), 1u);
  EXPECT_EQ(run.daemon().loaded().hash, hash);
  EXPECT_EQ(*read_file(run.dir() / "outputs.a", 1 << 20), manifest);
  run.run_for(minutes{5});
  EXPECT_FALSE(run.daemon().gate().troubled());
}

TEST(Daemon, AReloadTakesTheNewPlanBetweenTwoScans) {
  SimulatedRun run(demo_that_floods());
  run.run_for(minutes{5});
  std::string text = demo_that_floods();
  text.replace(text.find("soak_limit: 20 min"), 18, "soak_limit: 25 min");
  std::ofstream(run.dir() / "new.yaml") << text;
  const Applied applied = run.apply(run.dir() / "new.yaml");
  EXPECT_TRUE(applied.applied) << applied.failure << applied.problems.size();
  EXPECT_EQ(applied.difference.size(), 1u);
  EXPECT_EQ(run.daemon().loaded().plan.table.soak_limit, minutes{25});
  EXPECT_EQ(load_manifest(run.dir().path())->settings_hash, applied.hash);
}

TEST(Daemon, AFileThatChangedSinceItWasCheckedIsNotApplied) {
  SimulatedRun run(demo_that_floods());
  std::ofstream(run.dir() / "new.yaml") << demo_that_floods();
  const Applied applied = run.apply(run.dir() / "new.yaml", 12345u);
  EXPECT_FALSE(applied.applied);
  EXPECT_NE(applied.failure.find("changed"), std::string::npos);
}

TEST(Daemon, ASlowDiskHoldsAReloadBackAndNoScan) {
  SimulatedRun run(demo_that_floods());
  run.run_for(minutes{5});
  auto owned = std::make_unique<StalledStrand>();
  StalledStrand& disk = *owned;
  run.strands().put("reload", std::move(owned));
  std::string text = demo_that_floods();
  text.replace(text.find("soak_limit: 20 min"), 18, "soak_limit: 25 min");
  std::ofstream(run.dir() / "new.yaml") << text;
  const std::string manifest = *read_file(run.dir() / "outputs.a", 1 << 20);
  std::vector<Applied> answers;
  const auto keep = [&answers](const Applied& applied) { answers.push_back(applied); };
  run.daemon().apply(run.dir() / "new.yaml", {}, keep);
  run.daemon().apply(run.dir() / "new.yaml", {}, keep);
  ASSERT_EQ(answers.size(), 1u) << "of two reloads at once the second is refused";
  EXPECT_NE(answers[0].failure.find("another reload"), std::string::npos);
  disk.let_go();  // the settings are read; the manifest is not yet written
  const std::uint64_t scans = run.daemon().scans();
  run.run_for(minutes{1});
  EXPECT_GT(run.daemon().scans(), scans);
  EXPECT_EQ(answers.size(), 1u);
  EXPECT_EQ(run.daemon().loaded().plan.table.soak_limit, minutes{20});
  EXPECT_EQ(*read_file(run.dir() / "outputs.a", 1 << 20), manifest);
  disk.let_go();
  ASSERT_EQ(answers.size(), 2u);
  EXPECT_TRUE(answers[1].applied);
  EXPECT_EQ(run.daemon().loaded().plan.table.soak_limit, minutes{25});
  EXPECT_EQ(load_manifest(run.dir().path())->settings_hash, answers[1].hash);
}

TEST(Daemon, AReloadThatTheStopOvertakesIsAnsweredAndChangesNothing) {
  SimulatedRun run(demo_that_floods());
  auto owned = std::make_unique<StalledStrand>();
  StalledStrand& disk = *owned;
  run.strands().put("reload", std::move(owned));
  std::ofstream(run.dir() / "new.yaml") << demo_that_floods();
  std::vector<Applied> answers;
  run.daemon().apply(run.dir() / "new.yaml", {},
                     [&answers](const Applied& applied) { answers.push_back(applied); });
  run.daemon().stop("test", true);
  disk.let_go();
  ASSERT_EQ(answers.size(), 1u);
  EXPECT_FALSE(answers[0].applied);
  EXPECT_EQ(answers[0].failure, "neapd stops");
}

TEST(Daemon, AManifestThatWouldSayTheSameIsNotWrittenAgain) {
  SimulatedRun run(demo_that_floods());
  std::ofstream(run.dir() / "same.yaml") << demo_that_floods();
  std::filesystem::remove(run.dir() / "outputs.a");
  EXPECT_TRUE(run.apply(run.dir() / "same.yaml").applied);
  EXPECT_FALSE(std::filesystem::exists(run.dir() / "outputs.a"));
  std::ofstream(run.dir() / "other.yaml") << "# another text\n" + demo_that_floods();
  EXPECT_TRUE(run.apply(run.dir() / "other.yaml").applied);
  EXPECT_TRUE(std::filesystem::exists(run.dir() / "outputs.a"));
}

TEST(Daemon, AProperStopLeavesOutputsSafeAndSaysSo) {
  SimulatedRun run(demo_that_floods());
  run.run_for(minutes{5});
  ASSERT_TRUE(run.ask(flood_start()).accepted);
  run.run_for(seconds{5});
  run.daemon().stop("test", true);
  EXPECT_EQ(run.daemon().gate().level(Output::pump), kStopped);
  StateFile file(run.dir() / "state", false);
  EXPECT_TRUE(file.load().stored->boot.clean_stop);
}

}  // namespace
}  // namespace neap::shell
