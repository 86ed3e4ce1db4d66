#include "tests/crash/judge.h"

#include <sqlite3.h>

#include <algorithm>
#include <filesystem>
#include <limits>

#include "daemon/core/budget.h"
#include "daemon/core/limits.h"
#include "daemon/journal/history.h"

namespace neap::crash {
namespace {

constexpr Millis kLooks = seconds{20};  // lived on after the start
constexpr int kPump = static_cast<int>(Output::pump);

class Query {
 public:
  Query(sqlite3* db, const char* sql) { sqlite3_prepare_v2(db, sql, -1, &row_, nullptr); }
  ~Query() { sqlite3_finalize(row_); }
  Query(const Query&) = delete;
  Query& operator=(const Query&) = delete;
  bool next() { return sqlite3_step(row_) == SQLITE_ROW; }
  std::int64_t integer(int column) { return sqlite3_column_int64(row_, column); }
  bool is(const char* text) {
    const auto* found = reinterpret_cast<const char*>(sqlite3_column_text(row_, 0));
    return found != nullptr && std::string_view(found) == text;
  }

 private:
  sqlite3_stmt* row_ = nullptr;
};

std::int64_t one(sqlite3* db, const char* sql) {
  Query query(db, sql);
  return query.next() ? query.integer(0) : 0;
}

const Moment* moment_at(const Segment& segment, std::size_t cut) {
  const Moment* found = nullptr;
  for (const Moment& moment : segment.moments)
    if (moment.op <= cut) found = &moment;
  return found;
}
const Moment* moment_after(const Segment& segment, std::size_t cut) {
  for (const Moment& moment : segment.moments)
    if (moment.op > cut) return &moment;
  return nullptr;
}

// Slots whose flood had started the pump before the cut. A flood that was cut off may be made up
// for once.
struct Fired {
  SlotId slot;
  FloodOrigin origin = FloodOrigin::slot;
  friend bool operator==(const Fired&, const Fired&) = default;
};
std::vector<Fired> fired_until(const Segment& segment, std::size_t cut) {
  std::vector<Fired> fired;
  for (std::size_t i = 0; i < std::min(cut, segment.ops.size()); ++i) {
    const Op& op = segment.ops[i];
    if (op.kind != Op::Kind::pin || op.file != kPump || op.at == 0) continue;
    const Moment* then = moment_after(segment, i);
    if (then != nullptr && then->slot.number > 0) fired.push_back({then->slot, then->origin});
  }
  return fired;
}

bool marked(const Kept& kept, SlotId slot) {
  const std::uint64_t bit = std::uint64_t{1} << (slot.number - 1);
  if (slot.date == kept.slots_date) return (kept.slots_done & bit) != 0;
  if (slot.date == kept.slots_date_before) return (kept.slots_done_before & bit) != 0;
  return slot.date < std::min(kept.slots_date, kept.slots_date_before);
}

// One start after a crash, looked at from all sides.
class Inquest {
 public:
  Inquest(const Segment& segment, std::size_t cut, bool powered)
      : segment_(segment),
        cut_(cut),
        powered_(powered),
        known_(moment_at(segment, cut)),
        may_be_lost_((known_ == nullptr && segment.number == 0) || segment.fails_at(cut)) {}

  Verdict run(const std::string& folder, std::int64_t unix_ms);

 private:
  void broken(const std::string& what) { verdict_.broken.push_back(what); }
  void outputs(const char* when);
  void memory();
  void live_on();
  void journal(const Rows& found, const BookedWriter& booked);
  void set_aside(const std::string& folder);

