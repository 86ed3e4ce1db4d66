#include "daemon/journal/sqlite.h"

namespace neap::journal {

int execute(sqlite3* db, const std::string& sql) {
  return sqlite3_exec(db, sql.c_str(), nullptr, nullptr, nullptr);
}

std::optional<std::int64_t> query_integer(sqlite3* db, const char* sql) {
  Statement statement(db, sql);
  statement.start();
  if (statement.step() != SQLITE_ROW) return std::nullopt;
  return statement.maybe_integer(0);
}

Statement::Statement(sqlite3* db, std::string_view sql) {
  sqlite3_stmt* made = nullptr;
  code_ = sqlite3_prepare_v3(db, sql.data(), static_cast<int>(sql.size()),
                             SQLITE_PREPARE_PERSISTENT, &made, nullptr);
  handle_.reset(made);
}

int Statement::step() { return code_ == SQLITE_OK ? sqlite3_step(handle_.get()) : code_; }

std::string Statement::text(int column) const {
  const auto* bytes = sqlite3_column_text(handle_.get(), column);
  if (bytes == nullptr) return {};
  return {reinterpret_cast<const char*>(bytes),
          static_cast<std::size_t>(sqlite3_column_bytes(handle_.get(), column))};
}

std::string_view Statement::bytes(int column) const {
  const auto* data = static_cast<const char*>(sqlite3_column_blob(handle_.get(), column));
  if (data == nullptr) return {};
  return {data, static_cast<std::size_t>(sqlite3_column_bytes(handle_.get(), column))};
}

std::optional<std::int64_t> Statement::maybe_integer(int column) const {
  if (is_null(column)) return std::nullopt;
  return integer(column);
}

std::optional<double> Statement::maybe_real(int column) const {
  if (is_null(column)) return std::nullopt;
  return real(column);
}

void Statement::bind(int place, std::string_view value) {
  // A string_view without data would be bound as NULL; an empty text is not an absent one.
  const char* data = value.data() == nullptr ? "" : value.data();
  sqlite3_bind_text64(handle_.get(), place, data, value.size(), SQLITE_TRANSIENT, SQLITE_UTF8);
}

void Statement::bind(int place, Bytes value) {
  sqlite3_bind_blob64(handle_.get(), place, value.data.data(), value.data.size(), SQLITE_TRANSIENT);
}

struct Advice {
  int code;  // primary result code of SQLite
  const char* text;
};
constexpr Advice kAdvice[] = {
    {SQLITE_FULL, "free space on that disk"},
    {SQLITE_READONLY, "make the file writable again, or remount the disk"},
    {SQLITE_IOERR, "look at the kernel log for a failing card or disk"},
    {SQLITE_BUSY, "close the other program that holds the journal"},
    {SQLITE_LOCKED, "close the other program that holds the journal"},
    {SQLITE_CANTOPEN, "create its directory and let the daemon's user write there"},
    {SQLITE_CORRUPT, "the file is damaged and could not be set aside; move it away"},
    {SQLITE_NOTADB, "the file is damaged and could not be set aside; move it away"},
};
const char* advice_for(int code) {
  for (const Advice& row : kAdvice)
    if (row.code == (code & 0xff)) return row.text;
  return "";
}

bool is_full(int code) {
  return (code & 0xff) == SQLITE_FULL || code == SQLITE_IOERR_SHMSIZE;  // its index could not grow
}
bool is_busy(int code) { return (code & 0xff) == SQLITE_BUSY || (code & 0xff) == SQLITE_LOCKED; }
bool is_damage(int code) {
  return (code & 0xff) == SQLITE_CORRUPT || (code & 0xff) == SQLITE_NOTADB;
}

}  // namespace neap::journal
