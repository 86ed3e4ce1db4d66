#include "daemon/tell/memory.h"

#include <algorithm>
#include <array>
#include <nlohmann/json.hpp>

namespace neap::tell {
namespace {

using nlohmann::json;

constexpr int kForm = 1;

json message_json(const Message& m) {
  return {{"kind", static_cast<int>(m.kind)},
          {"priority", static_cast<int>(m.priority)},
          {"wakes", m.wakes},
          {"at_unix_ms", m.at_unix_ms},
          {"subject", m.subject},
          {"text", m.text},
          {"remedy", m.remedy}};
}

Message message_of(const json& j) {
  Message m;
  m.kind = static_cast<Kind>(std::clamp(j.at("kind").get<int>(), 0, int{kKindCount} - 1));
  m.priority = static_cast<Priority>(std::clamp(j.at("priority").get<int>(), 0, 4));
  m.wakes = j.at("wakes").get<bool>();
  m.at_unix_ms = j.at("at_unix_ms").get<std::int64_t>();
  m.subject = j.at("subject").get<std::string>();
  m.text = j.at("text").get<std::string>();
  m.remedy = j.at("remedy").get<std::string>();
  return m;
}

template <class T>
json maybe(const std::optional<T>& value) {
  return value ? json(*value) : json(nullptr);
}
template <class T>
std::optional<T> maybe_of(const json& j) {
  return j.is_null() ? std::nullopt : std::optional<T>(j.get<T>());
}

json box_json(const Mailbox& box, Now now) {
  json out = {{"hook", box.hook},         {"delivered_unix_ms", maybe(box.delivered_unix_ms)},
              {"lost", box.lost},         {"failed", nullptr},
              {"waiting", json::array()}, {"starts_ago_ms", json::array()}};
  if (box.failed)
    out["failed"] = {{"since_unix_ms", box.failed->since_unix_ms},
                     {"why", box.failed->why},
                     {"times", box.failed->times}};
  if (box.not_before)
    out["next_in_ms"] = std::max<std::int64_t>(0, *box.not_before - now.steady_ms);
  for (const std::int64_t at : box.starts_ms) out["starts_ago_ms"].push_back(now.steady_ms - at);
  for (const Waiting& w : box.waiting) {
    json item = message_json(w.message);
    if (w.tried_from_ms) item["tried_for_ms"] = now.steady_ms - *w.tried_from_ms;
    out["waiting"].push_back(item);
  }
  return out;
}

Mailbox box_of(const json& j, Now now) {
  Mailbox box;
  box.hook = j.at("hook").get<std::string>();
  box.delivered_unix_ms = maybe_of<std::int64_t>(j.at("delivered_unix_ms"));
  box.lost = j.at("lost").get<int>();
  if (const json& f = j.at("failed"); !f.is_null())
    box.failed = Failed{f.at("since_unix_ms").get<std::int64_t>(), f.at("why").get<std::string>(),
                        f.at("times").get<int>()};
  const auto left = [&](const json& ms) {
    return std::clamp<std::int64_t>(ms.get<std::int64_t>(), 0, kLongestPauseMs);
  };
  if (j.contains("next_in_ms")) box.not_before = now.steady_ms + left(j.at("next_in_ms"));
  for (const json& ago : j.at("starts_ago_ms"))
    box.starts_ms.push_back(now.steady_ms - std::max<std::int64_t>(0, ago.get<std::int64_t>()));
  for (const json& item : j.at("waiting")) {
    Waiting w{message_of(item), std::nullopt};
    if (item.contains("tried_for_ms"))
      w.tried_from_ms = now.steady_ms - item.at("tried_for_ms").get<std::int64_t>();
    box.waiting.push_back(std::move(w));
  }
  return box;
}

}  // namespace

std::string text_of(const Memory& memory, Now now) {
  json out = {{"neap_tell", kForm},
              {"looked_unix_ms", memory.looked_unix_ms},
              {"event_number", memory.event_number},
              {"tick", memory.tick},
              {"boot_tick", memory.boot_tick},
              {"daily", maybe(memory.daily)},
              {"recap", memory.recap},
              {"trouble", memory.trouble},
              {"boxes", json::array()},
              {"told", json::array()}};
  for (const Mailbox& box : memory.boxes) out["boxes"].push_back(box_json(box, now));
  for (const Told& t : memory.told)
    out["told"].push_back({{"unix_ms", t.unix_ms},
                           {"hook", t.hook},
                           {"text", t.text},
                           {"items", t.items},
                           {"why", t.why}});
  return out.dump(1, ' ', false, json::error_handler_t::replace) + "\n";
}

std::optional<Memory> read_memory(const std::string& text, Now now) {
  const json in = json::parse(text, nullptr, false);
  if (!in.is_object()) return std::nullopt;
  try {
    if (in.at("neap_tell").get<int>() != kForm) return std::nullopt;
    Memory memory;
    memory.looked_unix_ms = in.at("looked_unix_ms").get<std::int64_t>();
    memory.event_number = in.at("event_number").get<std::int64_t>();
    memory.tick = in.at("tick").get<std::int64_t>();
    memory.boot_tick = in.at("boot_tick").get<std::int64_t>();
    memory.daily = maybe_of<std::int32_t>(in.at("daily"));
    memory.recap = in.at("recap").get<std::string>();
    memory.trouble = in.at("trouble").get<std::string>();
    for (const json& box : in.at("boxes")) memory.boxes.push_back(box_of(box, now));
    for (const json& t : in.at("told"))
      memory.told.push_back({t.at("unix_ms").get<std::int64_t>(), t.at("hook").get<std::string>(),
                             t.at("text").get<std::string>(), t.at("items").get<std::size_t>(),
                             t.at("why").get<std::string>()});
    return memory;
  } catch (const json::exception&) {
    return std::nullopt;
  }
}

}  // namespace neap::tell
