#include "daemon/tell/envelope.h"

#include <nlohmann/json.hpp>

#include "daemon/words/words.h"

namespace neap::tell {
namespace {

using nlohmann::json;

std::string when(const Sender& sender, const Message& message) {
  if (message.at_unix_ms == 0) return {};
  return words::local_time(message.at_unix_ms, sender.utc_offset_s).substr(5, 11) + "  ";
}

json item_json(const Message& m) {
  return {{"kind", name(m.kind)},
          {"priority", words::name(m.priority)},
          {"alarm", m.subject},
          {"at_unix_ms", m.at_unix_ms == 0 ? json(nullptr) : json(m.at_unix_ms)},
          {"text", m.text},
          {"remedy", m.remedy}};
}

void add_beat(json& out, const BeatFacts& beat) {
  out["ok"] = beat.ok;
  out["verdict"] = beat.verdict;
  out["worst"] = beat.worst;
  out["next"] = beat.next;
  out["recap"] = beat.recap;
  out["every_s"] = beat.every.count() / 1000;
}

}  // namespace

std::string subject_of(const Sender& sender, const Delivery& delivery) {
  const std::size_t others = delivery.items.size() + delivery.more - 1;
  return sender.tent + ": " + delivery.items.front().text +
         (others > 0 ? ", and " + std::to_string(others) + " more" : std::string());
}

std::string body_of(const Sender& sender, const Delivery& delivery) {
  std::string text;
  for (const Message& message : delivery.items) {
    text += when(sender, message) + message.text + "\n";
    if (!message.remedy.empty()) text += "  do: " + message.remedy + "\n";
  }
  if (delivery.more > 0)
    text += "and " + std::to_string(delivery.more) + " more: `neap events --kind alarm`\n";
  if (delivery.lost > 0)
    text += std::to_string(delivery.lost) +
            " before these could not be told in their time: `neap events --kind alarm`\n";
  return text;
}

std::string envelope(const Sender& sender, const Delivery& delivery, const BeatFacts& beat,
                     Now now) {
  const Message& first = delivery.items.front();
  json out = {{"neap", 1},
              {"tent", sender.tent},
              {"kind", name(first.kind)},
              {"priority", words::name(first.priority)},
              {"wakes", first.wakes},
              {"unix_ms", now.unix_ms},
              {"local", words::local_time(now.unix_ms, sender.utc_offset_s)},
              {"time_zone", sender.time_zone},
              {"subject", subject_of(sender, delivery)},
              {"text", body_of(sender, delivery)}};
  if (first.kind == Kind::heartbeat) {
    add_beat(out, beat);
  } else {
    out["items"] = json::array();
    for (const Message& message : delivery.items) out["items"].push_back(item_json(message));
    out["more"] = delivery.more;
    out["lost"] = delivery.lost;
  }
  return out.dump(-1, ' ', false, json::error_handler_t::replace) + "\n";
}

}  // namespace neap::tell
