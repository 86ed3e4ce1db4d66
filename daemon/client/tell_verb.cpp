// `neap tell`: what was told and what waits, a trial of each way, and the program that tells.
#include <fcntl.h>
#include <pwd.h>
#include <sys/file.h>
#include <unistd.h>

#include <cerrno>
#include <chrono>
#include <cstring>
#include <ctime>
#include <fstream>

#include "daemon/client/descriptor.h"
#include "daemon/client/failure.h"
#include "daemon/client/interrupt.h"
#include "daemon/client/teller.h"
#include "daemon/client/verbs.h"
#include "daemon/client/zone.h"

namespace neap::client {
namespace {

using nlohmann::json;
using Side = Table::Side;

constexpr std::size_t kShown = 20;
// After this the telling has stood still. A choice: it looks every 10 s and remembers each minute.
constexpr std::int64_t kStandsStillMs = 10 * 60'000;

tell::Now now_of(const Session& session) {
  using namespace std::chrono;
  return {session.around.now_unix_ms(),
          duration_cast<milliseconds>(steady_clock::now().time_since_epoch()).count()};
}

std::optional<tell::Memory> memory_of(const Session& session) {
  std::ifstream in(memory_path(session.globals));
  return tell::read_memory({std::istreambuf_iterator<char>(in), {}}, now_of(session));
}

std::string when(const std::string& zone, std::int64_t unix_ms) {
  const CivilTime civil = civil_at(zone, unix_ms);
  return words::civil_date(civil.date).substr(5) + " " + words::clock_time(civil.second_of_day);
}

const settings::Telling& telling_of(const settings::Loaded& loaded, const std::string& path) {
  if (!loaded.telling)
    throw Failure(kExitRefused, path + " has no group \"telling\": nobody is told anything",
                  "config/telling.md shows one");
  return *loaded.telling;
}

std::string failing_text(const std::string& zone, const tell::Mailbox& box) {
  const int times = box.failed->times;
  return "fails since " + when(zone, box.failed->since_unix_ms) + ", " +
         (times == 1 ? std::string("once") : std::to_string(times) + " times") + ": " +
         box.failed->why;
}

Cell state_of(const std::string& zone, const tell::Mailbox& box) {
  if (box.failed) return {failing_text(zone, box), Tone::bad};
  return box.delivered_unix_ms ? Cell{"works", Tone::good} : Cell{"not tried yet"};
}

std::string hooks_text(const Session& session, const tell::Memory& memory,
                       const std::string& zone) {
  const std::size_t width = page_width(session.args);
  const bool narrow = width < kPageWidth;
  Table table({Side::left, Side::left, Side::right, Side::left});
  Table slim({Side::left, Side::left});
  table.head({"hook", "told last", "wait", ""});
  for (const tell::Mailbox& box : memory.boxes) {
    const std::string waits = box.waiting.empty() ? "-" : std::to_string(box.waiting.size());
    const std::string last = box.delivered_unix_ms ? when(zone, *box.delivered_unix_ms) : "never";
    const Cell state = state_of(zone, box);
    table.add({box.hook, last, waits, state});
    slim.add({box.hook, Cell{"told " + last + "; " +
                                 (box.waiting.empty() ? "" : waits + " wait; ") + state.text,
                             state.tone}});
  }
  return (narrow ? slim : table).text(session.look, width);
}

std::string list_text(const Session& session, const tell::Memory& memory, const std::string& zone) {
  const std::size_t width = page_width(session.args);
  std::string text = hooks_text(session, memory, zone);
  Table waits({Side::left, Side::left});
  for (const tell::Mailbox& box : memory.boxes)
    for (const tell::Waiting& w : box.waiting) waits.add({box.hook, w.message.text});
  if (!waits.empty()) text += "\nWaits\n" + waits.text(session.look, width, 2);
  Table told({Side::left, Side::left});
  const std::size_t first = memory.told.size() > kShown ? memory.told.size() - kShown : 0;
  for (std::size_t i = first; i < memory.told.size(); ++i) {
    const tell::Told& t = memory.told[i];
    std::string what = t.hook + ": " + t.text;
    if (t.items > 1) what += ", and " + std::to_string(t.items - 1) + " more";
    if (!t.why.empty()) what += " - " + t.why;
    told.add({when(zone, t.unix_ms), Cell{what, t.why.empty() ? Tone::plain : Tone::bad}});
  }
  if (!told.empty()) text += "\nTold\n" + told.text(session.look, width, 2);
  return text;
}

int list_told(const Session& session) {
  const std::string& path = session.globals.settings;
  const settings::Loaded loaded = load_or_fail(path);
  telling_of(loaded, path);
  const auto memory = memory_of(session);
  if (!memory)
    throw Failure(
        kExitFailed,
        "nothing was told yet: there is no " + memory_path(session.globals) + " that can be read",
        "start `neap tell run`, which neap-tell.service does");
  const auto troubles = telling_troubles(session);
  std::string text = list_text(session, *memory, loaded.plan.time_zone);
  for (const std::string& line : troubles)
    text +=
        "\n" + toned(session.look, Tone::bad, wrapped(line, page_width(session.args), 2)) + "\n";
  json value = json::parse(tell::text_of(*memory, now_of(session)));
  value["troubles"] = troubles;
  session.show(value, text);
  return troubles.empty() ? kExitDone : kExitRefused;
}

std::string own_name() {
  const passwd* entry = ::getpwuid(::geteuid());
  return entry == nullptr ? "uid " + std::to_string(::geteuid()) : entry->pw_name;
}

int try_hooks(const Session& session) {
  const std::string& path = session.globals.settings;
  const settings::Loaded loaded = load_or_fail(path);
  const settings::Telling& telling = telling_of(loaded, path);
  const tell::Now now = now_of(session);
  Table table({Side::left, Side::left});
  json list = json::array();
  bool all = true;
  for (const settings::Hook& hook : telling.hooks) {
    tell::Message message;
    message.kind =
        hook.tells == settings::HookTells::heartbeat ? tell::Kind::heartbeat : tell::Kind::proof;
    message.text = "a trial by hand: this way works";
    message.at_unix_ms = now.unix_ms;
    tell::BeatFacts facts;
    facts.ok = true;
    facts.verdict = message.text;
    facts.every = telling.heartbeat;
    const tell::Sender sender{loaded.plan.name, loaded.plan.time_zone, 0};
    const HookEnd end = run_hook(
        hook.command, tell::envelope(sender, {{message}, 0, 0, {0}}, facts, now), hook.time_limit);
    all = all && end.done;
    const std::string said = end.last_word.empty() ? "" : ": " + end.last_word;
    table.add({hook.name, end.done ? Cell{"done" + said, Tone::good} : Cell{end.why, Tone::bad}});
    list.push_back({{"hook", hook.name}, {"done", end.done}, {"why", end.why}});
  }
  session.show({{"hooks", list}, {"user", own_name()}},
               table.text(session.look, page_width(session.args)) +
                   wrapped("Started as " + own_name() + "; the service does it as its own user.",
                           page_width(session.args)) +
                   "\n");
  return all ? kExitDone : kExitRefused;
}

// Two of them would tell everything twice.
Descriptor lock(const std::string& folder) {
  const std::string path = folder + "/lock";
  Descriptor fd(::open(path.c_str(), O_RDWR | O_CREAT | O_CLOEXEC | O_NOFOLLOW, 0600));
  if (!fd)
    throw Failure(kExitFailed, "cannot open " + path + ": " + std::strerror(errno),
                  "make the folder for the user that tells, or name another with --tell-dir");
  if (::flock(fd.number(), LOCK_EX | LOCK_NB) != 0)
    throw Failure(kExitRefused, "another `neap tell run` has " + folder,
                  "`neap tell` shows what it does; end it first");
  return fd;
}

int run_telling(const Session& session) {
  const Descriptor locked = lock(session.globals.tell_dir);
  const Interrupt interrupt;
  const TellWorld world{[&session] { return now_of(session); },
                        [](const settings::Hook& hook, const std::string& told) {
                          return run_hook(hook.command, told, hook.time_limit);
                        },
                        [&session] { return session.ask("status", json::object()); }};
  Teller teller(session.globals, world, session.around.err);
  do teller.look();
  while (session.around.pause(kLookEvery));
  return kExitDone;
}

}  // namespace

std::vector<std::string> telling_troubles(const Session& session) {
  const auto result = settings::load_file(session.globals.settings);
  if (!result.loaded || !result.loaded->telling) return {};
  const std::string& zone = result.loaded->plan.time_zone;
  const auto memory = memory_of(session);
  if (!memory) return {"nobody is told: `neap tell run` does not run, or has not yet looked"};
  std::vector<std::string> lines;
  const std::int64_t ago = session.around.now_unix_ms() - memory->looked_unix_ms;
  if (ago > kStandsStillMs)
    lines.push_back("nobody is told since " + when(zone, memory->looked_unix_ms) +
                    ": `neap tell run` does not run, or cannot write " +
                    memory_path(session.globals));
  if (!memory->trouble.empty()) lines.push_back("telling: " + memory->trouble);
  for (const tell::Mailbox& box : memory->boxes)
    if (box.failed) lines.push_back("hook " + box.hook + " " + failing_text(zone, box));
  return lines;
}

int do_tell(Session& session) {
  const auto& words = session.args.words;
  if (words.empty()) return list_told(session);
  if (words.size() == 1 && words.front() == "try") return try_hooks(session);
  if (words.size() == 1 && words.front() == "run") return run_telling(session);
  throw Failure(kExitUsage,
                "ACTION is \"" + words::printable(words.back()) + "\"; must be try or run",
                "`neap tell` alone lists what was told");
}

}  // namespace neap::client