  const Segment& segment_;
  std::size_t cut_;
  bool powered_;
  const Moment* known_;  // the last that the daemon had finished; none: it was starting
  bool may_be_lost_;     // state and manifest: nothing was kept yet, or the disk did not take it
  Pins pins_;
  Machine* machine_ = nullptr;
  Verdict verdict_;
};

void Inquest::outputs(const char* when) {
  if (pins_[Output::pump] != kStopped) broken(std::string("the pump runs ") + when);
}

// What was kept must have come over: budget, latches, slots of the day.
void Inquest::memory() {
  const shell::Boot& boot = machine_->boot();
  const Kept& kept = machine_->daemon().state().kept;
  verdict_.one_slot = boot.one_slot;
  // A power cut may tear the very first save.
  const bool excused = segment_.fails_at(cut_) || (may_be_lost_ && !powered_);
  if (boot.state_lost && !excused) broken("the state is lost");
  if (boot.first_run && !may_be_lost_) broken("taken for a first run");
  Millis truth{};
  for (const PumpRun& run : runs_until(segment_, cut_)) truth += Millis{run.to - run.from};
  PumpBudget budget = kept.budget;
  const BudgetView view = view_budget(machine_->daemon().loaded().plan.table, budget, boot.start);
  if (view.day < truth && !boot.state_lost)
    broken("the pump ran " + std::to_string(truth.count()) + " ms, of which the budget knows " +
           std::to_string(view.day.count()));
  const Moment* next = moment_after(segment_, cut_);
  for (std::size_t i = 0; known_ != nullptr && !may_be_lost_ && i < kLatchCount; ++i) {
    const bool set = known_->latched[i] && (next == nullptr || next->latched[i]);
    if (set && !kept.kernel.latched[i])
      broken("the latch " + std::string(kLatches[i].name) + " is gone");
  }
  for (const Fired& flood : fired_until(segment_, cut_))
    if (!marked(kept, flood.slot))
      broken("slot " + std::to_string(flood.slot.number) + " would flood again");
}

void Inquest::live_on() {
  const std::vector<Fired> fired = fired_until(segment_, cut_);
  for (Millis lived{}; lived < kLooks; lived += seconds{1}) {
    machine_->run_for(seconds{1});
    if (pins_[Output::pump] == kStopped) continue;
    const CycleRow& row = machine_->daemon().state().flood.row;
    if (row.slot.number == 0) return broken("the pump was started by nobody");
    const int most = row.origin == FloodOrigin::retry ? limits::kRetries : 1;
    if (std::ranges::count(fired, Fired{row.slot, row.origin}) >= most)
      return broken("slot " + std::to_string(row.slot.number) + " floods once more than it may");
  }
}

// The events that were there before, then those of this segment without a hole and as far as they
// were acknowledged, then those of the new start.
void Inquest::journal(const Rows& found, const BookedWriter& booked) {
  if (booked.trouble()) return broken("the journal: " + booked.trouble_text());
  if (!found.sound) broken("quick_check finds the journal damaged");
  if (found.losses > 0) broken("the journal tells of losses");
  if (found.doubled != 0) broken("readings stand both as rows and in blocks");
  verdict_.packed = found.packed > 0;
  for (std::size_t i = 0; i < found.numbers.size(); ++i)
    if (found.numbers[i] != static_cast<std::int64_t>(i) + 1) return broken("events have a hole");
  const Acknowledged least = known_ != nullptr ? known_->acknowledged : Acknowledged{};
  const std::vector<EventKey>& before = segment_.before.events;
  const std::vector<EventKey>& after = booked.ledger().events;
  const std::size_t surely = before.size() + least.events + after.size();
  if (found.events.size() < surely)
    return broken(std::to_string(surely - found.events.size()) + " acknowledged events are lost");
  const std::size_t of_segment = found.events.size() - before.size() - after.size();
  verdict_.rows_recovered = of_segment > least.events;
  if (of_segment > segment_.ledger.events.size()) return broken("events are doubled");
  std::vector<EventKey> wanted = before;
  wanted.insert(wanted.end(), segment_.ledger.events.begin(),
                segment_.ledger.events.begin() + static_cast<std::ptrdiff_t>(of_segment));
  wanted.insert(wanted.end(), after.begin(), after.end());
  if (found.events != wanted) broken("events are out of order or not those that were put");
  const std::int64_t start = tick_ms(machine_->boot().start);
  for (std::size_t i = 0; i + after.size() < found.events.size(); ++i)
    if (found.events[i].tick >= start) return broken("the tick goes back");
  if (found.late_readings != booked.ledger().readings.size())
    broken("the tick goes back, or readings of the new start are lost");
  if (found.readings < segment_.before.readings + least.readings + booked.ledger().readings.size())
    broken("acknowledged readings are lost");
  if (found.others < segment_.before.others + least.others + booked.ledger().others)
    broken("a boot or settings revision is lost");
}

void Inquest::set_aside(const std::string& folder) {
  for (const auto& entry : std::filesystem::directory_iterator(folder))
    if (entry.path().string().find(".corrupt-") != std::string::npos)
      broken("the journal was set aside as damaged");
}

Verdict Inquest::run(const std::string& folder, std::int64_t unix_ms) {
  // Without power the lines fall back; a killed process leaves them where they stood.
  pins_ = powered_ ? pins_at(segment_, cut_) : Pins{};
  Machine machine(folder, segment_.settings, unix_ms, pins_);
  machine_ = &machine;
  machine.open_outputs();
  if (!machine.had_manifest() && !may_be_lost_) broken("the output manifest is lost");
  if (machine.had_manifest()) outputs("before the settings are read");
  if (!machine.start()) {
    broken("the settings do not load");
    return verdict_;
  }
  outputs("before the first scan");
  memory();
  live_on();
  machine.flush();
  journal(read_journal(folder, tick_ms(machine.boot().start)), machine.writer());
  set_aside(folder);
  return verdict_;
}

// Rows and blocks, each reading once; what is wrong with a block, or empty.
std::string count_readings(sqlite3* db, std::int64_t since, Rows& rows) {
  constexpr std::int64_t kEver = std::numeric_limits<std::int64_t>::max();
  journal::History history(db, {}, -kEver, kEver);
  while (history.next())
    for (const journal::PackedReading& reading : history.readings()) {
      ++rows.readings;
      rows.late_readings += journal::tick_of_key(reading.k) >= since;
    }
  rows.packed = static_cast<std::size_t>(
      one(db, "SELECT coalesce(sum(usable + missing), 0) FROM reading_hour"));
  rows.doubled = one(db, "SELECT count(*) FROM reading") + static_cast<std::int64_t>(rows.packed) -
                 static_cast<std::int64_t>(rows.readings);
  return history.problem();
}

}  // namespace

Rows read_journal(const std::string& folder, std::int64_t since) {
  Rows rows;
  sqlite3* db = nullptr;
  sqlite3_open_v2((folder + "/journal.db").c_str(), &db, SQLITE_OPEN_READWRITE, nullptr);
  for (Query row(db, "SELECT number, tick, kind, reason FROM event ORDER BY number"); row.next();) {
    rows.numbers.push_back(row.integer(0));
    rows.events.push_back({row.integer(1), row.integer(2), row.integer(3)});
  }
  const std::string problem = count_readings(db, since, rows);
  rows.others = static_cast<std::size_t>(
      one(db, "SELECT (SELECT count(*) FROM boot) + (SELECT count(*) FROM settings_revision)"));
  rows.losses = static_cast<std::size_t>(one(db, "SELECT count(*) FROM loss"));
  Query check(db, "PRAGMA quick_check(1)");
  rows.sound = check.next() && check.is("ok") && problem.empty();
  while (check.next()) continue;
  sqlite3_close_v2(db);
  return rows;
}

std::vector<PumpRun> runs_until(const Segment& segment, std::size_t cut) {
  std::vector<PumpRun> runs = segment.runs_before;
  bool running = false;
  for (std::size_t i = 0; i < std::min(cut, segment.ops.size()); ++i) {
    const Op& op = segment.ops[i];
    if (op.kind != Op::Kind::pin || op.file != kPump) continue;
    if (op.at > 0 && !running) runs.push_back({op.tick, tick_at(segment, cut)});
    if (op.at == 0 && running) runs.back().to = op.tick;
    running = op.at > 0;
  }
  return runs;
}

Pins pins_at(const Segment& segment, std::size_t cut) {
  Pins pins = segment.pins_before;
  for (std::size_t i = 0; i < std::min(cut, segment.ops.size()); ++i) {
    const Op& op = segment.ops[i];
    if (op.kind == Op::Kind::pin)
      pins[static_cast<Output>(op.file)] = Permille{static_cast<int>(op.at)};
  }
  return pins;
}

std::int64_t tick_at(const Segment& segment, std::size_t cut) {
  const std::size_t last = std::min(cut, segment.ops.size());
  return last == 0 ? segment.start : segment.ops[last - 1].tick;
}

Verdict judge(const Segment& segment, std::size_t cut, const Image& image, bool powered,
              Millis outage, std::uint64_t noise, const std::string& folder) {
  lay_out(image, folder, noise);
  const std::int64_t unix_ms =
      segment.unix_ms + tick_at(segment, cut) - segment.start + outage.count();
  return Inquest(segment, cut, powered).run(folder, unix_ms);
}

}  // namespace neap::crash
