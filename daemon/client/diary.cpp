#include "daemon/client/diary.h"

#include <algorithm>
#include <array>
#include <filesystem>
#include <fstream>
#include <iterator>

#include "daemon/client/failure.h"
#include "daemon/client/journal_ask.h"
#include "daemon/client/parse.h"
#include "daemon/client/records_json.h"
#include "daemon/client/spool.h"
#include "daemon/core/state_folder.h"
#include "daemon/journal/diary.h"
#include "daemon/words/words.h"

namespace neap::client {
namespace {

using nlohmann::json;

constexpr std::size_t kLongestSpooled = 16 * 1024;  // bytes, as the daemon reads

// What waits in the spool; a file that is no entry of the diary is another's.
std::optional<journal::DiaryRow> spooled_entry(const std::filesystem::path& path) {
  std::ifstream file(path);
  std::string text(std::istreambuf_iterator<char>(file), {});
  if (text.size() > kLongestSpooled) return std::nullopt;
  const json asked = json::parse(text, nullptr, false);
  if (!asked.is_object() || !asked.contains("kind") || !asked["kind"].is_string())
    return std::nullopt;
  try {
    journal::DiaryRow row;
    row.kind = asked["kind"];
    row.id = asked.at("spool_id");
    row.subject = asked.at("subject");
    row.mark = asked.value("mark", "");
    row.says = asked.value("says", "");
    row.happened.unix_ms = asked.at("happened_unix_ms");
    if (asked.contains("figure")) row.figure = asked["figure"].get<double>();
    return row;
  } catch (const json::exception&) {
    return std::nullopt;  // the daemon refuses it, and says why in its log
  }
}

std::vector<journal::DiaryRow> spooled(const std::string& state_dir) {
  std::vector<journal::DiaryRow> found;
  std::error_code error;
  const std::filesystem::path folder = std::filesystem::path(state_dir) / state_folder::kSpool;
  for (std::filesystem::directory_iterator item(folder, error), end; !error && item != end;
       item.increment(error)) {
    if (item->path().extension() != ".json") continue;
    if (auto row = spooled_entry(item->path())) found.push_back(std::move(*row));
  }
  return found;
}

bool has_id(const std::vector<journal::DiaryRow>& rows, const std::string& id) {
  return std::any_of(rows.begin(), rows.end(), [&](const auto& row) { return row.id == id; });
}

json number_once_stored(const Session& session, const json& asked) {
  const bool withdrawal = asked["kind"] == "withdrawal";
  const std::string id = asked[withdrawal ? "subject" : "spool_id"];
  json number = nullptr;
  once_stored(session, [&](journal::Reader& reader) {
    const std::vector<journal::DiaryRow> diary = reader.diary();
    const auto found = std::find_if(diary.begin(), diary.end(),
                                    [&](const journal::DiaryRow& row) { return row.id == id; });
    if (withdrawal) return found == diary.end();
    if (found != diary.end()) number = found->number;
    return found != diary.end();
  });
  return number;
}

}  // namespace

std::vector<journal::DiaryRow> diary_of(const Session& session) {
  std::vector<journal::DiaryRow> diary;
  std::string error;
  const auto reader = journal::Reader::open(session.globals.journal, error);
  if (reader) diary = reader->diary();
  for (journal::DiaryRow& row : spooled(session.globals.state_dir)) {
    if (has_id(diary, row.id)) continue;
    if (row.kind == "withdrawal") {
      std::erase_if(diary, [&](const auto& other) { return other.id == row.subject; });
      continue;
    }
    if (reader) {
      const auto newest = reader->last_tick();
      if (newest) row.happened.utc_offset_s = reader->stamp(*newest).utc_offset_s;
      row.happened.tick = reader->tick_at(*row.happened.unix_ms).value_or(newest.value_or(0));
    }
    const auto later = std::upper_bound(
        diary.begin(), diary.end(), row,
        [](const auto& x, const auto& y) { return x.happened.unix_ms < y.happened.unix_ms; });
    diary.insert(later, std::move(row));
  }
  return diary;
}

bool tell_diary(const Session& session, const DiaryNote& note, json& result) {
  if (note.says.size() > journal::kLongestDiaryText)
    throw Failure(kExitUsage,
                  "the words have " + std::to_string(note.says.size()) + " bytes, at most " +
                      std::to_string(journal::kLongestDiaryText) + " are stored",
                  "shorten them, or tell them in two");
  json asked = {{"kind", note.kind},
                {"subject", note.subject},
                {"mark", note.mark},
                {"says", note.says},
                {"happened_unix_ms", note.happened_unix_ms.value_or(session.around.now_unix_ms())},
                {"spool_id", new_spool_id(session.around.now_unix_ms())}};
  if (note.figure) asked["figure"] = *note.figure;
  const bool taken = hand_in(session, "diary", asked, result);
  result["number"] = taken ? number_once_stored(session, asked) : json(nullptr);
  return taken;
}

std::vector<journal::DiaryRow> of_kind(const std::vector<journal::DiaryRow>& diary,
                                       std::string_view kind) {
  std::vector<journal::DiaryRow> found;
  std::copy_if(diary.begin(), diary.end(), std::back_inserter(found),
               [&](const journal::DiaryRow& row) { return row.kind == kind; });
  return found;
}

json diary_json(const journal::DiaryRow& row) {
  return {{"number", row.number == 0 ? json(nullptr) : json(row.number)},
          {"happened", stamp_json(row.happened)},
          {"kind", row.kind},
          {"subject", row.subject},
          {"figure", row.figure ? json(*row.figure) : json(nullptr)},
          {"mark", row.mark},
          {"says", row.says}};
}

Told told_of(const std::vector<std::string>& words, std::size_t from,
             std::initializer_list<std::string_view> names) {
  Told told;
  const std::array<std::pair<std::string_view, std::optional<std::string>*>, 4> fields{
      {{"at", &told.at}, {"plants", &told.plants}, {"grow", &told.grow}, {"of", &told.of}}};
  for (std::size_t i = from; i < words.size(); ++i) {
    const std::string_view name = std::string_view(words[i]).substr(0, words[i].find('='));
    const bool wanted =
        name.size() < words[i].size() && std::find(names.begin(), names.end(), name) != names.end();
    const auto named = std::find_if(fields.begin(), fields.end(),
                                    [&](const auto& each) { return wanted && each.first == name; });
    if (named == fields.end()) {
      told.words += (told.words.empty() ? "" : " ") + words[i];
      continue;
    }
    std::string value = words[i].substr(name.size() + 1);
    if (value.empty() || *named->second)
      throw Failure(kExitUsage,
                    "\"" + words::printable(words[i]) + "\" " +
                        (value.empty() ? "says nothing" : "is there a second time"),
                    "write for instance at=07:30, or plants=12");
    // at=yesterday 19:10 needs no quotes.
    if (named->second == &told.at && i + 1 < words.size() && read_clock(words[i + 1]))
      value += " " + words[++i];
    *named->second = std::move(value);
  }
  return told;
}

}  // namespace neap::client
