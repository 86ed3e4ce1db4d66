// flood, hold, release, ack, shelve, reset, service, stage, step-test, fault: verbs that ask the
// daemon to do something. Words are checked here first, so that a slip of the fingers gets its
// answer at once.
#include "daemon/client/check_in.h"
#include "daemon/client/failure.h"
#include "daemon/client/parse.h"
#include "daemon/client/peek.h"
#include "daemon/client/verbs.h"
#include "daemon/core/limits.h"
#include "daemon/words/words.h"

namespace neap::client {
namespace {

using nlohmann::json;

double seconds_in(Millis d) { return static_cast<double>(d.count()) / 1000; }

std::string one_word(const Session& session, const char* place) {
  const std::vector<std::string>& words = session.args.words;
  if (words.size() == 1) return words.front();
  throw Failure(kExitUsage,
                std::string(words.empty() ? "there is no " : "there is more than one ") + place,
                "give exactly one");
}

std::string choice(const std::string& place, const std::string& word,
                   const std::vector<std::string_view>& choices) {
  for (const std::string_view each : choices)
    if (each == word) return word;
  throw Failure(kExitUsage, place + " is \"" + words::printable(word) + "\", which is none of them",
                suggestion(word, choices));
}

// Does it, and says so in `done`.
int tell(Session& session, std::string_view verb, const json& args, const std::string& done) {
  const json result = session.ask(verb, args);
  session.show(result, wrapped(done, kPageWidth, 2) + "\n");
  return kExitDone;
}

void nothing_left(const std::vector<std::string>& words, std::size_t expected, const char* usage) {
  if (words.size() == expected) return;
  throw Failure(kExitUsage,
                words.size() > expected
                    ? "\"" + words::printable(words[expected]) + "\" is one word too many"
                    : std::string("there are words missing"),
                std::string("write: neap ") + usage);
}

// "at 45 %", or "running".
std::string held_text(Output output, Permille level) {
  const std::string word = words::level(output, level);
  return word.back() == '%' ? "at " + word : word;
}

void render_faults(const json& faults, Session& session) {
  Table table({Table::Side::left, Table::Side::left});
  table.head({"fault", "meaning"});
  for (const json& row : faults)
    table.add(
        {words::printable(row.value("name", "")), words::printable(row.value("meaning", ""))});
  session.out() << (table.empty() ? std::string("This tent knows no faults.\n")
                                  : table.text(session.look, kPageWidth));
}

int list_faults(Session& session) {
  const json result = session.ask("fault", json::object());
  if (session.globals.json)
    session.show(result, "");
  else
    render_faults(result.value("faults", json::array()), session);
  return kExitDone;
}

}  // namespace

int do_flood(Session& session) {
  const std::string action = choice("ACTION", one_word(session, "ACTION"), {"start", "stop"});
  return tell(session, "flood", {{"action", action}},
              action == "start" ? "The flood is under way; `neap` shows it."
                                : "The flood is stopped; the tray drains.");
}

int do_hold(Session& session) {
  constexpr const char* kUsage = "hold OUTPUT LEVEL [for 10m]";
  std::vector<std::string> words = session.args.words;
  const auto length = take_for(words, limits::kHoldFloor, limits::kHoldCeiling);
  nothing_left(words, 2, kUsage);
  const Output output = parse_output(words[0]);
  const Permille level = parse_level(output, words[1]);
  json args = {{"output", info(output).name}, {"level", level.value}};
  if (length) args["for_s"] = seconds_in(*length);
  const json result = session.ask("hold", args);
  // The daemon knows how long: without a length it chooses one, and an output may have a limit.
  const auto granted = length_at(result, "/for_s");
  session.show(result, wrapped("The " + std::string(info(output).title) + " is held " +
                                   held_text(output, level) +
                                   (granted ? " for " + words::duration(*granted) : std::string()) +
                                   ", as far as its interlocks allow; `neap release " +
                                   std::string(info(output).name) + "` ends it.",
                               kPageWidth, 2) +
                           "\n");
  return kExitDone;
}

int do_release(Session& session) {
  const Output output = parse_output(one_word(session, "OUTPUT"));
  return tell(session, "release", {{"output", info(output).name}},
              "The " + std::string(info(output).title) + " is neap's again.");
}

int do_ack(Session& session) {
  const std::string word = one_word(session, "ALARM");
  json args = {{"all", true}};
  if (word != "all") args = {{"alarm", info(parse_alarm(word)).name}};
  const json result = session.ask("ack", args);
  const int changed = result.value("changed", 0);
  std::string text = changed == 0   ? "There was nothing to acknowledge.\n"
                     : changed == 1 ? "Acknowledged one alarm.\n"
                                    : "Acknowledged " + std::to_string(changed) + " alarms.\n";
  text += changed == 0 ? "" : "A latch stays set until `neap reset`.\n";
  session.show(result, text);
  return kExitDone;
}

int do_shelve(Session& session) {
  std::vector<std::string> words = session.args.words;
  const auto length = take_for(words, seconds{1}, limits::kShelveCeiling);
  nothing_left(words, 1, "shelve ALARM for 2h");
  const Alarm alarm = parse_alarm(words[0]);
  if (!length)
    throw Failure(kExitUsage, "for how long is not said", "write: neap shelve ALARM for 2h");
  return tell(session, "shelve", {{"alarm", info(alarm).name}, {"for_s", seconds_in(*length)}},
              "Alarm " + std::string(info(alarm).name) + " is shelved for " +
                  words::duration(*length) + ".");
}

int do_reset(Session& session) {
  const Latch latch = parse_latch(one_word(session, "LATCH"));
  return tell(session, "reset", {{"latch", info(latch).name}},
              "Latch " + std::string(info(latch).name) + " is reset.");
}

int do_service(Session& session) {
  std::vector<std::string> words = session.args.words;
  const auto length = take_for(words, limits::kServiceFloor, limits::kServiceCeiling);
  nothing_left(words, 1, "service begin [for 30m] | end | topup | change | plants | clean");
  const std::string action =
      choice("ACTION", words[0], {"begin", "end", "topup", "change", "plants", "clean"});
  if (action != "begin" && action != "end") return work_at_tent(session, action, length);
  if (action == "end")
    return tell(session, "service", {{"action", action}}, "Service is over; floods may start.");
  const Millis lasts = length.value_or(limits::kServiceFloor);
  return tell(session, "service", {{"action", action}, {"for_s", seconds_in(lasts)}},
              "Service for " + words::duration(lasts) +
                  ": no flood starts. Say `neap service end` when you are done.");
}

int do_stage(Session& session) {
  const std::string name = one_word(session, "NAME");
  return tell(session, "stage", {{"name", name}},
              "Stage " + words::printable(name) + " is in force.");
}

int do_step_test(Session& session) {
  const std::string word = one_word(session, "OUTPUT or stop");
  if (word == "stop")
    return tell(session, "step_test", {{"action", "stop"}},
                "The step test is over; the climate law has the outputs again.");
  const Output output = parse_output(word);
  if (output != Output::exhaust_fan && output != Output::dehumidifier)
    throw Failure(kExitUsage,
                  "OUTPUT is \"" + words::printable(word) + "\", which has no step test",
                  "write: neap step-test fan, or neap step-test dehumidifier");
  const json result =
      session.ask("step_test", {{"action", "start"}, {"output", info(output).name}});
  const auto granted = length_at(result, "/for_s");
  session.show(result,
               wrapped("The step test of the " + std::string(info(output).title) + " is under way" +
                           (granted ? ", for " + words::duration(*granted) : std::string()) +
                           ". Leave the tent shut meanwhile; `neap status` shows how far it is, "
                           "`neap step-test stop` ends it, and `neap identify` weighs it.",
                       kPageWidth, 2) +
                   "\n");
  return kExitDone;
}

int do_fault(Session& session) {
  const std::vector<std::string>& words = session.args.words;
  if (words.empty() || words.front() == "list") {
    nothing_left(words, words.empty() ? 0 : 1, "fault list");
    return list_faults(session);
  }
  nothing_left(words, 2, "fault NAME on|off [--severity 0.5]");
  const std::string action = choice("the word after the fault's name", words[1], {"on", "off"});
  json args = {{"fault", words[0]}, {"active", action == "on"}};
  if (!session.args.severity.empty())
    args["severity"] = parse_number("--severity", session.args.severity, 0, 1);
  return tell(session, "fault", args,
              "Fault " + words::printable(words[0]) + " is " + action + ".");
}

}  // namespace neap::client
