#include "daemon/client/explain.h"

#include <algorithm>
#include <array>

#include "daemon/client/failure.h"
#include "daemon/client/parse.h"
#include "daemon/settings/quantity.h"
#include "daemon/words/daemon_exits.h"

namespace neap::client {
namespace {

using nlohmann::json;

// In order of the codes of failure.h.
constexpr std::array<words::Explanation, kExitCodes.size()> kExits{{
    {"What was asked for was done, or shown.", "all is well", "nothing"},
    {"The daemon or the check said no, and nothing was changed.",
     "a guard that holds; a role that is missing; a settings file with problems",
     "read the line after the refusal; `neap explain` knows its reason"},
    {"Nothing was asked of the daemon.", "a slip of the fingers; a word left out",
     "`neap VERB --help` has examples"},
    {"Nobody listens at the control socket. Verbs that read the journal still work.",
     "neapd does not run; --socket or NEAP_SOCKET names another place; your user may not open it",
     "see whether neapd runs and its log; `neap` alone shows what the journal knew last"},
    {"The journal could not be opened or is empty.",
     "neapd has never run here; --journal or NEAP_JOURNAL names another place; your user may not "
     "read it",
     "give its path with --journal"},
    {"The system refused something, or a program that was started failed.",
     "a full disk; a folder that is missing; a right that is missing",
     "the message names the file or the program"},
}};

void add_alarms(std::vector<Topic>& all) {
  for (const AlarmInfo& row : kAlarms)
    all.push_back({TopicKind::alarm, std::string(row.name), "",
                   std::string(row.title) + " (" + std::string(words::name(row.priority)) +
                       (row.priority == Priority::advisory ? ")" : " priority)"),
                   words::explanation(row.alarm), std::string(row.remedy)});
}

void add_latches(std::vector<Topic>& all) {
  for (const LatchInfo& row : kLatches)
    all.push_back({TopicKind::latch, std::string(row.name), "", std::string(row.title),
                   words::explanation(row.latch),
                   "do what `neap explain " + std::string(info(words::alarm_of(row.latch)).name) +
                       "` says of the alarm"});
}

void add_reasons(std::vector<Topic>& all, TopicKind kind) {
  constexpr int kPastAllReasons = 1000;
  for (int number = 1; number < kPastAllReasons; ++number) {
    const auto reason = static_cast<Reason>(number);
    if (info(reason).reason != reason) continue;
    const words::Explanation* says = words::explanation(reason);
    if ((says != nullptr) != (kind == TopicKind::refusal)) continue;
    all.push_back({kind, std::string(info(reason).key), "", words::pattern(reason),
                   says == nullptr ? words::Explanation{} : *says, words::remedy_pattern(reason)});
  }
}

void add_faults(std::vector<Topic>& all) {
  for (int number = 1; number <= static_cast<int>(Fault::short_wire); ++number) {
    const auto fault = static_cast<Fault>(number);
    const std::string shown(words::name(fault));
    all.push_back({TopicKind::fault, std::string(words::key(fault)), shown, shown,
                   words::explanation(fault), std::string(words::cure(fault))});
  }
}

void add_exits(std::vector<Topic>& all) {
  for (std::size_t i = 0; i < kExitCodes.size(); ++i) {
    const std::string number = std::to_string(kExitCodes[i].code);
    all.push_back({TopicKind::exit, "exit-" + number, number,
                   "neap: " + std::string(kExitCodes[i].meaning), kExits[i], ""});
  }
  for (const words::DaemonExit& row : words::kDaemonExits) {
    const std::string number = std::to_string(row.code);
    all.push_back({TopicKind::exit, "neapd-exit-" + number, number,
                   "neapd: " + std::string(row.meaning), row.says, ""});
  }
}

// `-`, `_` and blanks are the same in what a person types.
std::string plain(std::string_view text) {
  std::string out = settings::lower_case(text);
  for (char& c : out)
    if (c == '-' || c == ' ') c = '_';
  return out;
}

std::string bulleted(const std::vector<std::string>& items, std::size_t width) {
  std::string out;
  for (const std::string& item : items) out += "  - " + wrapped(item, width - 4, 4) + "\n";
  return out;
}

}  // namespace

std::string_view heading(TopicKind kind) {
  switch (kind) {
    case TopicKind::alarm:
      return "Alarms";
    case TopicKind::latch:
      return "Latches";
    case TopicKind::refusal:
      return "Refusals and trips";
    case TopicKind::fault:
      return "Faults of readings";
    case TopicKind::exit:
      return "Exit codes";
    case TopicKind::affair:
      return "Reasons without trouble";
  }
  return {};
}

std::string_view noun(TopicKind kind) {
  switch (kind) {
    case TopicKind::alarm:
      return "alarm";
    case TopicKind::latch:
      return "latch";
    case TopicKind::refusal:
      return "refusal or trip";
    case TopicKind::fault:
      return "fault of a reading";
    case TopicKind::exit:
      return "exit code";
    case TopicKind::affair:
      return "reason";
  }
  return {};
}

std::vector<Topic> topics() {
  std::vector<Topic> all;
  add_alarms(all);
  add_latches(all);
  add_reasons(all, TopicKind::refusal);
  add_faults(all);
  add_exits(all);
  add_reasons(all, TopicKind::affair);
  return all;
}

std::vector<std::string> causes(const Topic& topic) {
  const auto parts = words::listed(words::causes(topic.says));
  return {parts.begin(), parts.end()};
}

std::vector<std::string> steps(const Topic& topic) {
  std::vector<std::string> all;
  if (!topic.remedy.empty()) all.push_back(topic.remedy);
  for (const std::string_view part : words::listed(topic.says.check)) all.emplace_back(part);
  return all;
}

std::vector<Topic> topics_called(const std::string& word) {
  const std::vector<Topic> all = topics();
  std::vector<Topic> found;
  std::vector<std::string_view> codes;
  for (const Topic& topic : all) {
    codes.push_back(topic.code);
    const bool meant = plain(topic.code) == plain(word) ||
                       (!topic.also.empty() && plain(topic.also) == plain(word));
    if (meant) found.push_back(topic);
  }
  if (!found.empty()) return found;
  const std::string near = nearest(word, codes);
  throw Failure(
      kExitUsage, "there is nothing called \"" + words::printable(word) + "\" to explain",
      near.empty() ? "`neap explain` alone lists what there is" : "did you mean \"" + near + "\"?");
}

std::string render_topics(const std::vector<Topic>& all, const Look& look, std::size_t width) {
  std::string out;
  for (const TopicKind kind : {TopicKind::alarm, TopicKind::latch, TopicKind::refusal,
                               TopicKind::fault, TopicKind::exit}) {
    std::string names;
    for (const Topic& topic : all)
      if (topic.kind == kind) names += (names.empty() ? "" : ", ") + topic.code;
    out += toned(look, Tone::strong, heading(kind)) + "\n  " + wrapped(names, width - 2, 2) + "\n";
  }
  return out +
         wrapped("`neap explain NAME` says what it means, what it comes of, and what to do.",
                 width) +
         "\n";
}

std::string render_topic(const Topic& topic, const std::string& stands, const Look& look,
                         std::size_t width) {
  const std::string head = topic.code + " (" + std::string(noun(topic.kind)) + "): " + topic.title;
  std::string out = toned(look, Tone::strong, wrapped(head, width, 2)) + "\n";
  const std::string_view meaning =
      topic.kind == TopicKind::affair
          ? "neap names it where it tells why something is so; nothing is wrong with it."
          : topic.says.meaning;
  out += "  " + wrapped(meaning, width - 2, 2) + "\n";
  if (!stands.empty()) out += "  " + wrapped(stands, width - 2, 2) + "\n";
  if (!topic.says.causes.empty())
    out += wrapped("Likely causes, the likeliest first:", width) + "\n" +
           bulleted(causes(topic), width);
  if (const auto list = steps(topic); !list.empty())
    out += wrapped("What to check and do:", width) + "\n" + bulleted(list, width);
  return out;
}

json topic_json(const Topic& topic) {
  return {{"kind", noun(topic.kind)},       {"name", topic.code},
          {"title", topic.title},           {"meaning", topic.says.meaning},
          {"likely_causes", causes(topic)}, {"check", steps(topic)}};
}

}  // namespace neap::client
