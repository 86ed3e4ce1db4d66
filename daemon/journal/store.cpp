#include "daemon/journal/store.h"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <chrono>
#include <filesystem>
#include <vector>

#include "daemon/journal/schema.h"

namespace neap::journal {
namespace {

constexpr int kBusyMs = 250;  // another writer is a person's tool: rare and short
constexpr auto kCheckLimit = std::chrono::milliseconds{500};
constexpr int kStepsBetweenLooks = 10000;  // of SQLite's virtual machine
constexpr int kCopyAfterFrames = 1000;     // as SQLite's own default
// Of the log: https://sqlite.org/fileformat2.html, 4.1. The page is SQLite's default.
constexpr std::int64_t kLogHeader = 32;
constexpr std::int64_t kFrame = 24 + 4096;
constexpr std::size_t kPiece = 65536;  // bytes of the log in memory at once
constexpr int kDaysOfAGrow = 400;
constexpr int kPackingsOfAGrow = 10000;
constexpr mode_t kFileMode = 0640;  // the group reads; -wal and -shm take the same mode

// The file is created here and not by SQLite, so that its mode does not depend on the umask.
void create_if_missing(const std::string& path) {
  const int fd = ::open(path.c_str(), O_CREAT | O_EXCL | O_RDWR | O_CLOEXEC, kFileMode);
  if (fd < 0) return;  // it exists, or SQLite's own open says what is wrong
  if (::fchmod(fd, kFileMode) != 0) {
    // Some file systems have no modes; the journal works all the same.
  }
  ::close(fd);
}

// quick_check reads the whole file, which takes minutes on a large one; events may not wait so
// long. What lies beyond the limit is found, and then set aside, when it is first touched.
bool pages_agree(sqlite3* db) {
  auto until = std::chrono::steady_clock::now() + kCheckLimit;
  sqlite3_progress_handler(
      db, kStepsBetweenLooks,
      [](void* limit) {
        const auto at = *static_cast<decltype(until)*>(limit);
        return std::chrono::steady_clock::now() >= at ? 1 : 0;
      },
      &until);
  Statement check(db, "PRAGMA quick_check(1)");
  check.start();
  const int got = check.step();
  const bool agree = got == SQLITE_ROW ? check.text(0) == "ok" : !is_damage(got);
  check.stop();
  sqlite3_progress_handler(db, 0, nullptr, nullptr);
  return agree;
}

// Writes the log over itself as the kernel shows it, from a byte on, and syncs it. After a sync
// that failed the kernel may take pages for clean that never reached the disk; no later sync would
// write them, and a power cut would take with them all that was committed behind them. What was
// synced before stays untouched: a cut in mid-write may spoil what is being written.
int renew_log(sqlite3* db, std::int64_t from) {
  const int fd = ::open(sqlite3_filename_wal(sqlite3_db_filename(db, "main")), O_RDWR | O_CLOEXEC);
  if (fd < 0) return errno == ENOENT ? SQLITE_OK : SQLITE_CANTOPEN;
  std::vector<char> piece(kPiece);
  int code = SQLITE_OK;
  for (off_t at = from; code == SQLITE_OK;) {
    const ssize_t got = ::pread(fd, piece.data(), piece.size(), at);
    if (got == 0) break;
    if (got < 0)
      code = SQLITE_IOERR_READ;
    else if (::pwrite(fd, piece.data(), static_cast<std::size_t>(got), at) != got)
      code = SQLITE_IOERR_WRITE;
    at += got;
  }
  if (code == SQLITE_OK && ::fdatasync(fd) != 0) code = SQLITE_IOERR_FSYNC;
  ::close(fd);
  return code;
}

// With the write lock: nobody else may append meanwhile.
int renew_log_alone(sqlite3* db, std::int64_t from) {
  const int code = execute(db, "BEGIN IMMEDIATE");
  if (code != SQLITE_OK) return code;
  const int renewed = renew_log(db, from);
  execute(db, "ROLLBACK");
  return renewed;
}

// A connection that is closed copies the log into the file first. After a failure that would put
// newer pages under a log of which the end may be missing, and the log's older ones would win.
void close_without_copying(sqlite3* db) {
  sqlite3_db_config(db, SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, 1, nullptr);
}

int configure(sqlite3* db, Durability durability) {
  int on = 1;
  sqlite3_file_control(db, "main", SQLITE_FCNTL_PERSIST_WAL, &on);
  sqlite3_busy_timeout(db, kBusyMs);
  const int code = execute(db, "PRAGMA journal_mode = WAL");
  if (code != SQLITE_OK) return code;
  return execute(db, std::string("PRAGMA journal_size_limit = 16777216;"
                                 "PRAGMA trusted_schema = OFF;"
                                 "PRAGMA secure_delete = OFF;"  // Debian's writes zeros else
                                 "PRAGMA synchronous = ") +
                         (durability == Durability::full ? "FULL" : "OFF"));
}

std::string failure_text(const std::string& path, sqlite3* db, int code) {
  const std::string detail = db != nullptr ? sqlite3_errmsg(db) : sqlite3_errstr(code);
  return "journal " + path + ": " + detail;
}

}  // namespace

std::int64_t tick_of(const Entry& entry) {
  return std::visit([](const auto& e) { return tick_ms(e.tick); }, entry);
}

Store::Opened Store::open(const Options& options, std::optional<std::int64_t> log_sure_until) {
  create_if_missing(options.path);
  sqlite3* raw = nullptr;
  int code = sqlite3_open_v2(options.path.c_str(), &raw,
                             SQLITE_OPEN_READWRITE | SQLITE_OPEN_NOMUTEX, nullptr);
  Database db(raw);
  sqlite3_extended_result_codes(raw, 1);

  const auto failed = [&](int why) -> Opened {
    close_without_copying(raw);
    return {nullptr, why, is_damage(why), failure_text(options.path, raw, why)};
  };
  if (code != SQLITE_OK) return failed(code);
  sqlite3_busy_timeout(raw, kBusyMs);

  const Identity identity = identify(raw);
  if (identity.kind == Kind::broken) return failed(identity.code);
  if (identity.kind == Kind::newer || identity.kind == Kind::foreign)
    return {nullptr, SQLITE_MISMATCH, false, refusal(options.path, identity)};

  if (log_sure_until && identity.kind == Kind::journal)
    code = renew_log_alone(raw, *log_sure_until);
  if (code == SQLITE_OK) code = configure(raw, options.durability);
  if (code != SQLITE_OK) return failed(code);
  if (identity.kind == Kind::journal && !pages_agree(raw)) return failed(SQLITE_CORRUPT);
  std::unique_ptr<Store> store(new Store(std::move(db)));
  // In a live journal events wait for a batch, and a day's readings take a small board a tenth of a
  // second; a simulated grow closes many days in one.
  if (options.durability == Durability::simulated) {
    store->days_a_batch_ = kDaysOfAGrow;
    store->packings_a_batch_ = kPackingsOfAGrow;
  }
  store->pack_after_ = options.pack_after.count();
  if (options.keep_readings) store->keep_ = options.keep_readings->count();
  sqlite3_wal_hook(raw, committed, store.get());
  code = migrate(raw, identity.version);
  if (code == SQLITE_OK) code = refill_lookups(raw);
  if (code != SQLITE_OK) return failed(code);
  code = store->prepare();
  if (code != SQLITE_OK) return failed(code);
  store->resume();
  return {std::move(store), SQLITE_OK, false, {}};
}

Store::Store(Database db) : db_(std::move(db)) {}

// After each commit: `frames` are in the log, and synced. From time to time they are copied into
// the file; once all of them are, the next commit begins the log anew.
int Store::committed(void* store, sqlite3* db, const char* name, int frames) {
  int in_log = frames;
  int copied = 0;
  if (frames >= kCopyAfterFrames)
    sqlite3_wal_checkpoint_v2(db, name, SQLITE_CHECKPOINT_PASSIVE, &in_log, &copied);
  static_cast<Store*>(store)->log_sure_until_ =
      copied >= in_log ? 0 : kLogHeader + std::int64_t{frames} * kFrame;
  return SQLITE_OK;
}

int Store::prepare() {
  struct Row {
    Statement Store::*statement;
    const char* sql;
  };
  static constexpr Row kStatements[] = {
      {&Store::begin_, "BEGIN IMMEDIATE"},
      {&Store::commit_, "COMMIT"},
      {&Store::rollback_, "ROLLBACK"},
      {&Store::reading_, "INSERT OR REPLACE INTO reading VALUES (?1, ?2, ?3)"},
      {&Store::event_,
       "INSERT INTO event VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, "
       "?15, ?16, ?17, ?18, ?19, ?20, ?21, ?22, ?23)"},
      {&Store::cycle_,
       "INSERT OR REPLACE INTO cycle VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, "
       "?13, ?14, ?15)"},
      {&Store::day_,
       "INSERT OR REPLACE INTO day VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, "
       "?13, ?14, ?15, ?16, ?17, ?18, ?19, ?20, ?21, ?22, ?23, ?24)"},
      {&Store::batch_, "UPDATE last_batch SET writer = ?1, batch = ?2"},
      {&Store::loss_, "INSERT INTO loss (tick, readings, events, why) VALUES (?1, ?2, ?3, ?4)"},
      {&Store::clock_, "INSERT OR REPLACE INTO clock_map VALUES (?1, ?2, ?3, ?4, ?5)"},
      {&Store::span_, "INSERT OR REPLACE INTO clock_span VALUES (?1, ?2, ?3)"},
      {&Store::clear_spans_, "DELETE FROM clock_span WHERE from_tick >= ?1"},
      {&Store::clocks_since_,
       "SELECT tick, unix_ms, utc_offset_s, quality FROM clock_map WHERE tick >= ?1 ORDER BY tick"},
      {&Store::adopt_clocks_, "UPDATE clock_map SET boot = ?1 WHERE tick >= ?2"},
      {&Store::boot_,
       "INSERT INTO boot (number, tick, version, clean_before) VALUES (?1, ?2, ?3, ?4)"},
      {&Store::stop_, "UPDATE boot SET stopped_tick = ?1, stopped_why = ?2 WHERE number = ?3"},
      {&Store::alarm_newest_,
       "SELECT number FROM alarm_span WHERE alarm = ?1 AND (cleared IS NULL OR ?2) "
       "ORDER BY number DESC LIMIT 1"},
      {&Store::alarm_raise_, "INSERT INTO alarm_span (alarm, raised, event) VALUES (?1, ?2, ?3)"},
      {&Store::alarm_acknowledge_,
       "UPDATE alarm_span SET acknowledged = coalesce(acknowledged, ?1) WHERE number = ?2"},
      {&Store::alarm_clear_, "UPDATE alarm_span SET cleared = ?1 WHERE number = ?2"},
      {&Store::settings_,
       "INSERT INTO settings_revision (tick, hash, accepted, note, text) "
       "VALUES (?1, ?2, ?3, ?4, ?5)"},
      {&Store::measurement_,
       "INSERT INTO measurement (id, tick, taken_unix_ms, quantity, value, note, photo) "
       "VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7) ON CONFLICT (id) DO NOTHING"},
      {&Store::amendment_,
       "INSERT INTO amendment (id, tick, of, value, reason) "
       "VALUES (?1, ?2, ?3, ?4, ?5) ON CONFLICT (id) DO NOTHING"},
      {&Store::calibration_,
       "INSERT INTO calibration (tick, point, readings, temperature_c, zero, slope) "
       "VALUES (?1, ?2, ?3, ?4, ?5, ?6)"},
      {&Store::diary_,
       "INSERT INTO diary (id, tick, happened_unix_ms, kind, subject, figure, mark, says) "
       "VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8) ON CONFLICT (id) DO NOTHING"},
      {&Store::client_,
       "INSERT INTO client (tick, uid, pid, verb, accepted, detail) "
       "VALUES (?1, ?2, ?3, ?4, ?5, ?6)"},
  };
  for (const Row& row : kStatements) {
    this->*row.statement = Statement(db_.get(), row.sql);
    if (const int code = (this->*row.statement).code(); code != SQLITE_OK) return code;
  }
  const int code = prepare_summaries();
  return code == SQLITE_OK ? prepare_packing() : code;
}

void Store::resume() {
  at_ = {};
  at_.next_event = query_integer(db_.get(), "SELECT max(number) FROM event").value_or(0) + 1;
  at_.boot = query_integer(db_.get(), "SELECT max(number) FROM boot").value_or(0);
  at_.boot_tick = query_integer(db_.get(), "SELECT tick FROM boot ORDER BY number DESC LIMIT 1");
  const auto best = query_integer(db_.get(),
                                  "SELECT max(quality) FROM clock_map WHERE boot = (SELECT "
                                  "coalesce(max(number), 0) FROM boot)");
  at_.best_quality = static_cast<TimeQuality>(best.value_or(0));
}

Stored Store::write(const Batch& batch) {
  Stored result;
  result.code = begin_.run();
  if (result.code != SQLITE_OK) return result;
  result.code = store_all(batch, result.refused);
  if (result.code == SQLITE_OK) result.code = commit_.run();
  if (result.code != SQLITE_OK) {
    rollback_.run();
    resume();
    result.refused = 0;
  }
  return result;
}

void Store::abandon() { close_without_copying(db_.get()); }

std::int64_t Store::log_bytes_within(std::int64_t most) {
  const auto size = [this] {
    std::error_code error;
    const auto bytes = std::filesystem::file_size(
        sqlite3_filename_wal(sqlite3_db_filename(db_.get(), "main")), error);
    return error ? 0 : static_cast<std::int64_t>(bytes);
  };
  const std::int64_t bytes = size();
  if (bytes <= most) return bytes;
  if (sqlite3_wal_checkpoint_v2(db_.get(), "main", SQLITE_CHECKPOINT_TRUNCATE, nullptr, nullptr) ==
      SQLITE_OK)
    log_sure_until_ = 0;
  return size();
}

bool Store::holds(std::int64_t writer, std::int64_t number) {
  Statement found(db_.get(), "SELECT 1 FROM last_batch WHERE writer = ?1 AND batch = ?2");
  found.start(writer, number);
  return found.step() == SQLITE_ROW;
}

}  // namespace neap::journal
