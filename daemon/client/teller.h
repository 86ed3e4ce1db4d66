// What `neap tell run` does again and again: looks at the journal and the clock, puts what is to be
// told into a mailbox for each hook, starts the hooks that are due, and remembers. It only reads
// what is neapd's, and works while neapd is down: then that is the news.
#pragma once

#include <functional>
#include <nlohmann/json.hpp>
#include <ostream>
#include <string>

#include "daemon/client/hook_run.h"
#include "daemon/client/session.h"
#include "daemon/tell/clockwork.h"
#include "daemon/tell/envelope.h"
#include "daemon/tell/memory.h"
#include "daemon/tell/news.h"
#include "daemon/tell/recap.h"

namespace neap::client {

// From one look to the next. A choice: two starts of a hook are as far apart.
constexpr Millis kLookEvery = seconds{10};

// What it takes from its surroundings.
struct TellWorld {
  std::function<tell::Now()> now;
  std::function<HookEnd(const settings::Hook&, const std::string& told)> run;
  std::function<nlohmann::json()> status;  // of the daemon; throws a Failure when none answers
};

class Teller {
 public:
  // Throws a Failure when the settings cannot be used or have no group `telling`.
  Teller(const Globals& globals, TellWorld world, std::ostream& log);
  void look();
  const tell::Memory& memory() const { return memory_; }

 private:
  void reread_settings();
  void match_boxes();
  void read_journal(journal::Reader* reader, const std::string& error, tell::Now now);
  void begin_with(journal::Reader& reader, tell::Now now);
  bool take_news(journal::Reader& reader, tell::Now now);
  void take_outage(journal::Reader& reader, tell::Now now);
  void remind(journal::Reader& reader, tell::Now now);
  void by_clock(journal::Reader* reader, const std::string& error, tell::Now now);
  std::string line_of_the_day(journal::Reader& reader) const;
  void beat(journal::Reader& reader, tell::Now now);
  // `but`: the hook that is left out.
  void put_to_all(tell::Message message, tell::Now now, std::string_view but = {});
  void deliver();
  void tell_one(const settings::Hook& hook, tell::Mailbox& box);
  void write_metrics(journal::Reader* reader, tell::Now now);
  void remember(tell::Now now);
  const nlohmann::json& status();
  std::string deadline();
  bool quiet(tell::Now now) const;
  tell::Sender sender(tell::Now now) const;
  words::Style style() const { return {loaded_.plan.metric}; }

  const Globals& globals_;
  TellWorld world_;
  std::ostream& log_;
  // Which settings file was read: its inode, size and time, taken before it, so that a change while
  // it is read is seen at the next look.
  std::string file_seen_;
  settings::Loaded loaded_;
  tell::Memory memory_;
  bool remembers_ = false;  // there was a memory, or the journal was seen since
  bool dirty_ = true;       // there is more to remember than the file has
  std::optional<std::int64_t> saved_ms_, metrics_ms_;  // steady
  std::optional<std::int64_t> outage_seen_ms_;         // steady
  std::string said_;                                   // the latest trouble in the log
  tell::Pulse pulse_;
  tell::Beat beat_;
  tell::Reminders reminders_;
  tell::BeatFacts facts_;                 // of the latest heartbeat
  std::optional<nlohmann::json> status_;  // of neapd, asked once a look; null: none answers
};

std::string memory_path(const Globals& globals);
// What is wrong with the telling, a line each, for `neap` and `neap status`; nothing where nobody
// is to be told.
std::vector<std::string> telling_troubles(const Session& session);

}  // namespace neap::client
