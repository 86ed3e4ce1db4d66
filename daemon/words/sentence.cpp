#include <cmath>
#include <optional>

#include "daemon/core/request.h"
#include "daemon/words/figures.h"
#include "daemon/words/words.h"

namespace neap::words {
namespace {

// An argument as the number of an enumerator; nothing when it is not one.
std::optional<std::size_t> ordinal(double v, std::size_t count) {
  if (!(v >= 0 && v < static_cast<double>(count)) || v != std::floor(v)) return std::nullopt;
  return static_cast<std::size_t>(v);
}

std::string point_title(double v) {
  const auto number = ordinal(v, kPointSlots);
  for (const auto& row : kPoints)
    if (number && slot(row.point) == *number) return std::string{row.title};
  return "a probe";
}

std::string output_title(double v) {
  const auto number = ordinal(v, kOutputCount);
  return number ? std::string{kOutputs[*number].title} : "an output";
}

std::string latch_name(double v) {
  const auto number = ordinal(v, kLatchCount);
  return number ? std::string{kLatches[*number].name} : "unknown";
}

std::string alarm_name(double v) {
  const auto number = ordinal(v, kAlarmCount);
  return number ? std::string{kAlarms[*number].name} : "unknown";
}

std::string fault_name(double v) {
  const auto number = ordinal(v, 256);
  return std::string{name(static_cast<Fault>(number.value_or(255)))};
}

std::string date_of(double v) {
  constexpr double kFarAway = 3e6;  // days; beyond it a date is no date
  if (!(std::abs(v) < kFarAway)) return "no date";
  return civil_date(static_cast<std::int32_t>(v));
}

std::string time_of(double v) {
  if (!(v >= 0 && v <= kSecondsPerDay)) return "no time";
  return clock_time(static_cast<std::int32_t>(v) % kSecondsPerDay);
}

std::string duration_of(double s) {
  constexpr double kFarAway = 1e12;  // seconds
  if (!(std::abs(s) < kFarAway)) return "no time";
  return duration(Millis{std::llround(s * 1000)});
}

// One place of a template, "0:.2f", as text. A format it does not know is a defect of the table and
// shows as the raw place, which tests/core/words_test looks for.
std::string place(std::string_view inside, const Because& because, const Style& style) {
  const std::string raw = "{" + std::string{inside} + "}";
  if (inside.size() < 3 || inside[1] != ':') return raw;
  const auto index = static_cast<std::size_t>(inside[0] - '0');
  if (index >= because.args.size()) return raw;
  const double v = because.args[index];
  const std::string_view format = inside.substr(2);
  if (format.size() == 3 && format[0] == '.' && format[2] == 'f' && format[1] >= '0' &&
      format[1] <= '9')
    return decimals(v, format[1] - '0');
  if (format.size() != 1) return raw;
  switch (format[0]) {
    case 'd':
      return decimals(v, 0);
    case 't':
      return duration_of(v);
    case 'c':
      return temperature(v, style);
    case 'k':
      return temperature_difference(v, style);
    case 'o':
      return output_title(v);
    case 'p':
      return point_title(v);
    case 'l':
      return latch_name(v);
    case 'a':
      return alarm_name(v);
    case 'f':
      return fault_name(v);
    case 'y':
      return date_of(v);
    case 'h':
      return time_of(v);
    default:
      return raw;
  }
}

// Whether any argument that the text names is other than zero.
bool says_something(std::string_view text, const Because& because) {
  for (std::size_t i = 0; i < because.args.size(); ++i) {
    const std::string opening = "{" + std::to_string(i) + ":";
    if (because.args[i] != 0 && text.find(opening) != std::string_view::npos) return true;
  }
  return false;
}

// ": why", or nothing when there is no reason.
std::string why(const Because& because, const Style& style) {
  if (because.reason == Reason::none) return {};
  return ": " + sentence(because, style);
}

std::string slot_words(const SlotId& id) {
  if (id.number == 0) return "flood";
  return "flood " + std::to_string(id.number) + " of " + civil_date(id.date);
}

std::string cycle_words(const CycleRow& row, const Style& style) {
  std::string text = slot_words(row.slot) + " " + std::string{name(row.outcome)} + ": fill " +
                     duration(row.fill) + ", soak " + duration(row.soak) + ", drain " +
                     duration(row.drain);
  if (row.litres_known)
    text +=
        ", " + volume(row.litres_out, style) + " out, " + volume(row.litres_back, style) + " back";
  return text;
}

std::string settled_words(const CycleRow& row, const Style& style) {
  std::string text = slot_words(row.slot) + " settled";
  if (row.litres_known)
    text += ": " + volume(row.litres_out - row.litres_back, style) + " stayed in the tray";
  if (!row.dip_known) return text;
  text += ", VPD " + decimals(row.vpd_before_kpa, 2) + " kPa fell to " +
          decimals(row.vpd_lowest_kpa, 2) + " kPa, ";
  if (!row.recovered) return text + "not back in band";
  return text + "back in band " + duration(row.recovery) + " after the pump stopped";
}

std::string share(Millis part, Millis whole) {
  if (whole <= Millis{0}) return "not known";
  return decimals(100.0 * static_cast<double>(part.count()) / static_cast<double>(whole.count()),
                  0) +
         " %";
}

std::string day_words(const DayTally& day) {
  return "day " + civil_date(day.date) + ": VPD in band " + share(day.day_in_band, day.day_known) +
         " by day, " + share(day.night_in_band, day.night_known) + " by night, " +
         std::to_string(day.floods_complete) + " of " + std::to_string(day.floods_planned) +
         " floods complete";
}

// What was asked for, as it is typed. Without `about` it is not told which stage or alarm.
std::string asked_words(const Event& event, std::string_view about) {
  const std::string named = about.empty() ? std::string{} : " " + std::string{about};
  const std::string output{info(event.output).name};
  switch (static_cast<RequestKind>(event.number)) {
    case RequestKind::flood_start:
      return "flood start";
    case RequestKind::flood_stop:
      return "flood stop";
    case RequestKind::hold:
      return "hold " + output + " " + level(event.output, event.level);
    case RequestKind::release:
      return "release " + output;
    case RequestKind::acknowledge:
      return "ack" + named;
    case RequestKind::shelve:
      return "shelve " + std::string{info(event.alarm).name};
    case RequestKind::reset_latch:
      return "reset " + std::string{info(event.latch).name};
    case RequestKind::service_begin:
      return "service begin";
    case RequestKind::service_end:
      return "service end";
    case RequestKind::enter_stage:
      return "stage" + named;
    case RequestKind::step_test_start:
      return "step-test " + output;
    case RequestKind::step_test_stop:
      return "step-test stop";
    case RequestKind::proof_test:
      return "proof" + named;
    case RequestKind::calibrate:
      return "calibrate" + named;
  }
  return {};
}

std::string request_words(const Event& event, const Style& style, std::string_view about) {
  const std::string asked = asked_words(event, about);
  const bool button = event.request_id == kButtonRequest;
  return (button ? std::string{"button"} : "request " + std::to_string(event.request_id)) +
         (asked.empty() ? std::string{} : " (" + asked + ")") +
         (event.accepted ? " accepted" : " refused") +
         (event.because.reason == Reason::request_accepted ? std::string{}
                                                           : why(event.because, style));
}

// People count stages from 1.
std::string stage_words(const Event& event, std::string_view about) {
  const std::string number = std::to_string(event.number + 1);
  return about.empty() ? "stage number " + number + " in force"
                       : "stage " + std::string{about} + " in force, number " + number;
}

std::string fault_words(const Event& event, const Style& style, std::string_view about) {
  return "fault " + (about.empty() ? std::string{} : std::string{about} + " ") +
         (event.number == 1 ? "begun" : "ended") + why(event.because, style);
}

std::string alarm_words(const Event& event, const Style& style) {
  const AlarmInfo& row = info(event.alarm);
  std::string text = "alarm " + std::string{row.name} + " " + std::string{name(event.alarm_to)};
  // Why it was raised says nothing about why it ended.
  if (event.alarm_to == AlarmState::unacknowledged) text += why(event.because, style);
  return text;
}

}  // namespace

std::string filled(std::string_view text, const Because& because, const Style& style) {
  std::string out;
  while (true) {
    const std::size_t open = text.find('{');
    const std::size_t close = open == std::string_view::npos ? open : text.find('}', open);
    if (close == std::string_view::npos) return out += text;
    out += text.substr(0, open);
    out += place(text.substr(open + 1, close - open - 1), because, style);
    text.remove_prefix(close + 1);
  }
}

std::string sentence(const Because& because, const Style& style) {
  const std::string_view text = info(because.reason).text;
  const std::size_t open = text.find('[');
  if (open == std::string_view::npos) return filled(text, because, style);
  const std::size_t close = text.find(']', open);
  const std::string_view optional = text.substr(open + 1, close - open - 1);
  return filled(text.substr(0, open), because, style) +
         (says_something(optional, because) ? filled(optional, because, style) : std::string{}) +
         filled(text.substr(close + 1), because, style);
}

std::string sentence(const Event& event, const Style& style, std::string_view about) {
  const std::string reason = why(event.because, style);
  switch (event.kind) {
    case EventKind::actuation:
      return std::string{info(event.output).title} + " " + level(event.output, event.level) +
             reason;
    case EventKind::alarm:
      return alarm_words(event, style);
    case EventKind::latch_set:
      return "latch " + std::string{info(event.latch).name} + " set" + reason;
    case EventKind::latch_reset:
      return "latch " + std::string{info(event.latch).name} + " reset" + reason;
    case EventKind::flood_phase:
      return "flood phase " + std::string{name(event.phase)} + reason;
    case EventKind::cycle_closed:
      return cycle_words(event.cycle, style);
    case EventKind::cycle_settled:
      return settled_words(event.cycle, style);
    case EventKind::would_actuate:
      return "neap would have the " + std::string{info(event.output).title} + " " +
             level(event.output, event.level) + reason;
    case EventKind::would_flood:
      return reason.empty() ? "neap would flood now: " + slot_words(event.slot)
                            : "neap would withhold " + slot_words(event.slot) + reason;
    case EventKind::slot_skipped:
      return slot_words(event.slot) + " skipped" + reason;
    case EventKind::stage:
      return stage_words(event, about);
    case EventKind::targets:
      return "targets changed" + reason;
    case EventKind::reading_state:
      // The reason names the point; without one the event does.
      return reason.empty() ? std::string{info(event.point).title} + " changed"
                            : sentence(event.because, style);
    case EventKind::request:
      return request_words(event, style, about);
    case EventKind::time:
      return "time" + reason;
    case EventKind::service:
      return event.number == 1 ? "service begun" + reason : "service ended" + reason;
    case EventKind::day_closed:
      return day_words(event.day);
    case EventKind::boot:
    case EventKind::settings:
    case EventKind::proof_test:
    case EventKind::hand_measurement:
    case EventKind::calibration:
      return sentence(event.because, style);
    case EventKind::client:
      return "client" + reason;
    case EventKind::fault:
      return fault_words(event, style, about);
    case EventKind::step_test:
      return "step test of the " + std::string{info(event.output).title} +
             (event.number == 1 ? " begun" : " ended") + reason;
  }
  return "unknown event";
}

}  // namespace neap::words
