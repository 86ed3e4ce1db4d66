// What `neap explain` and the manual's page of explanations can explain, as one list.
#pragma once

#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "daemon/client/look.h"
#include "daemon/words/explain.h"

namespace neap::client {

// In the order in which they are listed.
enum class TopicKind { alarm, latch, refusal, fault, exit, affair };

struct Topic {
  TopicKind kind;
  std::string code;   // what is typed
  std::string also;   // another word for it, as screens show it; may be empty
  std::string title;  // what it says on the screen
  words::Explanation says;
  std::string remedy;  // comes before `says.check`; may be empty
};

std::string_view heading(TopicKind kind);  // "Alarms"
std::string_view noun(TopicKind kind);     // "alarm"

// Every alarm, latch, refusal or trip, fault and exit code, and every other reason.
std::vector<Topic> topics();
// Likely causes, the likeliest first.
std::vector<std::string> causes(const Topic& topic);
// What to look at and do, in order.
std::vector<std::string> steps(const Topic& topic);

// Those that a person may have meant: a name may be an alarm, its latch and a reason. A Failure
// with the nearest name when there is none.
std::vector<Topic> topics_called(const std::string& word);

std::string render_topics(const std::vector<Topic>& all, const Look& look, std::size_t width);
// `stands`: a line on what is true right now; may be empty.
std::string render_topic(const Topic& topic, const std::string& stands, const Look& look,
                         std::size_t width);
nlohmann::json topic_json(const Topic& topic);

}  // namespace neap::client
