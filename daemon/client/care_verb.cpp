// `neap care`: what wears or fills up, how much is left of it, and that it was seen to.
#include <algorithm>

#include "daemon/client/care.h"
#include "daemon/client/diary.h"
#include "daemon/client/failure.h"
#include "daemon/client/journal_ask.h"
#include "daemon/client/parse.h"
#include "daemon/client/records_json.h"
#include "daemon/client/spool.h"
#include "daemon/client/verbs.h"
#include "daemon/client/withdraw.h"
#include "daemon/words/words.h"

namespace neap::client {
namespace {

using nlohmann::json;
using Side = Table::Side;

settings::Loaded loaded_in_force(const Session& session, journal::Reader& reader) {
  if (auto result = settings::load_text(reader.settings_in_force()); result.loaded)
    return std::move(*result.loaded);
  return load_or_fail(session.globals.settings);
}

std::string last_text(const CareState& state) {
  if (!state.last) return "never told";
  return minute_text(*state.last).substr(0, 10);
}

std::string render_care(const std::vector<CareState>& states, const Look& look, std::size_t width) {
  const bool narrow = width < kPageWidth;
  Table table({Side::left, Side::left, Side::left, Side::left});
  Table slim({Side::left, Side::left});
  table.head({"part", "since then", "seen to", ""});
  for (const CareState& state : states) {
    const Tone tone = state.is_due() ? Tone::warning : Tone::plain;
    const std::string what = state.is_due() ? "due: " + std::string(state.part->what) : "";
    table.add({state.part->name, Cell{care_figure(state), tone}, last_text(state), what});
    slim.add({state.part->name,
              Cell{care_figure(state) + "; " + last_text(state) + (what.empty() ? "" : "; " + what),
                   tone}});
  }
  return (narrow ? slim : table).text(look, width);
}

int list_care(const Session& session) {
  const auto reader = open_journal(session.globals.journal);
  const settings::Loaded loaded = loaded_in_force(session, *reader);
  const auto states = care_of(*reader, loaded, diary_of(session), CareOf::all);
  warn_of_trouble(session, *reader);
  json list = json::array();
  for (const CareState& state : states)
    list.push_back({{"part", state.part->name},
                    {"title", state.part->title},
                    {"used", state.used},
                    {"due", state.due ? json(*state.due) : json(nullptr)},
                    {"is_due", state.is_due()},
                    {"last", state.last ? stamp_json(*state.last) : json(nullptr)},
                    {"says", state.last_words},
                    {"number", state.last_number ? json(*state.last_number) : json(nullptr)}});
  session.show({{"care", list}}, render_care(states, session.look, page_width(session.args)));
  return kExitDone;
}

int done(const Session& session, const std::vector<std::string>& words) {
  std::vector<std::string_view> names;
  for (const CarePart& part : care_parts()) names.push_back(part.name);
  if (words.size() < 2)
    throw Failure(kExitUsage, "PART is missing", "write for instance: neap care done filter");
  const auto part = std::find_if(care_parts().begin(), care_parts().end(),
                                 [&](const CarePart& row) { return row.name == words[1]; });
  if (part == care_parts().end())
    throw Failure(kExitUsage,
                  "PART is \"" + words::printable(words[1]) + "\", and no part is called that",
                  suggestion(words[1], names));
  const Told told = told_of(words, 2, {"at"});
  DiaryNote note{"care", std::string(part->name), {}, "", told.words, {}};
  if (told.at) note.happened_unix_ms = past_moment(session, *told.at);
  json result;
  const bool taken = tell_diary(session, note, result);
  const std::size_t width = page_width(session.args);
  const std::string noted =
      "Noted: the " + std::string(part->title) + " was seen to; it counts from there.";
  session.show(result, taken ? wrapped(noted, width, 2) + "\n" +
                                   wrapped(take_back_text(result, note.kind), width, 2) + "\n"
                             : kept_text(result));
  return kExitDone;
}

}  // namespace

int do_care(Session& session) {
  const std::vector<std::string>& words = session.args.words;
  if (words.empty()) return list_care(session);
  if (words.front() == "done") return done(session, words);
  if (words.front() == "withdraw") return withdraw_entry(session, diary_of(session), "care");
  throw Failure(kExitUsage,
                "ACTION is \"" + words::printable(words.front()) + "\", which is none of them",
                "write neap care, neap care done filter, or neap care withdraw 12 WHY");
}

}  // namespace neap::client
