// `neap simulate`: runs neapd on its virtual clock with a state directory and a journal of its own,
// then tells what happened from the journal.
#include <stdlib.h>

#include <chrono>
#include <filesystem>
#include <fstream>
#include <limits>

#include "daemon/client/ahead.h"
#include "daemon/client/edit.h"
#include "daemon/client/failure.h"
#include "daemon/client/parse.h"
#include "daemon/client/process.h"
#include "daemon/client/report.h"
#include "daemon/client/verbs.h"
#include "daemon/words/figures.h"
#include "daemon/words/words.h"

namespace neap::client {
namespace {

namespace fs = std::filesystem;
using nlohmann::json;
using Steady = std::chrono::steady_clock;

constexpr int kMostDays = 400;
constexpr int kLargestSeed = std::numeric_limits<int>::max();
constexpr const char* kDaemon = "neapd";

class Scratch {  // a directory that goes with its owner
 public:
  Scratch() {
    std::string pattern = (fs::temp_directory_path() / "neap-simulate-XXXXXX").string();
    if (::mkdtemp(pattern.data()) == nullptr)
      throw Failure(kExitFailed, "cannot make a directory " + pattern, "set TMPDIR to one");
    path_ = pattern;
  }
  ~Scratch() {
    std::error_code ignored;
    fs::remove_all(path_, ignored);
  }
  Scratch(const Scratch&) = delete;
  Scratch& operator=(const Scratch&) = delete;
  const fs::path& path() const { return path_; }

 private:
  fs::path path_;
};

struct Job {
  std::string settings_path;  // as typed
  std::string text;           // as it will run
  Plan plan;
  std::string from;  // local time
  int days = 1;
};

struct Run {
  Report report;
  json summary = json::object();  // of neapd
  double took_s = 0;
};

std::string daemon_path(const Surroundings& around) {
  if (const auto named = around.variable("NEAPD"); named && !named->empty()) return *named;
  const fs::path beside = fs::path(around.program).parent_path() / kDaemon;
  if (fs::exists(beside)) return beside.string();
  throw Failure(kExitFailed, "there is no neapd beside " + around.program,
                "build or install it there, or name it in NEAPD");
}

// By default the run begins at the first lights-on of the programme, so that a day is one
// photoperiod; with a date alone, at that day's.
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

std::string edited(const std::string& text, std::string_view block, std::string_view key,
                   const std::string& value) {
  const auto out = with_setting(text, block, key, value);
  if (!out)
    throw Failure(kExitRefused,
                  "the settings have no block " + std::string(block) + ": with a key a line",
                  "write " + std::string(block) + ": and below it, indented, its keys");
  return *out;
}

// A bar of 30 columns on a terminal, redrawn in place.
class Progress {
 public:
  Progress(std::ostream& err, bool shown) : err_(err), shown_(shown) {}
  ~Progress() {
    if (drawn_) err_ << "\r\x1b[K" << std::flush;
  }
  Progress(const Progress&) = delete;
  Progress& operator=(const Progress&) = delete;

  void at(double part) {
    if (!shown_) return;
    constexpr int kColumns = 30;
    const int full = static_cast<int>(part * kColumns);
    err_ << "\r[" << std::string(static_cast<std::size_t>(full), '#')
         << std::string(static_cast<std::size_t>(kColumns - full), '.') << "] "
         << words::decimals(part * 100, 0) << " %" << std::flush;
    drawn_ = true;
  }
  // A line of the daemon's log, above the bar.
  void line(std::string_view text) {
    if (drawn_) err_ << "\r\x1b[K";
    err_ << words::printable(text) << "\n";
  }

