// The gate: the only normal writer of outputs. (The other two are its own lease expiry and the
// program neap-outputs-safe.) It opens what the manifest lists and drives it safe before anything
// else happens; then it turns each output image into writes, on change only, and keeps the leases:
// an output away from its safe level goes back to it at the command's `until` unless a later scan
// renewed it. Expiry goes towards safe only.
//
// A write is proven by reading the line back; a driver that says it can (tells_level) and has no
// level to show proves nothing. A failed or unproven write is trouble, is tried again with the next
// image, and is told to the scan.
#pragma once

#include <memory>
#include <optional>

#include "daemon/core/driven.h"
#include "daemon/core/image.h"
#include "daemon/shell/enable_pulse.h"
#include "daemon/shell/log.h"
#include "daemon/shell/manifest.h"
#include "daemon/shell/strands.h"
#include "daemon/shell/timers.h"

namespace neap::shell {

class Gate {
 public:
  // A read-back may differ from a modulated level by the driver's own steps (8 bit: 4 in 1000).
  static constexpr int kProofTolerance = 10;
  static constexpr std::chrono::milliseconds kStartWait{1000};
  // A line that rests is read back this often: a chip may go, or another hand come, between two
  // writes (common practice, no source).
  static constexpr Millis kProveAgain = seconds{10};

  // `find` is the registry; tests have drivers of their own.
  using Find = const drivers::OutputDriverInfo* (*)(std::string_view);
  Gate(TimerQueue& timers, Strands& strands, LogSink log, Find find = drivers::find_output_driver);
  ~Gate();
  Gate(const Gate&) = delete;
  Gate& operator=(const Gate&) = delete;

  // Opens the outputs of `manifest` in place of those open now, and drives each to its safe level.
  // Waits for the writes, kStartWait an output at most. Outputs that stay the same are not touched.
  void open(const Manifest& manifest, drivers::Context& context);

  // Two halves of one image: first whatever moves to the safe level, then the rest. Between them
  // the caller makes the pump's debit durable.
  void apply_safe(const OutputImage& image);
  void apply(const OutputImage& image);

  // The loop stood still, and a scan had its turn before the expiry of leases that ended meanwhile:
  // they lapse now. True when there was one.
  bool lapse_overdue();
  // A scan ran to its end: what an enable pulse needs behind it, and a watchdog. False when a write
  // to an output has not come back for so long that its strand hangs: the line is out of our hands,
  // and neither is fed.
  static constexpr Millis kHangs = seconds{10};
  bool scan_finished();

  // Every output to its safe level, waiting for the writes; for the end of the process.
  void all_safe();

  // Every safe level was written, and read back where that is possible, once since it was opened.
  // An output that fails later is troubled(), and does not take the others with it.
  bool proven() const;
  // An output whose last write failed or could not be proven, or whose enable pulse cannot be made;
  // what moves water before any other.
  std::optional<Output> troubled() const;
  // What was last granted and asked of the driver, also where it blinks; none when the output is
  // not fitted.
  std::optional<Permille> level(Output output) const;
  // The same, with whether that write is done and proven.
  std::optional<Driven> driven(Output output) const;
  // The lease in force: none when the output is at its safe level.
  std::optional<Instant> lease(Output output) const;

 private:
  struct Line;
  void steer(const OutputImage& image, bool towards_safe_only);
  void write(const std::shared_ptr<Line>& line, Permille level);
  void prove(const std::shared_ptr<Line>& line);
  void post(const std::shared_ptr<Line>& line,
            std::string (*job)(drivers::OutputDriver&, bool, Permille));
  void write_and_wait(const std::shared_ptr<Line>& line, Permille level);
  void settled(const std::shared_ptr<Line>& line, const std::string& trouble);
  void lapse(const std::shared_ptr<Line>& line);
  void close(Line& line);
  void set_blink(const std::shared_ptr<Line>& line, Blink blink);
  void arm_beat(const std::shared_ptr<Line>& line);
  void make_enable_pulse(const ManifestRow& row, const drivers::Context& context);
  void drop_enable_pulse();
  bool pump_is_backed() const;
  bool hangs() const;

  TimerQueue& timers_;
  Strands& strands_;
  LogSink log_;
  Find find_;
  PerOutput<std::shared_ptr<Line>> lines_;
  Manifest manifest_;
  std::shared_ptr<EnablePulse> enable_pulse_;  // of the pump, where its settings have one
  std::optional<Instant> scan_finished_;
};

}  // namespace neap::shell
