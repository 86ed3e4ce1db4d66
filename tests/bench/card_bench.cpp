// How much a day of the tent writes to the card. Takes the journal of a simulated day (`neap
// simulate --journal FILE`) and puts all of it again through the writer as it runs live: readings a
// minute at a time, events as they come, each commit synced. Prints, judges nothing.
//   card_bench FILE FOLDER   FOLDER: where the copy is written; on a real disk, not a tmpfs
// Bytes are counted twice: as SQLite hands them to the file system, and as the kernel counts the
// pages that it owes to the disk (write_bytes of /proc/self/io, which knows no tmpfs and leaves out
// the file system's own journal).
#include <algorithm>
#include <chrono>
#include <condition_variable>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <mutex>
#include <utility>
#include <variant>

#include "daemon/journal/journal.h"
#include "daemon/journal/reader.h"
#include "tests/journal/watched_disk.h"

namespace neap::journal {
namespace {

constexpr double kMillisInDay = 86400000.0;
constexpr double kMega = 1e6;
constexpr double kMegabytesAllowed = 100;  // a day, DEVELOPERS.md D-014
constexpr auto kPatience = std::chrono::seconds{60};
constexpr Millis kClockEvery = hours{6};  // as daemon/shell/notes.h

using Put = std::variant<ReadingEntry, EventEntry, ClockEntry>;
Instant tick_of(const Put& put) {
  return std::visit([](const auto& entry) { return entry.tick; }, put);
}

// All that the day put into its journal, in order.
std::vector<Put> day_of(Reader& reader) {
  constexpr int kAll = 1 << 30;
  std::vector<Put> puts;
  for (const PointInfo& info : kPoints)
    for (const ReadingRow& row : reader.readings(info.point, {}, 0, kAll))
      puts.emplace_back(
          ReadingEntry{instant(Millis{row.at.tick}), row.point, row.value, row.quality, row.fault});
  for (const EventRow& row : reader.events({}, {}, kAll))
    puts.emplace_back(EventEntry{instant(Millis{row.at.tick}), row.event, row.name});
  if (puts.empty()) return puts;
  const auto by_tick = [](const Put& a, const Put& b) { return tick_of(a) < tick_of(b); };
  std::stable_sort(puts.begin(), puts.end(), by_tick);
  const Instant last = tick_of(puts.back());
  for (Instant at = tick_of(puts.front()); at < last; at += kClockEvery) {
    const Stamp stamp = reader.stamp(tick_ms(at));
    puts.emplace_back(
        ClockEntry{at, {stamp.unix_ms.value_or(0), stamp.utc_offset_s, TimeQuality::synced}});
  }
  std::stable_sort(puts.begin(), puts.end(), by_tick);
  return puts;
}

// Counts commits, so that the replay gives the writer the time that it has live.
class Commits {
 public:
  void add() {
    const std::lock_guard lock(mutex_);
    ++count_;
    changed_.notify_all();
  }
  std::int64_t count() const {
    const std::lock_guard lock(mutex_);
    return count_;
  }
  bool wait_beyond(std::int64_t before) {
    std::unique_lock lock(mutex_);
    return changed_.wait_for(lock, kPatience, [&] { return count_ > before; });
  }

 private:
  mutable std::mutex mutex_;
  std::condition_variable changed_;
  std::int64_t count_ = 0;
};

// Puts one scan after the other and waits where the daemon's own second would have passed: for the
// batch of readings that is due, and for what the scan had to say.
class Replay {
 public:
  Replay(Writer& writer, Commits& commits, Millis batch)
      : writer_(writer), commits_(commits), batch_(batch) {}

  bool run(const std::vector<Put>& puts) {
    for (std::size_t i = 0; i < puts.size() && going_; ++i) {
      std::visit([this](const auto& entry) { put(entry); }, puts[i]);
      const bool scan_ends = i + 1 == puts.size() || tick_of(puts[i + 1]) != tick_of(puts[i]);
      if (scan_ends && said_) wait(*std::exchange(said_, std::nullopt));
    }
    return going_;
  }

 private:
  void put(const ReadingEntry& entry) {
    if (!oldest_) oldest_ = entry.tick;
    const std::int64_t before = commits_.count();
    writer_.put(entry);
    if (entry.tick - *oldest_ < batch_) return;
    oldest_.reset();
    wait(before);
  }
  template <class Entry>
  void put(const Entry& entry) {
    if (!said_) said_ = commits_.count();
    writer_.put(entry);
  }
  void wait(std::int64_t before) { going_ = going_ && commits_.wait_beyond(before); }

