#include "daemon/journal/schema.h"

namespace neap::journal {
namespace {

constexpr std::size_t kPlaceLength = 2;  // "{0"

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

PrintfTemplate printf_template(std::string_view text) {
  PrintfTemplate made;
  std::size_t at = 0;
  while (at < text.size()) {
    const char c = text[at];
    if (c != '{') {
      made.format += c == '%' ? "%%" : std::string(1, c);
      ++at;
      continue;
    }
    const std::size_t end = text.find('}', at);
    const auto argument = static_cast<std::size_t>(text[at + 1] - '0');
    const std::string_view inside = text.substr(at + kPlaceLength, end - at - kPlaceLength);
    const std::string_view spec = inside.empty() ? inside : inside.substr(1);  // after the colon
    if (spec.empty() || spec == "d") {
      made.format += spec.empty() ? "%s" : "%d";
    } else if (spec.front() == '.') {
      made.format += "%" + std::string(spec);
    } else {
      made.format += "%s";
      if (argument < 3) made.kinds[argument] = std::string(spec);
    }
    at = end + 1;
  }
  return made;
}

}  // namespace neap::journal
