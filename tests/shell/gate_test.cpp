#include "daemon/shell/gate.h"

#include <gtest/gtest.h>

#include <array>

#include "tests/shell/support.h"

namespace neap::shell {
namespace {

using drivers::Context;
using drivers::OutputDriverInfo;
using drivers::Params;

// The lines as they really are, and every write in order.
struct Bench {
  PerOutput<std::optional<Permille>> line;
  std::vector<std::pair<Output, Permille>> writes;
  Fault fault = Fault::none;
  bool welded = false;  // writes are taken and change nothing
  bool dumb = false;    // writes are taken and nothing can be read back
  std::string trouble;
  std::size_t made = 0;
  std::size_t made_before_first_write = 0;
};
Bench* bench = nullptr;

class FakeOutput final : public drivers::OutputDriver {
 public:
  explicit FakeOutput(Output output) : output_(output) { ++bench->made; }
  Fault write(Permille level) override {
    if (bench->writes.empty()) bench->made_before_first_write = bench->made;
    bench->writes.emplace_back(output_, level);
    if (bench->fault != Fault::none) return bench->fault;
    if (!bench->welded) bench->line[output_] = level;
    return Fault::none;
  }
  std::optional<Permille> read_back() override {
    return bench->dumb ? std::nullopt : bench->line[output_];
  }
  std::string trouble() const override { return bench->trouble; }

 private:
  Output output_;
};

constexpr OutputDriverInfo fake(bool tells_level) {
  return {"fake",
          "for tests",
          {},
          true,
          false,
          false,
          [](const Params&) { return std::string("bus"); },
          [](const Params&, Output) { return std::string(); },
          [](const Params&, Output output, Context&) -> std::unique_ptr<drivers::OutputDriver> {
            return std::make_unique<FakeOutput>(output);
          },
          nullptr,
          tells_level};
}
constexpr OutputDriverInfo kFake = fake(true);
constexpr OutputDriverInfo kBlind = fake(false);

class GateTest : public testing::Test {
 protected:
  GateTest() {
    bench = &real;
    real.line[Output::pump] = kRunning;  // as a killed daemon left it
    for (const Output output : {Output::pump, Output::exhaust_fan})
      manifest.rows.push_back({{output, "fake", {}}, info(output).safe});
  }
  void open() { gate.open(manifest, context); }
  OutputImage image(Permille pump, Permille fan) {
    OutputImage out;
    for (const OutputInfo& row : kOutputs) out.driven[row.output] = true;
    for (const OutputInfo& row : kOutputs)
      out.commands[row.output].until = timers.now() + seconds{30};
    out.commands[Output::pump].level = pump;
    out.commands[Output::exhaust_fan].level = fan;
    return out;
  }
  void run_to(Millis after) { timers.run_until(kUglyStart + after); }

