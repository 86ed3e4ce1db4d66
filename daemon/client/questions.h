// Asking a person: at a terminal, or from a script that has the answers on standard input. An
// answer that does not do is told why and asked for again; answers that end are a Failure.
#pragma once

#include <functional>
#include <istream>
#include <optional>
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

  // From now on a question ends as soon as this is true: answers ended, by the person's own hand.
  void end_when(std::function<bool()> interrupted) { interrupted_ = std::move(interrupted); }

  // From now on this answer to any question ends them, too.
  void end_at(std::string word) { end_word_ = std::move(word); }

  void say(std::string_view text);  // wrapped, with a newline
  // Shows `text [fallback]`; an empty line takes the fallback where there is one.
  std::string ask(std::string_view text, std::string_view fallback, const AnswerCheck& check);
  // The same without a fallback: an empty line skips the question, and is an empty answer.
  std::string maybe(std::string_view text, const AnswerCheck& check);
  // "yes" or "no", or their first letters, in capitals or not.
  bool yes(std::string_view text, std::string_view fallback = "");
  // One of `words`.
  std::string choose(std::string_view text, const std::vector<std::string_view>& words,
                     std::string_view fallback = "");
  // A number from `lowest` to `highest`; none for an empty line.
  std::optional<double> number(std::string_view text, double lowest, double highest);
  // An empty line, or any other.
  void wait_for_enter(std::string_view text);

 private:
  std::string line(std::string_view prompt);
  void end_if_interrupted();

  std::istream& in_;
  std::ostream& out_;
  bool echo_;
  std::string when_ended_;
  std::function<bool()> interrupted_;
  std::string end_word_;  // empty: none
  int asked_ = 0;
};

}  // namespace neap::client
