// The diary: what a person told beside figures, in the journal or still on its way there.
#pragma once

#include <initializer_list>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/client/session.h"

namespace neap::client {

// An entry about to be told; its fields are daemon/journal/diary.h's.
struct DiaryNote {
  std::string_view kind;
  std::string subject;
  std::optional<double> figure{};
  std::string mark{};
  std::string says{};
  std::optional<std::int64_t> happened_unix_ms{};  // none: now
};

// All that was told, in the order in which it happened; what waits in the spool while the daemon is
// down has number 0. Works without a journal, as before the daemon's first start.
std::vector<journal::DiaryRow> diary_of(const Session& session);

// As hand_in() of spool.h, and `number` of the entry in `result`. What the daemon has taken is
// waited for until the journal shows it, so that whatever is asked next knows of it; for at most
// 3 s, and then the number is null, as it is where it cannot be read, of what waits in the spool
// and of a withdrawal. A Failure of kind usage where the words are too long.
bool tell_diary(const Session& session, const DiaryNote& note, nlohmann::json& result);

// The rows of a kind, oldest first.
std::vector<journal::DiaryRow> of_kind(const std::vector<journal::DiaryRow>& diary,
                                       std::string_view kind);

nlohmann::json diary_json(const journal::DiaryRow& row);

// Words of a command line. Those that are NAME=value of one of `names` are taken out; the rest,
// whatever it looks like, is what the person says, joined by spaces.
struct Told {
  std::string words;
  std::optional<std::string> at, plants, grow, of;
};
Told told_of(const std::vector<std::string>& words, std::size_t from,
             std::initializer_list<std::string_view> names);

}  // namespace neap::client
