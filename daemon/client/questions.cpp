#include "daemon/client/questions.h"

#include "daemon/client/failure.h"
#include "daemon/client/look.h"
#include "daemon/client/parse.h"
#include "daemon/settings/quantity.h"
#include "daemon/words/words.h"

namespace neap::client {
namespace {

// Longer lines are no answers; what is pasted by mistake must not fill the memory.
constexpr std::size_t kLongestAnswer = 1024;

std::string trimmed(const std::string& text) {
  const std::size_t begin = text.find_first_not_of(" \t\r");
  if (begin == std::string::npos) return {};
  return text.substr(begin, text.find_last_not_of(" \t\r") - begin + 1);
}

}  // namespace

void Questions::say(std::string_view text) { out_ << wrapped(text, kPageWidth) << "\n"; }

void Questions::end_if_interrupted() {
  if (!interrupted_ || !interrupted_()) return;
  out_ << "\n";
  throw Failure(kExitRefused, "ended by Ctrl-C at question " + std::to_string(asked_ + 1),
                when_ended_);
}

std::string Questions::line(std::string_view prompt) {
  end_if_interrupted();
  out_ << wrapped(prompt, kPageWidth, 2) << " " << std::flush;
  std::string text;
  const bool read = static_cast<bool>(std::getline(in_, text));
  end_if_interrupted();
  if (!read) {
    out_ << "\n";
    throw Failure(kExitRefused, "the answers ended at question " + std::to_string(asked_ + 1),
                  when_ended_);
  }
  if (text.size() > kLongestAnswer) text.resize(kLongestAnswer);
  text = trimmed(text);
  if (echo_) out_ << words::printable(text) << "\n";
  if (!end_word_.empty() && text == end_word_)
    throw Failure(kExitRefused, "stopped at question " + std::to_string(asked_ + 1), when_ended_);
  return text;
}

std::string Questions::ask(std::string_view text, std::string_view fallback,
                           const AnswerCheck& check) {
  std::string prompt(text);
  if (!fallback.empty()) prompt += " [" + std::string(fallback) + "]";
  while (true) {
    std::string answer = line(prompt);
    if (answer.empty()) answer = fallback;
    const std::string wrong = answer.empty() ? std::string("an answer is needed") : check(answer);
    if (wrong.empty()) {
      ++asked_;
      return answer;
    }
    out_ << "  " << wrapped(wrong, kPageWidth - 2, 2) << "\n";
  }
}

std::string Questions::maybe(std::string_view text, const AnswerCheck& check) {
  while (true) {
    std::string answer = line(text);
    const std::string wrong = answer.empty() ? std::string() : check(answer);
    if (wrong.empty()) {
      ++asked_;
      return answer;
    }
    out_ << "  " << wrapped(wrong, kPageWidth - 2, 2) << "\n";
  }
}

bool Questions::yes(std::string_view text, std::string_view fallback) {
  const std::string answer =
      ask(std::string(text) + " (yes or no)", fallback, [](const std::string& typed) {
        const std::string small = settings::lower_case(typed);
        const bool known = small == "yes" || small == "y" || small == "no" || small == "n";
        return known ? std::string() : "\"" + words::printable(typed) + "\": write yes or no";
      });
  return settings::lower_case(answer).front() == 'y';
}

std::string Questions::choose(std::string_view text, const std::vector<std::string_view>& words,
                              std::string_view fallback) {
  return ask(text, fallback, [&](const std::string& typed) {
    for (const std::string_view word : words)
      if (word == typed) return std::string();
    return "\"" + words::printable(typed) + "\" is none of them; " + suggestion(typed, words);
  });
}

std::optional<double> Questions::number(std::string_view text, double lowest, double highest) {
  while (true) {
    const std::string answer = line(text);
    if (answer.empty()) {
      ++asked_;
      return std::nullopt;
    }
    try {
      const double value = parse_number("the answer", answer, lowest, highest);
      ++asked_;
      return value;
    } catch (const Failure& wrong) {
      out_ << "  " << wrapped(wrong.what(), kPageWidth - 2, 2) << "\n";
    }
  }
}

void Questions::wait_for_enter(std::string_view text) {
  line(std::string(text) + " [Enter]");
  ++asked_;
}

}  // namespace neap::client