 private:
  std::ostream& err_;
  bool shown_;
  bool drawn_ = false;
};

std::vector<std::string> command_of(const Session& session, const Job& job, const fs::path& dir,
                                    const std::string& journal) {
  std::vector<std::string> argv{daemon_path(session.around),
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
  if (session.args.confirm_stages) argv.push_back("--confirm-stages");
  return argv;
}

Run run_job(const Session& session, const Job& job, const std::string& journal) {
  const Scratch scratch;
  const std::string path = journal.empty() ? (scratch.path() / "journal.db").string() : journal;
  std::ofstream((scratch.path() / "settings.yaml")) << job.text;
  Run run;
  const auto began = Steady::now();
  Outcome outcome;
  {
    Progress progress(session.around.err, session.around.err_is_terminal && !session.args.quiet);
    outcome = run_program(
        command_of(session, job, scratch.path(), path),
        [&](std::string_view line) { run.summary = json::parse(line, nullptr, false); },
        [&](std::string_view line) {
          const json said = json::parse(line, nullptr, false);
          const bool is_progress =
              said.is_object() && said.contains("progress") && said["progress"].is_number();
          is_progress ? progress.at(said["progress"].get<double>()) : progress.line(line);
        });
  }
  run.took_s = std::chrono::duration<double>(Steady::now() - began).count();
  if (outcome.signal != 0 || outcome.code != 0)
    throw Failure(kExitFailed,
                  outcome.signal != 0
                      ? "neapd was ended by signal " + std::to_string(outcome.signal)
                      : "neapd ended with exit code " + std::to_string(outcome.code),
                  "its last lines above say why");
  const auto reader = open_journal(path);
  const auto first = reader->first_tick();
  const auto last = reader->last_tick();
  if (!first || !last)
    throw Failure(kExitFailed, "the run left an empty journal", "look for errors above");
  run.report = make_report(*reader, job.plan, *first, *last);
  return run;
}

Job job_of(const Session& session) {
  Job job;
  job.settings_path =
      session.args.words.empty() ? session.globals.settings : session.args.words.front();
  job.text = read_settings_text(job.settings_path);
  job.plan = load_text_or_fail(job.settings_path, job.text).plan;
  if (!session.args.seed.empty()) {
    const int seed = parse_whole("--seed", session.args.seed, 0, kLargestSeed, "--seed 7");
    job.text = edited(job.text, "simulation", "seed", std::to_string(seed));
    load_text_or_fail(job.settings_path, job.text);
  }
  if (!session.args.days.empty())
    job.days = parse_whole("--days", session.args.days, 1, kMostDays, "--days 90");
  job.from = start_of(job.plan, session.args.from);
  return job;
}

Job beside(const Job& job) {
  Job other = job;
  other.text = edited(job.text, "climate", "law", "fixed_fan");
  other.plan = load_text_or_fail(job.settings_path, other.text).plan;
  if (other.plan.climate.law != LawChoice::fixed_fan)
    throw Failure(kExitFailed, "climate.law could not be set to fixed_fan in " + job.settings_path,
                  "write climate: and below it, indented, its keys");
  return other;
}

std::string speed_text(const Job& job, const Run& run) {
  const double simulated_s = 86400.0 * job.days;
  std::string text = "simulated " + std::to_string(job.days) + " d in " +
                     words::decimals(run.took_s, 2) + " s, " +
                     words::decimals(simulated_s / run.took_s, 0) + " times real time";
  if (run.summary.is_object() && run.summary.contains("scans"))
    text += ", " + run.summary["scans"].dump() + " scans";
  if (run.summary.is_object() && run.summary.contains("trace_hash"))
    text += "; trace " + words::printable(run.summary.value("trace_hash", ""));
  return text + "\n";
}

}  // namespace

int do_simulate(Session& session) {
  const Arguments& args = session.args;
  if (!args.keep_journal.empty() && fs::exists(args.keep_journal))
    throw Failure(kExitUsage, "--journal is " + args.keep_journal + ", which exists already",
                  "name a new file, or remove that one");
  const Job job = job_of(session);
  session.look.style.metric = job.plan.metric;
  const Run run = run_job(session, job, args.keep_journal);
  json result = {{"report", report_json(run.report, session.look.style)},
                 {"run", run.summary},
                 {"took_s", run.took_s},
                 {"from", job.from},
                 {"days", job.days}};
  std::string text = render_report(run.report, session.look);
  if (args.beside_fixed_fan) {
    const Run other = run_job(session, beside(job), {});
    result["fixed_fan"] = report_json(other.report, session.look.style);
    text += render_comparison(run.report, other.report, session.look);
  }
  if (args.speed_report) text += "\n" + wrapped(speed_text(job, run), kPageWidth, 2);
  session.show(result, text);
  return kExitDone;
}

}  // namespace neap::client
