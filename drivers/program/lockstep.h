// Lockstep: programs that model a plant, under the virtual clock. All sensors and outputs with the
// same command and `lockstep: true` are one process. Each request carries the tick up to which the
// plant has to reckon, and neapd waits for the answer, so nothing depends on how fast either runs.
// schema/program-driver.md is the protocol.
//
// The first wrong or missing answer ends the run: a plant that lost a step is no plant.
#pragma once

#include <cstdint>
#include <functional>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "drivers/program/messages.h"
#include "drivers/program/process.h"

namespace neap::drivers::program {

class Lockstep {
 public:
  // `local_time` is that of the first tick, for plants that have a day of their own. `over` is told
  // once, with what went wrong.
  Lockstep(std::function<std::int64_t()> tick_ms, std::string local_time,
           std::function<void(const std::string& trouble)> over);
  ~Lockstep();
  Lockstep(const Lockstep&) = delete;
  Lockstep& operator=(const Lockstep&) = delete;

  using Command = std::vector<std::string>;
  // What the part of a plant measures, or a wrong or missing answer as a fault of every channel.
  // `limit` is in real time.
  ChannelValues read(const Command& command, const std::string& part, Millis limit);
  // The level that the output has after it was asked for one; none when the plant failed.
  std::optional<Permille> write(const Command& command, Output output, Permille level,
                                Millis limit);
  std::optional<Permille> read_back(const Command& command, Output output, Millis limit);

  const std::string& trouble() const { return trouble_; }  // empty: all is well

 private:
  struct Plant {
    std::optional<Process> process;
    std::int64_t seq = 0;
  };
  Plant* plant(const Command& command, Millis limit);
  std::optional<Answer> ask(const Command& command, Plant& plant, const Stamp& stamp,
                            const std::string& request, Millis limit);
  std::nullopt_t fail(const Command& command, const Stamp& stamp, const std::string& request,
                      const std::string& what, Fault fault);
  Stamp next_stamp(Plant& plant) const { return {++plant.seq, tick_ms_()}; }

  std::function<std::int64_t()> tick_ms_;
  std::string local_time_;
  std::function<void(const std::string&)> over_;
  std::map<Command, Plant> plants_;
  std::string trouble_;
  Fault fault_ = Fault::none;
};

}  // namespace neap::drivers::program
