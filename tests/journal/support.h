// What the journal's tests share: a directory of their own, entries with an ugly clock, and a plain
// SQLite connection that looks at the file as a person would.
#pragma once

#include <gtest/gtest.h>
#include <sqlite3.h>
#include <unistd.h>

#include <cstdlib>
#include <filesystem>
#include <string>
#include <vector>

#include "daemon/journal/journal.h"
#include "tests/places.h"

namespace neap::journal::testing {

constexpr std::int64_t kStart = 4294967000;          // ms; no test begins at zero
constexpr std::int64_t kNoonUnixMs = 1780315200000;  // 2026-06-01 12:00:00 UTC
constexpr std::int32_t kSummer = 7200;               // two hours east

inline Instant at(std::int64_t ms_after_start) { return instant(Millis{kStart + ms_after_start}); }

class Directory {
 public:
  Directory() {
    std::string pattern = (std::filesystem::temp_directory_path() / "neap-journal-XXXXXX").string();
    path_ = ::mkdtemp(pattern.data());
  }
  ~Directory() {
    std::error_code ignored;
    std::filesystem::remove_all(path_, ignored);
  }
  Directory(const Directory&) = delete;
  Directory& operator=(const Directory&) = delete;
  const std::filesystem::path& path() const { return path_; }
  std::string file() const { return (path_ / "journal.db").string(); }

 private:
  std::filesystem::path path_;
};

// Rows of a query as text, columns joined by '|', as the sqlite3 shell prints them.
class Shell {
 public:
  explicit Shell(const std::string& path) {
    sqlite3_open_v2(path.c_str(), &db_, SQLITE_OPEN_READWRITE, nullptr);
    sqlite3_busy_timeout(db_, 5000);
  }
  ~Shell() { sqlite3_close_v2(db_); }
  Shell(const Shell&) = delete;
  Shell& operator=(const Shell&) = delete;

  // Of this build; what went wrong, or empty.
  std::string load_extension() {
    sqlite3_db_config(db_, SQLITE_DBCONFIG_ENABLE_LOAD_EXTENSION, 1, nullptr);
    char* error = nullptr;
    sqlite3_load_extension(db_, places::in_build("neap_journal").c_str(), nullptr, &error);
    const std::string said = error != nullptr ? error : "";
    sqlite3_free(error);
    return said;
  }

  std::vector<std::string> rows(const std::string& sql) {
    std::vector<std::string> found;
    char* error = nullptr;
    sqlite3_exec(
        db_, sql.c_str(),
        [](void* out, int columns, char** values, char**) {
          std::string line;
          for (int i = 0; i < columns; ++i)
            line += (i > 0 ? "|" : "") + std::string(values[i] != nullptr ? values[i] : "");
          static_cast<std::vector<std::string>*>(out)->push_back(line);
          return 0;
        },
        &found, &error);
    if (error != nullptr) found.push_back(std::string("error: ") + error);
    sqlite3_free(error);
    return found;
  }
  std::string value(const std::string& sql) {
    const auto found = rows(sql);
    return found.empty() ? "no row" : found.front();
  }

 private:
  sqlite3* db_ = nullptr;
};

inline Options options_for(const std::string& path) {
  Options options;
  options.path = path;
  return options;
}

inline ReadingEntry reading(std::int64_t ms, Point point, double value) {
  return {at(ms), point, value, Quality::good, Fault::none};
}

inline EventEntry numbered_event(std::int64_t ms, std::int32_t number) {
  EventEntry entry{at(ms), {}};
  entry.event.kind = EventKind::stage;
  entry.event.number = number;
  return entry;
}

inline ClockEntry clock(std::int64_t ms, std::int64_t unix_ms, TimeQuality quality,
                        std::int32_t offset = kSummer) {
  return {at(ms), {unix_ms, offset, quality}};
}

inline BootEntry boot(std::int64_t ms, bool clean = true) { return {at(ms), "0.1.0", clean}; }

}  // namespace neap::journal::testing
