#include "tests/crash/machine.h"

#include <algorithm>

#include "daemon/journal/block.h"
#include "daemon/shell/run.h"
#include "tests/crash/disk.h"

namespace neap::crash {
namespace {

constexpr const char* kJournal = "/journal.db";
constexpr const char* kState = "/state";

// The lines of the machine under test: the makers below are plain functions.
Pins* pins_now = nullptr;

// A line that keeps its level whoever dies, with the simulated tent behind it once there is one.
class Line final : public drivers::OutputDriver {
 public:
  Line(Output output, drivers::Context& context) : output_(output), context_(context) {}
  Fault write(Permille level) override {
    if ((*pins_now)[output_] != level) Disk::here().pin(static_cast<int>(output_), level.value);
    (*pins_now)[output_] = level;
    if (!tent_ && context_.world != nullptr)
      tent_ = drivers::find_output_driver("simulated")->make({}, output_, context_);
    return tent_ ? tent_->write(level) : Fault::none;
  }
  std::optional<Permille> read_back() override { return (*pins_now)[output_]; }

 private:
  Output output_;
  drivers::Context& context_;
  std::unique_ptr<drivers::OutputDriver> tent_;
};

// As the registry's, but driven before there is a tent, as a real line is.
const drivers::OutputDriverInfo* find_line(std::string_view name) {
  static const drivers::OutputDriverInfo line = [] {
    drivers::OutputDriverInfo info = *drivers::find_output_driver("simulated");
    info.simulated = false;
    info.make = [](const drivers::Params&, Output output,
                   drivers::Context& context) -> std::unique_ptr<drivers::OutputDriver> {
      return std::make_unique<Line>(output, context);
    };
    return info;
  }();
  return name == "simulated" ? &line : drivers::find_output_driver(name);
}

}  // namespace

void BookedWriter::put(const journal::ReadingEntry& entry) {
  ledger_.readings.insert(journal::key_of(tick_ms(entry.tick), entry.point));
  real_->put(entry);
}
void BookedWriter::put(const journal::EventEntry& entry) {
  ledger_.events.push_back({tick_ms(entry.tick), static_cast<std::int64_t>(entry.event.kind),
                            static_cast<std::int64_t>(entry.event.because.reason)});
  real_->put(entry);
}
void BookedWriter::put(journal::SettingsEntry entry) {
  ++ledger_.others;
  real_->put(std::move(entry));
}
void BookedWriter::put(journal::BootEntry entry) {
  ++ledger_.others;
  real_->put(std::move(entry));
}
void BookedWriter::flush() {
  real_->flush();
  if (real_->trouble()) return;
  acknowledged_ = {ledger_.events.size(), ledger_.readings.size(), ledger_.others};
}

Machine::Machine(std::string folder, const std::string& settings, std::int64_t unix_ms, Pins& pins)
    : folder_(std::move(folder)), settings_(settings), unix_ms_(unix_ms), pins_(pins) {
  pins_now = &pins_;
}

void Machine::open_outputs() {
  state_file_ = std::make_unique<shell::StateFile>(folder_ + kState, true);
  const Instant first = shell::read_boot(*state_file_, std::nullopt, false).start;
  timers_ = std::make_unique<shell::VirtualTimers>(first);
  strands_ = std::make_unique<shell::Strands>(*timers_, false);
  const shell::LogSink log = [this](shell::LogLevel, const std::string& line) {
    log_.push_back(line);
  };
  gate_ = std::make_unique<shell::Gate>(*timers_, *strands_, log, find_line);
  context_.tick_ms = [this] { return tick(); };
  const auto manifest = shell::load_manifest(folder_);
  had_manifest_ = manifest.has_value();
  if (manifest) gate_->open(*manifest, context_);
}

bool Machine::start() {
  settings::LoadResult result = settings::load_text(settings_);
  if (!result.loaded) return false;
  shell::set_time_zone("UTC");
  const auto journalled = journal::newest_tick(folder_ + kJournal);
  boot_ = shell::read_boot(*state_file_, std::max(journalled.value_or(Instant{}), timers_->now()),
                           had_manifest_ || journalled);
  timers_->run_until(boot_.start);
  journal::Options options;
  options.path = folder_ + kJournal;
  // Batches end where flush() says so and nowhere else: the same operations each time.
  options.events_batch = options.readings_batch = hours{10000};
  options.pack_after = Millis{0};  // lives are short, and hours are to be packed in them
  writer_ = std::make_unique<BookedWriter>(options);
  writer_->flush();
  std::string error;
  world_ = shell::make_world(*result.loaded, boot_.start, unix_ms_, error);
  context_.world = world_.get();
  timers_->set_world(world_.get());
  wall_ = std::make_unique<shell::VirtualWall>(boot_.start, unix_ms_);
  const shell::LogSink log = [this](shell::LogLevel, const std::string& line) {
    log_.push_back(line);
  };
  daemon_ = std::make_unique<shell::Daemon>(shell::Parts{
      *timers_, *strands_, *wall_, *gate_, *writer_, *state_file_, log, folder_, true, {}});
  daemon_->start(std::move(*result.loaded), boot_, context_);
  flush();
  note_moment();
  return true;
}

void Machine::flush() {
  const std::size_t from = Disk::here().size();
  writer_->flush();
  if (journal::hour_of(tick()) != flushed_hour_) packings_.emplace_back(from, Disk::here().size());
  flushed_hour_ = journal::hour_of(tick());
  flushed_events_ = writer_->ledger().events.size();
}

void Machine::run_for(Millis span) {
  const Instant end = timers_->now() + span;
  while (timers_->now() < end) {
    timers_->run_until(timers_->now() + seconds{1});
    const bool minute = tick() / 60000 != (tick() - 1000) / 60000;
    if (minute || writer_->ledger().events.size() > flushed_events_) flush();
    note_moment();
  }
}

void Machine::note_moment() {
  const State& state = daemon_->state();
  moments_.push_back({Disk::here().size(), writer_->acknowledged(), state.kept.kernel.latched,
                      state.flood.row.slot, state.flood.row.origin});
}

}  // namespace neap::crash
