// The verb `size`: runs neapd on its virtual clock for each size, two at a time.
#include <algorithm>
#include <atomic>
#include <future>
#include <mutex>

#include "daemon/client/ahead.h"
#include "daemon/client/failure.h"
#include "daemon/client/parse.h"
#include "daemon/client/size.h"
#include "daemon/client/verbs.h"
#include "daemon/client/virtual_run.h"
#include "daemon/words/words.h"

namespace neap::client {
namespace {

constexpr int kMostDays = 14;
constexpr int kSettlingDays = 1;
constexpr int kAtOnce = 2;
constexpr std::array kEach{SizeOf::dehumidifier, SizeOf::humidifier, SizeOf::fan};

// What every trial of the verb shares.
struct Study {
  std::string settings_path;
  std::string text;
  settings::Loaded loaded;
  std::string from;
  int days = 2;
};

struct Runs {
  int done = 0;
  int in_all = 0;
};

settings::RoomAir parse_room(const std::string& text) {
  const std::size_t comma = text.find(',');
  const auto figure = [&](std::string part, double lowest, double highest) {
    std::size_t used = 0;
    double value = 0;
    try {
      value = std::stod(part, &used);
    } catch (const std::exception&) {
      used = 0;
    }
    while (used < part.size() && part[used] == ' ') ++used;
    const std::string unit = part.substr(used);
    const bool known = unit.empty() || unit == "C" || unit == "%";
    if (used == 0 || !known || !(value >= lowest && value <= highest))
      throw Failure(kExitUsage,
                    "--room is \"" + words::printable(text) +
                        "\", not a temperature of 5 to 40 C and a humidity of 5 to 95 %",
                    "write for instance --room 21C,55%");
    return value;
  };
  if (comma == std::string::npos) figure("", 0, 0);
  return {figure(text.substr(0, comma), 5, 40), figure(text.substr(comma + 1), 5, 95)};
}

// A day in the longest stage in which something grows: most of the grow looks like it.
std::string usual_start(const ProgrammePlan& programme) {
  std::int32_t date = programme.start_date;
  std::int32_t best = date;
  int longest = 0;
  for (const StagePlan& stage : programme.stages) {
    const int length = stage.days == 0 ? kMostDays : stage.days;
    if (!stage.fallow && length > longest) {
      longest = length;
      best = date;
    }
    if (stage.days == 0) break;
    date += stage.days;
  }
  return words::civil_date(best);
}

Study study_of(const Session& session) {
  const Arguments& args = session.args;
  Study study;
  study.settings_path = args.words.empty() ? session.globals.settings : args.words.front();
  study.text = read_settings_text(study.settings_path);
  study.loaded = load_text_or_fail(study.settings_path, study.text);
  const bool simulated = study.loaded.hardware.simulation.has_value();
  if (simulated && !args.room.empty())
    throw Failure(kExitUsage, "--room is given, but " + study.settings_path + " simulates a room",
                  "change building_c and building_w_g_kg under simulation.parameters");
  if (!simulated && args.room.empty())
    throw Failure(kExitUsage,
                  study.settings_path + " drives real devices, and its room is not known",
                  "say what the room's air is like, for instance --room 21C,55%");
  if (!simulated) {
    study.text = settings::with_simulated_tent(study.loaded, parse_room(args.room));
    study.loaded = load_text_or_fail(study.settings_path, study.text);
  }
  if (!args.days.empty()) study.days = parse_whole("--days", args.days, 1, kMostDays, "--days 2");
  const std::string from = args.from.empty() ? usual_start(study.loaded.plan.programme) : args.from;
  study.from = start_of(study.loaded.plan, from);
  return study;
}

const StagePlan& stage_of(const Study& study) {
  const std::int32_t date = parse_date_time("--from", study.from).civil.date;
  const StageNow now = stage_by_days(study.loaded.plan.programme, date);
  return study.loaded.plan.programme.stages[static_cast<std::size_t>(now.index)];
}

SizeTrial try_size(const Session& session, const Study& study, const Equipment& equipment) {
  VirtualJob job;
  job.settings_path = study.settings_path;
  job.text = settings::with_equipment(study.text, equipment);
  job.from = study.from;
  job.days = kSettlingDays + study.days;
  const Plan plan = load_text_or_fail(study.settings_path, job.text).plan;
  const Scratch scratch;
  const std::string journal = (scratch.path() / "journal.db").string();
  std::string log;
  run_virtually(
      session.around, job, scratch.path(), journal, [](double) {},
      [&](std::string_view line) { log += std::string(line) + "\n"; });
  const auto reader = open_journal(journal);
  const auto first = reader->first_tick();
  const auto last = reader->last_tick();
  const std::int64_t settled = Millis{hours{24} * kSettlingDays}.count();
  if (!first || !last || *last <= *first + settled)
    throw Failure(kExitFailed, "the run left too short a journal", "its log: " + log);
  return {equipment,
          figures_of(*reader, plan, stage_of(study), equipment, *first + settled, *last)};
}

SizeAnswer answer_of(const Session& session, const Study& study, SizeOf what, const Equipment& now,
                     Runs& runs, Progress& progress) {
  const std::vector<Equipment> sizes = sizes_of(what, now);
  SizeAnswer answer;
  answer.what = what;
  answer.trials.resize(sizes.size());
  std::atomic<std::size_t> next{0};
  std::mutex shown;
  const auto work = [&] {
    for (std::size_t i = next++; i < sizes.size(); i = next++) {
      answer.trials[i] = try_size(session, study, sizes[i]);
      const std::lock_guard lock(shown);
      progress.at(static_cast<double>(++runs.done) / runs.in_all);
    }
  };
  std::vector<std::future<void>> workers;
  for (int i = 1; i < kAtOnce; ++i) workers.push_back(std::async(std::launch::async, work));
  work();
  for (auto& worker : workers) worker.get();
  answer.chosen = smallest_good(answer.trials);
  return answer;
}

std::vector<SizeOf> asked(const std::string& of) {
  if (of.empty()) return {kEach.begin(), kEach.end()};
  std::vector<std::string_view> names;
  for (const SizeOf what : kEach) {
    if (name(what) == of) return {what};
    names.push_back(name(what));
  }
  throw Failure(kExitUsage, "--of is \"" + words::printable(of) + "\", which neap does not size",
                "write dehumidifier, humidifier or fan");
}

}  // namespace

int do_size(Session& session) {
  const std::vector<SizeOf> kinds = asked(session.args.of);
  const Study study = study_of(session);
  SizeReport report;
  report.name = study.loaded.plan.name;
  report.stage = stage_of(study).name;
  report.law = words::name(study.loaded.plan.climate.law);
  report.from = study.from;
  report.days = study.days;
  Equipment now = settings::equipment_of(study.loaded);
  Runs runs;
  for (const SizeOf what : kinds) runs.in_all += static_cast<int>(sizes_of(what, now).size());
  {
    Progress progress(session.around.err, session.around.err_is_terminal && !session.args.quiet);
    progress.at(0);
    for (const SizeOf what : kinds) {
      report.answers.push_back(answer_of(session, study, what, now, runs, progress));
      now = report.answers.back().trials[report.answers.back().chosen].equipment;
    }
  }
  session.show(size_json(report), render_size(report, session.look));
  return kExitDone;
}

}  // namespace neap::client
