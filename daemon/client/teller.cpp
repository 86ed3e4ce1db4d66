#include "daemon/client/teller.h"

#include <sys/stat.h>

#include <algorithm>
#include <cstring>
#include <fstream>

#include "daemon/client/failure.h"
#include "daemon/client/peek.h"
#include "daemon/client/render.h"
#include "daemon/client/whole_file.h"
#include "daemon/client/zone.h"
#include "daemon/core/programme.h"
#include "daemon/tell/metrics.h"

namespace neap::client {
namespace {

using nlohmann::json;
using tell::Kind;
using tell::Message;
using tell::Now;

constexpr std::int64_t kDayMs = 86'400'000;
constexpr std::int64_t kHourMs = 3'600'000;
constexpr std::int64_t kMinuteMs = 60'000;
constexpr std::int64_t kFirstBelieved = 1'704'067'200'000;  // 2024-01-01: before, no clock was set
// What an outage came to is told once its floods are caught up, at the earliest and latest so long
// after the return. Choices.
constexpr std::int64_t kOutageFirst = 2 * kMinuteMs;
constexpr std::int64_t kOutageLast = 45 * kMinuteMs;
constexpr int kMostNews = 100'000;  // more than a journal has in the hours of an outage
constexpr int kTellsOthers = 3;     // failures in a row

std::string seen_of(const std::string& path) {
  struct stat file {};
  if (::stat(path.c_str(), &file) != 0) return std::strerror(errno);
  return std::to_string(file.st_ino) + " " + std::to_string(file.st_size) + " " +
         std::to_string(file.st_mtim.tv_sec) + "." + std::to_string(file.st_mtim.tv_nsec);
}

settings::Loaded telling_settings(const std::string& path) {
  auto result = settings::load_guarded_file(path);
  if (!result.loaded) {
    const settings::Problem& first = result.problems.front();
    throw Failure(kExitRefused,
                  path + ":" + std::to_string(first.line) + ": " + first.message +
                      (result.problems.size() > 1
                           ? ", and " + std::to_string(result.problems.size() - 1) + " more"
                           : ""),
                  "`neap check " + path + "` shows every problem");
  }
  if (!result.loaded->telling)
    throw Failure(kExitRefused, path + " has no group \"telling\": nobody is to be told",
                  "config/telling.md shows one");
  return std::move(*result.loaded);
}

Message own(Kind kind, std::string text, Now now) {
  Message message;
  message.kind = kind;
  message.priority = Priority::high;
  message.at_unix_ms = now.unix_ms;
  message.text = std::move(text);
  return message;
}

std::vector<journal::AlarmSpan> standing_alarms(journal::Reader& reader) {
  const auto last = reader.last_tick();
  if (!last) return {};
  auto spans = reader.alarms({*last, *last});
  std::erase_if(spans, [](const journal::AlarmSpan& s) { return s.cleared.has_value(); });
  return spans;
}

}  // namespace

Teller::Teller(const Globals& globals, TellWorld world, std::ostream& log)
    : globals_(globals),
      world_(std::move(world)),
      log_(log),
      file_seen_(seen_of(globals.settings)),
      loaded_(telling_settings(globals.settings)) {
  std::ifstream in(memory_path(globals));
  const std::string text{std::istreambuf_iterator<char>(in), {}};
  if (auto memory = tell::read_memory(text, world_.now())) {
    memory_ = std::move(*memory);
    memory_.trouble.clear();  // of settings that were wrong: these have just been read
    remembers_ = memory_.tick > 0;
  } else if (!text.empty()) {
    log_ << memory_path(globals) << " makes no sense; the telling begins anew\n" << std::flush;
  }
  match_boxes();
}

// A mailbox for each hook that the settings have, in their order; of a hook that is gone nothing is
// kept.
void Teller::match_boxes() {
  std::vector<tell::Mailbox> boxes;
  for (const settings::Hook& hook : loaded_.telling->hooks) {
    const auto known = std::find_if(memory_.boxes.begin(), memory_.boxes.end(),
                                    [&](const tell::Mailbox& b) { return b.hook == hook.name; });
    if (known == memory_.boxes.end())
      boxes.emplace_back().hook = hook.name;
    else
      boxes.push_back(std::move(*known));
  }
  memory_.boxes = std::move(boxes);
}

// Settings that were changed count from the next look on; wrong ones do not count at all.
void Teller::reread_settings() {
  const std::string seen = seen_of(globals_.settings);
  if (seen == file_seen_) return;
  file_seen_ = seen;
  dirty_ = true;
  try {
    loaded_ = telling_settings(globals_.settings);
    match_boxes();
    memory_.trouble.clear();
  } catch (const Failure& failure) {
    memory_.trouble = std::string(failure.what()) + "; what it said before counts";
  }
}

void Teller::look() {
  const Now now = world_.now();
  status_.reset();
  reread_settings();
  std::string error;
  const auto reader = journal::Reader::open(globals_.journal, error);
  read_journal(reader.get(), error, now);
  by_clock(reader.get(), error, now);
  deliver();
  write_metrics(reader.get(), now);
  remember(world_.now());
}

void Teller::read_journal(journal::Reader* reader, const std::string& error, Now now) {
  const auto newest = reader == nullptr ? std::nullopt : reader->last_tick();
  const std::string unreadable = reader == nullptr ? error : reader->trouble();
  switch (pulse_.look(newest, now)) {
    case tell::Pulse::Change::fell_silent: {
      std::string text = "neapd has not written ";
      text += newest ? "since " + tell::clock_of(reader->stamp(*newest)) : "anything";
      if (!unreadable.empty()) text = "the journal cannot be read: " + unreadable;
      Message message = own(Kind::silence, text, now);
      message.wakes = true;  // nobody waters, and no alarm would come
      message.remedy = "look whether the board has power and neapd runs: `neap`";
      put_to_all(message, now);
      break;
    }
    case tell::Pulse::Change::came_back:
      put_to_all(own(Kind::back, "neapd writes again", now), now);
      break;
    case tell::Pulse::Change::none:
      break;
  }
  if (!newest) return;
  if (!remembers_) begin_with(*reader, now);
  const bool whole = remembers_ && take_news(*reader, now);
  take_outage(*reader, now);
  remind(*reader, now);
  if (whole) memory_.tick = *newest;
}

// No memory, or another journal: what stands is told, what is long over is not.
void Teller::begin_with(journal::Reader& reader, Now now) {
  const auto last = reader.events({}, {}, 1);
  if (!reader.trouble().empty()) return;  // the next look tries again
  remembers_ = true;
  memory_.event_number = last.empty() ? 0 : last.back().number;
  memory_.boot_tick = 0;
  for (const journal::BootRow& boot : reader.boots({})) memory_.boot_tick = boot.at.tick;
  for (const journal::AlarmSpan& span : standing_alarms(reader))
    put_to_all(tell::standing(span, Kind::alarm, style()), now);
}

// False: not all could be read, and the next look reads it again. Rows come newest first, so that a
// part of them would pass over the rest.
bool Teller::take_news(journal::Reader& reader, Now now) {
  const auto last = reader.events({}, {}, 1);
  if (!reader.trouble().empty()) return false;
  if (last.empty()) return true;
  if (last.back().number < memory_.event_number) {
    begin_with(reader, now);
    return true;
  }
  // An event is written within a second, on a full card later: its number tells that it is new.
  const std::int64_t known = std::min(memory_.tick, last.back().at.tick);
  const std::int64_t from = std::max<std::int64_t>(0, known - kHourMs);
  const auto rows = reader.events({from, {}}, {EventKind::alarm}, kMostNews);
  if (!reader.trouble().empty()) return false;
  for (const journal::EventRow& row : rows) {
    if (row.number <= memory_.event_number) continue;
    memory_.event_number = row.number;
    dirty_ = true;
    if (auto message = tell::news_of(row, style())) put_to_all(std::move(*message), now);
  }
  return true;
}

void Teller::take_outage(journal::Reader& reader, Now now) {
  auto boots = reader.boots({memory_.boot_tick + 1, {}});
  std::erase_if(boots, [&](const journal::BootRow& b) { return b.at.tick <= memory_.boot_tick; });
  if (boots.empty()) return;
  if (!outage_seen_ms_) outage_seen_ms_ = now.steady_ms;
  const std::int64_t since = now.steady_ms - *outage_seen_ms_;
  if (since < kOutageFirst) return;
  journal::BootRow boot = boots.back();
  const std::int64_t began = boots.front().at.tick;
  boot.clean_before = boots.front().clean_before;
  const auto outage = tell::outage_of(
      boot, reader.stamp(began - 1),
      reader.events({began, {}}, {EventKind::slot_skipped}, kMostNews), reader.cycles({began, {}}));
  const bool unclear = !boot.at.unix_ms || (outage && !tell::settled(*outage));
  if (unclear && since < kOutageLast) return;
  memory_.boot_tick = boot.at.tick;
  outage_seen_ms_.reset();
  dirty_ = true;
  if (!outage) return;
  memory_.recap = tell::text_of(*outage);
  put_to_all(own(Kind::back, memory_.recap, now), now);
}

void Teller::remind(journal::Reader& reader, Now now) {
  auto spans = standing_alarms(reader);
  std::erase_if(spans, [](const journal::AlarmSpan& s) {
    return s.acknowledged || info(s.alarm).priority < Priority::high;
  });
  for (const journal::AlarmSpan& span : reminders_.due(spans, loaded_.telling->remind, now))
    put_to_all(tell::standing(span, Kind::reminder, style()), now);
}

void Teller::by_clock(journal::Reader* reader, const std::string& error, Now now) {
  const CivilTime civil = civil_at(loaded_.plan.time_zone, now.unix_ms);
  if (now.unix_ms >= kFirstBelieved &&
      tell::daily_due(memory_.daily, civil, loaded_.telling->daily_s)) {
    memory_.daily = civil.date;
    Message line = own(
        Kind::daily,
        reader == nullptr ? "the journal cannot be read: " + error : line_of_the_day(*reader), now);
    line.priority = Priority::advisory;
    put_to_all(line, now);
    line.kind = Kind::proof;
    line.text = "a proof that this way works";
    put_to_all(line, now);
  }
  if (reader != nullptr && pulse_.writes() && beat_.due(loaded_.telling->heartbeat, now))
    beat(*reader, now);
}

std::string Teller::line_of_the_day(journal::Reader& reader) const {
  const auto last = reader.last_tick();
  if (!last) return "the journal is empty";
  tell::DayFacts facts;
  facts.cycles = reader.cycles({*last - kDayMs, *last});
  for (const journal::EventRow& row :
       reader.events({*last - kDayMs, *last}, {EventKind::slot_skipped}, kMostNews))
    facts.skipped.push_back(row.event.slot);
  facts.latest = reader.summaries({*last - 10 * kMinuteMs, *last});
  for (const journal::AlarmSpan& span : standing_alarms(reader))
    facts.standing.push_back(span.alarm);
  return tell::daily_text(facts, style());
}

void Teller::beat(journal::Reader& reader, Now now) {
  facts_ = {};
  facts_.every = loaded_.telling->heartbeat;
  facts_.recap = memory_.recap;
  Priority worst = Priority::advisory;
  for (const journal::AlarmSpan& span : standing_alarms(reader)) {
    if (!facts_.worst.empty() && info(span.alarm).priority <= worst) continue;
    worst = info(span.alarm).priority;
    facts_.worst = info(span.alarm).name;
  }
  if (const json& said = status(); said.is_object()) {
    facts_.ok = true_at(said, "/verdict/ok");
    facts_.verdict = verdict_of(said).text;
    facts_.next = next_event_text(said);
  } else {  // it writes, and this user may not ask it
    facts_.ok = facts_.worst.empty();
    facts_.verdict = facts_.ok ? "No alarm stands" : "Alarm: " + facts_.worst;
  }
  Message message = own(Kind::heartbeat, facts_.verdict, now);
  message.priority = facts_.worst.empty() ? Priority::advisory : worst;
  put_to_all(message, now);
}

const json& Teller::status() {
  if (!status_) {
    try {
      status_ = world_.status();
    } catch (const Failure&) {
      status_ = json();
    }
  }
  return *status_;
}

// "roots safe until about 19:40" while floods are held, as far as neapd can be asked.
std::string Teller::deadline() {
  const json& said = status();
  if (!said.is_object() || list_at(said, "/latches").empty()) return {};
  return text_at(said, "/flood/roots/reason/text");
}

void Teller::put_to_all(Message message, Now now, std::string_view but) {
  const bool of_an_alarm = message.kind == Kind::alarm || message.kind == Kind::reminder;
  if (of_an_alarm && message.priority >= Priority::high &&
      message.text.find("roots") == std::string::npos)
    if (const std::string until = deadline(); !until.empty()) message.text += "; " + until;
  for (std::size_t i = 0; i < memory_.boxes.size(); ++i)
    if (memory_.boxes[i].hook != but)
      tell::put(memory_.boxes[i], loaded_.telling->hooks[i], message, now);
  dirty_ = true;
}

void Teller::deliver() {
  for (std::size_t i = 0; i < memory_.boxes.size(); ++i)
    tell_one(loaded_.telling->hooks[i], memory_.boxes[i]);
}

void Teller::tell_one(const settings::Hook& hook, tell::Mailbox& box) {
  Now now = world_.now();
  tell::expire(box, hook, now);
  const auto delivery = tell::due(box, hook, quiet(now), now);
  if (!delivery) return;
  tell::started(box, *delivery, now);
  dirty_ = true;
  remember(now);  // so that one whose start ends this program is not started without end
  const HookEnd end = world_.run(hook, tell::envelope(sender(now), *delivery, facts_, now));
  now = world_.now();
  dirty_ = true;
  // A good heartbeat is no news: it would push what was told out of the list.
  if (!end.done || hook.tells != settings::HookTells::heartbeat)
    memory_.told.push_back({now.unix_ms, hook.name, delivery->items.front().text,
                            delivery->items.size() + delivery->more, end.why});
  if (memory_.told.size() > tell::kToldKept) memory_.told.pop_front();
  if (end.done) return tell::delivered(box, *delivery, now);
  tell::failed(box, end.why, now);
  log_ << "hook " << hook.name << ": " << end.why << "\n" << std::flush;
  if (box.failed->times != kTellsOthers) return;
  Message message = own(Kind::trouble, "hook " + hook.name + " does not tell: " + end.why, now);
  message.remedy = "`neap tell try` starts it by hand";
  put_to_all(message, now, hook.name);
}

void Teller::write_metrics(journal::Reader* reader, Now now) {
  if (!loaded_.telling->metrics) return;
  if (metrics_ms_ && now.steady_ms - *metrics_ms_ < kMinuteMs) return;
  metrics_ms_ = now.steady_ms;
  tell::MetricFacts facts;
  facts.tent = loaded_.plan.name;
  facts.writes = reader != nullptr && !pulse_.silent();
  if (const auto last = reader == nullptr ? std::nullopt : reader->last_tick()) {
    facts.latest = reader->summaries({*last - 10 * kMinuteMs, *last});
    facts.newest_tick = *last;
    for (const journal::AlarmSpan& span : standing_alarms(*reader))
      facts.standing.push_back(span.alarm);
  }
  for (const tell::Mailbox& box : memory_.boxes)
    facts.hooks.push_back({box.hook, box.failed.has_value(), box.waiting.size()});
  const std::string& path = *loaded_.telling->metrics;
  const std::string trouble = write_whole_file(path, tell::metrics_text(facts), 0644);
  if (!trouble.empty() && said_ != trouble) log_ << path << ": " << trouble << "\n" << std::flush;
  said_ = trouble;
}

// Whoever looks sees by its age that it could not be written; what waits is told all the same.
void Teller::remember(Now now) {
  if (!dirty_ && saved_ms_ && now.steady_ms - *saved_ms_ < kMinuteMs) return;
  memory_.looked_unix_ms = now.unix_ms;
  const std::string path = memory_path(globals_);
  const std::string trouble = write_whole_file(path, tell::text_of(memory_, now), 0644);
  if (!trouble.empty()) log_ << path << ": " << trouble << "\n" << std::flush;
  dirty_ = false;  // one that fails is tried again in a minute
  saved_ms_ = now.steady_ms;
}

bool Teller::quiet(Now now) const {
  return now.unix_ms >= kFirstBelieved &&
         in_quiet_hours(loaded_.telling->quiet,
                        civil_at(loaded_.plan.time_zone, now.unix_ms).second_of_day);
}

tell::Sender Teller::sender(Now now) const {
  const CivilTime civil = civil_at(loaded_.plan.time_zone, now.unix_ms);
  const std::int64_t local_s =
      static_cast<std::int64_t>(civil.date) * kSecondsPerDay + civil.second_of_day;
  return {loaded_.plan.name, loaded_.plan.time_zone,
          static_cast<std::int32_t>(local_s - now.unix_ms / 1000)};
}

std::string memory_path(const Globals& globals) { return globals.tell_dir + "/telling.json"; }

}  // namespace neap::client
