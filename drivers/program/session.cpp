#include "drivers/program/session.h"

namespace neap::drivers::program {
std::string strand(const Params& params) {
  std::string name = "program:";
  for (const std::string& word : params.words("command")) name += " " + word;
  return name;
}

std::string check(const Params& params) {
  const auto command = params.words("command");
  if (command.empty()) return "command is empty; it must name the program by its absolute path";
  if (command.front().starts_with('/')) return {};
  return "command begins with \"" + command.front() +
         "\"; it must name the program by its absolute path, such as /usr/local/bin/probe";
}

std::string check_sensor(const Params& params) {
  if (std::string trouble = check(params); !trouble.empty()) return trouble;
  const bool lockstep = params.truth("lockstep");
  if (lockstep && params.text("part").empty())
    return "lockstep is true without a part; name the part of the plant, such as part: canopy";
  if (!lockstep && !params.text("part").empty())
    return "part is \"" + params.text("part") +
           "\" without lockstep; only a plant in lockstep has parts, so leave it out";
  return {};
}

Millis answer_within(const Params& params) {
  return Millis{completed(params, kParams).integer("answer_within_ms")};
}

Session::Session(const Params& given, const Context& context)
    : command_(given.words("command")),
      answer_within_(program::answer_within(given)),
      tick_ms_(context.tick_ms) {}

bool Session::start() {
  if (process_) return true;
  if (command_.empty() || !command_.front().starts_with('/')) return false;
  if (auto started = Process::start(command_)) process_.emplace(std::move(*started));
  return process_.has_value();
}

Stamp Session::next_stamp() {
  Stamp stamp{++seq_, std::nullopt};
  if (tick_ms_) stamp.t_ms = tick_ms_();
  return stamp;
}

void Session::end(Millis grace) {
  if (!process_) return;
  process_->send(bye_request(next_stamp()));
  process_->end(grace);
  process_.reset();
}

}  // namespace neap::drivers::program
