#include <algorithm>
#include <atomic>
#include <chrono>
#include <condition_variable>
#include <csignal>
#include <cstdio>
#include <mutex>
#include <random>
#include <thread>

#include "daemon/journal/journal.h"
#include "daemon/journal/reserve.h"
#include "daemon/journal/ring.h"
#include "daemon/journal/store.h"

namespace neap::journal {
namespace {

using Steady = std::chrono::steady_clock;

constexpr std::size_t kReadingsInBatch = 50000;
constexpr std::size_t kEntriesInBatch = 2000;
constexpr auto kReadingsWait = std::chrono::seconds{60};  // whatever the ticks say
constexpr auto kSimulatedWait = std::chrono::seconds{1};
constexpr auto kFirstRetry = std::chrono::seconds{1};
constexpr auto kLastRetry = std::chrono::seconds{30};
constexpr std::size_t kSimulatedRing = 200000;  // readings; beyond it put() waits

// A damaged file is evidence and may hold rows that a person can still save: never deleted.
std::optional<std::string> set_aside(const std::string& path, std::int64_t tick) {
  const std::string kept = path + ".corrupt-" + std::to_string(tick);
  if (std::rename(path.c_str(), kept.c_str()) != 0) return std::nullopt;
  for (const char* tail : {"-wal", "-shm"})
    if (std::rename((path + tail).c_str(), (kept + tail).c_str()) != 0)
      std::remove((path + tail).c_str());  // what cannot move must not be read into the new file
  return kept;
}

class ThreadedWriter final : public Writer {
 public:
  explicit ThreadedWriter(const Options& options)
      : options_(options),
        simulated_(options.durability == Durability::simulated),
        readings_(simulated_ ? std::max(options.ring_readings, kSimulatedRing)
                             : options.ring_readings),
        entries_(std::max<std::size_t>(options.ring_events, 1)),
        reserve_(options.path + ".reserve", options.reserve) {
    std::random_device random;
    writer_id_ = (static_cast<std::int64_t>(random()) << 31) ^ static_cast<std::int64_t>(random());
    // Signals belong to the daemon's own threads.
    sigset_t all;
    sigset_t before;
    sigfillset(&all);
    pthread_sigmask(SIG_SETMASK, &all, &before);
    thread_ = std::thread([this] { run(); });
    pthread_setname_np(thread_.native_handle(), "journal");  // for `top -H`, and for tests
    pthread_sigmask(SIG_SETMASK, &before, nullptr);
  }

  ~ThreadedWriter() override {
    {
      const std::lock_guard lock(mutex_);
      stopping_ = true;
    }
    work_.notify_all();
    room_.notify_all();
    thread_.join();
  }

  ThreadedWriter(const ThreadedWriter&) = delete;
  ThreadedWriter& operator=(const ThreadedWriter&) = delete;

  void put(const ReadingEntry& entry) override;
  void put(const EventEntry& entry) override { queue(entry); }
  void put(const ClockEntry& entry) override { queue(entry); }
  void put(SettingsEntry entry) override { queue(std::move(entry)); }
  void put(BootEntry entry) override { queue(std::move(entry)); }
  void put(StopEntry entry) override { queue(std::move(entry)); }
  void put(DiaryEntry entry) override { queue(std::move(entry)); }
  void put(MeasurementEntry entry) override { queue(std::move(entry)); }
  void put(AmendmentEntry entry) override { queue(std::move(entry)); }
  void put(CalibrationEntry entry) override { queue(std::move(entry)); }
  void put(ClientEntry entry) override { queue(std::move(entry)); }

  void flush() override;
  bool trouble() const override {
    const std::lock_guard lock(mutex_);
    return !trouble_.empty() || !nearly_full_.empty();
  }
  std::string trouble_text() const override {
    const std::lock_guard lock(mutex_);
    return trouble_.empty() ? nearly_full_ : trouble_;
  }
  std::string log_notice() const override {
    const std::lock_guard lock(mutex_);
    return log_notice_;
  }
  std::uint64_t readings_lost() const override {
    const std::lock_guard lock(mutex_);
    return readings_.dropped();
  }

 private:
  // What one batch takes from the rings, so that exactly that is taken out once it is stored.
  struct Taken {
    std::uint64_t number = 0;
    std::uint64_t readings_from = 0, readings_to = 0;
    std::uint64_t entries_from = 0, entries_to = 0;
    std::uint64_t readings_dropped = 0, entries_dropped = 0;
    std::int64_t newest_tick = 0;
  };
  using Lock = std::unique_lock<std::mutex>;

