// `neap turnover`.
#include <chrono>

#include "daemon/client/diary.h"
#include "daemon/client/failure.h"
#include "daemon/client/grow.h"
#include "daemon/client/interrupt.h"
#include "daemon/client/journal_ask.h"
#include "daemon/client/records_json.h"
#include "daemon/client/spool.h"
#include "daemon/client/turnover.h"
#include "daemon/client/verbs.h"
#include "daemon/client/zone.h"
#include "daemon/journal/archive.h"
#include "daemon/words/figures.h"
#include "daemon/words/words.h"

namespace neap::client {
namespace {

using nlohmann::json;

std::int64_t wall_unix_ms() {
  using namespace std::chrono;
  return duration_cast<milliseconds>(system_clock::now().time_since_epoch()).count();
}

std::string archived_text(const Session& session, const std::string& path) {
  std::string error;
  const auto copy = journal::archive(session.globals.journal, path, error);
  if (!copy)
    throw Failure(kExitFailed, words::printable(error),
                  "choose another place with room for it; `neap turnover` goes on there");
  return "copied to " + path + " and read through: " + std::to_string(copy->days) + " days, " +
         std::to_string(copy->events) + " events, " + std::to_string(copy->readings) + " readings";
}

std::vector<FloodSpan> floods_since(const Session& session, std::int64_t since_unix_ms) {
  std::vector<FloodSpan> spans;
  const auto reader = open_journal(session.globals.journal);
  for (const journal::CycleEntry& cycle : reader->cycles({reader->tick_at(since_unix_ms), {}})) {
    if (cycle.row.outcome != FloodOutcome::complete || !cycle.started.unix_ms) continue;
    if (*cycle.started.unix_ms < since_unix_ms) continue;
    const Millis lasted = cycle.row.fill + cycle.row.soak + cycle.row.drain;
    spans.push_back({*cycle.started.unix_ms, *cycle.started.unix_ms + lasted.count()});
  }
  return spans;
}

bool measured_since(const Session& session, std::string_view quantity, std::int64_t since) {
  const auto reader = open_journal(session.globals.journal);
  for (const journal::MeasurementRow& row : reader->measurements({}))
    if (row.quantity == quantity && row.taken.unix_ms >= since) return true;
  return false;
}

TurnoverTent tent_of(const Session& session, const std::vector<journal::DiaryRow>& diary) {
  const auto reader = open_journal(session.globals.journal);
  const auto in_force = settings::load_text(reader->settings_in_force());
  const settings::Loaded loaded =
      in_force.loaded ? *in_force.loaded : load_or_fail(session.globals.settings);
  TurnoverTent tent;
  for (const StagePlan& stage : loaded.plan.programme.stages)
    if (stage.fallow) tent.fallow_stage = stage.name;
  tent.reservoir_l = loaded.plan.table.reservoir_capacity.value;
  tent.min_gap = loaded.plan.table.min_gap;
  tent.settings = loaded.turnover;
  const auto grows = grows_of(diary);
  if (const Grow* grow = grow_under_way(grows)) tent.grow = grow->name;
  tent.now_unix_ms = wall_unix_ms;
  tent.clock = [&session](std::int64_t unix_ms) { return clock_of(session, unix_ms); };
  tent.tell = [&session](std::string_view step, std::string_view mark, std::optional<double> figure,
                         const std::string& says) {
    json ignored;
    tell_diary(session,
               {"turnover", std::string(step), figure, std::string(mark), says, wall_unix_ms()},
               ignored);
  };
  tent.end_grow = [&session, name = tent.grow] {
    json ignored;
    tell_diary(session, {"grow_ended", name, {}, "", "", wall_unix_ms()}, ignored);
  };
  tent.archive = [&session](const std::string& path) { return archived_text(session, path); };
  tent.floods = [&session](std::int64_t since) { return floods_since(session, since); };
  tent.measured = [&session](std::string_view quantity, std::int64_t since) {
    return measured_since(session, quantity, since);
  };
  return tent;
}

// "12": by which it is taken back; nothing while the journal has not shown it.
std::string number_text(const journal::DiaryRow& row) {
  return row.number == 0 ? std::string() : std::to_string(row.number);
}

json row_json(const std::optional<journal::DiaryRow>& row) {
  return row ? diary_json(*row) : json(nullptr);
}

std::string state_text(const TurnoverRecord& record) {
  if (!record.began) return "No turnover was begun yet; begin it with neap turnover\n";
  std::string text = "Turnover begun " + minute_text(record.began->happened);
  if (record.under_way) return text + ", under way: `neap turnover` goes on with it.\n";
  if (!record.ended) return text + ".\n";
  const bool by_grow = record.ended->kind != "turnover";
  return text + ", over since " + minute_text(record.ended->happened) +
         (by_grow ? ", when grow " + words::printable(record.ended->subject) + " started" : "") +
         ".\n";
}

std::string said_text(const TurnoverStep& step) {
  std::string text = words::printable(step.told->says);
  if (step.told->figure && !step.unit.empty())
    text = words::decimals(*step.told->figure, 0) + " " + std::string(step.unit) +
           (text.empty() ? "" : "; " + text);
  return text;
}

void show_steps(const Session& session, const TurnoverRecord& record) {
  json list = json::array();
  Table table({Table::Side::right, Table::Side::left, Table::Side::left, Table::Side::left});
  table.head({"no.", "step", "", ""});
  for (const TurnoverStep& step : turnover_steps(record)) {
    const std::string mark = step.told ? step.told->mark : std::string();
    list.push_back({{"step", step.step},
                    {"mark", mark},
                    {"says", step.told ? step.told->says : std::string()},
                    {"told", row_json(step.told)}});
    if (!step.told) {
      table.add({"", step.step, "to do", ""});
      continue;
    }
    table.add({number_text(*step.told), step.step,
               Cell{mark, mark == kDone ? Tone::good : Tone::warning}, said_text(step)});
  }
  const std::size_t width = page_width(session.args);
  const std::string what_next =
      "A number takes a step back: neap grow withdraw NUMBER of=turnover WHY\n";
  std::string text = wrapped(state_text(record), width, 2);
  if (record.began)
    text += "\n" + table.text(session.look, width) + "\n" + wrapped(what_next, width, 2);
  session.show({{"under_way", record.under_way},
                {"began", row_json(record.began)},
                {"ended", row_json(record.ended)},
                {"steps", list}},
               text);
}

}  // namespace

int do_turnover(Session& session) {
  const auto diary = diary_of(session);
  const TurnoverRecord record = turnover_of(diary);
  const auto& words = session.args.words;
  if (!words.empty()) {
    if (words.front() != "list")
      throw Failure(kExitUsage, "\"" + words::printable(words.front()) + "\" is no word of it",
                    "write neap turnover, or neap turnover list");
    show_steps(session, record);
    return kExitDone;
  }
  std::ostream& prompts = session.globals.json ? session.around.err : session.out();
  Questions questions(session.around.in, prompts, !session.around.in_is_terminal,
                      "`neap turnover` goes on there; no flood of the programme starts meanwhile");
  const Interrupt interrupt;
  questions.end_when(Interrupt::came);
  const AskDaemon ask = [&](std::string_view verb, const json& args) {
    return session.ask(verb, args);
  };
  turn_over(questions, ask, tent_of(session, diary), record);
  show_steps(session, turnover_of(diary_of(session)));
  return kExitDone;
}

}  // namespace neap::client
