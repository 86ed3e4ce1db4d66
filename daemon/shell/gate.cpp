#include "daemon/shell/gate.h"

#include <algorithm>
#include <cstdlib>

#include "daemon/core/limits.h"
#include "daemon/words/words.h"

namespace neap::shell {
namespace {

// Longer than any output driver may block; beyond it the output is in trouble.
constexpr Millis kWriteDeadline = seconds{2};

constexpr std::string_view kEnablePulseDriver = "gpio_relay";

const std::string kNotReadBack = "no answer when read back; it is written again as soon as it can";

std::string not_written(Fault fault, const std::string& known = {}) {
  return std::string(words::name(fault)) + " when written to; it is tried again each second" +
         (known.empty() ? "" : ": " + known);
}

// What moves water before anything else; then in the order of kOutputs.
bool comes_before(Output a, Output b) {
  return moves_water(a) != moves_water(b) ? moves_water(a) : a < b;
}

// What is wrong with a line that should stand at `level`; empty when nothing is. Like the next,
// this runs on the strand.
std::string not_proven(drivers::OutputDriver& driver, bool tells_level, Permille level) {
  const std::optional<Permille> seen = driver.read_back();
  if (!seen && !tells_level) return {};
  if (!seen) {
    const std::string known = driver.trouble();
    return "takes a level and cannot be read back; it is not trusted" +
           (known.empty() ? known : ": " + known);
  }
  if (std::abs(seen->value - level.value) <= Gate::kProofTolerance) return {};
  return "reads back another level than was written";
}

std::string write_and_prove(drivers::OutputDriver& driver, bool tells_level, Permille level) {
  const Fault fault = driver.write(level);
  if (fault != Fault::none) return not_written(fault, driver.trouble());
  return not_proven(driver, tells_level, level);
}

}  // namespace

struct Gate::Line {
  Output output = Output::pump;
  Permille safe = kStopped;
  std::shared_ptr<drivers::OutputDriver> driver;
  bool tells_level = true;  // of the driver
  Strand* strand = nullptr;
  Permille granted = kStopped;  // by the last image, or safe since its lease lapsed
  Permille asked = kStopped;    // last level handed to the driver: dark between two blinks
  Blink blink = Blink::steady;
  bool dark = false;  // of its blink
  TimerId beat = 0;
  bool asked_any = false;
  bool settled = false;  // the last write is done and proven
  bool trouble = false;
  bool proven_safe = false;  // its safe level was written and proven once since it was opened
  bool closed = false;
  bool in_flight = false;  // a write or a proof is on the strand; at most one is
  bool proving = false;    // it is a proof
  bool stale = false;      // asked changed meanwhile: write again
  Instant posted{};        // when it went there
  Instant until{};         // the lease
  TimerId expiry = 0;
  bool expiry_armed = false;
};

Gate::Gate(TimerQueue& timers, Strands& strands, LogSink log, Find find)
    : timers_(timers), strands_(strands), log_(std::move(log)), find_(find) {}

Gate::~Gate() {
  for (const OutputInfo& row : kOutputs) {
    const auto& line = lines_[row.output];
    if (!line) continue;
    close(*line);
  }
  drop_enable_pulse();
}

void Gate::close(Line& line) {
  line.closed = true;
  timers_.cancel(line.expiry);
  timers_.cancel(line.beat);
}

void Gate::open(const Manifest& manifest, drivers::Context& context) {
  const bool open_already =
      std::all_of(manifest.rows.begin(), manifest.rows.end(),
                  [this](const ManifestRow& row) { return lines_[row.setup.output] != nullptr; });
  const bool same = open_already && same_outputs(manifest_, manifest);
  manifest_ = manifest;
  if (same) {
    for (const ManifestRow& row : manifest.rows)
      if (const auto& line = lines_[row.setup.output]) line->safe = row.safe;
    return;
  }
  all_safe();
  for (const OutputInfo& row : kOutputs) {
    if (lines_[row.output]) close(*lines_[row.output]);
    lines_[row.output].reset();
  }
  drop_enable_pulse();
  for (const ManifestRow& row : manifest.rows) {
    const drivers::OutputDriverInfo* driver = find_(row.setup.driver);
    if (driver == nullptr) {
      log_(LogLevel::error, "output " + std::string(info(row.setup.output).name) +
                                ": this neapd has no driver " + words::printable(row.setup.driver));
      continue;
    }
    // Before settings are read there is no simulated tent, and nothing real to drive.
    if (driver->simulated && context.world == nullptr) continue;
    auto line = std::make_shared<Line>();
    line->output = row.setup.output;
    line->safe = row.safe;
    line->driver = driver->make(row.setup.params, row.setup.output, context);
    line->tells_level = driver->tells_level;
    line->strand = &strands_.get(driver->strand(row.setup.params), driver->simulated);
    lines_[row.setup.output] = line;
    if (row.setup.enable_pulse) make_enable_pulse(row, context);
  }
  // All are made before the first is written: drivers that share a chip ask for its lines at once.
  for (const OutputInfo& row : kOutputs)
    if (const auto& line = lines_[row.output]) write_and_wait(line, line->safe);
  if (enable_pulse_) enable_pulse_->rest_and_wait(kStartWait);
}

// A GPIO line with a request of its own: it is written on another strand than the chip's relays.
void Gate::make_enable_pulse(const ManifestRow& row, const drivers::Context& context) {
  const drivers::OutputDriverInfo* driver = find_(kEnablePulseDriver);
  if (driver == nullptr) return;
  drivers::Context own = context;
  own.gpio_outputs.reset();
  EnablePulse::Line line;
  line.driver = driver->make(*row.setup.enable_pulse, row.setup.output, own);
  line.strand = &strands_.get("enable pulse", false);
  line.period = Millis{row.setup.enable_pulse->integer("period_ms")};
  enable_pulse_ = std::make_shared<EnablePulse>(timers_, log_, std::move(line),
                                                [this] { return pump_is_backed(); });
}

void Gate::drop_enable_pulse() {
  if (enable_pulse_) enable_pulse_->close();
  enable_pulse_.reset();
}

// Through either contact: the one that an ordinary stop opens first is tried by whether it breaks
// the current, and must not be helped (core/pump_contacts.h).
bool Gate::pump_is_backed() const {
  const Instant now = timers_.now();
  if (!scan_finished_ || now - *scan_finished_ >= limits::lease_of(Output::pump) || hangs())
    return false;
  bool granted = false;
  for (const Output contact : {Output::pump, Output::pump_series}) {
    const auto& line = lines_[contact];
    if (!line) continue;
    if (line->in_flight && now - line->posted > kWriteDeadline) return false;
    granted = granted || (line->granted != line->safe && line->until > now);
  }
  return granted;
}

void Gate::write_and_wait(const std::shared_ptr<Line>& line, Permille level) {
  set_blink(line, Blink::steady);
  line->granted = level;
  line->asked = level;
  line->asked_any = true;
  line->settled = false;
  line->posted = timers_.now();
  const auto trouble = std::make_shared<std::string>();
  const bool done =
      line->strand->run([driver = line->driver, tells = line->tells_level, trouble,
                         level] { *trouble = write_and_prove(*driver, tells, level); },
                        kStartWait);
  settled(line, done ? *trouble : not_written(Fault::no_answer));
}

void Gate::write(const std::shared_ptr<Line>& line, Permille level) {
  line->asked = level;
  line->asked_any = true;
  line->settled = false;
  if (line->in_flight) {  // a slow device gets the latest level next, not a queue of old ones
    line->stale = true;
    if (timers_.now() - line->posted > kWriteDeadline)
      settled(line, line->proving ? kNotReadBack : not_written(Fault::no_answer));
    return;
  }
  post(line, write_and_prove);
}

void Gate::prove(const std::shared_ptr<Line>& line) {
  post(line, not_proven);
  line->proving = true;
}

void Gate::post(const std::shared_ptr<Line>& line,
                std::string (*job)(drivers::OutputDriver&, bool, Permille)) {
  line->in_flight = true;
  line->proving = false;
  line->stale = false;
  line->posted = timers_.now();
  const auto trouble = std::make_shared<std::string>();
  line->strand->post([driver = line->driver, tells = line->tells_level, trouble, job,
                      level = line->asked] { *trouble = job(*driver, tells, level); },
                     [this, line, trouble] {
                       if (line->closed) return;
                       line->in_flight = false;
                       if (line->stale)
                         write(line, line->asked);
                       else
                         settled(line, *trouble);
                     });
}

void Gate::settled(const std::shared_ptr<Line>& line, const std::string& trouble) {
  line->settled = trouble.empty();
  if (line->settled && line->asked == line->safe) line->proven_safe = true;
  if (line->settled == !line->trouble) return;
  line->trouble = !line->settled;
  const std::string name(info(line->output).name);
  if (!line->trouble)
    log_(LogLevel::info, "output " + name + " obeys again");
  else
    log_(LogLevel::error,
         "output " + name + " (" + words::level(line->output, line->asked) + " asked): " + trouble);
}

// The rhythm is kept on a timer of the queue and never by the scan, which has whole seconds, nor by
// a driver, which has no clock. It stops with the loop, so that a lamp that blinks is one that is
// driven.
void Gate::set_blink(const std::shared_ptr<Line>& line, Blink blink) {
  if (line->blink == blink) return;
  timers_.cancel(line->beat);
  line->blink = blink;
  line->dark = false;
  if (blink != Blink::steady) arm_beat(line);
}

void Gate::arm_beat(const std::shared_ptr<Line>& line) {
  const BlinkRow& row = info(line->blink);
  line->beat = timers_.at(timers_.now() + (line->dark ? row.off : row.on), [this, line] {
    if (line->closed) return;
    line->dark = !line->dark;
    write(line, line->dark ? line->safe : line->granted);
    arm_beat(line);
  });
}

void Gate::apply_safe(const OutputImage& image) { steer(image, true); }
void Gate::apply(const OutputImage& image) { steer(image, false); }

void Gate::steer(const OutputImage& image, bool towards_safe_only) {
  const Instant now = timers_.now();
  for (const OutputInfo& row : kOutputs) {
    const std::shared_ptr<Line>& line = lines_[row.output];
    if (!line) continue;
    const Command& command = image.commands[row.output];
    // A command whose lease is already over is no command.
    const bool granted = image.driven[row.output] && command.until > now;
    const Permille level = granted ? command.level : line->safe;
    if (towards_safe_only && level != line->safe) continue;
    if (level != line->safe) {
      line->until = std::min(command.until, now + limits::lease_of(row.output));
      if (!line->expiry_armed) {
        line->expiry_armed = true;
        line->expiry = timers_.at(line->until, [this, line] { lapse(line); });
      }
    }
    line->granted = level;
    set_blink(line, level == line->safe ? Blink::steady : command.blink);
    const Permille now_due = line->dark ? line->safe : level;
    const bool slow = line->in_flight && now - line->posted > kWriteDeadline;
    if (now_due != line->asked || !line->asked_any || line->trouble || slow)
      write(line, now_due);
    else if (!line->in_flight && line->tells_level && now - line->posted >= kProveAgain)
      prove(line);
  }
  if (enable_pulse_) enable_pulse_->follow();
}

// The timer is left to run when a lease is renewed; here it learns the newer end, if there is one.
void Gate::lapse(const std::shared_ptr<Line>& line) {
  if (line->closed) return;
  line->expiry_armed = false;
  if (line->granted == line->safe) return;
  if (line->until > timers_.now()) {
    line->expiry_armed = true;
    line->expiry = timers_.at(line->until, [this, line] { lapse(line); });
    return;
  }
  log_(LogLevel::error, "output " + std::string(info(line->output).name) +
                            ": no scan renewed its lease; it goes to its safe state");
  set_blink(line, Blink::steady);
  line->granted = line->safe;
  write(line, line->safe);
  if (enable_pulse_) enable_pulse_->follow();
}

// An expiry that is due this very moment comes by itself.
bool Gate::lapse_overdue() {
  bool any = false;
  for (const OutputInfo& row : kOutputs) {
    const auto& line = lines_[row.output];
    if (!line || line->granted == line->safe) continue;
    if (timers_.now() - line->until < limits::kScanPeriod) continue;
    timers_.cancel(line->expiry);
    lapse(line);
    any = true;
  }
  return any;
}

bool Gate::hangs() const {
  return std::ranges::any_of(kOutputs, [this](const OutputInfo& row) {
    const auto& line = lines_[row.output];
    return line && line->in_flight && timers_.now() - line->posted > kHangs;
  });
}

bool Gate::scan_finished() {
  if (hangs()) return false;
  scan_finished_ = timers_.now();
  if (enable_pulse_) enable_pulse_->follow();
  return true;
}

void Gate::all_safe() {
  for (const OutputInfo& row : kOutputs)
    if (const auto& line = lines_[row.output]) write_and_wait(line, line->safe);
  if (enable_pulse_) enable_pulse_->rest_and_wait(kStartWait);
}

bool Gate::proven() const {
  return std::all_of(manifest_.rows.begin(), manifest_.rows.end(), [this](const ManifestRow& row) {
    const auto& line = lines_[row.setup.output];
    return line && line->proven_safe;
  });
}

std::optional<Output> Gate::troubled() const {
  if (enable_pulse_ && enable_pulse_->trouble()) return Output::pump;
  std::optional<Output> worst;
  for (const ManifestRow& row : manifest_.rows) {
    const auto& line = lines_[row.setup.output];
    if (line && !line->trouble) continue;
    if (!worst || comes_before(row.setup.output, *worst)) worst = row.setup.output;
  }
  return worst;
}

std::optional<Permille> Gate::level(Output output) const {
  const auto& line = lines_[output];
  return line ? std::optional(line->granted) : std::nullopt;
}

std::optional<Driven> Gate::driven(Output output) const {
  const auto& line = lines_[output];
  return line ? std::optional(Driven{line->granted, line->settled}) : std::nullopt;
}

std::optional<Instant> Gate::lease(Output output) const {
  const auto& line = lines_[output];
  return line && line->granted != line->safe ? std::optional(line->until) : std::nullopt;
}

}  // namespace neap::shell
