// Goal: the pump's dead-man circuit sees edges while, and only while, the pump is granted by a scan
// that finished with every output in hand. Method: a gate under the virtual clock over a line that
// counts its edges, and strands that hang when told to.
#include "daemon/shell/enable_pulse.h"

#include <gtest/gtest.h>

#include "daemon/core/limits.h"
#include "daemon/shell/gate.h"
#include "tests/shell/support.h"

namespace neap::shell {
namespace {

using drivers::Context;
using drivers::OutputDriverInfo;
using drivers::Params;

constexpr Millis kPeriod{200};

struct Wires {
  Permille pulse = kRunning;  // as a dead process left it
  int edges = 0;
  int rising = 0;
  Fault fault = Fault::none;
};
Wires* wires = nullptr;

class PulseLine final : public drivers::OutputDriver {
 public:
  Fault write(Permille level) override {
    if (wires->fault != Fault::none) return wires->fault;
    wires->edges += level != wires->pulse;
    wires->rising += level == kRunning && wires->pulse == kStopped;
    wires->pulse = level;
    return Fault::none;
  }
  std::optional<Permille> read_back() override { return wires->pulse; }
  std::string trouble() const override { return "line 24 is held by \"other\""; }
};

class Relay final : public drivers::OutputDriver {
 public:
  Fault write(Permille level) override {
    level_ = level;
    return Fault::none;
  }
  std::optional<Permille> read_back() override { return level_; }

 private:
  Permille level_ = kStopped;
};

template <class Driver>
constexpr OutputDriverInfo driver_of(const char* name) {
  return {name,
          "for tests",
          {},
          false,
          false,
          false,
          [](const Params&) { return std::string("relays"); },
          [](const Params&, Output) { return std::string(); },
          [](const Params&, Output, Context&) -> std::unique_ptr<drivers::OutputDriver> {
            return std::make_unique<Driver>();
          }};
}
constexpr OutputDriverInfo kRelay = driver_of<Relay>("relay");
constexpr OutputDriverInfo kLine = driver_of<PulseLine>("gpio_relay");

// Serves inline until it hangs; then keeps what it is given until it is let go.
class HangingStrand final : public Strand {
 public:
  void post(Action job, Action done) override {
    if (hangs) return kept.emplace_back(std::move(job), std::move(done)), void();
    job();
    done();
  }
  bool run(Action job, std::chrono::milliseconds) override {
    if (!hangs) job();
    return !hangs;
  }
  void let_go() {
    hangs = false;
    for (auto& [job, done] : std::exchange(kept, {})) job(), done();
  }
  bool hangs = false;
  std::vector<std::pair<Action, Action>> kept;
};

class EnablePulseTest : public testing::Test {
 protected:
  EnablePulseTest() {
    wires = &seen;
    for (const auto& [name, strand] :
         {std::pair{"relays", &relays}, std::pair{"enable pulse", &pulses}}) {
      auto owned = std::make_unique<HangingStrand>();
      *strand = owned.get();
      strands.put(name, std::move(owned));
    }
    Params pulse;
    pulse.set("period_ms", std::to_string(kPeriod.count()));
    manifest.rows.push_back({{Output::pump, "relay", {}, pulse}, kStopped});
    manifest.rows.push_back({{Output::pump_series, "relay", {}}, kStopped});
    manifest.rows.push_back({{Output::light, "relay", {}}, kStopped});
    gate.open(manifest, context);
    seen.edges = 0;
  }
  OutputImage image(Permille pump, Permille series) const {
    OutputImage out;
    for (const OutputInfo& row : kOutputs) out.driven[row.output] = true;
    for (const Output output : {Output::pump, Output::pump_series, Output::light})
      out.commands[output].until = timers.now() + limits::lease_of(output);
    out.commands[Output::pump].level = pump;
    out.commands[Output::pump_series].level = series;
    return out;
  }
  void scan(Permille pump, Permille series) {
    gate.apply(image(pump, series));
    gate.scan_finished();
  }
  void scan(Permille pump) { scan(pump, pump); }
  // Edges within so long, without a scan.
  int edges_in(Millis span) {
    const int before = seen.edges;
    timers.run_until(timers.now() + span);
    return seen.edges - before;
  }