  Writer& writer_;
  Commits& commits_;
  const Millis batch_;
  std::optional<Instant> oldest_;     // reading that no batch has taken yet
  std::optional<std::int64_t> said_;  // commits before the first event of this scan
  bool going_ = true;
};

std::int64_t kernel_bytes() {
  std::ifstream io("/proc/self/io");
  std::string key;
  std::int64_t value = 0;
  while (io >> key >> value)
    if (key == "write_bytes:") return value;
  return 0;
}

std::int64_t size_of(const std::string& path) {
  return static_cast<std::int64_t>(std::filesystem::file_size(path));
}

int run(const std::string& day, const std::string& folder) {
  std::string error;
  const std::unique_ptr<Reader> reader = Reader::open(day, error);
  if (!reader) return std::fprintf(stderr, "card_bench: %s\n", error.c_str()), 2;
  const std::vector<Put> puts = day_of(*reader);
  if (puts.empty()) return std::fprintf(stderr, "card_bench: %s is empty\n", day.c_str()), 2;
  const double days =
      static_cast<double>((tick_of(puts.back()) - tick_of(puts.front())).count()) / kMillisInDay;

  Commits commits;
  testing::WatchedDisk disk;
  disk.on_commit = [&commits] { commits.add(); };
  Options options;
  options.path = folder + "/card-bench.db";
  options.events_batch = Millis{2};  // a scan is put at once; nothing else comes meanwhile
  for (const char* tail : {"", "-wal", "-shm"}) std::filesystem::remove(options.path + tail);
  const auto settings = reader->settings_in_force();
  {  // the file is made, and at rest: what a new journal costs once is no part of a day
    const auto writer = Writer::open(options);
    writer->put(BootEntry{tick_of(puts.front()), "bench", true});
    writer->put(SettingsEntry{tick_of(puts.front()), 1, settings, true, "at start"});
  }
  const std::int64_t size_before = size_of(options.path);
  bool whole = false;
  std::int64_t kernel = 0, logged = 0, filed = 0, syncs = 0, committed = 0;
  {
    const auto writer = Writer::open(options);
    writer->flush();
    const std::int64_t kernel_before = kernel_bytes();
    const std::int64_t log_before = disk.log.bytes, file_before = disk.file.bytes;
    const std::int64_t syncs_before = disk.log.syncs + disk.file.syncs;
    const std::int64_t commits_before = commits.count();
    whole = Replay(*writer, commits, options.readings_batch).run(puts);
    writer->flush();
    kernel = kernel_bytes() - kernel_before;
    logged = disk.log.bytes - log_before;
    filed = disk.file.bytes - file_before;
    syncs = disk.log.syncs + disk.file.syncs - syncs_before;
    committed = commits.count() - commits_before;
    if (writer->trouble()) std::fprintf(stderr, "%s\n", writer->trouble_text().c_str());
  }
  const std::int64_t grown = size_of(options.path) - size_before;
  for (const char* tail : {"", "-wal", "-shm"}) std::filesystem::remove(options.path + tail);
  if (!whole) return std::fprintf(stderr, "card_bench: the writer did not keep up\n"), 1;

  const auto a_day = [days](std::int64_t n) { return static_cast<double>(n) / days; };
  std::printf("journal on the card, a day (of %.2f; %.0f entries a day):\n", days,
              a_day(static_cast<std::int64_t>(puts.size())));
  if (kernel > 0)
    std::printf("  written to the disk   %6.1f MB, in whole pages (%.0f allowed)\n",
                a_day(kernel) / kMega, kMegabytesAllowed);
  else
    std::printf("  written to the disk   not known: %s is on no disk\n", folder.c_str());
  std::printf("  written by SQLite     %6.1f MB to the log, %.1f MB to the file\n",
              a_day(logged) / kMega, a_day(filed) / kMega);
  std::printf("  commits %.0f, syncs %.0f; the file grows by %.2f MB\n", a_day(committed),
              a_day(syncs), a_day(grown) / kMega);
  return 0;
}

}  // namespace
}  // namespace neap::journal

int main(int argc, char** argv) {
  if (argc == 3) return neap::journal::run(argv[1], argv[2]);
  std::fprintf(stderr, "usage: card_bench JOURNAL-OF-A-SIMULATED-DAY FOLDER\n");
  return 2;
}