  void queue(Entry entry);
  void see_tick(std::int64_t tick) {
    if (!newest_tick_ || tick > *newest_tick_) newest_tick_ = tick;
  }
  void run();
  void wait_for_work(Lock& lock);
  std::optional<Steady::time_point> due_at() const;
  void write_out(Lock& lock, bool readings_due);
  int make_ready(Lock& lock);
  bool room_for_readings(Lock& lock);
  Taken take(bool with_readings);
  int write_batch(const Taken& taken, Lock& lock);
  int open_store(std::optional<std::int64_t> tick);
  void settle(const Taken& taken);
  void fail(int code);

  const Options options_;
  const bool simulated_;

  mutable std::mutex mutex_;
  std::condition_variable work_;  // for the thread
  std::condition_variable room_;  // for put() under a virtual clock
  std::condition_variable done_;  // for flush()
  // Guarded by mutex_.
  Ring<PackedReading> readings_;
  Ring<Entry> entries_;
  std::optional<Steady::time_point> readings_since_, entries_since_;
  bool batch_full_ = false;
  // First reading since the last batch set out: those on their way do not fill the next one.
  std::optional<std::int64_t> batch_began_;
  std::optional<std::int64_t> newest_tick_;
  bool stopping_ = false;
  std::uint64_t flush_wanted_ = 0, flush_done_ = 0;
  std::string trouble_;      // empty: all is well
  std::string nearly_full_;  // likewise
  std::string log_notice_;   // likewise
  std::uint64_t readings_dropped_told_ = 0, entries_dropped_told_ = 0;

