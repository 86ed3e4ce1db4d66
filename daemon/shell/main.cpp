// neapd: reads its command line, sets up the log, runs live or on a clock that jumps.
#include <spdlog/sinks/stdout_sinks.h>
#include <spdlog/spdlog.h>

#include <csignal>
#include <cstdlib>
#include <exception>

#include "daemon/shell/command_line.h"
#include "daemon/shell/run.h"

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
  neap::shell::CommandLine line;
  neap::shell::declare(line);
  try {
    line.app.parse(argc, argv);
  } catch (const CLI::ParseError& error) {
    return line.app.exit(error) == 0 ? neap::shell::kExitDone : neap::shell::kExitUsage;
  }
  const std::optional<neap::Millis> span = parse_span(line.until);
  if (!span) {
    std::fprintf(stderr, "--until %s is no length of time; write 24h, 90d, 45min or 30s\n",
                 line.until.c_str());
    return neap::shell::kExitUsage;
  }
  neap::shell::Options& options = line.options;
  options.until = *span;
  options.every_second = line.step == "1s";
  const neap::shell::LogSink log = make_log(line.quiet ? "warning" : options.log_level);
  try {
    return run(options, log);
  } catch (const std::exception& error) {
    // What was driven is left to its lease, to ExecStopPost and to neap-outputs-safe.
    log(LogLevel::error, std::string("neapd ends: ") + error.what());
    return neap::shell::kExitFailure;
  }
}
