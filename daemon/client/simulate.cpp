// `neap simulate`: runs neapd on its virtual clock with a state directory and a journal of its own,
// then tells what happened from the journal.
#include <algorithm>
#include <array>
#include <filesystem>
#include <fstream>
#include <limits>
#include <optional>

#include "daemon/client/edit.h"
#include "daemon/client/failure.h"
#include "daemon/client/hands_script.h"
#include "daemon/client/page_file.h"
#include "daemon/client/parse.h"
#include "daemon/client/picture.h"
#include "daemon/client/records_json.h"
#include "daemon/client/report.h"
#include "daemon/client/verbs.h"
#include "daemon/client/virtual_run.h"
#include "daemon/words/figures.h"
#include "daemon/words/words.h"

namespace neap::client {
namespace {

namespace fs = std::filesystem;
using nlohmann::json;

constexpr int kMostDays = 400;
constexpr std::array kLaws{LawChoice::two_position, LawChoice::rule, LawChoice::predictive,
                           LawChoice::fixed_fan};
constexpr int kLargestSeed = std::numeric_limits<int>::max();

struct Job : VirtualJob {
  Plan plan;
  std::optional<std::uint64_t> seed;  // of the simulated tent, where there is one
  bool draw = false;
};

struct Run {
  Report report;
  std::string svg;  // where one was asked for
  VirtualEnd end;
};

std::string edited(const std::string& text, std::string_view block, std::string_view key,
                   const std::string& value) {
  const auto out = with_setting(text, block, key, value);
  if (!out)
    throw Failure(kExitRefused,
                  "the settings have no block " + std::string(block) + ": with a key a line",
                  "write " + std::string(block) + ": and below it, indented, its keys");
  return *out;
}

Picture picture_of(journal::Reader& reader, const Job& job, const Report& report) {
  Picture picture = gather_picture(reader, job.plan, report.from.tick, report.to.tick);
  const DayTally& total = report.total;
  picture.facts = {
      "law " + std::string(words::name(job.plan.climate.law)) +
          (job.seed ? ", seed " + std::to_string(*job.seed) : std::string()) + ", " +
          minute_text(report.from) + " to " + minute_text(report.to),
      "VPD in band " +
          share_text(total.day_in_band + total.night_in_band, total.day_known + total.night_known) +
          " of the time: " + share_text(total.day_in_band, total.day_known) + " by day, " +
          share_text(total.night_in_band, total.night_known) + " by night"};
  return picture;
}

void check_law(const std::string& law) {
  std::vector<std::string_view> names;
  for (const LawChoice choice : kLaws) names.push_back(words::name(choice));
  if (std::find(names.begin(), names.end(), law) == names.end())
    throw Failure(kExitUsage, "--law is " + law + ", which is no climate law",
                  suggestion(law, names));
}

Run run_job(const Session& session, const Job& job, const std::string& journal) {
  const Scratch scratch;
  const std::string path = journal.empty() ? (scratch.path() / "journal.db").string() : journal;
  Run run;
  {
    Progress progress(session.around.err, session.around.err_is_terminal && !session.args.quiet);
    run.end = run_virtually(
        session.around, job, scratch.path(), path, [&](double part) { progress.at(part); },
        [&](std::string_view line) { progress.line(line); });
  }
  const auto reader = open_journal(path);
  const auto first = reader->first_tick();
  const auto last = reader->last_tick();
  if (!first || !last)
    throw Failure(kExitFailed, "the run left an empty journal", "look for errors above");
  run.report = make_report(*reader, job.plan, *first, *last);
  if (job.draw) run.svg = draw(picture_of(*reader, job, run.report));
  return run;
}

std::string read_hands(const std::string& path) {
  std::ifstream in(path);
  std::string text{std::istreambuf_iterator<char>(in), {}};
  if (!in)
    throw Failure(kExitUsage, "--hands is " + path + ", which cannot be read",
                  "name a text file with lines such as: day 3 08:15  measure ph=5.9");
  return text;
}

Job job_of(const Session& session) {
  Job job;
  job.confirm_stages = session.args.confirm_stages;
  job.settings_path =
      session.args.words.empty() ? session.globals.settings : session.args.words.front();
  job.text = read_settings_text(job.settings_path);
  load_text_or_fail(job.settings_path, job.text);
  if (!session.args.law.empty()) check_law(session.args.law);
  if (!session.args.seed.empty()) {
    const int seed = parse_whole("--seed", session.args.seed, 0, kLargestSeed, "--seed 7");
    job.text = edited(job.text, "simulation", "seed", std::to_string(seed));
  }
  if (!session.args.law.empty()) job.text = edited(job.text, "climate", "law", session.args.law);
  const settings::Loaded loaded = load_text_or_fail(job.settings_path, job.text);
  job.plan = loaded.plan;
  if (loaded.hardware.simulation) job.seed = loaded.hardware.simulation->seed;
  job.draw = !session.args.svg.empty();
  if (!session.args.days.empty())
    job.days = parse_whole("--days", session.args.days, 1, kMostDays, "--days 90");
  job.from = start_of(job.plan, session.args.from);
  if (!session.args.hands.empty())
    job.hands = parse_hands(session.args.hands, read_hands(session.args.hands),
                            parse_date_time("--from", job.from).civil.date);
  return job;
}

Job beside(const Job& job) {
  Job other = job;
  other.draw = false;
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
                     words::decimals(run.end.took_s, 2) + " s, " +
                     words::decimals(simulated_s / run.end.took_s, 0) + " times real time";
  if (run.end.summary.is_object() && run.end.summary.contains("scans"))
    text += ", " + run.end.summary["scans"].dump() + " scans";
  if (run.end.summary.is_object() && run.end.summary.contains("trace_hash"))
    text += "; trace " + words::printable(run.end.summary.value("trace_hash", ""));
  return text + "\n";
}

}  // namespace

int do_simulate(Session& session) {
  const Arguments& args = session.args;
  if (!args.keep_journal.empty() && fs::exists(args.keep_journal))
    throw Failure(kExitUsage, "--journal is " + args.keep_journal + ", which exists already",
                  "name a new file, or remove that one");
  if (!args.svg.empty()) check_page_path(kSvgOption, args.svg);
  const Job job = job_of(session);
  session.look.style.metric = job.plan.metric;
  const Run run = run_job(session, job, args.keep_journal);
  json result = {{"report", report_json(run.report, session.look.style)},
                 {"run", run.end.summary},
                 {"took_s", run.end.took_s},
                 {"from", job.from},
                 {"days", job.days}};
  if (job.draw) save_page(kSvgOption, args.svg, run.svg);
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