  Wires seen;
  KeptLog log;
  VirtualTimers timers{kUglyStart};
  Strands strands{timers, false};
  HangingStrand* relays = nullptr;
  HangingStrand* pulses = nullptr;
  Context context;
  Manifest manifest;
  Gate gate{timers, strands, log.sink(),
            [](std::string_view name) { return name == "gpio_relay" ? &kLine : &kRelay; }};
};

TEST_F(EnablePulseTest, OpeningPutsItsLineToRestAndScansWithoutThePumpMoveNothing) {
  EXPECT_EQ(seen.pulse, kStopped);
  for (int i = 0; i < 5; ++i) {
    scan(kStopped);
    EXPECT_EQ(edges_in(seconds{1}), 0);
  }
}

TEST_F(EnablePulseTest, TwoEdgesAPeriodWhileScansLetThePumpRun) {
  int edges = 0;
  for (int i = 0; i < 10; ++i) {
    scan(kRunning);
    edges += edges_in(seconds{1});
  }
  EXPECT_EQ(edges, 10 * 1000 / (kPeriod.count() / 2));
}

TEST_F(EnablePulseTest, NoScanWasEverFinishedNoEdge) {
  gate.apply(image(kRunning, kRunning));
  EXPECT_EQ(edges_in(seconds{2}), 0);
  gate.scan_finished();
  EXPECT_GT(edges_in(Millis{500}), 0);
}

TEST_F(EnablePulseTest, ItEndsInTheScanThatStopsThePumpAndWithAFallingEdgeAtMost) {
  scan(kRunning);
  edges_in(Millis{250});
  const int rising = seen.rising;
  gate.apply_safe(image(kStopped, kStopped));  // before that scan has finished
  EXPECT_EQ(edges_in(seconds{5}), 0);
  EXPECT_EQ(seen.pulse, kStopped);
  EXPECT_EQ(seen.rising, rising);
}

// Renewed leases alone keep it up as little as scans alone: three seconds after the last one that
// finished there is no edge more.
TEST_F(EnablePulseTest, ScansThatBeginAndDoNotFinishEndIt) {
  scan(kRunning);
  edges_in(seconds{1});
  for (int i = 0; i < 2; ++i) {
    gate.apply(image(kRunning, kRunning));
    EXPECT_GT(edges_in(seconds{1}), 0);
  }
  for (int i = 0; i < 3; ++i) {
    gate.apply(image(kRunning, kRunning));
    EXPECT_EQ(edges_in(seconds{1}), 0);
  }
}

TEST_F(EnablePulseTest, ItEndsWithTheLeaseWhenNoScanComes) {
  scan(kRunning);
  EXPECT_GT(edges_in(Millis{2900}), 20);
  edges_in(Millis{200});
  EXPECT_EQ(edges_in(minutes{1}), 0);
  EXPECT_EQ(seen.pulse, kStopped);
}

TEST_F(EnablePulseTest, EitherContactKeepsItUpSoThatAWeldOfTheOtherShows) {
  for (const auto& [pump, series] :
       {std::pair{kStopped, kRunning}, std::pair{kRunning, kStopped}}) {
    scan(pump, series);
    EXPECT_GT(edges_in(Millis{500}), 0);
  }
  scan(kStopped);
  EXPECT_EQ(edges_in(seconds{1}), 0);
}

TEST_F(EnablePulseTest, APumpWhoseWriteIsStuckIsNotKeptEnabled) {
  scan(kRunning);
  edges_in(seconds{1});
  relays->hangs = true;
  for (int i = 0; i < 2; ++i) {
    scan(i == 0 ? kStopped : kRunning);  // the stop hangs, and is taken back
    edges_in(seconds{1});
  }
  scan(kRunning);
  edges_in(Millis{100});
  EXPECT_EQ(edges_in(Millis{900}), 0) << "two seconds after the write that hangs";
}

TEST_F(EnablePulseTest, AnyOutputThatHangsForTenSecondsEndsItAsItStarvesTheWatchdog) {
  scan(kRunning);
  relays->hangs = true;
  OutputImage lit = image(kRunning, kRunning);
  lit.commands[Output::light].level = kRunning;
  gate.apply(lit);
  relays->hangs = false;  // the light alone
  for (int i = 0; i < 10; ++i) {
    scan(kRunning);
    EXPECT_GT(edges_in(seconds{1}), 0) << i;
  }
  edges_in(Millis{100});
  gate.apply(image(kRunning, kRunning));
  EXPECT_FALSE(gate.scan_finished());
  EXPECT_EQ(edges_in(seconds{1}), 0);
}

TEST_F(EnablePulseTest, TheEndOfTheProcessEndsIt) {
  scan(kRunning);
  edges_in(Millis{250});
  gate.all_safe();
  EXPECT_EQ(seen.pulse, kStopped);
  EXPECT_EQ(edges_in(seconds{3}), 0);
}

TEST_F(EnablePulseTest, ALineThatHangsGetsNoBacklogOfEdges) {
  scan(kRunning);
  edges_in(Millis{150});
  pulses->hangs = true;
  scan(kRunning);
  edges_in(seconds{1});
  EXPECT_EQ(pulses->kept.size(), 1u);
  for (int i = 0; i < 2; ++i) {
    scan(kRunning);
    edges_in(seconds{1});
  }
  EXPECT_EQ(gate.troubled(), Output::pump);
  EXPECT_TRUE(log.has("enable pulse cannot be made"));
  const int before = seen.edges;
  pulses->let_go();
  EXPECT_LE(seen.edges - before, 1);
  scan(kRunning);
  EXPECT_GT(edges_in(seconds{1}), 5);
  EXPECT_FALSE(gate.troubled());
}

// Its last edge came back only after the pump was stopped: the line is not left high.
TEST_F(EnablePulseTest, AnEdgeThatComesBackTooLateIsTakenDownAgain) {
  scan(kRunning);
  edges_in(Millis{250});
  ASSERT_EQ(seen.pulse, kRunning);
  edges_in(Millis{100});
  ASSERT_EQ(seen.pulse, kStopped);
  pulses->hangs = true;
  edges_in(Millis{100});
  ASSERT_EQ(pulses->kept.size(), 1u);
  scan(kStopped);
  pulses->let_go();
  EXPECT_EQ(seen.pulse, kStopped);
  EXPECT_EQ(edges_in(seconds{3}), 0);
}

TEST_F(EnablePulseTest, ALineThatAnotherProgramHoldsIsTheTroubleOfThePump) {
  seen.fault = Fault::taken;
  Manifest other = manifest;
  other.rows[0].setup.enable_pulse->set("line", "GPIO25");
  gate.open(other, context);
  EXPECT_EQ(gate.troubled(), Output::pump);
  EXPECT_TRUE(log.has("held by \"other\""));
  EXPECT_TRUE(gate.proven()) << "the pump's own line is safe, and the circuit lets it not run";
  seen.fault = Fault::none;
  scan(kStopped);
  EXPECT_FALSE(gate.troubled()) << "tried again with each image";
}

TEST_F(EnablePulseTest, AManifestWithoutItEndsIt) {
  scan(kRunning);
  edges_in(seconds{1});
  Manifest without = manifest;
  without.rows[0].setup.enable_pulse.reset();
  gate.open(without, context);
  scan(kRunning);
  EXPECT_EQ(edges_in(seconds{1}), 0);
}

}  // namespace
}  // namespace neap::shell
