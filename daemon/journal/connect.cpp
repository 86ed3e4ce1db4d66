#include "daemon/journal/connect.h"

#include <unistd.h>

#include <cerrno>
#include <cstring>

#include "daemon/core/instant.h"
#include "daemon/journal/journal.h"
#include "daemon/journal/schema.h"

namespace neap::journal {
namespace {

constexpr int kBusyMs = 2000;

// A path as SQLite's URI form wants it.
std::string uri_of(const std::string& path) {
  static constexpr char kHex[] = "0123456789ABCDEF";
  std::string uri = "file:";
  for (const char c : path) {
    const auto byte = static_cast<unsigned char>(c);
    if (std::strchr("%?#", c) != nullptr) {
      uri += '%';
      uri += kHex[byte >> 4];
      uri += kHex[byte & 15];
    } else {
      uri += c;
    }
  }
  return uri;
}

Database open_database(const std::string& name, int flags, Identity& identity) {
  sqlite3* raw = nullptr;
  const int code = sqlite3_open_v2(name.c_str(), &raw,
                                   SQLITE_OPEN_READONLY | SQLITE_OPEN_NOMUTEX | flags, nullptr);
  Database db(raw);
  identity = {Kind::broken, 0, code};
  if (code != SQLITE_OK) return nullptr;
  sqlite3_busy_timeout(raw, kBusyMs);
  execute(raw, "PRAGMA trusted_schema = OFF");
  identity = identify(raw);
  return db;
}

}  // namespace

Database connect_read_only(const std::string& path, std::string& error) {
  if (::access(path.c_str(), F_OK) != 0) {
    error = "there is no journal " + path + " (" + std::strerror(errno) +
            "); has neapd run, and is this the path in its settings?";
    return nullptr;
  }
  if (::access(path.c_str(), R_OK) != 0) {
    error = "the journal " + path + " may not be read by this user (" + std::strerror(errno) +
            "); join the group that owns it";
    return nullptr;
  }
  Identity identity;
  Database db = open_database(path, 0, identity);
  const bool log_missing =
      ::access((path + "-wal").c_str(), F_OK) != 0 || ::access((path + "-shm").c_str(), F_OK) != 0;
  if (identity.kind == Kind::broken && log_missing)
    db = open_database(uri_of(path) + "?immutable=1", SQLITE_OPEN_URI, identity);
  if (identity.kind != Kind::journal) {
    error = refusal(path, identity);
    return nullptr;
  }
  return db;
}

std::string written_by_later(const std::string& path) {
  Identity identity;
  const Database db = open_database(path, 0, identity);
  return identity.kind == Kind::newer ? refusal(path, identity) : std::string();
}

std::optional<Instant> newest_tick(const std::string& path) {
  std::string error;
  const Database db = connect_read_only(path, error);
  if (!db) return std::nullopt;
  const auto tick = query_integer(
      db.get(),
      "SELECT max(t) FROM (SELECT max(k) >> 8 AS t FROM reading UNION ALL "
      "SELECT max(tick) FROM event UNION ALL SELECT max(tick) FROM clock_map UNION ALL "
      "SELECT max(tick) FROM boot UNION ALL SELECT max(stopped_tick) FROM boot)");
  if (!tick) return std::nullopt;
  return instant(Millis{*tick});
}

}  // namespace neap::journal
