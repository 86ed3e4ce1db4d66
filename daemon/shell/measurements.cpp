#include "daemon/shell/measurements.h"

#include <array>
#include <cmath>
#include <cstdio>

#include "daemon/core/solution_watch.h"
#include "daemon/journal/diary.h"
#include "daemon/shell/files.h"
#include "daemon/words/words.h"

namespace neap::shell {
namespace {

using nlohmann::json;

constexpr std::size_t kLongestNote = 256;  // bytes; of a photo's path too
constexpr std::size_t kLongestId = 96;     // a set's id and a quantity
constexpr std::size_t kLongestSetId = 64;
// Clocks of two machines, or of a phone and a board, may differ by this.
constexpr std::int64_t kAheadMs = 60'000;
constexpr std::string_view kAheadNote = "dated by a clock that was ahead";

// Text of `key`: empty when it is not there, none when it is something else or too long.
std::optional<std::string> text_of(const json& args, const char* key, std::size_t most) {
  const auto found = args.find(key);
  if (found == args.end()) return std::string();
  if (!found->is_string()) return std::nullopt;
  auto text = found->get<std::string>();
  return text.size() <= most ? std::optional(std::move(text)) : std::nullopt;
}

// What is wrong with `value` as a figure of this row; empty when nothing is.
std::string complaint(const HandInfo& row, const json& value) {
  if (value.is_number()) {
    const double number = value.get<double>();
    if (std::isfinite(number) && number >= row.lowest && number <= row.highest) return {};
  }
  std::array<char, 96> text{};
  std::snprintf(text.data(), text.size(), "%.*s must be a number from %g to %g",
                static_cast<int>(row.key.size()), row.key.data(), row.lowest, row.highest);
  return text.data();
}

const HandInfo* by_key(std::string_view key) {
  for (const HandInfo& row : kHands)
    if (row.key == key) return &row;
  return nullptr;
}

std::string set_id(const json& args, const std::string& fallback_id) {
  const std::string id = text_of(args, "spool_id", kLongestSetId).value_or("");
  return id.empty() ? fallback_id : id;
}

// Reads the time it was taken or happened at; an error, or empty.
std::string read_moment(const json& args, const std::string& key, std::int64_t now_unix_ms,
                        std::int64_t& moment) {
  moment = now_unix_ms;
  const auto found = args.find(key);
  if (found == args.end()) return {};
  if (!found->is_number_integer()) return key + " must be whole milliseconds since 1970";
  moment = found->get<std::int64_t>();
  return moment > now_unix_ms + kAheadMs ? key + " lies in the future" : "";
}

// Reads the figure of a diary's entry; an error, or empty.
std::string read_figure(const json& args, const journal::DiaryKindInfo& kind,
                        std::optional<double>& figure) {
  const auto found = args.find("figure");
  if (found == args.end() || found->is_null()) return {};
  const double value = found->is_number() ? found->get<double>() : NAN;
  if (value >= kind.lowest && value <= kind.highest) {
    figure = value;
    return {};
  }
  std::array<char, 96> text{};
  std::snprintf(text.data(), text.size(), "figure of %.*s must be a number from %g to %g",
                static_cast<int>(kind.name.size()), kind.name.data(), kind.lowest, kind.highest);
  return text.data();
}

}  // namespace

TakenIn take_in_measurements(Daemon& daemon, const json& args, const std::string& fallback_id) {
  const auto values = args.find("values");
  if (values == args.end() || !values->is_object() || values->empty())
    return {"values is missing: an object of ph, ec, level_l, temperature_c", 0};
  const auto note = text_of(args, "note", kLongestNote);
  if (!note) return {"note must be text of at most 256 bytes", 0};
  const auto photo = text_of(args, "photo", kLongestNote);
  if (!photo) return {"photo must be text of at most 256 bytes: where it is", 0};
  std::int64_t taken = 0;
  if (std::string error = read_moment(args, "taken_unix_ms", daemon.wall().unix_ms, taken);
      !error.empty())
    return {std::move(error), 0};
  const std::string id = set_id(args, fallback_id);

  struct Good {
    const HandInfo* row;
    double value;
  };
  std::vector<Good> good;  // all or nothing
  for (const auto& [key, value] : values->items()) {
    const HandInfo* row = by_key(key);
    if (row == nullptr) return {"no quantity is called \"" + words::printable(key) + "\"", 0};
    if (std::string error = complaint(*row, value); !error.empty()) return {std::move(error), 0};
    good.push_back({row, value.get<double>()});
  }
  for (const Good& each : good) {
    const std::string own = id + "/" + std::string(each.row->name);
    daemon.journal().put(journal::MeasurementEntry{
        daemon.now(), own, taken, std::string(each.row->name), each.value, *note, *photo});
    daemon.note_by_hand({each.row->hand, each.value, false, taken, fnv1a(own)});
  }
  return {{}, good.size()};
}

json by_hand_json(const Daemon& daemon) {
  json list = json::array();
  const State& state = daemon.state();
  const WallTime wall = daemon.wall();
  for (std::size_t i = 0; i < kWatchedHands; ++i) {
    const HandReading& last = state.kept.hands[i];
    if (!last.known) continue;
    const std::int64_t age_ms = wall.unix_ms - last.taken_unix_ms;
    const bool dated = wall.quality != TimeQuality::unset && age_ms >= 0;
    list.push_back({{"quantity", kHands[i].name},
                    {"value", last.value},
                    {"age_s", dated ? json(static_cast<double>(age_ms) / 1000) : json(nullptr)},
                    {"in_force", dated && Millis{age_ms} <= kHandLasts}});
  }
  return list;
}

bool settle_date(json& args, const WallTime& wall) {
  const bool diary = args.contains("kind");
  const auto dated = args.find(diary ? "happened_unix_ms" : "taken_unix_ms");
  if (dated == args.end() || !dated->is_number_integer()) return true;
  if (dated->get<std::int64_t>() <= wall.unix_ms + kAheadMs) return true;
  if (wall.quality != TimeQuality::synced) return false;
  *dated = wall.unix_ms;
  const char* const words = diary ? "says" : "note";
  const std::size_t longest = diary ? journal::kLongestDiaryText : kLongestNote;
  const std::string said = text_of(args, words, longest).value_or("");
  const std::string more = (said.empty() ? "" : "; ") + std::string(kAheadNote);
  const bool fits = said.size() + more.size() <= longest;
  if (fits && (!args.contains(words) || args[words].is_string())) args[words] = said + more;
  return true;
}

TakenIn take_in_amendment(Daemon& daemon, const json& args, const std::string& fallback_id) {
  const std::string of = text_of(args, "of", kLongestId).value_or("");
  const std::size_t slash = of.rfind('/');
  const HandInfo* row =
      slash == std::string::npos ? nullptr : find_hand(std::string_view(of).substr(slash + 1));
  if (row == nullptr) return {"of must be the id of a measurement: SET/QUANTITY", 0};
  const auto reason = text_of(args, "reason", kLongestNote);
  if (!reason) return {"reason must be text of at most 256 bytes", 0};
  std::optional<double> value;
  if (const auto found = args.find("value"); found != args.end() && !found->is_null()) {
    if (std::string error = complaint(*row, *found); !error.empty()) return {std::move(error), 0};
    value = found->get<double>();
  } else if (reason->empty()) {
    return {"a measurement is withdrawn for a reason, and reason is missing", 0};
  }
  daemon.journal().put(journal::AmendmentEntry{daemon.now(), set_id(args, fallback_id) + "/amend",
                                               of, value, *reason});
  daemon.note_by_hand({row->hand, value, true, 0, fnv1a(of)});
  return {{}, 1};
}

TakenIn take_in_diary(Daemon& daemon, const json& args, const std::string& fallback_id) {
  const std::string name = text_of(args, "kind", kLongestId).value_or("");
  const journal::DiaryKindInfo* kind = journal::find_diary_kind(name);
  if (kind == nullptr) return {"no kind of entry is called \"" + words::printable(name) + "\"", 0};
  const auto subject = text_of(args, "subject", journal::kLongestDiarySubject);
  if (!subject || subject->empty()) return {"subject must be text of 1 to 96 bytes", 0};
  const auto mark = text_of(args, "mark", kLongestId);
  if (!mark) return {"mark must be text of at most 96 bytes", 0};
  const auto says = text_of(args, "says", journal::kLongestDiaryText);
  if (!says) return {"says must be text of at most 1000 bytes", 0};
  std::optional<double> figure;
  if (std::string error = read_figure(args, *kind, figure); !error.empty())
    return {std::move(error), 0};
  std::int64_t happened = 0;
  if (std::string error = read_moment(args, "happened_unix_ms", daemon.wall().unix_ms, happened);
      !error.empty())
    return {std::move(error), 0};
  daemon.journal().put(journal::DiaryEntry{daemon.now(), set_id(args, fallback_id), happened, name,
                                           *subject, figure, *mark, *says});
  return {{}, 1};
}

}  // namespace neap::shell
