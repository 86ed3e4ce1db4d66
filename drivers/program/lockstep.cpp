#include "drivers/program/lockstep.h"

#include <algorithm>
#include <utility>

namespace neap::drivers::program {
namespace {

// Waiting is counted in slices, because a driver has no clock: a program that keeps waking us with
// anything but the answer uses its time up sooner, never later.
constexpr Millis kSlice{10};
constexpr Millis kByeGrace{200};
constexpr std::size_t kShownBytes = 120;  // of a line that is shown to a person

std::string words_of(const Lockstep::Command& command) {
  std::string text;
  for (const std::string& word : command) text += (text.empty() ? "" : " ") + word;
  return text;
}

ChannelValues all(Fault fault) {
  ChannelValues values{};
  for (ChannelValue& value : values) value.fault = fault;
  return values;
}

std::string seconds_text(Millis limit) {
  return std::to_string(limit.count()) + " ms of real time";
}

}  // namespace

Lockstep::Lockstep(std::function<std::int64_t()> tick_ms, std::string local_time,
                   std::function<void(const std::string&)> over)
    : tick_ms_(std::move(tick_ms)), local_time_(std::move(local_time)), over_(std::move(over)) {}

Lockstep::~Lockstep() {
  for (auto& [command, plant] : plants_) {
    if (!plant.process) continue;
    plant.process->send(bye_request(next_stamp(plant)));
    plant.process->end(kByeGrace);
  }
}

ChannelValues Lockstep::read(const Command& command, const std::string& part, Millis limit) {
  Plant* const asked = plant(command, limit);
  if (asked == nullptr) return all(fault_);
  const Stamp stamp = next_stamp(*asked);
  const std::string request = read_request(stamp, part);
  const auto answer = ask(command, *asked, stamp, request, limit);
  if (!answer) return all(fault_);
  if (!answer->ok) return all(Fault::no_answer);  // understood: the model has no reading of it now
  if (!answer->values) fail(command, stamp, request, "an answer without values", Fault::corrupt);
  return answer->values.value_or(all(Fault::corrupt));
}

std::optional<Permille> Lockstep::write(const Command& command, Output output, Permille level,
                                        Millis limit) {
  Plant* const asked = plant(command, limit);
  if (asked == nullptr) return std::nullopt;
  const Stamp stamp = next_stamp(*asked);
  const std::string request = write_request(stamp, output, level);
  const auto answer = ask(command, *asked, stamp, request, limit);
  if (!answer) return std::nullopt;
  if (!answer->ok) return std::nullopt;  // understood: a modelled relay that does not obey
  if (!answer->level)
    return fail(command, stamp, request, "an answer without level", Fault::corrupt);
  return answer->level;
}

std::optional<Permille> Lockstep::read_back(const Command& command, Output output, Millis limit) {
  Plant* const asked = plant(command, limit);
  if (asked == nullptr) return std::nullopt;
  const Stamp stamp = next_stamp(*asked);
  const auto answer = ask(command, *asked, stamp, read_back_request(stamp, output), limit);
  return answer && answer->ok ? answer->level : std::nullopt;
}

// The greeted process of `command`, started when it is first needed and never again.
Lockstep::Plant* Lockstep::plant(const Command& command, Millis limit) {
  if (!trouble_.empty()) return nullptr;
  Plant& plant = plants_[command];
  if (plant.process) return &plant;
  const Stamp stamp = next_stamp(plant);
  const std::string hello = hello_to_plant(stamp, local_time_);
  if (auto started = Process::start(command)) {
    plant.process.emplace(std::move(*started));
  } else {
    fail(command, stamp, hello, "the program cannot be started", Fault::no_answer);
    return nullptr;
  }
  const auto answer = ask(command, plant, stamp, hello, limit);
  if (!answer) return nullptr;
  if (answer->ok && answer->role == Role::plant) return &plant;
  fail(command, stamp, hello, R"(an answer to hello without "role":"plant")", Fault::no_answer);
  return nullptr;
}

std::optional<Answer> Lockstep::ask(const Command& command, Plant& plant, const Stamp& stamp,
                                    const std::string& request, Millis limit) {
  Process& process = *plant.process;
  const auto failed = [&](const std::string& what, Fault fault) -> std::optional<Answer> {
    return fail(command, stamp, request, what, fault);
  };
  if (!process.send(request)) return failed("the program has ended", Fault::no_answer);
  for (Millis left = limit; left > Millis{0}; left -= kSlice) {
    process.wait(std::min(kSlice, left));
    const Process::Stream stream = process.take_in();
    if (const auto line = process.next_line()) {
      const auto answer = parse_answer(*line);
      if (!answer)
        return failed("a line that is no answer: " + line->substr(0, kShownBytes), Fault::corrupt);
      if (answer->seq != stamp.seq)
        return failed("an answer out of sequence: " + line->substr(0, kShownBytes), Fault::corrupt);
      return answer;
    }
    if (stream == Process::Stream::flooded)
      return failed("a line over " + std::to_string(kLongestLine) + " bytes", Fault::corrupt);
    if (stream == Process::Stream::closed) return failed("the program has ended", Fault::no_answer);
  }
  return failed("no answer within " + seconds_text(limit), Fault::no_answer);
}

std::nullopt_t Lockstep::fail(const Command& command, const Stamp& stamp,
                              const std::string& request, const std::string& what, Fault fault) {
  if (!trouble_.empty()) return std::nullopt;
  fault_ = fault;
  trouble_ = "the plant in lockstep, " + words_of(command) + ": " + what + "; request " +
             std::to_string(stamp.seq) + " was " + request +
             "; a plant answers each request once, in order, within answer_within_ms "
             "(schema/program-driver.md, Lockstep)";
  over_(trouble_);
  return std::nullopt;
}

}  // namespace neap::drivers::program
