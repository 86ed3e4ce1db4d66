// What a sensor and an output behind a program have in common: the command, the numbered requests,
// and the process while there is one. Used on one strand; the owner locks where a watcher looks on.
#pragma once

#include <array>
#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "drivers/driver.h"
#include "drivers/program/messages.h"
#include "drivers/program/process.h"

namespace neap::drivers::program {

// The parameters of both, and what follows from them.
inline constexpr std::array kParams{
    ParamSpec{"command", ParamKind::words, true, "", 0, 0, "",
              "the program and its arguments, the program by its absolute path; no shell reads it"},
    ParamSpec{"answer_within_ms", ParamKind::integer, false, "500", 10, 5000, "",
              "how long an answer may take; a reading is fetched this much after it was asked for"},
    ParamSpec{"lockstep", ParamKind::truth, false, "false", 0, 0, "",
              "the program models a plant and is waited for under the virtual clock: neap simulate "
              "only; entries with the same command are one process"},
};
inline constexpr std::array kSensorParams{
    kParams[0],
    kParams[1],
    kParams[2],
    ParamSpec{"part", ParamKind::text, false, "", 0, 0, "",
              "with lockstep: which part of the plant this is, as the program knows it"},
};
std::string strand(const Params& params);
std::string check(const Params& params);
std::string check_sensor(const Params& params);
Millis answer_within(const Params& params);

class Session {
 public:
  Session(const Params& params, const Context& context);

  bool start();  // false: cannot be started; a program that is already there stays
  std::optional<Process>& process() { return process_; }
  Millis answer_within() const { return answer_within_; }

  Stamp next_stamp();
  std::int64_t last_seq() const { return seq_; }

  // Says bye, then Process::end().
  void end(Millis grace);

 private:
  std::vector<std::string> command_;
  Millis answer_within_;
  std::function<std::int64_t()> tick_ms_;
  std::int64_t seq_ = 0;
  std::optional<Process> process_;
};

}  // namespace neap::drivers::program
