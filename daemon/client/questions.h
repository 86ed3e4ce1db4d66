// Asking a person: at a terminal, or from a script that has the answers on standard input. An
// answer that does not do is told why and asked for again; answers that end are a Failure.
#pragma once

#include <functional>
#include <istream>
#include <ostream>
#include <string>
#include <string_view>
#include <vector>

namespace neap::client {

// Empty when the answer will do, else the rule it broke, as a sentence fragment.
using AnswerCheck = std::function<std::string(const std::string& answer)>;

class Questions {
 public:
  // `echo`: repeat what was read, where no terminal has shown it. `when_ended`: the remedy when
  // answers end too soon.
  Questions(std::istream& in, std::ostream& out, bool echo, std::string when_ended)
      : in_(in), out_(out), echo_(echo), when_ended_(std::move(when_ended)) {}

  void say(std::string_view text);  // wrapped, with a newline
  // Shows `text [fallback]`; an empty line takes the fallback where there is one.
  std::string ask(std::string_view text, std::string_view fallback, const AnswerCheck& check);
  // "yes" or "no", or their first letters.
  bool yes(std::string_view text, std::string_view fallback = "");
  // One of `words`.
  std::string choose(std::string_view text, const std::vector<std::string_view>& words,
                     std::string_view fallback = "");
  // An empty line, or any other.
  void wait_for_enter(std::string_view text);

 private:
  std::string line(std::string_view prompt);

  std::istream& in_;
  std::ostream& out_;
  bool echo_;
  std::string when_ended_;
  int asked_ = 0;
};

}  // namespace neap::client
