#include "daemon/client/cli.h"

#include <algorithm>
#include <exception>

#include "daemon/client/command_line.h"
#include "daemon/client/failure.h"
#include "daemon/client/parse.h"
#include "daemon/shell/version.h"
#include "daemon/words/words.h"

namespace neap::client {
namespace {

using nlohmann::json;

// Where what is said of a verb or an option begins: the longest of them and two blanks fit before.
constexpr std::size_t kHelpColumn = 23;

constexpr const char* kAbout =
    "neap: asks and tells the daemon that runs one flood table in one tent.\n"
    "Without a verb: verdict, margin to the band, next event, and what to do.";

std::string footer() {
  std::string text = "\nExit codes:\n";
  for (const ExitCodeRow& row : kExitCodes)
    text += "  " + std::to_string(row.code) + "  " + std::string(row.meaning) + "\n";
  text += "Environment:\n";
  for (const VariableRow& row : kVariables)
    text += "  " + std::string(row.name) + std::string(16 - row.name.size(), ' ') +
            std::string(row.meaning) + "\n";
  return text + "`neap VERB --help` has examples.";
}

std::string footer(const Verb& verb) {
  std::string text = "\nExamples:\n";
  std::string_view rest = verb.examples;
  while (!rest.empty()) {
    const std::size_t end = std::min(rest.find('\n'), rest.size());
    text += "  neap " + std::string(rest.substr(0, end)) + "\n";
    rest.remove_prefix(std::min(end + 1, rest.size()));
  }
  if (verb.role != "-") text += "Asks the daemon; needs the role: " + std::string(verb.role);
  return text;
}

// Shows the words of a verb as they are typed, OUTPUT LEVEL [for LENGTH], and not how often the
// parser may take them.
class HelpPage : public CLI::Formatter {
 public:
  std::string make_option_opts(const CLI::Option* option) const override {
    if (!option->get_positional()) return CLI::Formatter::make_option_opts(option);
    const std::string& rest = option->get_option_text();
    return rest.empty() ? rest : " " + rest;
  }
  std::string make_option_usage(const CLI::Option* option) const override {
    return as_typed(*option);
  }
};

// Options are looked for before and after the verb; the command line wins over the environment.
void declare_globals(CLI::App& app, Globals& globals) {
  app.add_option("--socket", globals.socket, "control socket of the daemon; " + globals.socket);
  app.add_option("--journal", globals.journal, "journal file; " + globals.journal);
  app.add_option("--settings", globals.settings, "settings file; " + globals.settings);
  app.add_option("--state-dir", globals.state_dir,
                 "where hand measurements wait; " + globals.state_dir);
  app.add_option("--tell-dir", globals.tell_dir,
                 "where neap tell run remembers; " + globals.tell_dir);
  app.add_flag("--json", globals.json, "print one JSON object");
  const std::map<std::string, Color> words{
      {"auto", Color::when_terminal}, {"always", Color::always}, {"never", Color::never}};
  app.add_option("--color", globals.color, "auto, always or never")
      ->transform(CLI::CheckedTransformer(words).description(""));
}

void take_environment(Globals& globals, const Surroundings& around) {
  const std::pair<const char*, std::string*> rows[] = {{"NEAP_SOCKET", &globals.socket},
                                                       {"NEAP_JOURNAL", &globals.journal},
                                                       {"NEAP_SETTINGS", &globals.settings},
                                                       {"NEAP_STATE_DIR", &globals.state_dir},
                                                       {"NEAP_TELL_DIR", &globals.tell_dir}};
  for (const auto& [name, where] : rows)
    if (const auto value = around.variable(name); value && !value->empty()) *where = *value;
}

bool wants_color(const Globals& globals, const Surroundings& around) {
  switch (globals.color) {
    case Color::always:
      return true;
    case Color::never:
      return false;
    case Color::when_terminal: {
      const auto refused = around.variable("NO_COLOR");
      return around.out_is_terminal && (!refused || refused->empty());
    }
  }
  return false;
}

// The problems of a settings file, which are long texts of their own, then the failure itself.
void print_failure(const Failure& failure, bool as_json, const Surroundings& around) {
  json error = {
      {"code", failure.code()}, {"message", failure.what()}, {"remedy", failure.remedy()}};
  for (const auto& [key, value] : failure.more().items())
    if (!error.contains(key)) error[key] = value;
  if (as_json) {
    around.out << json_line({{"error", error}});
    return;
  }
  if (const auto problems = error.find("problems"); problems != error.end())
    for (const json& problem : *problems) around.err << problem.value("text", "") << "\n";
  around.err << wrapped(std::string("neap: ") + failure.what(), kPageWidth, 2) << "\n";
  if (!failure.remedy().empty())
    around.err << "  " << wrapped(failure.remedy(), kPageWidth - 2, 2) << "\n";
}

// What the parser says of a wrong command line, with a better word for a misspelt verb.
Failure usage(const CLI::App& app, const CLI::ParseError& error) {
  std::string what = error.what();
  if (const std::size_t end = what.find('\n'); end != std::string::npos) what.resize(end);
  const std::vector<std::string> rest = app.remaining(true);
  std::vector<std::string_view> names;
  for (const Verb& verb : verbs()) names.push_back(verb.name);
  if (app.get_subcommands().empty() && !rest.empty() && rest.front().rfind('-', 0) != 0)
    return {kExitUsage, "there is no verb \"" + words::printable(rest.front()) + "\"",
            suggestion(rest.front(), names)};
  const std::string verb =
      app.get_subcommands().empty() ? "" : app.get_subcommands().front()->get_name() + " ";
  return {kExitUsage, words::printable(what), "`neap " + verb + "--help` shows what is possible"};
}

}  // namespace

std::string as_typed(const CLI::Option& words) {
  const std::string& rest = words.get_option_text();
  const std::string typed = words.get_name(true) + (rest.empty() ? rest : " " + rest);
  return words.get_required() ? typed : "[" + typed + "]";
}

void declare(CommandLine& line) {
  CLI::App& app = line.app;
  app.description(kAbout);
  app.name("neap");
  const auto page = std::make_shared<HelpPage>();
  page->column_width(kHelpColumn);
  app.formatter(page);  // of the verbs too
  app.footer(footer());
  app.set_version_flag("--version", std::string("neap ") + kVersion);
  app.require_subcommand(0, 1);
  declare_globals(app, line.globals);
  for (const Verb& verb : verbs()) {
    CLI::App* sub = app.add_subcommand(std::string(verb.name), std::string(verb.about));
    sub->footer(footer(verb));
    sub->fallthrough();
    verb.shape(*sub, line.args);
    sub->callback([&line, &verb] { line.chosen = &verb; });
  }
}

int run(const std::vector<std::string>& words, const Surroundings& around) {
  CommandLine line;
  take_environment(line.globals, around);
  declare(line);
  // What the command line asked of --json counts even when the rest of it is wrong.
  const bool as_json = std::find(words.begin(), words.end(), "--json") != words.end();
  try {
    std::vector<std::string> reversed(words.rbegin(), words.rend());
    line.app.parse(reversed);
    Session session{around, line.globals, line.args, Look{wants_color(line.globals, around), {}}};
    return line.chosen == nullptr ? do_brief(session) : line.chosen->handle(session);
  } catch (const CLI::Success& asked_for_help) {
    return line.app.exit(asked_for_help, around.out, around.err);
  } catch (const CLI::ParseError& error) {
    const Failure failure = usage(line.app, error);
    print_failure(failure, as_json, around);
    return failure.code();
  } catch (const Failure& failure) {
    print_failure(failure, as_json, around);
    return failure.code();
  }
}

}  // namespace neap::client
