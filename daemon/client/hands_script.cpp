#include "daemon/client/hands_script.h"

#include <sstream>
#include <vector>

#include "daemon/client/failure.h"
#include "daemon/client/measures.h"
#include "daemon/client/parse.h"
#include "daemon/words/figures.h"
#include "daemon/words/words.h"

namespace neap::client {
namespace {

using nlohmann::json;

constexpr int kMostDays = 400;  // as `neap simulate` runs

class Line {
 public:
  Line(const std::string& path, int number) : place_(path + ":" + std::to_string(number)) {}

  [[noreturn]] void refuse(const std::string& what, const std::string& remedy) const {
    throw Failure(kExitUsage, place_ + ": " + what, remedy);
  }

  // Words at blanks; "quotes" keep them together.
  std::vector<std::string> split(const std::string& text) const {
    std::vector<std::string> words;
    bool quoted = false, in_word = false;
    for (const char c : text) {
      if (c == '"') {
        quoted = !quoted;
        if (!in_word) words.emplace_back();
        in_word = true;
      } else if (!quoted && (c == ' ' || c == '\t')) {
        in_word = false;
      } else {
        if (!in_word) words.emplace_back();
        in_word = true;
        words.back() += c;
      }
    }
    if (quoted) refuse("a quote is not closed", "end it with \" on the same line");
    return words;
  }

  // "day N HH:MM", which is taken off `words`.
  CivilTime take_time(std::vector<std::string>& words, std::int32_t first_day) const {
    if (words.size() < 3 || words[0] != "day")
      refuse("does not begin with a time", "write for instance: day 3 08:15  measure ph=5.9");
    int day = 0;
    try {
      day = parse_whole("day", words[1], 1, kMostDays, "day 3");
    } catch (const Failure& failure) {
      refuse(failure.what(), failure.remedy());
    }
    const auto clock = read_clock(words[2]);
    if (!clock)
      refuse("\"" + words::printable(words[2]) + "\" is no time of day", "write it as 08:15");
    words.erase(words.begin(), words.begin() + 3);
    return {first_day + day - 1, *clock};
  }

  // The arguments of verb `measure`.
  json measure(std::vector<std::string> words) const {
    if (!words.empty() && words[0] == "neap") words.erase(words.begin());
    if (words.empty() || words[0] != "measure")
      refuse(words.empty() ? "says no command"
                           : "\"" + words::printable(words[0]) + "\" is nothing that hands do here",
             "write measure and what was measured, as after `neap`");
    words.erase(words.begin());
    std::string note;
    if (words.size() >= 2 && words[words.size() - 2] == "--note") {
      note = words.back();
      words.resize(words.size() - 2);
    }
    json values = json::object();
    try {
      const Measured measured = parse_measured(words);
      if (measured.values.empty() || !measured.at.empty())
        refuse(measured.values.empty() ? "measures nothing" : "has a second time",
               "write for instance measure ph=5.9 ec=1.6; the line's own time is when");
      for (const Measure& each : measured.values)
        values[std::string(info(each.hand).key)] = each.value;
    } catch (const Failure& failure) {
      if (std::string_view(failure.what()).starts_with(place_)) throw;
      refuse(failure.what(), failure.remedy());
    }
    return {{"values", values}, {"note", note}};
  }

 private:
  std::string place_;
};

}  // namespace

json parse_hands(const std::string& path, const std::string& text, std::int32_t first_day) {
  json list = json::array();
  std::istringstream in(text);
  std::string written;
  std::string last;
  for (int number = 1; std::getline(in, written); ++number) {
    const Line line(path, number);
    if (written.ends_with('\r')) written.pop_back();
    std::vector<std::string> words = line.split(written);
    if (words.empty() || words[0].starts_with('#')) continue;
    const CivilTime when = line.take_time(words, first_day);
    const std::string at =
        words::civil_date(when.date) + "T" + words::clock_time(when.second_of_day);
    if (at < last) line.refuse("is earlier than the line before", "put the lines in their order");
    last = at;
    list.push_back({{"at", at}, {"args", line.measure(words)}});
  }
  return list;
}

}  // namespace neap::client
