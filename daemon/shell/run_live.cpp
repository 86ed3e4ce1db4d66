#include <fcntl.h>
#include <sys/file.h>
#include <unistd.h>

#include <boost/asio/io_context.hpp>
#include <boost/asio/signal_set.hpp>
#include <cerrno>
#include <csignal>
#include <cstring>
#include <future>
#include <thread>

#include "daemon/core/limits.h"
#include "daemon/core/state_folder.h"
#include "daemon/journal/reader.h"
#include "daemon/shell/board_watchdog.h"
#include "daemon/shell/control.h"
#include "daemon/shell/live_timers.h"
#include "daemon/shell/notify.h"
#include "daemon/shell/run.h"
#include "daemon/shell/spool.h"

namespace neap::shell {
namespace {

constexpr std::chrono::seconds kFlushWait{2};
constexpr std::int64_t kJournalReserve = std::int64_t{8} << 20;  // years of events

// Two daemons on one set of outputs would fight. The lock goes with the process; it is on the
// directory itself, so that a disk which takes no file is no obstacle.
std::string lock_state(const std::string& state_dir) {
  const int fd = ::open(state_dir.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
  if (fd < 0) return state_dir + ": " + std::strerror(errno);
  if (::flock(fd, LOCK_EX | LOCK_NB) == 0) return {};
  return errno == EWOULDBLOCK ? state_dir + " is held by another neapd"
                              : state_dir + ": " + std::strerror(errno);
}

// The settings file, or where it is refused the last revision that was accepted: a slip of the pen
// must not leave roots without water after a power cut. The journal has that revision's text.
std::optional<settings::Loaded> load_settings(const Options& options, const LogSink& log) {
  settings::LoadResult result = settings::load_guarded_file(options.settings);
  if (result.loaded) return std::move(result.loaded);
  const auto text = read_file(options.settings, limits::kSettingsBytes);
  log_problems(log, options.settings, text.value_or(""), result.problems);
  std::string error;
  const auto reader = journal::Reader::open(options.journal, error);
  if (!reader) return std::nullopt;
  settings::LoadResult before = settings::load_text(reader->settings_in_force());
  if (before.loaded)
    log(LogLevel::error, options.settings + " is refused; neapd runs on the settings before it");
  return std::move(before.loaded);
}

// Everything of a live daemon, in order of construction.
struct Live {
  Live(const Options& asked, LogSink sink, Instant start)
      : options(asked),
        log(std::move(sink)),
        timers(io, start),
        strands(timers, true),
        gate(timers, strands, log) {}

  int start(StateFile& state_file);
  Boot boot_after(StateFile& state_file, bool had_manifest);
  void scanned();
  void watch_signals();
  void apply();
  void stop();

  const Options& options;
  LogSink log;
  Notifier notifier;
  boost::asio::io_context io{1};
  // From the first moment: a signal that comes during the start waits for the loop.
  boost::asio::signal_set signals{io, SIGTERM, SIGINT, SIGHUP};
  LiveTimers timers;
  Strands strands;
  Gate gate;
  SystemWall wall;
  drivers::Context context;
  std::unique_ptr<drivers::World> world;
  std::unique_ptr<journal::Writer> writer;
  std::optional<Daemon> daemon;
  std::optional<Desk> desk;
  std::optional<Control> control;
  std::optional<Spool> spool;
  bool ready = false;
};

// The journal is asked only now that outputs are safe, for its disk may be slow; what the boot says
// of safe mode is counted from the newest tick of all, this one included.
Boot Live::boot_after(StateFile& state_file, bool had_manifest) {
  const std::optional<Instant> journalled = journal::newest_tick(options.journal);
  Boot boot = read_boot(state_file, std::max(journalled.value_or(Instant{}), timers.now()),
                        had_manifest || journalled);
  mind_restored(boot, options.state_dir);
  if (std::string later = journal::written_by_later(options.journal); !later.empty())
    boot.later = std::move(later);
  if (!boot.later.empty())
    log(LogLevel::error, boot.later + "; every output is safe, and nothing is written");
  if (boot.restored)
    log(LogLevel::warning, "the state in " + options.state_dir +
                               " is from a backup: the pump's budget counts as spent, and floods "
                               "are withheld until `neap reset state`; look at the table first");
  else if (boot.state_lost)
    log(LogLevel::error, "the state in " + options.state_dir +
                             (boot.kept ? " is older than the journal" : " is lost") +
                             "; floods are withheld until `neap reset state`");
  if (boot.one_slot)
    log(LogLevel::warning, "one of the two copies in " + options.state_dir +
                               "/state is damaged; the other is whole and is used");
  timers.not_before(boot.start);
  return boot;
}

int Live::start(StateFile& state_file) {
  context.tick_ms = [this] { return neap::tick_ms(timers.now()); };
  // Outputs first: nothing of this needs the settings.
  const std::optional<Manifest> manifest = load_manifest(options.state_dir);
  const bool had_manifest = manifest.has_value();
  if (manifest)
    gate.open(*manifest, context);
  else
    log(LogLevel::warning, "no output manifest yet: nothing is driven until the settings are read");
  const std::string restoring = options.state_dir + "/" + state_folder::kRestoring;
  if (::access(restoring.c_str(), F_OK) == 0) {
    log(LogLevel::error, restoring +
                             " is there: `neap restore` was cut off in the middle; outputs "
                             "are safe; run the same `neap restore` again");
    return kExitCannotStart;
  }
  std::optional<settings::Loaded> loaded = load_settings(options, log);
  if (!loaded) return kExitSettings;
  if (const auto obstacles = settings::live_obstacles(*loaded); !obstacles.empty()) {
    log_problems(log, options.settings, loaded->text, obstacles);
    return kExitSettings;
  }
  if (!set_time_zone(loaded->plan.time_zone))
    log(LogLevel::warning,
        "this system has no time zone " + loaded->plan.time_zone + "; UTC is used");
  const Boot boot = boot_after(state_file, had_manifest);
  journal::Options journal_options;
  journal_options.path = options.journal;
  journal_options.untouched = boot.later;
  if (boot.later.empty()) journal_options.reserve = kJournalReserve;
  if (options.keep_readings_days)
    journal_options.keep_readings = hours{24} * *options.keep_readings_days;
  writer = journal::Writer::open(journal_options);

  std::string error;
  const Instant whole = instant(Millis{tick_ms(timers.now()) / 1000 * 1000});
  world = make_world(*loaded, whole, wall.at(timers.now()).unix_ms, error);
  if (!error.empty()) {
    log(LogLevel::error, "simulation: " + error);
    return kExitSettings;
  }
  context.world = world.get();
  timers.set_world(world.get());
  daemon.emplace(Parts{timers, strands, wall, gate, *writer, state_file, log, options.state_dir,
                       true, [this] { scanned(); }});
  daemon->start(std::move(*loaded), boot, context);
  // The state that stands on the disk now has the latch and the spent budget in it.
  if (boot.restored && !daemon->without_disk())
    ::unlink((options.state_dir + "/" + state_folder::kRestored).c_str());
  desk.emplace(*daemon, options.settings);
  control.emplace(io, timers, *desk, log);
  error = control->listen(options.socket);
  if (!error.empty()) {
    log(LogLevel::error, "control socket: " + error);
    return kExitCannotStart;
  }
  if (boot.later.empty())
    spool.emplace(*daemon, timers, options.state_dir + "/" + state_folder::kSpool, log);
  return kExitDone;
}

// The watchdog is fed by nothing but a scan that ran to its end, with every output in our hands.
void Live::scanned() {
  notifier.tell("WATCHDOG=1");
  if (ready) return;
  ready = true;
  notifier.tell("READY=1");
  log(LogLevel::info, "ready");
  // Whoever starts neapd by hand has no such unit, and knows.
  const std::string trouble = notifier.managed() ? board_watchdog_trouble("/sys") : "";
  if (!trouble.empty()) log(LogLevel::warning, trouble);
}

void Live::watch_signals() {
  signals.async_wait([this](const boost::system::error_code& error, int number) {
    if (error) return;
    if (number != SIGHUP) return stop();
    apply();
    watch_signals();
  });
}

void Live::apply() {
  daemon->apply(options.settings, std::nullopt, [this](const Applied& applied) {
    if (applied.applied) return;
    log_problems(log, options.settings, applied.text, applied.problems);
    if (!applied.failure.empty()) log(LogLevel::error, "apply: " + applied.failure);
  });
}

void Live::stop() {
  notifier.tell("STOPPING=1");
  spool.reset();
  daemon->stop("asked to stop", true);
  control->close();
  io.stop();
}

// Outputs are safe by now; the journal gets its two seconds.
bool flush(journal::Writer& writer) {
  std::packaged_task<void()> task([&writer] { writer.flush(); });
  std::future<void> done = task.get_future();
  std::thread(std::move(task)).detach();
  return done.wait_for(kFlushWait) == std::future_status::ready;
}

}  // namespace

int run_live(const Options& options, const LogSink& log) {
  std::signal(SIGPIPE, SIG_IGN);
  std::string error = make_state_dir(options.state_dir, log);
  if (error.empty()) error = lock_state(options.state_dir);
  if (!error.empty()) {
    log(LogLevel::error, "state directory: " + error);
    return kExitCannotStart;
  }
  StateFile state_file(options.state_dir + "/" + state_folder::kState, true);
  Live live(options, log, read_boot(state_file, std::nullopt, false).start);
  const int code = live.start(state_file);
  if (code != kExitDone) {
    live.gate.all_safe();
    return code;
  }
  live.watch_signals();
  try {
    live.io.run();
  } catch (...) {
    live.gate.all_safe();
    throw;
  }
  if (flush(*live.writer)) return kExitDone;
  log(LogLevel::error, "the journal did not finish in 2 s; its latest entries are lost");
  ::_exit(kExitDone);  // the writer's thread is stuck; waiting for it would be for ever
}

}  // namespace neap::shell
