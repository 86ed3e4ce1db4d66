// check, apply, plan, version: verbs that begin with a settings file.
#include <array>
#include <cstdio>
#include <filesystem>

#include "daemon/client/ahead.h"
#include "daemon/client/failure.h"
#include "daemon/client/parse.h"
#include "daemon/client/verbs.h"
#include "daemon/client/zone.h"
#include "daemon/settings/advice.h"
#include "daemon/shell/version.h"
#include "daemon/words/words.h"

namespace neap::client {
namespace {

using nlohmann::json;

constexpr int kMostPlanDays = 60;

std::string file_of(const Session& session) {
  return session.args.words.empty() ? session.globals.settings : session.args.words.front();
}

std::string hex_text(std::uint64_t value) {
  std::array<char, 20> text{};
  std::snprintf(text.data(), text.size(), "%016llx", static_cast<unsigned long long>(value));
  return text.data();
}

std::string lines_text(const std::vector<std::string>& lines) {
  std::string text;
  for (const std::string& line : lines) text += "  " + words::printable(line) + "\n";
  return text;
}

std::vector<std::string> texts_of(const json& list) {
  std::vector<std::string> texts;
  if (list.is_array())
    for (const json& item : list)
      if (item.is_string()) texts.push_back(item.get<std::string>());
  return texts;
}

// Where the programme stands is the journal's to say; without one the days decide.
StageNow stage_now(const Session& session, const Plan& plan, std::int32_t date) {
  std::string error;
  const auto reader = journal::Reader::open(session.globals.journal, error);
  if (!reader) return stage_by_days(plan.programme, date);
  return stage_in_journal(*reader, plan.programme, date);
}

// What differs from the settings in force, as the journal has them; empty when it has none.
std::vector<std::string> difference_from_force(const Session& session,
                                               const settings::Loaded& next) {
  std::string error;
  const auto reader = journal::Reader::open(session.globals.journal, error);
  if (!reader) return {};
  const auto before = settings::load_text(reader->settings_in_force());
  return before.loaded ? settings::difference(*before.loaded, next) : std::vector<std::string>{};
}

std::string_view word(settings::Weight weight) {
  switch (weight) {
    case settings::Weight::good:
      return "good";
    case settings::Weight::missing:
      return "unknown";
    case settings::Weight::warning:
      return "warning";
  }
  return "unknown";
}

Tone tone(settings::Weight weight) {
  return weight == settings::Weight::warning ? Tone::warning
         : weight == settings::Weight::good  ? Tone::good
                                             : Tone::quiet;
}

json build_json(const std::vector<settings::BuildFinding>& found) {
  json list = json::array();
  for (const settings::BuildFinding& one : found)
    list.push_back({{"part", one.part},
                    {"weight", word(one.weight)},
                    {"text", one.text},
                    {"remedy", one.remedy}});
  return list;
}

// What the table's pipes and pump can do, worst cases first to last as the water passes them.
std::string build_text(const settings::Loaded& loaded,
                       const std::vector<settings::BuildFinding>& found, const Look& look) {
  if (found.empty())
    return loaded.hardware.simulation
               ? ""
               : wrapped(
                     "Without the group \"build\" it is not known whether the standpipe passes "
                     "the pump's flow; config/reference.yaml shows what to measure.",
                     kPageWidth) +
                     "\n";
  Table table({Table::Side::left, Table::Side::left, Table::Side::left});
  for (const settings::BuildFinding& one : found) {
    table.add({one.part, Cell(std::string(word(one.weight)), tone(one.weight)), one.text});
    if (!one.remedy.empty()) table.add({"", "", "-> " + one.remedy});
  }
  return "What it is built of should do this:\n" + table.text(look, kPageWidth, 2);
}

json advice_json(const std::vector<settings::Advice>& advice) {
  json list = json::array();
  for (const settings::Advice& one : advice)
    list.push_back({{"part", one.part}, {"text", one.text}, {"remedy", one.remedy}});
  return list;
}

std::string advice_text(const std::vector<settings::Advice>& advice, const Look& look) {
  if (advice.empty()) return "";
  Table table({Table::Side::left, Table::Side::left, Table::Side::left});
  for (const settings::Advice& one : advice) {
    table.add({one.part, Cell("warning", Tone::warning), words::printable(one.text)});
    table.add({"", "", "-> " + one.remedy});
  }
  return "Allowed, and hardly meant:\n" + table.text(look, kPageWidth, 2);
}

const drivers::Params* enable_pulse_of(const settings::Loaded& loaded) {
  for (const drivers::OutputSetup& setup : loaded.hardware.outputs)
    if (setup.enable_pulse) return &*setup.enable_pulse;
  return nullptr;
}

// Three periods, of which a busy board may lose two edges.
std::int64_t shortest_hold_ms(const drivers::Params& pulse) {
  return 3 * pulse.integer("period_ms");
}

json pulse_json(const drivers::Params* pulse) {
  if (pulse == nullptr) return nullptr;
  return {{"chip", pulse->text("chip")},
          {"line", pulse->text("line")},
          {"period_ms", pulse->integer("period_ms")},
          {"hold_at_least_ms", shortest_hold_ms(*pulse)}};
}

std::string pulse_text(const drivers::Params* pulse) {
  if (pulse == nullptr) return "";
  return wrapped("The pump's dead-man circuit waits for edges of line " +
                     words::printable(pulse->text("line")) + " of " +
                     words::printable(pulse->text("chip")) + ": let it hold for " +
                     std::to_string(shortest_hold_ms(*pulse)) +
                     " ms at least, and for 3 s at most.",
                 kPageWidth) +
         "\n";
}

}  // namespace

int do_check(Session& session) {
  const std::string path = file_of(session);
  const settings::Loaded loaded = load_or_fail(path);
  const Plan& plan = loaded.plan;
  const std::string text = path + " is good: " + words::printable(plan.name) + ", " +
                           std::to_string(plan.programme.stages.size()) + " stages, " +
                           std::to_string(loaded.hardware.sensors.size()) + " sensors, " +
                           std::to_string(loaded.hardware.outputs.size()) + " outputs\n";
  const auto found = settings::check_build(plan, loaded.build);
  const auto advice = settings::advise(plan);
  const drivers::Params* pulse = enable_pulse_of(loaded);
  session.show({{"file", path},
                {"problems", json::array()},
                {"hash", hex_text(loaded.hash)},
                {"build", build_json(found)},
                {"enable_pulse", pulse_json(pulse)},
                {"advice", advice_json(advice)}},
               text + pulse_text(pulse) + build_text(loaded, found, session.look) +
                   advice_text(advice, session.look));
  return kExitDone;
}

int do_apply(Session& session) {
  json args = json::object();
  std::string path = session.globals.settings;
  if (!session.args.words.empty()) {
    // The daemon reads the file itself, from a directory of its own.
    path = std::filesystem::absolute(session.args.words.front()).string();
    args["path"] = path;
  }
  const settings::Loaded loaded = load_or_fail(path);
  args["hash"] = hex_text(loaded.hash);
  const std::vector<std::string> expected = difference_from_force(session, loaded);
  if (!session.globals.json && !expected.empty())
    session.out() << "Against the settings in force:\n" << lines_text(expected);
  const json result = session.ask("apply", args);
  const std::vector<std::string> changed = texts_of(result.value("difference", json::array()));
  session.show(
      result, changed.empty() ? "Applied; nothing changed.\n" : "Applied:\n" + lines_text(changed));
  return kExitDone;
}

int do_plan(Session& session) {
  const std::string& asked = session.args.days;
  const int days = asked.empty() ? 2 : parse_whole("--days", asked, 1, kMostPlanDays, "--days 7");
  const Plan plan = load_or_fail(file_of(session)).plan;
  session.look.style.metric = plan.metric;
  CivilTime from = civil_at(plan.time_zone, session.around.now_unix_ms());
  if (!session.args.from.empty()) from = parse_date_time("--from", session.args.from).civil;
  const Ahead ahead = look_ahead(plan, stage_now(session, plan, from.date), from, days);
  session.show(ahead_json(plan, ahead), render_ahead(plan, ahead, session.look));
  return kExitDone;
}

int do_version(Session& session) {
  session.show({{"version", kVersion}}, std::string("neap ") + kVersion + "\n");
  return kExitDone;
}

}  // namespace neap::client
