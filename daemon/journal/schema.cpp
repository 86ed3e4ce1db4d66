#include "daemon/journal/schema.h"

#include <algorithm>

namespace neap::journal {
namespace {

constexpr std::size_t kKindPlace = 3;  // in "{0:.2f}"

// Bit mask of the arguments that a piece of a template names.
unsigned arguments_in(std::string_view piece) {
  unsigned mask = 0;
  for (std::size_t i = 0; i + 1 < piece.size(); ++i)
    if (piece[i] == '{') mask |= 1U << (piece[i + 1] - '0');
  return mask;
}

std::string pragma(const char* name, std::int64_t value) {
  return std::string("PRAGMA ") + name + " = " + std::to_string(value) + ";";
}

}  // namespace

Identity identify(sqlite3* db, std::span<const Migration> known) {
  Statement header(db,
                   "SELECT (SELECT application_id FROM pragma_application_id), "
                   "(SELECT user_version FROM pragma_user_version), "
                   "(SELECT count(*) FROM sqlite_schema)");
  header.start();
  if (const int code = header.step(); code != SQLITE_ROW) return {Kind::broken, 0, code};
  const std::int64_t application = header.integer(0);
  const int version = static_cast<int>(header.integer(1));
  const bool has_tables = header.integer(2) > 0;

  if (application == 0 && version == 0 && !has_tables) return {Kind::empty, 0, SQLITE_OK};
  if (application != kApplicationId) return {Kind::foreign, version, SQLITE_OK};
  const int newest = known.empty() ? 0 : known.back().version;
  return {version > newest ? Kind::newer : Kind::journal, version, SQLITE_OK};
}

int migrate(sqlite3* db, int from_version, std::span<const Migration> steps) {
  for (const Migration& step : steps) {
    if (step.version <= from_version) continue;
    int code = execute(db, "BEGIN IMMEDIATE");
    if (code == SQLITE_OK) code = execute(db, pragma("application_id", kApplicationId));
    if (code == SQLITE_OK) code = execute(db, std::string(step.sql));
    if (code == SQLITE_OK) code = execute(db, pragma("user_version", step.version));
    if (code == SQLITE_OK) code = execute(db, "COMMIT");
    if (code != SQLITE_OK) {
      execute(db, "ROLLBACK");
      return code;
    }
  }
  return SQLITE_OK;
}

std::string refusal(const std::string& path, const Identity& identity) {
  switch (identity.kind) {
    case Kind::newer:
      return "the journal " + path + " is newer than this program (its version is " +
             std::to_string(identity.version) + ", this program knows up to " +
             std::to_string(migrations().back().version) +
             "); install the later neap, or move the file away to begin a new journal";
    case Kind::foreign:
      return path +
             " is a database, but not a journal of neap; choose another path for the journal";
    case Kind::empty:
      return path + " is empty: no daemon has written to this journal yet";
    case Kind::broken:
      return path + " cannot be read as a journal (" + sqlite3_errstr(identity.code) +
             "); is it the right file, and may this user read it?";
    case Kind::journal:
      break;
  }
  return path + " is a journal";
}

std::vector<ReasonPart> reason_parts(std::string_view text) {
  std::vector<ReasonPart> parts;
  ReasonPart part;
  unsigned needs = 0;
  const auto finish = [&] {
    part.needs = needs;
    if (!part.words.empty() || part.argument) parts.push_back(std::move(part));
    part = {};
  };
  while (!text.empty()) {
    std::size_t used = 1;
    switch (text.front()) {
      case '[':
        finish();
        needs = arguments_in(text.substr(0, text.find(']')));
        break;
      case ']':
        finish();
        needs = 0;
        break;
      case '{': {  // {0:.2f}
        used = std::min(text.find('}'), text.size() - 1) + 1;
        const std::string_view kind =
            text.substr(std::min(kKindPlace, used), used - 1 - kKindPlace);
        part.argument = text[1] - '0';
        part.kind =
            std::string(kind == "d" || kind.starts_with('.') ? "%" : "") + std::string(kind);
        finish();
        break;
      }
      default:
        part.words += text.front();
    }
    text.remove_prefix(used);
  }
  finish();
  return parts;
}

}  // namespace neap::journal
