#include <cstdio>
#include <filesystem>
#include <nlohmann/json.hpp>

#include "daemon/core/programme.h"
#include "daemon/core/state_folder.h"
#include "daemon/shell/loop.h"
#include "daemon/shell/run.h"
#include "daemon/shell/simulated_hands.h"
#include "drivers/program/lockstep.h"
#include "drivers/simulated/tent.h"

namespace neap::shell {
namespace {

// A simulated grower who confirms each stage on the day that the programme suggests, so that a grow
// of months runs through.
class SimulatedGrower {
 public:
  static constexpr Millis kLooksEvery = hours{1};

  explicit SimulatedGrower(Daemon& daemon, TimerQueue& timers) : daemon_(daemon), timers_(timers) {
    look_later();
  }

 private:
  void look_later() {
    timers_.at(timers_.now() + kLooksEvery, [this] {
      look();
      look_later();
    });
  }
  void look() {
    const Kept& kept = daemon_.state().kept;
    if (!kept.stage_known) return;
    const std::int32_t today = civil_of(daemon_.wall()).date;
    const StageAdvice advice = advise_stage(daemon_.loaded().plan.programme, kept.stage_index,
                                            kept.stage_entered_date, today);
    if (!advice.due) return;
    Request request;
    request.kind = RequestKind::enter_stage;
    request.number = kept.stage_index + 1;
    daemon_.ask(request, [](const Answer&) {});
  }

  Daemon& daemon_;
  TimerQueue& timers_;
};

void print_progress(Millis done, const Options& options, Instant now) {
  const double part =
      static_cast<double>(done.count()) / static_cast<double>(options.until.count());
  std::fprintf(stderr, "{\"progress\":%.4f,\"tick\":%lld}\n", part,
               static_cast<long long>(tick_ms(now)));
}

// Runs to the end in a hundred parts; true when it was not interrupted.
bool run_span(VirtualTimers& timers, const Options& options,
              const std::function<bool()>& interrupted) {
  constexpr int kParts = 100;
  const Instant start = timers.now();
  for (int part = 1; part <= kParts; ++part) {
    if (interrupted()) return false;
    timers.run_until(start + options.until * part / kParts);
    if (options.progress) print_progress(timers.now() - start, options, timers.now());
  }
  return true;
}

}  // namespace

void log_problems(const LogSink& log, const std::string& path, const std::string& text,
                  const std::vector<settings::Problem>& problems) {
  for (const settings::Problem& problem : problems)
    log(LogLevel::error, settings::render(path, text, problem));
}

std::unique_ptr<drivers::World> make_world(const settings::Loaded& loaded, Instant start,
                                           std::int64_t start_unix_ms, std::string& error) {
  if (!loaded.hardware.simulation) return nullptr;
  drivers::SimulationSetup setup = *loaded.hardware.simulation;
  if (!setup.weather_csv.empty())
    setup.weather_csv = (std::filesystem::path(loaded.folder) / setup.weather_csv).string();
  std::unique_ptr<drivers::World> world =
      drivers::make_tent(setup, start_unix_ms, utc_offset_at(start_unix_ms), error);
  if (world) world->advance_to(start);  // the first call only tells the world when it begins
  return world;
}

int run_virtual(const Options& options, const LogSink& log,
                const std::function<bool()>& interrupted) {
  settings::LoadResult result = settings::load_file(options.settings);
  if (!result.loaded) {
    const auto text = read_file(options.settings, 2 * 64 * 1024);
    log_problems(log, options.settings, text.value_or(""), result.problems);
    return kExitSettings;
  }
  if (!options.relative_to.empty()) result.loaded->folder = options.relative_to;
  if (!set_time_zone(result.loaded->plan.time_zone))
    log(LogLevel::warning,
        "this system has no time zone " + result.loaded->plan.time_zone + "; UTC is used");
  const std::optional<std::int64_t> from = unix_ms_of_local(options.from);
  if (!from) {
    log(LogLevel::error, "--from " + options.from + " is no date and time; write 2026-06-01T00:00");
    return kExitUsage;
  }

  StateFile state_file(options.state_dir + "/" + state_folder::kState, false);
  Boot boot = read_boot(state_file, journal::newest_tick(options.journal),
                        load_manifest(options.state_dir).has_value());
  boot.start = next_whole_second(boot.start);
  std::string error;
  const std::unique_ptr<drivers::World> world =
      make_world(*result.loaded, boot.start, *from, error);
  if (!error.empty()) {
    log(LogLevel::error, "simulation: " + error);
    return kExitSettings;
  }
  journal::Options journal_options;
  journal_options.path = options.journal;
  journal_options.durability = journal::Durability::simulated;
  const std::unique_ptr<journal::Writer> writer = journal::Writer::open(journal_options);

  drivers::Context context;
  context.world = world.get();
  VirtualTimers timers(boot.start, world.get());
  context.tick_ms = [&timers] { return neap::tick_ms(timers.now()); };
  drivers::program::Lockstep lockstep(context.tick_ms, options.from,
                                      [&](const std::string& trouble) {
                                        log(LogLevel::error, trouble);
                                        timers.stop();
                                      });
  context.lockstep = &lockstep;
  Strands strands(timers, false);
  VirtualWall wall(boot.start, *from);
  Gate gate(timers, strands, log);
  const bool every_second = options.every_second;
  Daemon daemon(Parts{
      timers, strands, wall, gate, *writer, state_file, log, options.state_dir, every_second, {}});
  daemon.start(std::move(*result.loaded), boot, context);
  if (daemon.without_disk()) return kExitCannotStart;
  std::optional<SimulatedGrower> grower;
  if (options.confirm_stages) grower.emplace(daemon, timers);
  if (!options.hands.empty())
    error = arm_hands(options.hands, daemon, timers, boot.start, *from, log);
  if (!error.empty()) {
    log(LogLevel::error, error);
    return kExitUsage;
  }
  const auto over = [&] { return !lockstep.trouble().empty() || interrupted(); };
  const bool whole = run_span(timers, options, over);
  daemon.stop(whole ? "end of the simulated span" : "interrupted", true);
  writer->flush();
  if (!lockstep.trouble().empty()) return kExitFailure;
  if (writer->trouble()) {
    log(LogLevel::error, "journal: " + writer->trouble_text());
    return kExitFailure;
  }
  if (options.trace_hash_only) {
    std::printf("%s\n", hex(daemon.trace_hash(), 16).c_str());
    return kExitDone;
  }
  const nlohmann::json summary = {{"trace_hash", hex(daemon.trace_hash(), 16)},
                                  {"scans", daemon.scans()},
                                  {"seconds", (timers.now() - boot.start).count() / 1000},
                                  {"journal", options.journal}};
  std::printf("%s\n", summary.dump().c_str());
  return kExitDone;
}

}  // namespace neap::shell
