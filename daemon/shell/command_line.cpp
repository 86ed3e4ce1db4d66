#include "daemon/shell/command_line.h"

#include "daemon/shell/version.h"
#include "daemon/words/daemon_exits.h"

namespace neap::shell {
namespace {

constexpr bool in_order() {
  for (std::size_t i = 0; i < words::kDaemonExits.size(); ++i)
    if (words::kDaemonExits[i].code != static_cast<int>(i)) return false;
  return words::kDaemonExits.size() == kExitCannotStart + 1;
}
static_assert(in_order());

std::string footer() {
  std::string text = "\nExit codes (`neap explain neapd-exit-3` says more):\n";
  for (const words::DaemonExit& row : words::kDaemonExits)
    text += "  " + std::to_string(row.code) + "  " + std::string(row.meaning) + "\n";
  text.pop_back();
  return text;
}

}  // namespace

void declare(CommandLine& line) {
  CLI::App& app = line.app;
  Options& options = line.options;
  app.description("neapd: controls one flood table in one tent");
  app.name("neapd");
  app.footer(footer());
  app.set_version_flag("--version", kVersion);
  app.add_option("--settings", options.settings, "settings file")->required();
  app.add_option("--state-dir", options.state_dir, "state, output manifest, spool")->required();
  app.add_option("--journal", options.journal, "journal file")->required();
  app.add_option("--keep-readings", options.keep_readings_days,
                 "delete readings after so many days of running, 30 to 36500, two days' of them a "
                 "day; hourly figures stay; default: keep all")
      ->check(CLI::Range(30, 36500));
  app.add_option("--socket", options.socket, "control socket")->default_val("/run/neap/neap.sock");
  app.add_option("--log-level", options.log_level, "debug, info, warning or error")
      ->check(CLI::IsMember({"debug", "info", "warning", "error"}));
  app.add_flag("--virtual", options.virtual_clock, "a simulated grow on a clock that jumps");
  app.add_option("--until", line.until, "virtual: how long, such as 24h, 90d");
  app.add_option("--from", options.from, "virtual: local time of the start, 2026-06-01T00:00");
  app.add_option("--relative-to", options.relative_to,
                 "virtual: folder where relative paths in the settings start; default: the file's");
  app.add_option("--hands", options.hands, "virtual: hand measurements, JSON with their times");
  app.add_option("--step", line.step,
                 "virtual: scan when something is due (next) or each second (1s)")
      ->check(CLI::IsMember({"next", "1s"}));
  app.add_flag("--confirm-stages", options.confirm_stages,
               "virtual: a simulated grower confirms each stage on its day");
  app.add_flag("--progress", options.progress, "virtual: progress as JSON lines on stderr");
  app.add_flag("--quiet", line.quiet, "log warnings and errors only");
  app.add_flag("--trace-hash", options.trace_hash_only, "virtual: print only the trace hash");
}

}  // namespace neap::shell
