#include "daemon/tell/outbox.h"

#include <algorithm>
#include <array>

namespace neap::tell {
namespace {

constexpr std::int64_t kHourMs = 3'600'000;

bool urgent(const Mailbox& box) {
  return std::any_of(box.waiting.begin(), box.waiting.end(),
                     [](const Waiting& w) { return w.message.wakes; });
}

// Neither an alarm by itself nor under the priority that this hook is for.
bool is_for(const settings::Hook& hook, const Message& message) {
  if (message.kind == Kind::daily) return hook.daily;
  if (message.kind == Kind::proof) return !hook.daily;
  return message.priority >= hook.from;
}

Waiting* find(Mailbox& box, Kind kind, const std::string& subject) {
  const auto found = std::find_if(box.waiting.begin(), box.waiting.end(), [&](const Waiting& w) {
    return w.message.kind == kind && w.message.subject == subject;
  });
  return found == box.waiting.end() ? nullptr : &*found;
}

// True when what waits already says it.
bool folded(Mailbox& box, const Message& message) {
  switch (message.kind) {
    case Kind::reminder:
      return find(box, Kind::alarm, message.subject) != nullptr ||
             find(box, Kind::reminder, message.subject) != nullptr;
    case Kind::cleared:
      if (Waiting* told = find(box, Kind::alarm, message.subject)) {
        told->message.text += "; " + message.text;
        told->message.remedy.clear();
        told->message.kind = Kind::cleared;  // one that is over: a new one is another
        return true;
      }
      std::erase_if(box.waiting, [&](const Waiting& w) {
        return w.message.kind == Kind::reminder && w.message.subject == message.subject;
      });
      return false;
    case Kind::daily:
    case Kind::proof:
    case Kind::heartbeat:
      // The newer one says what the older one would have.
      std::erase_if(box.waiting, [&](const Waiting& w) { return w.message.kind == message.kind; });
      return false;
    case Kind::alarm:
    case Kind::silence:
    case Kind::back:
    case Kind::trouble:
      break;
  }
  return false;
}

std::int64_t pause_after(int failures) {
  std::int64_t pause = kFirstPauseMs;
  for (int i = 1; i < failures && pause < kLongestPauseMs; ++i) pause *= 2;
  return std::min(pause, kLongestPauseMs);
}

// When the limits of starts allow the next one.
std::int64_t allowed_from(const Mailbox& box, const settings::Hook& hook) {
  std::int64_t from = box.not_before.value_or(INT64_MIN);
  if (!box.starts_ms.empty()) from = std::max(from, box.starts_ms.back() + kApartMs);
  const auto most = static_cast<std::size_t>(hook.most_an_hour);
  // Heartbeats have a limit of their own, their period; without one the watcher would ring.
  const bool limited = hook.tells != settings::HookTells::heartbeat && !urgent(box);
  if (limited && box.starts_ms.size() >= most)
    from = std::max(from, box.starts_ms[box.starts_ms.size() - most] + kHourMs);
  return from;
}

}  // namespace

std::string_view name(Kind kind) {
  constexpr std::array<std::string_view, kKindCount> kNames{
      "alarm", "reminder", "cleared", "silence", "back", "trouble", "daily", "proof", "heartbeat"};
  return kNames[static_cast<std::size_t>(kind)];
}

void put(Mailbox& box, const settings::Hook& hook, const Message& message, Now now) {
  if ((hook.tells == settings::HookTells::heartbeat) != (message.kind == Kind::heartbeat)) return;
  if (!is_for(hook, message) && message.kind != Kind::heartbeat) return;
  if (folded(box, message)) return;
  if (message.wakes && box.not_before)
    box.not_before = std::min(*box.not_before, now.steady_ms + kUrgentPauseMs);
  box.waiting.push_back({message, std::nullopt});
  if (box.waiting.size() <= kMostWaiting) return;
  // The least urgent of the oldest makes room.
  const auto least = std::min_element(
      box.waiting.begin(), box.waiting.end(),
      [](const Waiting& a, const Waiting& b) { return a.message.priority < b.message.priority; });
  box.waiting.erase(least);
  ++box.lost;
}

void expire(Mailbox& box, const settings::Hook& hook, Now now) {
  const auto too_old = [&](const Waiting& w) {
    return w.tried_from_ms && now.steady_ms - *w.tried_from_ms >= hook.try_for.count();
  };
  box.lost += static_cast<int>(std::erase_if(box.waiting, too_old));
}

std::optional<Delivery> due(const Mailbox& box, const settings::Hook& hook, bool quiet, Now now) {
  if (box.waiting.empty() || now.steady_ms < allowed_from(box, hook)) return std::nullopt;
  Delivery delivery;
  for (std::size_t i = 0; i < box.waiting.size(); ++i) {
    const Message& message = box.waiting[i].message;
    const bool silent = message.kind == Kind::heartbeat || message.kind == Kind::proof;
    if (!quiet || message.wakes || silent) delivery.of.push_back(i);
  }
  if (delivery.of.empty()) return std::nullopt;
  for (const std::size_t i : delivery.of) delivery.items.push_back(box.waiting[i].message);
  std::stable_sort(delivery.items.begin(), delivery.items.end(),
                   [](const Message& a, const Message& b) {
                     return a.wakes != b.wakes ? a.wakes : a.priority > b.priority;
                   });
  if (delivery.items.size() > kTogether) {
    delivery.more = delivery.items.size() - kTogether;
    delivery.items.resize(kTogether);
  }
  delivery.lost = box.lost;
  return delivery;
}

void started(Mailbox& box, const Delivery& delivery, Now now) {
  for (const std::size_t place : delivery.of)
    if (!box.waiting[place].tried_from_ms) box.waiting[place].tried_from_ms = now.steady_ms;
  std::erase_if(box.starts_ms, [&](std::int64_t at) { return now.steady_ms - at >= kHourMs; });
  box.starts_ms.push_back(now.steady_ms);
}

void delivered(Mailbox& box, const Delivery& delivery, Now now) {
  for (auto place = delivery.of.rbegin(); place != delivery.of.rend(); ++place)
    box.waiting.erase(box.waiting.begin() + static_cast<std::ptrdiff_t>(*place));
  box.lost -= delivery.lost;
  box.failed.reset();
  box.not_before.reset();
  box.delivered_unix_ms = now.unix_ms;
}

void failed(Mailbox& box, const std::string& why, Now now) {
  if (!box.failed) box.failed = Failed{now.unix_ms, {}, 0};
  box.failed->why = why;
  ++box.failed->times;
  if (std::erase_if(box.waiting,
                    [](const Waiting& w) { return w.message.kind == Kind::heartbeat; }) > 0)
    return;
  const std::int64_t pause = pause_after(box.failed->times);
  box.not_before = now.steady_ms + (urgent(box) ? std::min(pause, kUrgentPauseMs) : pause);
}

}  // namespace neap::tell
