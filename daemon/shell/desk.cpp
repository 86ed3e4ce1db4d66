#include "daemon/shell/desk.h"

#include <nlohmann/json.hpp>

#include "daemon/core/limits.h"
#include "daemon/shell/verbs.h"
#include "daemon/words/words.h"

namespace neap::shell {
namespace {

using nlohmann::json;

constexpr std::int64_t kLargestId = 2'147'483'647;
constexpr std::int64_t kDefaultTtlMs = 5000;
constexpr std::int64_t kLongestTtlMs = 60'000;

// None when the text is no JSON object, or nested deeper than the protocol allows.
std::optional<json> parse_object(const std::string& text) {
  bool too_deep = false;
  const json::parser_callback_t watch = [&too_deep](int depth, json::parse_event_t, json&) {
    too_deep = too_deep || depth > Desk::kDepth;
    return !too_deep;
  };
  json value = json::parse(text, watch, false);
  if (too_deep || value.is_discarded() || !value.is_object()) return std::nullopt;
  return value;
}

std::optional<std::int64_t> whole(const json& object, const char* key, std::int64_t lowest,
                                  std::int64_t highest) {
  const auto found = object.find(key);
  if (found == object.end() || !found->is_number_integer()) return std::nullopt;
  if (found->is_number_unsigned() && found->get<std::uint64_t>() > INT64_MAX) return std::nullopt;
  const auto value = found->get<std::int64_t>();
  if (value < lowest || value > highest) return std::nullopt;
  return value;
}

// Text of ours may quote bytes of a driver or a file: what is no UTF-8 is replaced, not thrown.
std::string dump(const json& value) {
  return value.dump(-1, ' ', false, json::error_handler_t::replace);
}

std::string success(std::int64_t id, json result) {
  return dump({{"id", id}, {"ok", true}, {"result", std::move(result)}});
}

std::string failure(std::int64_t id, const std::string& code, const std::string& message,
                    const std::string& remedy, const json& more = json::object()) {
  json error = {{"code", code}, {"message", message}, {"remedy", remedy}};
  error.update(more);
  return dump({{"id", id}, {"ok", false}, {"error", std::move(error)}});
}

const Verb* find_verb(std::string_view name) {
  for (const Verb& verb : verbs())
    if (verb.name == name) return &verb;
  return nullptr;
}

std::string verb_list() {
  std::string list;
  for (const Verb& verb : verbs()) list += (list.empty() ? "" : ", ") + std::string(verb.name);
  return list;
}

std::string role_remedy(Role role) {
  switch (role) {
    case Role::none:
    case Role::view:
      return "ask to be put in the group neap-view";
    case Role::operate:
      return "ask to be put in the group neap";
    case Role::administer:
      return "use root, or ask to be put in the group neap-admin";
  }
  return {};
}

}  // namespace

bool Desk::over_rate(std::uint32_t uid) {
  const std::int64_t second = tick_ms(daemon_.now()) / 1000;
  std::erase_if(rates_, [second](const auto& entry) { return entry.second.second != second; });
  Rate& rate = rates_[uid];
  rate.second = second;
  return ++rate.count > limits::kRequestsPerSecond;
}

void Desk::forget_old() {
  const Instant now = daemon_.now();
  std::erase_if(turns_, [now](const auto& entry) {
    return !entry.second.answer.empty() && now - entry.second.asked > kRepeatWindow;
  });
}

void Desk::finish(const Key& key, const std::string& answer) {
  const auto found = turns_.find(key);
  if (found == turns_.end() || !found->second.answer.empty()) return;
  found->second.answer = answer;
  for (const Send& send : std::exchange(found->second.waiting, {})) send(answer);
}

bool Desk::handle(const std::string& text, const Peer& peer, Instant arrived, Send send) {
  const std::optional<json> request = parse_object(text);
  if (!request) return false;
  const auto id = whole(*request, "id", 1, kLargestId);
  if (!id) {
    send(failure(0, "bad_request", "id is missing or outside 1 to 2147483647",
                 "send a whole number, another for each request"));
    return true;
  }
  const bool has_ttl = request->contains("ttl_ms");
  const auto ttl = whole(*request, "ttl_ms", 1, kLongestTtlMs);
  const auto name = request->find("verb");
  const json args = request->value("args", json::object());
  if ((has_ttl && !ttl) || name == request->end() || !name->is_string() || !args.is_object()) {
    send(failure(*id, "bad_request", "verb must be text, args an object, ttl_ms 1 to 60000",
                 "see schema/control.md"));
    return true;
  }
  if (over_rate(peer.uid)) {
    send(
        failure(*id, "busy",
                "more than " + std::to_string(limits::kRequestsPerSecond) + " requests in a second",
                "ask less often"));
    return true;
  }
  forget_old();
  const Key key{peer.uid, *id};
  if (const auto known = turns_.find(key); known != turns_.end()) {
    if (known->second.answer.empty())
      known->second.waiting.push_back(std::move(send));
    else
      send(known->second.answer);
    return true;
  }
  const Verb* verb = find_verb(name->get<std::string>());
  if (verb == nullptr) {
    send(failure(*id, "unknown_verb",
                 "no verb \"" + words::printable(name->get<std::string>()) + "\"",
                 "use one of: " + verb_list()));
    return true;
  }
  const bool late = daemon_.now() - arrived > Millis{ttl.value_or(kDefaultTtlMs)};
  const bool permitted = peer.role >= verb->role;
  // Every try to change something stands in the journal with what became of it.
  const auto told = [this, peer, verb,
                     detail = words::printable(dump(args).substr(0, 256))](bool accepted) {
    daemon_.journal().put(journal::ClientEntry{daemon_.now(), peer.uid, peer.pid,
                                               std::string(verb->name), accepted, detail});
  };
  if (!permitted || (late && verb->changes)) told(false);
  if (!permitted) {
    send(failure(*id, "not_permitted",
                 "uid " + std::to_string(peer.uid) + " may not " + std::string(verb->name),
                 role_remedy(verb->role)));
    return true;
  }
  if (late) {
    send(failure(*id, "late", "the request waited longer than its ttl_ms", "send it again"));
    return true;
  }
  if (verb->changes && !daemon_.later().empty()) {
    send(failure(*id, "failed", "safe mode: " + daemon_.later(),
                 "nothing is kept until then; floods wait"));
    return true;
  }
  // Answers to questions are not kept: a repeat of one is cheap, and must not be stale.
  Send answer = send;
  if (verb->changes) {
    Turn& turn = turns_[key];
    turn.asked = daemon_.now();
    turn.waiting.push_back(std::move(send));
    answer = [this, key](const std::string& line) { finish(key, line); };
  }
  const std::int64_t number = *id;
  Call call{daemon_,
            peer,
            args,
            settings_path_,
            {[answer, number, told, changes = verb->changes](json result) {
               if (changes) told(true);
               answer(success(number, std::move(result)));
             },
             [answer, number, told, changes = verb->changes](std::string code, std::string message,
                                                             std::string remedy, json more) {
               if (changes) told(false);
               answer(failure(number, code, message, remedy, more));
             }}};
  verb->handle(call);
  return true;
}

}  // namespace neap::shell
