// The few lines between SQLite's C interface and the journal: an owned connection, an owned
// statement, and typed binding. Nothing throws; every call that can fail gives SQLite's result
// code.
#pragma once

#include <sqlite3.h>

#include <concepts>
#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <string_view>

namespace neap::journal {

struct CloseDatabase {
  void operator()(sqlite3* db) const { sqlite3_close_v2(db); }
};
using Database = std::unique_ptr<sqlite3, CloseDatabase>;

// Runs statements that give no rows; SQLITE_OK or the code of the first that failed.
int execute(sqlite3* db, const std::string& sql);
// The first column of the first row; nullopt when there is no row, a NULL or an error.
std::optional<std::int64_t> query_integer(sqlite3* db, const char* sql);

struct Bytes {  // bound as a blob
  std::string_view data;
};

class Statement {
 public:
  Statement() = default;
  // A statement that cannot be compiled gives its code from every later call.
  Statement(sqlite3* db, std::string_view sql);

  int code() const { return code_; }

  // Binds the arguments to ?1, ?2, ... and starts the statement afresh.
  template <class... Args>
  void start(const Args&... args) {
    if (code_ != SQLITE_OK) return;
    sqlite3_reset(handle_.get());
    int place = 0;
    (bind(++place, args), ...);
  }
  int step();  // SQLITE_ROW, SQLITE_DONE or an error
  void stop() { sqlite3_reset(handle_.get()); }

  // For statements without rows: SQLITE_OK or an error.
  template <class... Args>
  int run(const Args&... args) {
    start(args...);
    const int got = step();
    stop();
    return got == SQLITE_DONE || got == SQLITE_ROW ? SQLITE_OK : got;
  }

  bool is_null(int column) const {
    return sqlite3_column_type(handle_.get(), column) == SQLITE_NULL;
  }
  std::int64_t integer(int column) const { return sqlite3_column_int64(handle_.get(), column); }
  double real(int column) const { return sqlite3_column_double(handle_.get(), column); }
  std::string text(int column) const;
  std::string_view bytes(int column) const;  // of a blob; valid until the next step()
  std::optional<std::int64_t> maybe_integer(int column) const;
  std::optional<double> maybe_real(int column) const;

 private:
  struct Finalize {
    void operator()(sqlite3_stmt* statement) const { sqlite3_finalize(statement); }
  };

  void bind(int place, std::nullopt_t) { sqlite3_bind_null(handle_.get(), place); }
  void bind(int place, double value) { sqlite3_bind_double(handle_.get(), place, value); }
  template <std::integral T>
  void bind(int place, T value) {
    sqlite3_bind_int64(handle_.get(), place, static_cast<std::int64_t>(value));
  }
  void bind(int place, std::string_view value);
  void bind(int place, Bytes value);
  template <class T>
  void bind(int place, const std::optional<T>& value) {
    if (value)
      bind(place, *value);
    else
      bind(place, std::nullopt);
  }

  std::unique_ptr<sqlite3_stmt, Finalize> handle_;
  int code_ = SQLITE_MISUSE;
};

// What a result code, primary or extended, says.
bool is_busy(int code);
bool is_full(int code);
bool is_damage(int code);
// What a person can do about it, as "free space on that disk"; empty where nothing is known.
const char* advice_for(int code);

}  // namespace neap::journal