  Bench real;
  KeptLog log;
  VirtualTimers timers{kUglyStart};
  Strands strands{timers, false};
  Context context;
  Manifest manifest;
  Gate gate{timers, strands, log.sink(), [](std::string_view) { return &kFake; }};
};

TEST_F(GateTest, OpeningDrivesEveryListedOutputSafeAndProvesIt) {
  open();
  EXPECT_EQ(real.line[Output::pump], kStopped);
  EXPECT_EQ(real.line[Output::exhaust_fan], kRunning);
  EXPECT_TRUE(gate.proven());
}

TEST_F(GateTest, AllDriversAreMadeBeforeTheFirstIsWritten) {
  open();
  EXPECT_EQ(real.made_before_first_write, manifest.rows.size())
      << "drivers of one chip ask for its lines together";
}

TEST_F(GateTest, WhatTheDriverKnowsOfItsTroubleIsTold) {
  real.fault = Fault::no_answer;
  real.trouble = "line 7 is held by \"other\"";
  open();
  EXPECT_TRUE(log.has("it is tried again each second: line 7 is held by \"other\""));
}

TEST_F(GateTest, AnOutputThatDoesNotObeyIsNotProvenAndNamed) {
  real.welded = true;
  open();
  EXPECT_FALSE(gate.proven());
  EXPECT_EQ(gate.troubled(), Output::pump);
  EXPECT_TRUE(log.has("flood") || log.has("pump"));
}

TEST_F(GateTest, AnOutputThatShouldTellItsLevelAndDoesNotIsNotProven) {
  real.dumb = true;
  open();
  EXPECT_FALSE(gate.proven());
  EXPECT_EQ(gate.troubled(), Output::pump);
  EXPECT_TRUE(log.has("cannot be read back"));
  real.dumb = false;
  gate.apply(image(kStopped, kRunning));
  EXPECT_TRUE(gate.proven());
  EXPECT_FALSE(gate.troubled());
}

TEST_F(GateTest, AnOutputThatCannotBeReadBackByItsNatureIsProvenByTheWrite) {
  Gate blind(timers, strands, log.sink(), [](std::string_view) { return &kBlind; });
  real.dumb = true;
  blind.open(manifest, context);
  EXPECT_TRUE(blind.proven());
}

TEST_F(GateTest, APumpThatFallsSilentWhileItRunsIsTroubledAndNamedBeforeTheFan) {
  std::swap(manifest.rows[0], manifest.rows[1]);
  open();
  real.dumb = true;
  gate.apply(image(kRunning, Permille{300}));
  EXPECT_TRUE(gate.proven()) << "the others go on";
  EXPECT_EQ(gate.troubled(), Output::pump);
}

TEST_F(GateTest, AnUnknownDriverInTheManifestIsNotProven) {
  Gate strict(timers, strands, log.sink(),
              [](std::string_view) -> const OutputDriverInfo* { return nullptr; });
  strict.open(manifest, context);
  EXPECT_FALSE(strict.proven());
}

TEST_F(GateTest, ALineThatMovesByItselfIsFoundOutWithinTenSecondsAndWrittenAgain) {
  open();
  real.line[Output::exhaust_fan] = kStopped;  // another hand; neap asked for running
  const std::size_t before = real.writes.size();
  run_to(seconds{9});
  gate.apply(image(kStopped, kRunning));
  EXPECT_FALSE(gate.troubled());
  run_to(seconds{10});
  gate.apply(image(kStopped, kRunning));
  EXPECT_EQ(gate.troubled(), Output::exhaust_fan);
  EXPECT_EQ(real.writes.size(), before) << "looking writes nothing";
  run_to(seconds{11});
  gate.apply(image(kStopped, kRunning));
  EXPECT_EQ(real.line[Output::exhaust_fan], kRunning);
  EXPECT_FALSE(gate.troubled());
}

TEST_F(GateTest, WritesHappenOnChangeOnly) {
  open();
  const std::size_t before = real.writes.size();
  for (int i = 0; i < 5; ++i) gate.apply(image(kRunning, kRunning));
  EXPECT_EQ(real.writes.size() - before, 1u);
  EXPECT_EQ(real.line[Output::pump], kRunning);
}

TEST_F(GateTest, WithoutAScanThePumpStopsAfterThreeSeconds) {
  open();
  gate.apply(image(kRunning, kRunning));
  run_to(Millis{2999});
  EXPECT_EQ(real.line[Output::pump], kRunning);
  run_to(Millis{3000});
  EXPECT_EQ(real.line[Output::pump], kStopped);
  EXPECT_TRUE(log.has("lease"));
}

TEST_F(GateTest, ALeaseRenewedEachSecondHolds) {
  open();
  for (int second = 0; second < 60; ++second) {
    run_to(seconds{second});
    gate.apply(image(kRunning, kRunning));
    ASSERT_EQ(real.line[Output::pump], kRunning) << second;
  }
  run_to(seconds{63});
  EXPECT_EQ(real.line[Output::pump], kStopped);
}

TEST_F(GateTest, OtherOutputsAreLeasedForThirtySecondsAndFallToTheirOwnSafeState) {
  open();
  gate.apply(image(kStopped, Permille{300}));
  run_to(Millis{29'999});
  EXPECT_EQ(real.line[Output::exhaust_fan], Permille{300});
  run_to(seconds{30});
  EXPECT_EQ(real.line[Output::exhaust_fan], kRunning);
}

TEST_F(GateTest, ACommandWhoseLeaseIsOverDrivesNothing) {
  open();
  OutputImage late = image(kRunning, kRunning);
  late.commands[Output::pump].until = timers.now();
  gate.apply(late);
  EXPECT_EQ(real.line[Output::pump], kStopped);
}

TEST_F(GateTest, AnImageThatIsNotDrivenKeepsEverythingSafe) {
  open();
  OutputImage observed = image(kRunning, kStopped);
  observed.driven = {};
  gate.apply(observed);
  EXPECT_EQ(real.line[Output::pump], kStopped);
  EXPECT_EQ(real.line[Output::exhaust_fan], kRunning);
}

TEST_F(GateTest, TheFirstHalfOfAnImageOnlyMovesTowardsSafe) {
  open();
  gate.apply(image(kStopped, Permille{300}));
  gate.apply_safe(image(kRunning, kRunning));
  EXPECT_EQ(real.line[Output::pump], kStopped);
  EXPECT_EQ(real.line[Output::exhaust_fan], kRunning);
}

TEST_F(GateTest, AFailedWriteIsTriedAgainWithTheNextImageAndToldOnce) {
  open();
  real.fault = Fault::no_answer;
  for (int i = 0; i < 4; ++i) gate.apply(image(kRunning, kRunning));
  EXPECT_EQ(gate.troubled(), Output::pump);
  EXPECT_EQ(log.lines.size(), 1u);
  real.fault = Fault::none;
  gate.apply(image(kRunning, kRunning));
  EXPECT_EQ(real.line[Output::pump], kRunning);
  EXPECT_FALSE(gate.troubled());
}

TEST_F(GateTest, TheSameOutputsAreNotTouchedByAReload) {
  open();
  gate.apply(image(kRunning, kRunning));
  const std::size_t before = real.writes.size();
  manifest.revision = 2;
  open();
  EXPECT_EQ(real.writes.size(), before);
  EXPECT_EQ(real.line[Output::pump], kRunning);
}

TEST_F(GateTest, AtTheEndEveryOutputIsSafe) {
  open();
  gate.apply(image(kRunning, Permille{300}));
  gate.all_safe();
  EXPECT_EQ(real.line[Output::pump], kStopped);
  EXPECT_EQ(real.line[Output::exhaust_fan], kRunning);
}

// --- what blinks --------------------------------------------------------------------------------

class BlinkingLamp : public GateTest {
 protected:
  BlinkingLamp() { manifest.rows.push_back({{Output::lamp, "fake", {}}, kStopped}); }
  OutputImage lamp(Blink blink, Millis lease = seconds{30}) {
    OutputImage out = image(kStopped, kRunning);
    Command& command = out.commands[Output::lamp];
    command.level = kRunning;
    command.until = timers.now() + lease;
    command.blink = blink;
    return out;
  }
  // When it changed, since `from`.
  std::vector<Permille> shown() const {
    std::vector<Permille> levels;
    for (const auto& [output, level] : real.writes)
      if (output == Output::lamp) levels.push_back(level);
    return levels;
  }
  void run(Millis span) { timers.run_until(timers.now() + span); }
};

TEST_F(BlinkingLamp, BlinksBetweenTwoScansAndCountsAsLitThroughout) {
  open();
  real.writes.clear();
  gate.apply(lamp(Blink::fast));
  run(Millis{1100});
  EXPECT_EQ(shown(), (std::vector{kRunning, kStopped, kRunning, kStopped, kRunning}));
  run(Millis{200});
  EXPECT_EQ(*real.line[Output::lamp], kStopped);
  EXPECT_EQ(gate.level(Output::lamp), kRunning) << "the core is told what it granted";
  EXPECT_TRUE(gate.lease(Output::lamp));
}

TEST_F(BlinkingLamp, ANewScanDoesNotShiftItsRhythmAndASteadyOneEndsIt) {
  open();
  gate.apply(lamp(Blink::slow));
  run(Millis{600});
  gate.apply(lamp(Blink::slow));
  run(Millis{600});
  EXPECT_EQ(*real.line[Output::lamp], kStopped);
  gate.apply(lamp(Blink::steady));
  run(seconds{3});
  EXPECT_EQ(*real.line[Output::lamp], kRunning);
  real.writes.clear();
  run(seconds{5});
  EXPECT_TRUE(shown().empty());
}

// Also in a dark moment of its blink: nobody renewed it.
TEST_F(BlinkingLamp, GoesDarkForGoodWhenNoScanRenewsItsLease) {
  open();
  gate.apply(lamp(Blink::slow, Millis{1500}));
  run(seconds{2});
  EXPECT_EQ(*real.line[Output::lamp], kStopped);
  EXPECT_FALSE(gate.lease(Output::lamp));
  real.writes.clear();
  run(seconds{10});
  EXPECT_TRUE(shown().empty());
}

}  // namespace
}  // namespace neap::shell
