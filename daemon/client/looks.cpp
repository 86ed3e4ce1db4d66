// `neap weekly`.
#include "daemon/client/looks.h"

#include <algorithm>
#include <array>

#include "daemon/client/diary.h"
#include "daemon/client/failure.h"
#include "daemon/client/questions.h"
#include "daemon/client/records_json.h"
#include "daemon/client/verbs.h"
#include "daemon/journal/diary.h"
#include "daemon/settings/quantity.h"
#include "daemon/words/figures.h"
#include "daemon/words/words.h"

namespace neap::client {
namespace {

using nlohmann::json;

const journal::DiaryRow* last_look(const std::vector<journal::DiaryRow>& diary,
                                   std::string_view name) {
  const auto found = std::find_if(diary.rbegin(), diary.rend(), [&](const auto& row) {
    return row.kind == "look" && row.subject == name;
  });
  return found == diary.rend() ? nullptr : &*found;
}

std::string question(const WeeklyLook& look, const journal::DiaryRow* last) {
  std::string text = "Look at " + std::string(look.look) + ". Well: " + std::string(look.well);
  if (last != nullptr && last->mark == "trouble")
    text += " (last, " + minute_text(last->happened).substr(0, 10) + ": " +
            words::printable(last->says) + ")";
  return text + ". y, or what you see:";
}

// What says that all is well, in small letters.
constexpr std::array<std::string_view, 6> kWellWords{"y", "yes", "ok", "well", "good", "fine"};
// Nothing was seen, or nothing is there: nobody but the person knows which.
constexpr std::array<std::string_view, 2> kEitherWords{"none", "nothing"};
constexpr std::size_t kShortestTrouble = 4;  // letters; "no" says no more than that it is not well

bool says_well(const std::string& answer) {
  const std::string small = settings::lower_case(answer);
  return std::find(kWellWords.begin(), kWellWords.end(), small) != kWellWords.end();
}

std::string rule_broken(const std::string& answer) {
  if (answer.size() > journal::kLongestDiaryText) return "at most 1000 bytes are stored";
  if (says_well(answer)) return {};
  const std::string small = settings::lower_case(answer);
  const bool either =
      std::find(kEitherWords.begin(), kEitherWords.end(), small) != kEitherWords.end();
  if (columns(answer) >= kShortestTrouble && !either) return {};
  return "what do you see? Write y where all is well, else a few words of what is there";
}

int list_looks(const Session& session, const std::vector<journal::DiaryRow>& diary) {
  json list = json::array();
  Table table({Table::Side::left, Table::Side::left, Table::Side::left});
  for (const WeeklyLook& look : kWeeklyLooks) {
    const journal::DiaryRow* last = last_look(diary, look.name);
    list.push_back({{"look", look.name}, {"last", last ? diary_json(*last) : json(nullptr)}});
    const bool trouble = last != nullptr && last->mark == "trouble";
    table.add({look.name, last ? minute_text(last->happened).substr(0, 10) : "never",
               Cell{trouble ? words::printable(last->says)
                    : last  ? "well"
                            : "",
                    trouble ? Tone::warning : Tone::plain}});
  }
  session.show({{"looks", list}}, table.text(session.look, page_width(session.args)));
  return kExitDone;
}

}  // namespace

std::optional<std::string> looks_due(journal::Reader& reader, const settings::Loaded& loaded,
                                     const std::vector<journal::DiaryRow>& diary) {
  const Millis every = loaded.care.looks;
  const auto now = reader.last_tick();
  const auto first = reader.first_tick();
  if (every <= Millis{0} || !now || !first) return std::nullopt;
  std::int64_t longest = 0;
  int due = 0;
  for (const WeeklyLook& look : kWeeklyLooks) {
    const journal::DiaryRow* last = last_look(diary, look.name);
    const std::int64_t ago = *now - (last ? std::max(last->happened.tick, *first) : *first);
    longest = std::max(longest, ago);
    due += ago >= every.count() ? 1 : 0;
  }
  if (due == 0) return std::nullopt;
  const auto days = [](std::int64_t ms) {
    return words::decimals(static_cast<double>(ms) / 86'400'000, 0);
  };
  return "weekly looks: neap weekly (" + std::to_string(due) + " due, " + days(longest) + " of " +
         days(every.count()) + " days)";
}

int do_weekly(Session& session) {
  const auto diary = diary_of(session);
  if (!session.args.words.empty()) {
    if (session.args.words.front() == "list") return list_looks(session, diary);
    throw Failure(kExitUsage,
                  "\"" + words::printable(session.args.words.front()) + "\" is no word of it",
                  "write neap weekly, or neap weekly list");
  }
  std::ostream& prompts = session.globals.json ? session.around.err : session.out();
  Questions questions(session.around.in, prompts, !session.around.in_is_terminal,
                      "what was answered is noted; `neap weekly` begins again");
  questions.say("An empty line skips a look.");
  json noted = json::array();
  json result;
  std::string troubles;
  for (const WeeklyLook& look : kWeeklyLooks) {
    const std::string answer =
        questions.maybe(question(look, last_look(diary, look.name)), rule_broken);
    if (answer.empty()) continue;
    const bool well = says_well(answer);
    tell_diary(session,
               {"look", std::string(look.name), {}, well ? "well" : "trouble", well ? "" : answer},
               result);
    noted.push_back({{"look", look.name},
                     {"mark", well ? "well" : "trouble"},
                     {"number", result.value("number", json(nullptr))}});
    if (!well)
      troubles += wrapped(std::string(look.name) + ": " + words::printable(answer),
                          page_width(session.args), 2) +
                  "\n";
  }
  std::string text = noted.empty()      ? "Nothing was noted.\n"
                     : troubles.empty() ? "All is well; noted.\n"
                                        : "Noted, and to see to:\n" + troubles;
  session.show({{"noted", noted}}, text);
  return kExitDone;
}

}  // namespace neap::client
