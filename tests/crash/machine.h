// One board with its tent: the real daemon, journal writer, state file and manifest on a clock that
// jumps, started as run_live.cpp starts them, over a folder that is its disk. What is done without
// a disk (the pins) outlives a crash of the process, and not a power cut.
#pragma once

#include <memory>
#include <optional>
#include <set>
#include <string>
#include <vector>

#include "daemon/journal/journal.h"
#include "daemon/shell/loop.h"
#include "drivers/driver.h"

namespace neap::crash {

// One row of `event`, as far as it can be told apart by.
struct EventKey {
  std::int64_t tick = 0;
  std::int64_t kind = 0;
  std::int64_t reason = 0;
  friend bool operator==(const EventKey&, const EventKey&) = default;
};

// What was handed to the journal, and how much of it flush() has acknowledged.
struct Ledger {
  std::vector<EventKey> events;
  std::set<std::int64_t> readings;  // keys
  std::size_t others = 0;           // boots and settings revisions
};
struct Acknowledged {
  std::size_t events = 0;
  std::size_t readings = 0;
  std::size_t others = 0;
};

// Passes everything on to the real writer and keeps the books.
class BookedWriter final : public journal::Writer {
 public:
  explicit BookedWriter(const journal::Options& options) : real_(Writer::open(options)) {}

  void put(const journal::ReadingEntry& entry) override;
  void put(const journal::EventEntry& entry) override;
  void put(const journal::ClockEntry& entry) override { real_->put(entry); }
  void put(journal::SettingsEntry entry) override;
  void put(journal::BootEntry entry) override;
  void put(journal::StopEntry entry) override { real_->put(std::move(entry)); }
  void put(journal::MeasurementEntry entry) override { real_->put(std::move(entry)); }
  void put(journal::AmendmentEntry entry) override { real_->put(std::move(entry)); }
  void put(journal::CalibrationEntry entry) override { real_->put(std::move(entry)); }
  void put(journal::DiaryEntry entry) override { real_->put(std::move(entry)); }
  void put(journal::ClientEntry entry) override { real_->put(std::move(entry)); }
  void flush() override;
  bool trouble() const override { return real_->trouble(); }
  std::string trouble_text() const override { return real_->trouble_text(); }
  std::string log_notice() const override { return real_->log_notice(); }
  std::uint64_t readings_lost() const override { return real_->readings_lost(); }

  const Ledger& ledger() const { return ledger_; }
  const Acknowledged& acknowledged() const { return acknowledged_; }

 private:
  std::unique_ptr<Writer> real_;
  Ledger ledger_;
  Acknowledged acknowledged_;
};

using Pins = PerOutput<Permille>;

// What the end of a second of a life says.
struct Moment {
  std::size_t op = 0;  // operations asked for until then
  Acknowledged acknowledged;
  std::array<bool, kLatchCount> latched{};
  SlotId slot;  // of the flood under way or the last one
  FloodOrigin origin = FloodOrigin::slot;
};

class Machine {
 public:
  // `pins`: the levels at which the lines stand when it is switched on.
  Machine(std::string folder, const std::string& settings, std::int64_t unix_ms, Pins& pins);
  Machine(const Machine&) = delete;
  Machine& operator=(const Machine&) = delete;

  // In the order of Live::start. The first half ends before the settings are read.
  void open_outputs();
  bool start();
  // Second by second; the journal is flushed after a second with an event, and each minute.
  void run_for(Millis span);
  void flush();

  shell::Daemon& daemon() { return *daemon_; }
  drivers::World& world() { return *world_; }
  BookedWriter& writer() { return *writer_; }
  const shell::Boot& boot() const { return boot_; }
  bool had_manifest() const { return had_manifest_; }
  std::int64_t tick() const { return tick_ms(timers_->now()); }
  const std::vector<Moment>& moments() const { return moments_; }
  // From which operation to which one an hour was packed, beside what else was written then.
  const std::vector<std::pair<std::size_t, std::size_t>>& packings() const { return packings_; }
  const std::vector<std::string>& log() const { return log_; }

 private:
  void note_moment();

  std::string folder_;
  std::string settings_;
  std::int64_t unix_ms_;
  Pins& pins_;
  std::vector<std::string> log_;
  std::vector<Moment> moments_;
  std::vector<std::pair<std::size_t, std::size_t>> packings_;
  std::int64_t flushed_hour_ = 0;
  shell::Boot boot_;
  bool had_manifest_ = false;
  std::size_t flushed_events_ = 0;
  drivers::Context context_;
  std::unique_ptr<shell::StateFile> state_file_;
  std::unique_ptr<drivers::World> world_;
  std::unique_ptr<BookedWriter> writer_;
  std::unique_ptr<shell::VirtualTimers> timers_;
  std::unique_ptr<shell::Strands> strands_;
  std::unique_ptr<shell::WallClock> wall_;
  std::unique_ptr<shell::Gate> gate_;
  std::unique_ptr<shell::Daemon> daemon_;
};

}  // namespace neap::crash
