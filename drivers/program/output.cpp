#include <algorithm>

#include "drivers/program/lockstep.h"
#include "drivers/program/program.h"
#include "drivers/program/session.h"

namespace neap::drivers {
namespace {

using program::Answer;
using program::Process;
using program::Role;
using program::Session;

// Waiting is counted in slices, because a driver has no clock: a program that keeps waking us with
// anything but the answer uses its time up sooner, never later.
constexpr Millis kSlice{10};

// One request and its answer at a time. An output that fails once is ended: the end of its input is
// the one message left that makes a program go safe.
class ProgramOutput final : public OutputDriver {
 public:
  ProgramOutput(const Params& params, Output output, const Context& context)
      : session_(params, context), output_(output) {}
  ~ProgramOutput() override { session_.end(session_.answer_within()); }

  Fault write(Permille level) override {
    if (!ready()) return fail(Fault::no_answer);
    const auto stamp = session_.next_stamp();
    const Outcome outcome = ask(program::write_request(stamp, level), stamp.seq);
    if (!outcome.answer) return fail(outcome.fault);
    if (!outcome.answer->ok) return fail(Fault::no_answer);
    return did(level, outcome.answer->level) ? Fault::none : fail(Fault::corrupt);
  }

  std::optional<Permille> read_back() override {
    if (!session_.process()) return std::nullopt;
    const auto stamp = session_.next_stamp();
    const Outcome outcome = ask(program::read_request(stamp), stamp.seq);
    if (!outcome.answer) {
      fail(outcome.fault);
      return std::nullopt;
    }
    return outcome.answer->ok ? outcome.answer->level : std::nullopt;
  }

 private:
  struct Outcome {
    std::optional<Answer> answer;
    Fault fault = Fault::none;  // why there is none
  };

  // At the ends the program must have done what was asked; between, the nearest that it can.
  static bool did(Permille asked, std::optional<Permille> done) {
    if (!done) return false;
    return asked == *done || (asked != kStopped && asked != kRunning);
  }

  // A program that is running, has greeted and may drive this output.
  bool ready() {
    if (session_.process()) return true;
    if (is_pump_contact(output_) && !proven_safe_on_eof_) proven_safe_on_eof_ = prove_safe_on_eof();
    if (is_pump_contact(output_) && !proven_safe_on_eof_) return false;
    return greet().has_value();
  }

  std::optional<Answer> greet() {
    if (!session_.start()) return std::nullopt;
    const auto stamp = session_.next_stamp();
    const Outcome outcome = ask(program::hello_to_output(stamp, output_), stamp.seq);
    const auto& answer = outcome.answer;
    if (!answer || !answer->ok || answer->role != Role::output) return std::nullopt;
    if (is_pump_contact(output_) && !answer->safe_on_eof) return std::nullopt;
    return answer;
  }

  // Declared is not done: a first run of the program is greeted, loses its input, and must say that
  // it stopped the line and end by itself, in time.
  bool prove_safe_on_eof() {
    if (!greet()) return false;
    Process& trial = *session_.process();
    trial.close_input();
    bool stopped = false;
    bool ended = false;
    for (Millis left = session_.answer_within(); left > Millis{0} && !ended; left -= kSlice) {
      trial.wait(std::min(kSlice, left));
      ended = trial.take_in() == Process::Stream::closed;
      while (const auto line = trial.next_line()) {
        const auto answer = program::parse_answer(*line);
        stopped = answer && answer->at_eof && answer->level == kStopped;
      }
    }
    session_.end(Millis{0});
    return stopped && ended;
  }

  Outcome ask(const std::string& request, std::int64_t seq) {
    Process& process = *session_.process();
    if (!process.send(request)) return {std::nullopt, Fault::no_answer};
    for (Millis left = session_.answer_within(); left > Millis{0}; left -= kSlice) {
      process.wait(std::min(kSlice, left));
      const Process::Stream stream = process.take_in();
      while (const auto line = process.next_line()) {
        const auto answer = program::parse_answer(*line);
        if (!answer || answer->seq > seq) return {std::nullopt, Fault::corrupt};
        if (answer->seq == seq) return {answer, Fault::none};
      }
      if (stream == Process::Stream::flooded) return {std::nullopt, Fault::corrupt};
      if (stream == Process::Stream::closed) break;
    }
    return {std::nullopt, Fault::no_answer};
  }

  Fault fail(Fault fault) {
    session_.end(session_.answer_within());
    return fault;
  }

  Session session_;
  Output output_;
  bool proven_safe_on_eof_ = false;
};

// An output of a plant. The plant is a model, so its pump proves nothing on end of input.
class PlantOutput final : public OutputDriver {
 public:
  PlantOutput(const Params& params, Output output, program::Lockstep* lockstep)
      : command_(params.words("command")),
        answer_within_(program::answer_within(params)),
        output_(output),
        lockstep_(lockstep) {}

  Fault write(Permille level) override {
    const bool done = lockstep_ && lockstep_->write(command_, output_, level, answer_within_);
    return done ? Fault::none : Fault::no_answer;
  }
  std::optional<Permille> read_back() override {
    return lockstep_ ? lockstep_->read_back(command_, output_, answer_within_) : std::nullopt;
  }

 private:
  std::vector<std::string> command_;
  Millis answer_within_;
  Output output_;
  program::Lockstep* lockstep_;
};

// A plant in lockstep serves many outputs; any other program one.
std::string resource(const Params& params, Output output) {
  const std::string program = program::strand(params);
  return params.truth("lockstep") ? program + " " + std::string(info(output).name) : program;
}

std::unique_ptr<OutputDriver> make(const Params& params, Output output, Context& context) {
  if (params.truth("lockstep"))
    return std::make_unique<PlantOutput>(params, output, context.lockstep);
  return std::make_unique<ProgramOutput>(params, output, context);
}

}  // namespace

constinit const OutputDriverInfo kProgramOutput{
    .name = "program",
    .about = "a program of yours that speaks JSON lines (schema/program-driver.md)",
    .params = program::kParams,
    .variable = true,
    .safe_on_silence = false,  // each program declares it for itself; the pump's must prove it
    .simulated = false,
    .strand = program::strand,
    .resource = resource,
    .make = make,
    .check = program::check,
};

}  // namespace neap::drivers
