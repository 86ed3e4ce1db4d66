// The journal's shape: migrations embedded from schema/journal/*.sql, and the look-up tables that
// give numbers their names. A file only ever moves up; one that is newer than the program is
// refused.
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/journal/sqlite.h"

namespace neap::journal {

constexpr std::int64_t kApplicationId = 0x6e656170;  // "neap", in the file's header

struct Migration {
  int version;  // PRAGMA user_version after it
  std::string_view sql;
};
std::span<const Migration> migrations();  // in order, from 1, generated at build time

enum class Kind : std::uint8_t {
  empty,    // a new file
  journal,  // ours, this version or an older one
  newer,    // ours, of a later program
  foreign,  // a database of something else
  broken,   // could not be read; see `code`
};
struct Identity {
  Kind kind = Kind::broken;
  int version = 0;
  int code = SQLITE_OK;
};
Identity identify(sqlite3* db, std::span<const Migration> known = migrations());

// Brings the file to the last of `steps`, each in its own transaction. SQLITE_OK or the code of
// what failed; the file then stands at the last step that succeeded.
int migrate(sqlite3* db, int from_version, std::span<const Migration> steps = migrations());

// Rewrites point, output, alarm, reason and word from the program's own tables.
int refill_lookups(sqlite3* db);

// What a person is told about a file that is not a journal this program can use.
std::string refusal(const std::string& path, const Identity& identity);

// A reason's template (daemon/core/reason.h) cut into what the view v_because puts together again.
struct ReasonPart {
  std::string words;            // before the figure
  std::optional<int> argument;  // which one; none: words only
  std::string kind;             // printf format, or the template's own letter
  unsigned needs = 0;  // bit mask of arguments; all of them zero: left out. 0: always there
  friend bool operator==(const ReasonPart&, const ReasonPart&) = default;
};
std::vector<ReasonPart> reason_parts(std::string_view text);

}  // namespace neap::journal
