// neap(1) and neapd(8).
#include <array>

#include "daemon/client/command_line.h"
#include "daemon/client/failure.h"
#include "daemon/manual/manual.h"
#include "daemon/manual/option_list.h"
#include "daemon/manual/see_also.h"
#include "daemon/shell/command_line.h"
#include "daemon/words/daemon_exits.h"

namespace neap::manual {
namespace {

std::string role_of(const client::Verb& verb) {
  return verb.role == "-" ? "Needs no daemon."
                          : "Asks the daemon; needs the role " + std::string(verb.role) + ".";
}

void put_verb(Page& page, const client::Verb& verb, const CLI::App& app) {
  std::string typed(verb.name);
  for (const CLI::Option* word : words_of(app)) typed += " " + client::as_typed(*word);
  page.subsection(typed);
  page.text(capitalised(verb.about) + ". " + role_of(verb));
  for (const CLI::Option* word : words_of(app))
    page.text(word->get_name(true) + ": " + word->get_description());
  put_options(page, app);
  std::string examples;
  std::string_view rest = verb.examples;
  while (!rest.empty()) {
    const std::size_t end = std::min(rest.find('\n'), rest.size());
    examples += "neap " + std::string(rest.substr(0, end)) + "\n";
    rest.remove_prefix(std::min(end + 1, rest.size()));
  }
  page.display(examples);
}

void put_files(Page& page) {
  const client::Globals globals;
  page.section("FILES");
  page.begin_list();
  page.term(globals.settings);
  page.more_text("The settings in force, see neap-settings.");
  page.term(globals.state_dir);
  page.more_text("State, output manifest, and the spool of what was told while neapd was down.");
  page.term(globals.journal);
  page.more_text(
      "The journal: one SQLite file, which reads well without neap, such as by "
      "sqlite3 and its views v_floods and v_daily.");
  page.term(globals.socket);
  page.more_text("The control socket.");
  page.end_list();
}

void put_exits(Page& page, auto begin, auto end) {
  page.section("EXIT STATUS");
  page.begin_list();
  for (auto row = begin; row != end; ++row) {
    page.term(std::to_string(row->code));
    page.more_text(row->meaning);
  }
  page.end_list();
}

struct Other {
  std::string_view name;
  int section;
};
constexpr std::array kOthers{Other{"neap", 1}, Other{"neap-settings", 5}, Other{"neap-explain", 7},
                             Other{"neapd", 8}};

}  // namespace

void put_see_also(Page& page, std::string_view but) {
  page.section("SEE ALSO");
  const auto* last = but == kOthers.back().name ? &kOthers[kOthers.size() - 2] : &kOthers.back();
  for (const Other& other : kOthers)
    if (other.name != but) page.see_also(other.name, other.section, &other == last);
}

std::string client_page() {
  client::CommandLine line;
  client::declare(line);
  Page page("neap", 1, "ask and tell the daemon that runs a flood table in a grow tent");
  page.section("SYNOPSIS");
  page.macro(".Nm");
  page.macro(".Op Ar options");
  page.macro(".Op Ar verb Op Ar word ...");
  page.section("DESCRIPTION");
  page.text(
      "Asks neapd, reads its journal, or does without either. Without a verb: verdict, margin to "
      "the band, next event, and what to do. Without a daemon the journal is read, and what it "
      "knew last is shown as such.");
  page.text("An option may stand before or after the verb:");
  put_options(page, line.app);
  page.text(
      "A level of an output is stopped, running, open, closed or a percentage such as 45%. A "
      "length of time is written 90s, 10m, 2h, 1h30m or 3d, a date 2026-06-01 or "
      "2026-06-01T14:30. Lengths that look back begin at the newest entry of the journal, so "
      "that an old or a simulated one can be asked too.");
  page.section("VERBS");
  for (const client::Verb& verb : client::verbs())
    put_verb(page, verb, *line.app.get_subcommand(std::string(verb.name)));
  page.section("ENVIRONMENT");
  page.begin_list();
  for (const client::VariableRow& row : client::kVariables) {
    page.term(row.name);
    page.more_text(row.meaning);
  }
  page.end_list();
  put_files(page);
  put_exits(page, client::kExitCodes.begin(), client::kExitCodes.end());
  page.text("With --json an error is an object too: error.code, error.message, error.remedy.");
  put_see_also(page, "neap");
  return page.done();
}

std::string daemon_page() {
  shell::CommandLine line;
  shell::declare(line);
  Page page("neapd", 8, "control one flood table in one tent");
  page.section("SYNOPSIS");
  page.macro(".Nm");
  for (const CLI::Option* each : options_of(line.app))
    if (each->get_required())
      page.macro(".Fl \\-" + each->get_lnames().front() + " Ar " + argument(each->get_type_name()));
  page.macro(".Op Ar options");
  page.macro(".Nm neap-outputs-safe");
  page.macro(".Ar STATE_DIR");
  page.section("DESCRIPTION");
  page.text(
      "Reads sensors, decides once a second, drives outputs, and writes every reading, "
      "command and reason into the journal. Before it reads its settings it drives every "
      "output of the last accepted ones to its safe level. It runs in the foreground and "
      "logs to the standard error stream.");
  page.text(
      "Settings that are refused change nothing: a start goes on with those that were "
      "accepted last, where there are any. SIGTERM and SIGINT end it, outputs safe first.");
  page.text(
      "neap-outputs-safe drives every output to its safe level without neapd and without "
      "settings, from the manifest in the state directory. Let whatever runs neapd run it "
      "afterwards. It returns 0 when all were written and, where they can be read back, "
      "proven, 1 when some were not, 2 for a wrong command line, 4 without a manifest.");
  page.section("OPTIONS");
  put_options(page, line.app);
  put_files(page);
  put_exits(page, words::kDaemonExits.begin(), words::kDaemonExits.end());
  put_see_also(page, "neapd");
  return page.done();
}

}  // namespace neap::manual
