// neap_journal.so: all readings of a journal as one table in the sqlite3 shell (.load
// neap_journal).
//   neap_readings(k, v, q, point, tick)   as the table `reading`, with its key taken apart; a
//                                         question about one point or a time reads no more than
//                                         that
//   v_readings                            the view of that name, over all of them, while it is
//   loaded
#include <cmath>
#include <limits>
#include <new>

#include "daemon/journal/history.h"

extern "C" {
SQLITE_EXTENSION_INIT1
}

namespace neap::journal {
namespace {

// Without the extension v_readings sees the rows alone: this one takes its place.
constexpr const char* kView =
    "CREATE TEMP VIEW IF NOT EXISTS v_readings AS SELECT "
    "(SELECT datetime((r.tick + ahead_ms) / 1000 + utc_offset_s, 'unixepoch') FROM clock_span "
    "WHERE from_tick <= r.tick ORDER BY from_tick DESC LIMIT 1) AS local, "
    "p.name AS point, r.v / p.per_unit AS value, p.unit AS unit, "
    "(SELECT name FROM word WHERE family = p.name AND number = r.v) AS says, "
    "(SELECT name FROM word WHERE family = 'quality' AND number = (r.q & 3)) AS quality, "
    "CASE WHEN r.q >> 2 <> 0 THEN "
    "(SELECT name FROM word WHERE family = 'fault' AND number = (r.q >> 2)) END AS fault, "
    "r.tick AS tick, r.k AS k "
    "FROM point p JOIN neap_readings r ON r.point = p.number";

enum Column : int { kKey, kValue, kQuality, kPoint, kTick };

struct Table : sqlite3_vtab {
  explicit Table(sqlite3* of) : sqlite3_vtab{}, db(of) {}
  sqlite3* db;
};

class Cursor : public sqlite3_vtab_cursor {
 public:
  explicit Cursor(Table& table) : sqlite3_vtab_cursor{}, table_(table) {}
  int filter(const char* plan, int count, sqlite3_value** values);
  int next();
  bool at_end() const { return !history_; }
  const PackedReading& reading() const { return readings_[at_]; }

 private:
  int to_reading();

