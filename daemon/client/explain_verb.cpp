// neap explain: needs neither daemon nor journal; where the daemon answers, it is told whether the
// thing stands right now.
#include <set>

#include "daemon/client/explain.h"
#include "daemon/client/failure.h"
#include "daemon/client/peek.h"
#include "daemon/client/verbs.h"

namespace neap::client {
namespace {

using nlohmann::json;

json status_if_any(Session& session) {
  try {
    return session.ask("status", json::object());
  } catch (const Failure&) {  // an explanation is needed most when no daemon answers
    return json::object();
  }
}

std::string stands_now(const Topic& topic, const json& status) {
  if (topic.kind == TopicKind::alarm)
    for (const json& row : list_at(status, "/alarms")) {
      if (text_at(row, "/alarm") != topic.code) continue;
      const auto since = length_at(row, "/since_s");
      return "Now: " + text_at(row, "/state") +
             (since ? ", for " + words::duration(*since) : std::string()) + ".";
    }
  if (topic.kind == TopicKind::latch)
    for (const json& row : list_at(status, "/latches"))
      if (text_at(row, "/latch") == topic.code) return "Now: it is set.";
  return {};
}

}  // namespace

int do_explain(Session& session) {
  const std::size_t width = page_width(session.args);
  std::string word;
  for (const std::string& each : session.args.words) word += (word.empty() ? "" : " ") + each;
  const std::vector<Topic> found = word.empty() ? topics() : topics_called(word);
  const json status = word.empty() ? json::object() : status_if_any(session);
  json list = json::array();
  std::string text;
  std::set<std::string_view> told;
  for (Topic topic : found) {
    json row = topic_json(topic);
    const std::string stands = stands_now(topic, status);
    if (!stands.empty()) row["now"] = stands;
    list.push_back(std::move(row));
    // An alarm, its latch and its trip come of the same; once on a page is enough.
    if (!told.insert(words::causes(topic.says)).second) topic.says.causes = {};
    text += (text.empty() ? "" : "\n") + render_topic(topic, stands, session.look, width);
  }
  session.show({{"explanations", list}},
               word.empty() ? render_topics(found, session.look, width) : text);
  return kExitDone;
}

}  // namespace neap::client
