// neapd: reads its command line, sets up the log, runs live or on a clock that jumps.
#include <spdlog/sinks/stdout_sinks.h>
#include <spdlog/spdlog.h>

#include <CLI/CLI.hpp>
#include <csignal>
#include <cstdlib>
#include <exception>

#include "daemon/shell/run.h"
#include "daemon/shell/version.h"

namespace {

using neap::shell::LogLevel;

volatile std::sig_atomic_t interrupted = 0;
void on_signal(int) { interrupted = 1; }

spdlog::level::level_enum spdlog_level(LogLevel level) {
  switch (level) {
    case LogLevel::debug:
      return spdlog::level::debug;
    case LogLevel::info:
      return spdlog::level::info;
    case LogLevel::warning:
      return spdlog::level::warn;
    case LogLevel::error:
      return spdlog::level::err;
  }
  return spdlog::level::info;
}

// Lines go to stderr. Under journald it stamps them itself.
neap::shell::LogSink make_log(const std::string& level) {
  auto logger = spdlog::stderr_logger_mt("neapd");
  logger->set_pattern(std::getenv("JOURNAL_STREAM") != nullptr ? "%l: %v"
                                                               : "%Y-%m-%d %H:%M:%S %l: %v");
  logger->set_level(spdlog::level::from_str(level));
  return
      [logger](LogLevel at, const std::string& text) { logger->log(spdlog_level(at), "{}", text); };
}

// "24h", "90d", "45min", "30s".
std::optional<neap::Millis> parse_span(const std::string& text) {
  static constexpr std::pair<std::string_view, std::int64_t> kUnits[] = {
      {"min", 60'000}, {"d", 86'400'000}, {"h", 3'600'000}, {"s", 1000}};
  for (const auto& [unit, ms] : kUnits) {
    if (!text.ends_with(unit)) continue;
    const std::string digits = text.substr(0, text.size() - unit.size());
    if (digits.empty() || digits.size() > 6 ||
        digits.find_first_not_of("0123456789") != std::string::npos)
      return std::nullopt;
    const std::int64_t count = std::stoll(digits);
    return count > 0 ? std::optional(neap::Millis{count * ms}) : std::nullopt;
  }
  return std::nullopt;
}

int run(const neap::shell::Options& options, const neap::shell::LogSink& log) {
  if (!options.virtual_clock) return neap::shell::run_live(options, log);
  std::signal(SIGINT, on_signal);
  std::signal(SIGTERM, on_signal);
  return neap::shell::run_virtual(options, log, [] { return interrupted != 0; });
}

}  // namespace

int main(int argc, char** argv) {
  neap::shell::Options options;
  std::string until = "24h";
  std::string step = "next";
  bool quiet = false;
  bool trace_hash = false;
  CLI::App app{"neapd: controls one flood table in one tent"};
  app.set_version_flag("--version", neap::kVersion);
  app.add_option("--settings", options.settings, "settings file")->required();
  app.add_option("--state-dir", options.state_dir, "state, output manifest, spool")->required();
  app.add_option("--journal", options.journal, "journal file")->required();
  app.add_option("--socket", options.socket, "control socket")->default_val("/run/neap/neap.sock");
  app.add_option("--log-level", options.log_level, "debug, info, warning or error")
      ->check(CLI::IsMember({"debug", "info", "warning", "error"}));
  app.add_flag("--virtual", options.virtual_clock, "a simulated grow on a clock that jumps");
  app.add_option("--until", until, "virtual: how long, such as 24h, 90d");
  app.add_option("--from", options.from, "virtual: local time of the start, 2026-06-01T00:00");
  app.add_option("--relative-to", options.relative_to,
                 "virtual: folder where relative paths in the settings start; default: the file's");
  app.add_option("--hands", options.hands, "virtual: hand measurements, JSON with their times");
  app.add_option("--step", step, "virtual: scan when something is due (next) or each second (1s)")
      ->check(CLI::IsMember({"next", "1s"}));
  app.add_flag("--confirm-stages", options.confirm_stages,
               "virtual: a simulated grower confirms each stage on its day");
  app.add_flag("--progress", options.progress, "virtual: progress as JSON lines on stderr");
  app.add_flag("--quiet", quiet, "log warnings and errors only");
  app.add_flag("--trace-hash", trace_hash, "virtual: print only the trace hash");
  try {
    app.parse(argc, argv);
  } catch (const CLI::ParseError& error) {
    return app.exit(error) == 0 ? neap::shell::kExitDone : neap::shell::kExitUsage;
  }
  const std::optional<neap::Millis> span = parse_span(until);
  if (!span) {
    std::fprintf(stderr, "--until %s is no length of time; write 24h, 90d, 45min or 30s\n",
                 until.c_str());
    return neap::shell::kExitUsage;
  }
  options.until = *span;
  options.every_second = step == "1s";
  options.trace_hash_only = trace_hash;
  const neap::shell::LogSink log = make_log(quiet ? "warning" : options.log_level);
  try {
    return run(options, log);
  } catch (const std::exception& error) {
    // What was driven is left to its lease, to ExecStopPost and to neap-outputs-safe.
    log(LogLevel::error, std::string("neapd ends: ") + error.what());
    return neap::shell::kExitFailure;
  }
}