  Table& table_;
  std::optional<History> history_;  // none: gone through
  std::span<const PackedReading> readings_;
  std::size_t at_ = 0;
};

// A bound may be wider than what was asked: SQLite looks at each row again.
struct Bounds {
  std::int64_t from = std::numeric_limits<std::int64_t>::min();
  std::int64_t to = std::numeric_limits<std::int64_t>::max();
  void at_least(std::int64_t tick) { from = std::max(from, tick); }
  void at_most(std::int64_t tick) { to = std::min(to, tick); }
};

// None of what is no number, or is beyond all ticks; SQLite then compares it itself.
std::optional<std::int64_t> whole(sqlite3_value* value, bool down) {
  const int type = sqlite3_value_numeric_type(value);
  if (type == SQLITE_INTEGER) return sqlite3_value_int64(value);
  if (type != SQLITE_FLOAT) return std::nullopt;
  const double real = sqlite3_value_double(value);
  if (!(std::abs(real) < 9e15)) return std::nullopt;
  return static_cast<std::int64_t>(down ? std::floor(real) : std::ceil(real));
}

// One letter a value: the point; then the tick, or in capitals the key, that is the least, the
// greatest, or the only one.
int Cursor::filter(const char* plan, int count, sqlite3_value** values) {
  Bounds bounds;
  std::vector<std::int64_t> points;
  bool none = false;
  for (int i = 0; i < count; ++i) {
    const char letter = plan[i];
    const bool least = letter == 'l' || letter == 'L', greatest = letter == 'g' || letter == 'G';
    const auto value = whole(values[i], least);
    if (!value) continue;
    const bool key = letter >= 'A' && letter <= 'Z';
    const std::int64_t tick = key ? tick_of_key(*value) : *value;
    if (letter == 'p') {
      none = none || *value < 0 || *value >= kPointsInKey;
      points.assign(1, *value);
      continue;
    }
    if (!greatest) bounds.at_least(tick);
    if (!least) bounds.at_most(tick);
  }
  history_.reset();
  readings_ = {};
  at_ = 0;
  if (none || clamp_tick(bounds.from) > clamp_tick(bounds.to)) return SQLITE_OK;
  history_.emplace(table_.db, points, bounds.from, bounds.to);
  return to_reading();
}

int Cursor::next() {
  ++at_;
  return to_reading();
}

int Cursor::to_reading() {
  while (at_ >= readings_.size()) {
    at_ = 0;
    const bool more = history_->next();
    if (more) readings_ = history_->readings();
    if (!history_->problem().empty()) {
      sqlite3_free(table_.zErrMsg);
      table_.zErrMsg = sqlite3_mprintf("%s", history_->problem().c_str());
      return SQLITE_CORRUPT_VTAB;
    }
    if (more) continue;
    const int code = history_->code();
    history_.reset();
    return code;
  }
  return SQLITE_OK;
}

int connect(sqlite3* db, void*, int, const char* const*, sqlite3_vtab** made, char**) {
  const int code = sqlite3_declare_vtab(
      db, "CREATE TABLE x(k INTEGER, v INTEGER, q INTEGER, point INTEGER, tick INTEGER)");
  if (code != SQLITE_OK) return code;
  *made = new (std::nothrow) Table(db);
  return *made != nullptr ? SQLITE_OK : SQLITE_NOMEM;
}

int disconnect(sqlite3_vtab* table) {
  delete static_cast<Table*>(table);
  return SQLITE_OK;
}

char letter_of(const sqlite3_index_info::sqlite3_index_constraint& constraint) {
  if (!constraint.usable) return 0;
  const int column = constraint.iColumn;
  if (column == kPoint) return constraint.op == SQLITE_INDEX_CONSTRAINT_EQ ? 'p' : '\0';
  if (column != kTick && column != kKey) return 0;
  switch (constraint.op) {
    case SQLITE_INDEX_CONSTRAINT_EQ:
      return column == kTick ? 'e' : 'E';
    case SQLITE_INDEX_CONSTRAINT_GT:
    case SQLITE_INDEX_CONSTRAINT_GE:
      return column == kTick ? 'l' : 'L';
    case SQLITE_INDEX_CONSTRAINT_LT:
    case SQLITE_INDEX_CONSTRAINT_LE:
      return column == kTick ? 'g' : 'G';
    default:
      return 0;
  }
}

int best_index(sqlite3_vtab*, sqlite3_index_info* info) {
  std::string plan;
  double rows = 1e8;  // some years; what is known of them narrows it down, roughly
  for (int i = 0; i < info->nConstraint; ++i) {
    const char letter = letter_of(info->aConstraint[i]);
    if (letter == 0) continue;
    plan += letter;
    info->aConstraintUsage[i].argvIndex = static_cast<int>(plan.size());
    rows /= letter == 'p' ? 20 : 30;
  }
  info->estimatedCost = rows;
  info->estimatedRows = static_cast<sqlite3_int64>(rows);
  info->idxStr = sqlite3_mprintf("%s", plan.c_str());
  info->needToFreeIdxStr = 1;
  return info->idxStr != nullptr ? SQLITE_OK : SQLITE_NOMEM;
}

int open(sqlite3_vtab* table, sqlite3_vtab_cursor** made) {
  *made = new (std::nothrow) Cursor(*static_cast<Table*>(table));
  return *made != nullptr ? SQLITE_OK : SQLITE_NOMEM;
}

int close(sqlite3_vtab_cursor* cursor) {
  delete static_cast<Cursor*>(cursor);
  return SQLITE_OK;
}

int filter(sqlite3_vtab_cursor* cursor, int, const char* plan, int count, sqlite3_value** values) {
  return static_cast<Cursor*>(cursor)->filter(plan, count, values);
}

int next(sqlite3_vtab_cursor* cursor) { return static_cast<Cursor*>(cursor)->next(); }

int at_end(sqlite3_vtab_cursor* cursor) { return static_cast<Cursor*>(cursor)->at_end() ? 1 : 0; }

int column(sqlite3_vtab_cursor* cursor, sqlite3_context* out, int which) {
  const PackedReading& reading = static_cast<Cursor*>(cursor)->reading();
  if (which == kKey)
    sqlite3_result_int64(out, reading.k);
  else if (which == kQuality)
    sqlite3_result_int(out, reading.q);
  else if (which == kPoint)
    sqlite3_result_int64(out, static_cast<std::int64_t>(point_of_key(reading.k)));
  else if (which == kTick)
    sqlite3_result_int64(out, tick_of_key(reading.k));
  else if (reading.v)
    sqlite3_result_int64(out, *reading.v);
  return SQLITE_OK;
}

int rowid(sqlite3_vtab_cursor* cursor, sqlite3_int64* out) {
  *out = static_cast<Cursor*>(cursor)->reading().k;
  return SQLITE_OK;
}

// Without xCreate: the table is there without having been made.
constexpr sqlite3_module kModule = [] {
  sqlite3_module module{};
  module.xConnect = connect;
  module.xDisconnect = disconnect;
  module.xBestIndex = best_index;
  module.xOpen = open;
  module.xClose = close;
  module.xFilter = filter;
  module.xNext = next;
  module.xEof = at_end;
  module.xColumn = column;
  module.xRowid = rowid;
  return module;
}();

}  // namespace
}  // namespace neap::journal

extern "C" __attribute__((visibility("default"))) int sqlite3_extension_init(
    sqlite3* db, char** error, const sqlite3_api_routines* api) {
  SQLITE_EXTENSION_INIT2(api);
  const int code =
      sqlite3_create_module_v2(db, "neap_readings", &neap::journal::kModule, nullptr, nullptr);
  return code == SQLITE_OK ? sqlite3_exec(db, neap::journal::kView, nullptr, nullptr, error) : code;
}