  // Used by the thread alone.
  std::unique_ptr<Store> store_;
  Reserve reserve_;
  std::vector<PackedReading> batch_readings_;
  std::vector<Entry> batch_entries_;
  std::optional<std::int64_t> log_sure_until_;  // after a failure: Store::log_sure_until
  std::optional<Taken> in_doubt_;  // a batch whose commit failed: it may be in the file
  bool damaged_ = false;           // the file must be set aside before it is opened again
  std::optional<Steady::time_point> retry_at_;
  Steady::duration next_retry_ = kFirstRetry;
  std::int64_t writer_id_ = 0;
  std::uint64_t batch_number_ = 0;
  std::string note_;     // for the next row of `loss`
  std::string problem_;  // of the last failure
  std::thread thread_;
};

void ThreadedWriter::put(const ReadingEntry& entry) {
  const PackedReading packed = pack(entry);
  bool wake = false;
  {
    Lock lock(mutex_);
    if (simulated_)
      room_.wait(lock, [this] {
        return readings_.size() < kSimulatedRing || !trouble_.empty() || stopping_;
      });
    const std::int64_t tick = tick_ms(entry.tick);
    see_tick(tick);
    if (!batch_began_) batch_began_ = tick;
    if (readings_.empty()) {
      readings_since_ = Steady::now();
      wake = true;
    }
    readings_.push(packed);
    const bool full = simulated_ ? readings_.size() >= kReadingsInBatch
                                 : *newest_tick_ - *batch_began_ >= options_.readings_batch.count();
    if (full && !batch_full_) batch_full_ = wake = true;
  }
  if (wake) work_.notify_one();
}

void ThreadedWriter::queue(Entry entry) {
  bool wake = false;
  {
    Lock lock(mutex_);
    if (simulated_)
      room_.wait(lock, [this] {
        return entries_.size() < options_.ring_events || !trouble_.empty() || stopping_;
      });
    see_tick(tick_of(entry));
    if (entries_.empty()) {
      entries_since_ = Steady::now();
      wake = true;
    }
    entries_.push(std::move(entry));
    const bool full =
        simulated_ && entries_.size() >= std::min(kEntriesInBatch, options_.ring_events);
    if (full && !batch_full_) batch_full_ = wake = true;
  }
  if (wake) work_.notify_one();
}

void ThreadedWriter::flush() {
  Lock lock(mutex_);
  const std::uint64_t mine = ++flush_wanted_;
  work_.notify_one();
  done_.wait(lock, [&] { return flush_done_ >= mine; });
}

// When the oldest waiting entry must be on its way, or the next try after a failure.
std::optional<Steady::time_point> ThreadedWriter::due_at() const {
  if (retry_at_) return retry_at_;
  if (batch_full_) return Steady::time_point::min();
  std::optional<Steady::time_point> due;
  if (!entries_.empty() && entries_since_)
    due = *entries_since_ + (simulated_ ? kSimulatedWait : Steady::duration{options_.events_batch});
  if (!readings_.empty() && readings_since_) {
    const auto at = *readings_since_ + (simulated_ ? kSimulatedWait : kReadingsWait);
    if (!due || at < *due) due = at;
  }
  return due;
}

void ThreadedWriter::wait_for_work(Lock& lock) {
  while (!stopping_ && flush_wanted_ == flush_done_) {
    const auto due = due_at();
    if (!due)
      work_.wait(lock);
    else if (Steady::now() >= *due)
      return;
    else
      work_.wait_until(lock, *due);
  }
}

void ThreadedWriter::run() {
  // The file is opened before there is anything to write, so that its trouble is known early. A
  // damaged one is set aside when the first entry brings a tick to name it by.
  if (const int code = open_store(std::nullopt); code != SQLITE_OK && !is_damage(code)) {
    const std::lock_guard lock(mutex_);
    fail(code);
  }
  reserve_.hold();
  Lock lock(mutex_);
  for (;;) {
    wait_for_work(lock);
    const bool last = stopping_;
    const std::uint64_t flush = flush_wanted_;
    const bool all = last || flush != flush_done_ || retry_at_ || simulated_;
    const bool readings_due =
        batch_full_ || (readings_since_ && Steady::now() >= *readings_since_ + kReadingsWait);
    write_out(lock, all || readings_due);
    flush_done_ = flush;
    done_.notify_all();
    room_.notify_all();
    if (last) return;
  }
}

// Writes what was queued when it was called, in as many batches as it takes, or up to a failure.
void ThreadedWriter::write_out(Lock& lock, bool readings_due) {
  if (readings_due) {
    batch_full_ = false;
    batch_began_.reset();
  }
  const bool with_readings = readings_due && room_for_readings(lock);
  if (readings_due && stopping_ && !with_readings) readings_.forfeit();  // and counts them
  const std::uint64_t readings_goal = with_readings ? readings_.end() : 0;
  const std::uint64_t entries_goal = entries_.end();
  do {
    int code = make_ready(lock);
    if (code == SQLITE_OK) code = write_batch(take(with_readings), lock);
    if (code != SQLITE_OK) return fail(code);
    trouble_.clear();
    retry_at_.reset();
    next_retry_ = kFirstRetry;
    room_.notify_all();
  } while (readings_.first() < readings_goal || entries_.first() < entries_goal);
  if (readings_due) readings_since_ = Steady::now();
  entries_since_ = Steady::now();
}

// False: they wait in memory. What is asked to stop writes all that it has all the same, unless
// that would take the room of the events.
bool ThreadedWriter::room_for_readings(Lock& lock) {
  lock.unlock();
  const std::int64_t bytes = store_ ? store_->log_bytes_within(options_.log_noticed) : 0;
  const bool room = reserve_.hold();
  lock.lock();
  nearly_full_ = room ? ""
                      : "journal " + options_.path +
                            ": its disk is nearly full; events go on in the room kept for them, "
                            "readings wait in memory; free space on that disk";
  const bool too_long = bytes > options_.log_most;
  log_notice_.clear();
  if (bytes > options_.log_noticed)
    log_notice_ = "journal " + options_.path +
                  ": another program keeps an old view of it open, so " +
                  "that its log cannot shrink and has grown to " + std::to_string(bytes >> 20) +
                  " MiB" + (too_long ? "; readings wait in memory" : "") +
                  "; close that program (fuser " + options_.path + " names it)";
  return room && (!too_long || stopping_);
}

// Opens the file when it is not open, and asks it about a batch in doubt.
int ThreadedWriter::make_ready(Lock& lock) {
  if (store_) return SQLITE_OK;
  const std::optional<std::int64_t> tick = newest_tick_;
  lock.unlock();
  const int code = open_store(tick);
  // What the file shows of it is on the disk: opening it has written the log anew.
  const bool held = store_ && in_doubt_ &&
                    store_->holds(writer_id_, static_cast<std::int64_t>(in_doubt_->number));
  if (is_full(code)) reserve_.give_up();  // a journal is written to while it is opened
  lock.lock();
  if (code != SQLITE_OK) {
    store_.reset();
    return code;
  }
  if (held) settle(*in_doubt_);
  in_doubt_.reset();
  return code;
}

ThreadedWriter::Taken ThreadedWriter::take(bool with_readings) {
  readings_.copy(batch_readings_, with_readings ? kReadingsInBatch : 0);
  // In the file's own order, so that its pages fill up: a scan puts its samples by point and not by
  // time. Of two with one key the later stays the later.
  std::stable_sort(batch_readings_.begin(), batch_readings_.end(),
                   [](const PackedReading& a, const PackedReading& b) { return a.k < b.k; });
  entries_.copy(batch_entries_, kEntriesInBatch);
  Taken taken;
  taken.number = ++batch_number_;
  taken.readings_from = readings_.first();
  taken.readings_to = taken.readings_from + batch_readings_.size();
  taken.entries_from = entries_.first();
  taken.entries_to = taken.entries_from + batch_entries_.size();
  taken.readings_dropped = readings_.dropped();
  taken.entries_dropped = entries_.dropped();
  taken.newest_tick = newest_tick_.value_or(0);
  return taken;
}

// Stores one batch without the lock held. SQLITE_OK, or what went wrong.
int ThreadedWriter::write_batch(const Taken& taken, Lock& lock) {
  Losses losses{taken.readings_dropped - readings_dropped_told_,
                taken.entries_dropped - entries_dropped_told_, note_};
  if (losses.any() && losses.why.empty()) losses.why = "no room in memory while: " + problem_;
  if (batch_readings_.empty() && batch_entries_.empty() && !losses.any()) return SQLITE_OK;

  lock.unlock();
  const Stored stored = store_->write({batch_readings_, batch_entries_, losses, taken.newest_tick,
                                       writer_id_, static_cast<std::int64_t>(taken.number)});
  if (stored.code != SQLITE_OK)
    problem_ = "journal " + options_.path + ": " + sqlite3_errstr(stored.code);
  if (stored.code != SQLITE_OK && !is_busy(stored.code)) {
    // After a failed write or sync nobody knows what this connection believes: begin again with the
    // file, and ask it whether the batch is there.
    damaged_ = is_damage(stored.code);
    in_doubt_ = taken;
    log_sure_until_ = store_->log_sure_until();
    store_->abandon();
    store_.reset();
    if (is_full(stored.code)) reserve_.give_up();
  }
  lock.lock();
  if (stored.code == SQLITE_OK) settle(taken);
  return stored.code;
}

// The batch is in the file: its entries need not wait any longer, and its losses are told.
void ThreadedWriter::settle(const Taken& taken) {
  readings_.release(taken.readings_from, taken.readings_to);
  entries_.release(taken.entries_from, taken.entries_to);
  readings_dropped_told_ = taken.readings_dropped;
  entries_dropped_told_ = taken.entries_dropped;
  note_.clear();
}

int ThreadedWriter::open_store(std::optional<std::int64_t> tick) {
  if (!options_.untouched.empty()) {
    problem_ = "journal " + options_.path + " is not written: " + options_.untouched;
    return SQLITE_MISMATCH;
  }
  Store::Opened opened;
  if (!damaged_) opened = Store::open(options_, log_sure_until_);
  // What failed while it was opened may have failed in its log.
  if (opened.code == SQLITE_OK)
    log_sure_until_.reset();
  else if (!log_sure_until_ && !is_busy(opened.code))
    log_sure_until_ = 0;
  damaged_ = damaged_ || opened.damaged;
  if (damaged_ && tick) {
    if (const auto kept = set_aside(options_.path, *tick)) {
      note_ = "the file before this one was damaged and set aside as " + *kept;
      damaged_ = false;
      log_sure_until_.reset();
      opened = Store::open(options_);
    }
  }
  store_ = std::move(opened.store);
  if (!opened.problem.empty()) problem_ = opened.problem;
  return opened.code;
}

void ThreadedWriter::fail(int code) {
  trouble_ = problem_ + "; " + std::to_string(entries_.size()) + " events and " +
             std::to_string(readings_.size()) + " readings wait in memory";
  if (const char* advice = advice_for(code); *advice != '\0')
    trouble_ += std::string("; ") + advice + ", the journal then catches up by itself";
  retry_at_ = Steady::now() + next_retry_;
  next_retry_ = std::min<Steady::duration>(next_retry_ * 2, kLastRetry);
}

}  // namespace

std::unique_ptr<Writer> Writer::open(const Options& options) {
  return std::make_unique<ThreadedWriter>(options);
}

}  // namespace neap::journal
