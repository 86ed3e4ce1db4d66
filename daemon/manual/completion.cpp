// Completion for bash: verbs and options from the command line itself, the words of a verb from the
// tables that the verb reads them by.
#include <algorithm>
#include <array>
#include <set>

#include "daemon/client/care.h"
#include "daemon/client/command_line.h"
#include "daemon/client/explain.h"
#include "daemon/client/parse.h"
#include "daemon/core/hand.h"
#include "daemon/core/proof_tests.h"
#include "daemon/manual/manual.h"
#include "daemon/manual/option_list.h"
#include "drivers/simulated/faults.h"

namespace neap::manual {
namespace {

using Words = std::string (*)();  // parted by blanks

template <class Rows>
std::string names(const Rows& rows) {
  std::string out;
  for (const auto& row : rows) out += (out.empty() ? "" : " ") + std::string(row.name);
  return out;
}
std::string outputs() { return names(kOutputs) + " fan"; }
std::string alarms() { return names(kAlarms); }
std::string alarms_or_all() { return names(kAlarms) + " all"; }
std::string latches() { return names(kLatches); }
std::string points() { return names(kPoints); }
std::string proof_tests() { return names(kProofTests); }
std::string faults() { return names(drivers::simulated::kTentFaults) + " list"; }
std::string care_parts() { return names(client::care_parts()); }
std::string levels() { return "stopped running closed open"; }
std::string length() { return "for"; }
std::string hands() {
  std::string out;
  for (const HandInfo& row : kHands) out += std::string(row.name) + "= ";
  return out + "at= photo=";
}
std::string topics() {
  std::set<std::string> codes;  // an alarm and its latch may have one name
  for (const client::Topic& topic : client::topics()) codes.insert(topic.code);
  std::string out;
  for (const std::string& code : codes) out += code + " ";
  return out;
}
std::string kinds() {
  std::string out;
  for (const std::string& word : client::kind_words()) out += word + " ";
  return out;
}

// What only the shell can find out.
std::string files() { return "@files"; }
std::string stages() { return "@stages"; }

// What may stand in the first places after a verb, and whether the last goes on. A verb whose words
// nobody can guess has no row.
struct Offer {
  std::string_view verb;
  std::array<Words, 3> places;
  bool goes_on = false;
};
constexpr std::array kOffers{
    Offer{"why", {outputs}},
    Offer{"explain", {topics}},
    Offer{"readings", {points}, true},
    Offer{"export", {files}},
    Offer{"chart", {points}, true},
    Offer{"mix", {[] { return std::string("fresh topup ph"); }}},
    Offer{"flood", {[] { return std::string("start stop"); }}},
    Offer{"hold", {outputs, levels, length}},
    Offer{"release", {outputs}},
    Offer{"ack", {alarms_or_all}},
    Offer{"shelve", {alarms, length}},
    Offer{"reset", {latches}},
    Offer{"service", {[] { return std::string("begin end topup change plants clean"); }, length}},
    Offer{"stage", {stages}},
    Offer{"step-test", {[] { return std::string("fan dehumidifier stop"); }}},
    Offer{"measure", {hands}, true},
    Offer{"grow",
          {[] { return std::string("start note harvest end list show compare withdraw"); }}},
    Offer{"care", {[] { return std::string("done withdraw"); }, care_parts}},
    Offer{"weekly", {[] { return std::string("list"); }}},
    Offer{"turnover", {[] { return std::string("list"); }}},
    Offer{"calibrate", {[] { return std::string("ph ec"); }}},
    Offer{"fault", {faults, [] { return std::string("on off"); }}},
    Offer{"commission", {proof_tests}, true},
    Offer{"draft", {files}},
    Offer{"probe", {files}},
    Offer{"plan", {files}},
    Offer{"check", {files}},
    Offer{"apply", {files}},
    Offer{"simulate", {files}},
    Offer{"size", {files}},
};

// Options whose value can be offered.
struct Value {
  std::string_view option;
  Words words;
};
constexpr std::array kValues{
    Value{"--kind", kinds},
    Value{"--color", [] { return std::string("auto always never"); }},
    Value{"--of", [] { return std::string("dehumidifier humidifier fan"); }},
    Value{"--law", [] { return std::string("two_position fixed_fan predictive rule"); }},
    Value{"--socket", files},
    Value{"--journal", files},
    Value{"--settings", files},
    Value{"--state-dir", files},
    Value{"--svg", files},
    Value{"--hands", files},
    Value{"--root", files},
};

constexpr std::string_view kHead = R"bash(# bash completion of neap.
# Made by neap-manual from the tables of the program; change those.

_neap_stages() {  # as the settings in force name them
  sed -n 's/^ *- name: *"\{0,1\}\([a-z0-9_-]*\)"\{0,1\} *$/\1/p' \
    "${NEAP_SETTINGS:-/etc/neap/tent.yaml}" 2>/dev/null
}

_neap_offer() {
  local words=$1
  if [[ $words == @files ]]; then
    compopt -o filenames 2>/dev/null
    mapfile -t COMPREPLY < <(compgen -f -- "$current")
    return
  fi
  [[ $words != @stages ]] || words=$(_neap_stages)
  mapfile -t COMPREPLY < <(compgen -W "$words" -- "$current")
  # a value goes on right after its =
  [[ ${#COMPREPLY[@]} -ne 1 || ${COMPREPLY[0]} != *= ]] || compopt -o nospace 2>/dev/null
}

_neap() {
  local current=${COMP_WORDS[COMP_CWORD]} before=${COMP_WORDS[COMP_CWORD - 1]}
  local verb= place=0 i words= options=
  COMPREPLY=()
)bash";

constexpr std::string_view kTail = R"bash(
  if [[ $current == -* ]]; then _neap_offer "$options"; else _neap_offer "$words"; fi
}
complete -F _neap neap
)bash";

std::string joined(const std::vector<std::string>& each, std::string_view by) {
  std::string out;
  for (const std::string& word : each) out += (out.empty() ? "" : std::string(by)) + word;
  return out;
}

std::vector<std::string> dashed_all(const CLI::App& app) {
  std::vector<std::string> all;
  for (const CLI::Option* each : options_of(app)) all.push_back(dashed(*each));
  return all;
}

std::set<std::string> with_value(const CLI::App& app) {
  std::set<std::string> all;
  for (const CLI::Option* each : options_of(app))
    if (takes_value(*each)) all.insert(dashed(*each));
  return all;
}

// Every option of any verb that is followed by its value.
std::vector<std::string> all_with_value(const client::CommandLine& line) {
  std::set<std::string> all = with_value(line.app);
  for (const client::Verb& verb : client::verbs())
    all.merge(with_value(*line.app.get_subcommand(std::string(verb.name))));
  return {all.begin(), all.end()};
}

std::string option_values(const std::vector<std::string>& valued) {
  std::string text = "  case $before in\n";
  std::vector<std::string> others;
  for (const std::string& option : valued) {
    const auto* row = std::find_if(kValues.begin(), kValues.end(),
                                   [&](const Value& value) { return value.option == option; });
    if (row == kValues.end())
      others.push_back(option);
    else
      text += "    " + option + ") _neap_offer '" + row->words() + "'; return ;;\n";
  }
  return text + "    " + joined(others, " | ") + ") return ;;\n  esac\n";
}

std::string words_of_verb(const client::Verb& verb) {
  for (const Offer& offer : kOffers) {
    if (offer.verb != verb.name) continue;
    std::string text = "      case $place in\n";
    for (std::size_t i = 0; i < offer.places.size() && offer.places[i] != nullptr; ++i)
      text += "        " + (offer.goes_on ? std::string("*") : std::to_string(i)) + ") words='" +
              offer.places[i]() + "' ;;\n";
    return text + "      esac\n";
  }
  return {};
}

}  // namespace

std::string bash_completion() {
  client::CommandLine line;
  client::declare(line);
  const std::vector<std::string> valued = all_with_value(line);
  std::string text(kHead);
  text += option_values(valued);
  text += "  for ((i = 1; i < COMP_CWORD; ++i)); do\n    case ${COMP_WORDS[i]} in\n      " +
          joined(valued, " | ") +
          ") ((++i)) ;;\n      -*) ;;\n      *) if [[ -z $verb ]]; then "
          "verb=${COMP_WORDS[i]}; else ((++place)); fi ;;\n    esac\n  done\n";
  text += "  options='--help " + joined(dashed_all(line.app), " ") + "'\n  case $verb in\n";
  text += "    '') words='" + names(client::verbs()) + "' ;;\n";
  for (const client::Verb& verb : client::verbs()) {
    const CLI::App& app = *line.app.get_subcommand(std::string(verb.name));
    const std::string own = joined(dashed_all(app), " ");
    const std::string offered = words_of_verb(verb);
    if (own.empty() && offered.empty()) continue;
    text += "    " + std::string(verb.name) + ")\n";
    if (!own.empty()) text += "      options+=' " + own + "'\n";
    text += offered + "      ;;\n";
  }
  return text + "  esac" + std::string(kTail);
}

std::span<const Made> all_made() {
  static constexpr std::array kMade{
      Made{"neap.1", client_page},
      Made{"neapd.8", daemon_page},
      Made{"neap-settings.5", settings_page},
      Made{"neap-explain.7", explain_page},
      Made{"neap.bash", bash_completion},
  };
  return kMade;
}

}  // namespace neap::manual
