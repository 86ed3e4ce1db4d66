#include "daemon/client/virtual_run.h"

#include <stdlib.h>

#include <chrono>
#include <fstream>

#include "daemon/client/ahead.h"
#include "daemon/client/failure.h"
#include "daemon/client/parse.h"
#include "daemon/words/figures.h"
#include "daemon/words/words.h"

namespace neap::client {
namespace {

namespace fs = std::filesystem;
using nlohmann::json;
using Steady = std::chrono::steady_clock;

constexpr const char* kDaemon = "neapd";
constexpr const char* kHandsFile = "hands.json";

std::string daemon_path(const Surroundings& around) {
  if (const auto named = around.variable("NEAPD"); named && !named->empty()) return *named;
  const fs::path beside = fs::path(around.program).parent_path() / kDaemon;
  if (fs::exists(beside)) return beside.string();
  throw Failure(kExitFailed, "there is no neapd beside " + around.program,
                "build or install it there, or name it in NEAPD");
}

std::vector<std::string> command_of(const Surroundings& around, const VirtualJob& job,
                                    const fs::path& dir, const std::string& journal) {
  std::vector<std::string> argv{daemon_path(around),
                                "--settings",
                                (dir / "settings.yaml").string(),
                                "--state-dir",
                                dir.string(),
                                "--journal",
                                journal,
                                "--virtual",
                                "--until",
                                std::to_string(job.days) + "d",
                                "--from",
                                job.from,
                                "--relative-to",
                                fs::absolute(job.settings_path).parent_path().string(),
                                "--progress",
                                "--log-level",
                                "error"};
  if (!job.hands.is_null()) {
    argv.push_back("--hands");
    argv.push_back((dir / kHandsFile).string());
  }
  if (job.confirm_stages) argv.push_back("--confirm-stages");
  return argv;
}

}  // namespace

Scratch::Scratch() {
  std::string pattern = (fs::temp_directory_path() / "neap-simulate-XXXXXX").string();
  if (::mkdtemp(pattern.data()) == nullptr)
    throw Failure(kExitFailed, "cannot make a directory " + pattern, "set TMPDIR to one");
  path_ = pattern;
}

Scratch::~Scratch() {
  std::error_code ignored;
  fs::remove_all(path_, ignored);
}

Progress::~Progress() {
  if (drawn_) err_ << "\r\x1b[K" << std::flush;
}

void Progress::at(double part) {
  if (!shown_) return;
  constexpr int kColumns = 30;
  const int full = static_cast<int>(part * kColumns);
  err_ << "\r[" << std::string(static_cast<std::size_t>(full), '#')
       << std::string(static_cast<std::size_t>(kColumns - full), '.') << "] "
       << words::decimals(part * 100, 0) << " %" << std::flush;
  drawn_ = true;
}

void Progress::line(std::string_view text) {
  if (drawn_) err_ << "\r\x1b[K";
  err_ << words::printable(text) << "\n";
}

VirtualEnd run_virtually(const Surroundings& around, const VirtualJob& job, const fs::path& dir,
                         const std::string& journal,
                         const std::function<void(double part)>& progress,
                         const TakeLine& log_line) {
  std::ofstream((dir / "settings.yaml")) << job.text;
  if (!job.hands.is_null()) std::ofstream(dir / kHandsFile) << job.hands.dump();
  VirtualEnd end;
  const auto began = Steady::now();
  const Outcome outcome = run_program(
      command_of(around, job, dir, journal),
      [&](std::string_view line) { end.summary = json::parse(line, nullptr, false); },
      [&](std::string_view line) {
        const json said = json::parse(line, nullptr, false);
        const bool is_progress =
            said.is_object() && said.contains("progress") && said["progress"].is_number();
        is_progress ? progress(said["progress"].get<double>()) : log_line(line);
      });
  end.took_s = std::chrono::duration<double>(Steady::now() - began).count();
  if (outcome.signal != 0 || outcome.code != 0)
    throw Failure(kExitFailed,
                  outcome.signal != 0
                      ? "neapd was ended by signal " + std::to_string(outcome.signal)
                      : "neapd ended with exit code " + std::to_string(outcome.code),
                  "its last lines above say why");
  return end;
}

std::string start_of(const Plan& plan, const std::string& given) {
  DateTime start{{plan.programme.start_date, 0}, false};
  if (!given.empty()) start = parse_date_time("--from", given);
  if (!start.has_time) {
    const StageNow now = stage_by_days(plan.programme, start.civil.date);
    start.civil.second_of_day =
        plan.programme.stages[static_cast<std::size_t>(now.index)].lights_on_s;
  }
  return words::civil_date(start.civil.date) + "T" + words::clock_time(start.civil.second_of_day);
}

}  // namespace neap::client
