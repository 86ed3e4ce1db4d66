#include "daemon/tell/news.h"

#include <algorithm>

namespace neap::tell {
namespace {

std::string titled(std::string_view title) {
  std::string text(title);
  if (text.front() >= 'a' && text.front() <= 'z')
    text.front() = static_cast<char>(text.front() - 'a' + 'A');
  return text;
}

// "Flood withheld: leak probe on the floor is wet; roots safe until about 19:40"
std::string told(const AlarmInfo& alarm, const Because& because, const words::Style& style) {
  std::string text = titled(alarm.title);
  const std::string why = words::sentence(because, style);
  if (because.reason != Reason::none && !why.empty() && why != alarm.title) text += ": " + why;
  return text;
}

Message of(const AlarmInfo& row, Kind kind, const journal::Stamp& at) {
  Message message;
  message.kind = kind;
  message.priority = row.priority;
  message.at_unix_ms = at.unix_ms.value_or(0);
  message.subject = row.name;
  return message;
}

bool stands(AlarmState state) {
  return state == AlarmState::unacknowledged || state == AlarmState::acknowledged;
}

}  // namespace

std::string clock_of(const journal::Stamp& stamp) {
  if (!stamp.unix_ms) return "a time not known";
  return words::local_time(*stamp.unix_ms, stamp.utc_offset_s).substr(11, 5);
}

std::optional<Message> news_of(const journal::EventRow& row, const words::Style& style) {
  const Event& event = row.event;
  if (event.kind != EventKind::alarm) return std::nullopt;
  const AlarmInfo& alarm = info(event.alarm);
  const bool stood = stands(event.alarm_from);
  if (event.alarm_to == AlarmState::unacknowledged && !stood) {
    Message message = of(alarm, Kind::alarm, row.at);
    message.wakes = wakes_people(event.alarm);
    message.text = told(alarm, event.because, style);
    message.remedy = alarm.remedy;
    return message;
  }
  const bool over = event.alarm_to == AlarmState::normal || event.alarm_to == AlarmState::returned;
  if (!stood || !over) return std::nullopt;
  Message message = of(alarm, Kind::cleared, row.at);
  message.text = "over at " + clock_of(row.at) + ": " + std::string(alarm.title);
  return message;
}

Message standing(const journal::AlarmSpan& span, Kind kind, const words::Style& style) {
  const AlarmInfo& alarm = info(span.alarm);
  Message message = of(alarm, kind, span.raised);
  message.wakes = wakes_people(span.alarm);
  message.text = told(alarm, span.because, style) + "; stands since " + clock_of(span.raised);
  message.remedy = alarm.remedy;
  return message;
}

std::vector<journal::AlarmSpan> Reminders::due(
    const std::vector<journal::AlarmSpan>& unacknowledged, Millis every, Now now) {
  std::vector<journal::AlarmSpan> found;
  std::vector<Next> next;
  for (const journal::AlarmSpan& span : unacknowledged) {
    const auto known = std::find_if(next_.begin(), next_.end(), [&](const Next& n) {
      return n.alarm == span.alarm && n.raised_tick == span.raised.tick;
    });
    Next row = known == next_.end()
                   ? Next{span.alarm, span.raised.tick, now.steady_ms + every.count()}
                   : *known;
    if (now.steady_ms >= row.at_ms) {
      found.push_back(span);
      row.at_ms = now.steady_ms + every.count();
    }
    next.push_back(row);
  }
  next_ = std::move(next);
  return found;
}

}  // namespace neap::tell
