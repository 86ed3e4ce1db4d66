#include "daemon/journal/archive.h"

#include <cerrno>
#include <cstring>
#include <filesystem>

#include "daemon/journal/connect.h"
#include "daemon/journal/history.h"
#include "daemon/journal/sqlite.h"

namespace neap::journal {
namespace {

constexpr int kBusyMs = 5000;

Archived count(sqlite3* db) {
  const auto rows = [db](const char* sql) { return query_integer(db, sql).value_or(0); };
  // In one statement: what is packed meanwhile is neither missed nor counted twice.
  const char* const readings =
      has_blocks(db) ? "SELECT (SELECT count(*) FROM reading) + (SELECT coalesce(sum(h.usable + "
                       "h.missing), 0) FROM reading_block b JOIN reading_hour h "
                       "ON h.point = b.k & 255 AND h.hour = b.k >> 8)"
                     : "SELECT count(*) FROM reading";
  return {rows("SELECT count(*) FROM event"), rows(readings), rows("SELECT count(*) FROM day")};
}

// In one go: the journal is written to meanwhile, and steps would begin again with each commit.
int copy(sqlite3* from, sqlite3* to) {
  sqlite3_backup* backup = sqlite3_backup_init(to, "main", from, "main");
  if (backup == nullptr) return sqlite3_errcode(to);
  sqlite3_backup_step(backup, -1);
  return sqlite3_backup_finish(backup);
}

// What is wrong with the copy; empty when nothing is.
std::string doubt(sqlite3* db, const Archived& least, Archived& found) {
  Statement check(db, "PRAGMA integrity_check(1)");
  check.start();
  if (check.step() != SQLITE_ROW) return sqlite3_errmsg(db);
  if (const std::string said = check.text(0); said != "ok") return said;
  found = count(db);
  if (found.events >= least.events && found.readings >= least.readings && found.days >= least.days)
    return {};
  return "it has fewer rows than the journal";
}

// Writes and verifies `part`; what went wrong, or empty.
std::string make(sqlite3* from, const std::string& part, Archived& found) {
  const Archived least = count(from);
  sqlite3* raw = nullptr;
  int code =
      sqlite3_open_v2(part.c_str(), &raw, SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE, nullptr);
  const Database to(raw);
  if (code != SQLITE_OK) return sqlite3_errmsg(raw);
  sqlite3_busy_timeout(raw, kBusyMs);
  code = copy(from, raw);
  if (code == SQLITE_OK) code = execute(raw, "PRAGMA journal_mode = DELETE");
  if (code != SQLITE_OK) {
    const char* advice = advice_for(code);
    return std::string(sqlite3_errstr(code)) + (*advice != '\0' ? "; " : "") + advice;
  }
  return doubt(raw, least, found);
}

}  // namespace

std::optional<Archived> archive(const std::string& from, const std::string& to,
                                std::string& error) {
  const Database source = connect_read_only(from, error);
  if (!source) return std::nullopt;
  std::error_code trouble;
  if (std::filesystem::exists(to, trouble)) {
    error = to + " exists";
    return std::nullopt;
  }
  const std::string part = to + ".part";
  std::filesystem::remove(part, trouble);
  Archived found;
  if (const std::string wrong = make(source.get(), part, found); !wrong.empty()) {
    error = "the copy " + to + " did not succeed: " + wrong;
  } else {
    std::filesystem::rename(part, to, trouble);
    if (!trouble) return found;
    error = "the copy cannot be named " + to + ": " + trouble.message();
  }
  std::filesystem::remove(part, trouble);
  return std::nullopt;
}

}  // namespace neap::journal
