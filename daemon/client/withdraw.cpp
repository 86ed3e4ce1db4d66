#include "daemon/client/withdraw.h"

#include <algorithm>
#include <array>

#include "daemon/client/failure.h"
#include "daemon/client/parse.h"
#include "daemon/client/records_json.h"
#include "daemon/client/spool.h"
#include "daemon/words/figures.h"
#include "daemon/words/words.h"

namespace neap::client {
namespace {

using nlohmann::json;

struct KindWords {
  std::string_view kind;
  std::string_view of;    // as typed
  std::string_view noun;  // before the subject
};
constexpr std::array kKindWords{
    KindWords{"grow_started", "grow", "the start of grow "},
    KindWords{"grow_note", "grow", "a note of grow "},
    KindWords{"harvest", "grow", "a harvest of grow "},
    KindWords{"grow_ended", "grow", "the end of grow "},
    KindWords{"care", "care", "the care of "},
    KindWords{"remark", "remark", "the remark of "},
    KindWords{"look", "look", "the look at "},
    KindWords{"turnover", "turnover", "the turnover's step "},
};

// What is typed to take an entry back.
std::string command(std::string_view of, const std::string& number) {
  if (of == "care") return "neap care withdraw " + number + " WHY";
  return "neap grow withdraw " + number + (of == "grow" ? "" : " of=" + std::string(of)) + " WHY";
}

const KindWords& words_of(std::string_view kind) {
  const auto found = std::find_if(kKindWords.begin(), kKindWords.end(),
                                  [&](const KindWords& row) { return row.kind == kind; });
  if (found == kKindWords.end())
    throw Failure(
        kExitRefused,
        "the entry is of kind \"" + words::printable(kind) + "\", which this program does not know",
        "withdraw it with the program that told it");
  return *found;
}

// "a harvest of grow may, 840 g, good: the lower shoots (2026-05-12 10:00)"
std::string description(const KindWords& kind, const journal::DiaryRow& row) {
  std::string text = std::string(kind.noun) + words::printable(row.subject);
  if (row.kind == "harvest" && row.figure) text += ", " + words::decimals(*row.figure, 0) + " g";
  if (!row.mark.empty()) text += ", " + words::printable(row.mark);
  if (!row.says.empty()) text += ": " + words::printable(row.says);
  return text + " (" + minute_text(row.happened) + ")";
}

}  // namespace

std::string take_back_text(const json& result, std::string_view kind) {
  const KindWords& row = words_of(kind);
  const auto number = result.find("number");
  if (number == result.end() || !number->is_number_integer())
    return "the journal has not shown it yet; its number, to take it back by, comes with --json of "
           "`neap " +
           std::string(row.of == "care" ? "care" : "grow show") + "`";
  const std::string text = std::to_string(number->get<std::int64_t>());
  return "entry " + text + "; to take it back: " + command(row.of, text);
}

int withdraw_entry(const Session& session, const std::vector<journal::DiaryRow>& diary,
                   std::string_view of) {
  const std::vector<std::string>& words = session.args.words;
  const std::string verb = of == "care" ? "care" : "grow";
  const Told told = told_of(words, std::min<std::size_t>(words.size(), 2), {"of"});
  if (told.words.empty())
    throw Failure(kExitUsage, "the number of an entry and why it is withdrawn are wanted",
                  "write for instance: neap " + verb + " withdraw 12 told twice");
  constexpr int kMostEntries = 1'000'000'000;
  const int number = parse_whole("NUMBER", words[1], 1, kMostEntries, "withdraw 12 told twice");
  const auto found = std::find_if(diary.begin(), diary.end(),
                                  [&](const auto& row) { return row.number == number; });
  if (found == diary.end())
    throw Failure(kExitRefused, "there is no entry " + std::to_string(number) + " in the diary",
                  "--json of `neap grow show` and `neap care` has the numbers");
  const KindWords& kind = words_of(found->kind);
  const std::string what = description(kind, *found);
  if (kind.of != (told.of ? std::string_view(*told.of) : of))
    throw Failure(kExitRefused, "entry " + std::to_string(number) + " is " + what,
                  "if that is meant: " + command(kind.of, std::to_string(number)));
  json result;
  const bool done = tell_diary(session, {"withdrawal", found->id, {}, "", told.words, {}}, result);
  result["withdrawn"] = diary_json(*found);
  const std::string text = "Withdrawn: entry " + std::to_string(number) + ", " + what +
                           ". The journal keeps what was told.";
  session.show(result,
               done ? wrapped(text, page_width(session.args), 2) + "\n" : kept_text(result));
  return kExitDone;
}

}  // namespace neap::client
