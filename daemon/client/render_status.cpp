#include <algorithm>

#include "daemon/client/measures.h"
#include "daemon/client/peek.h"
#include "daemon/client/render.h"
#include "daemon/words/figures.h"

namespace neap::client {
namespace {

using nlohmann::json;
using Side = Table::Side;

std::string line(const Look& look, Tone tone, const std::string& text) {
  return toned(look, tone, wrapped(text, look.width, 2)) + "\n";
}

std::string head(const json& status, const Look& look) {
  std::string title = text_at(status, "/name");
  const auto unix_ms = number_at(status, "/unix_ms");
  const auto offset = number_at(status, "/utc_offset_s");
  if (unix_ms && offset)
    title += ", " + words::local_time(static_cast<std::int64_t>(*unix_ms),
                                      static_cast<std::int32_t>(*offset));
  if (const std::string quality = text_at(status, "/time_quality");
      !quality.empty() && quality != "synchronised")
    title += ", time " + quality;
  if (const std::string hands = hands_text(status); !hands.empty()) title += ", " + hands;
  std::string out = line(look, Tone::quiet, title);
  const Verdict verdict = verdict_of(status);
  out += line(look, verdict.tone, verdict.text);
  if (at(status, "/stopped") == nullptr) return out;
  const std::string last = text_at(status, "/stopped/last");
  return out + line(look, Tone::bad, text_at(status, "/stopped/why")) +
         line(look, Tone::plain,
              last.empty() ? "The journal knows nothing."
                           : "What follows is what the journal knew last, at " + last + ".");
}

std::string flood(const json& status, const Look& look) {
  const std::string phase = text_at(status, "/flood/phase");
  std::string text;
  if (!phase.empty()) {
    text = phase == "idle" ? "No flood under way" : "Flood: " + phase;
    if (const auto since = length_at(status, "/flood/since_s"))
      text += " for " + words::duration(*since);
  }
  const json* demand = at(status, "/flood/demand");
  const std::string by_demand = demand == nullptr ? std::string() : demand_text(*demand);
  const auto in = length_at(status, "/flood/next/in_s");
  const auto at_second = number_at(status, "/flood/next/start_second");
  const auto number = number_at(status, "/flood/next/number");
  if (in && at_second && number)
    text += std::string(text.empty() ? "" : "; ") +
            (text_at(status, "/flood/hand") == "another" ? "neap's own flood " : "flood ") +
            words::decimals(*number, 0) + " in " + words::duration(*in) +
            (by_demand.empty() ? ", at " : ", about ") +
            words::clock_time(static_cast<std::int32_t>(*at_second)) +
            (true_at(status, "/flood/next/moved") ? " (moved by quiet hours)" : "");
  const std::string withheld = text_at(status, "/flood/withheld/text");
  if (!withheld.empty()) text += "; withheld: " + withheld;
  return text.empty() ? text : line(look, Tone::plain, text);
}

std::string next(const json& status, const Look& look) {
  const std::string text = next_event_text(status);
  return text.empty() ? text : line(look, Tone::plain, "Next: " + text);
}
// Of what is in another hand neap says what it would do.
std::string because_of(const json& output) {
  const json* would = at(output, "/would_be");
  if (would == nullptr || !would->is_object()) return text_at(output, "/reason/text");
  return "in another hand; neap would: " + text_at(*would, "/word") + ", " +
         text_at(*would, "/reason/text");
}

std::string outputs(const json& status, const Look& look) {
  Table table({Side::left, Side::left, Side::left});
  table.head({"output", "level", "because"});
  for (const OutputRow& row : output_rows(status)) table.add({row.output, row.level, row.because});
  return table.empty() ? std::string() : "\n" + table.text(look, look.width);
}

std::string readings(const json& status, const Look& look) {
  Table table({Side::left, Side::right, Side::left});
  table.head({"point", "reading", ""});
  const bool stopped = at(status, "/stopped") != nullptr;  // then all of them are old
  for (const json& reading : list_at(status, "/readings")) {
    const std::string quality = text_at(reading, "/quality");
    const std::string fault = text_at(reading, "/fault");
    const bool good = quality == "good" || (stopped && fault.empty());
    table.add({text_at(reading, "/point"), good || fault.empty() ? text_at(reading, "/text") : "-",
               good ? Cell{} : Cell{fault.empty() ? quality : fault, Tone::warning}});
  }
  return table.empty() ? std::string() : "\n" + table.text(look, look.width);
}

// "By hand: pH 5.90, 2 h ago; EC 1.60 mS/cm, 4 d ago and too old to go by."
std::string by_hand(const json& status, const Look& look) {
  std::string text;
  for (const json& one : list_at(status, "/by_hand")) {
    const HandInfo* hand = find_hand(text_at(one, "/quantity"));
    const auto value = number_at(one, "/value");
    if (hand == nullptr || !value) continue;
    const auto age = length_at(one, "/age_s");
    text += (text.empty() ? "By hand: " : "; ") + hand_text(hand->hand, *value) +
            (age ? ", " + words::duration(*age) + " ago" : std::string(", of a day not known")) +
            (age && !true_at(one, "/in_force") ? " and too old to go by" : "");
  }
  return text.empty() ? text : "\n" + line(look, Tone::plain, text);
}

Tone tone_of(const json& alarm) {
  const std::string priority = text_at(alarm, "/priority");
  return priority == "critical" || priority == "high" || priority == "medium" ? Tone::bad
                                                                              : Tone::warning;
}

}  // namespace

std::vector<OutputRow> output_rows(const json& status) {
  std::vector<OutputRow> rows;
  for (const json& output : list_at(status, "/outputs"))
    rows.push_back({text_at(output, "/output"),
                    at(output, "/would_be") != nullptr ? "not driven" : text_at(output, "/word"),
                    because_of(output)});
  return rows;
}

std::string wanted_text(const json& status, const Look& look) {
  std::string out;
  const auto figure = [&](const char* path, int digits) {
    const auto value = number_at(status, path);
    return value ? words::decimals(*value, digits) : std::string("?");
  };
  const auto degrees = [&](const char* path) {
    const auto value = number_at(status, path);
    return value ? words::temperature(*value, look.style) : std::string("?");
  };
  if (at(status, "/targets") == nullptr) return out;
  out += line(look, Tone::plain,
              "Wanted " + text_at(status, "/targets/band_of") + " VPD " +
                  figure("/targets/low_kpa", 2) + " to " + figure("/targets/high_kpa", 2) +
                  " kPa, air " + degrees("/targets/air_lowest_c") + " to " +
                  degrees("/targets/air_highest_c") + ", humidity to " +
                  figure("/targets/humidity_ceiling", 0) + " %");
  const std::string binding = text_at(status, "/binding");
  const std::string diagnosis = text_at(status, "/diagnosis/text");
  if (!binding.empty() && binding != "nothing" && text_at(status, "/verdict/text") != diagnosis)
    out += line(look, Tone::warning, "Held back: " + diagnosis);
  if (const std::string cures = cures_text(status); !cures.empty())
    out += line(look, Tone::plain, "Would do as well: " + cures);
  return out;
}

std::string stage_text(const json& status, const Look& look) {
  const auto day = number_at(status, "/stage/day");
  const auto days = number_at(status, "/stage/days");
  if (text_at(status, "/stage/name").empty()) return {};
  std::string text = "Stage " + text_at(status, "/stage/name");
  if (day) text += ", day " + words::decimals(*day, 0);
  if (day && days && *days > 0) text += " of " + words::decimals(*days, 0);
  text += true_at(status, "/day") ? ", light period" : ", dark period";
  if (true_at(status, "/stage/due")) text += "; its days are over: confirm the next one";
  return line(look, Tone::plain, text);
}

std::string water_limits_text(const json& status, const Look& look) {
  std::string out;
  if (const json* roots = at(status, "/flood/roots"); roots != nullptr && roots->is_object())
    out += line(look, true_at(*roots, "/in_want") ? Tone::bad : Tone::plain, roots_text(*roots));
  if (const json* demand = at(status, "/flood/demand"); demand != nullptr)
    if (const std::string text = demand_text(*demand); !text.empty())
      out += line(look, Tone::plain, text);
  const auto hour = length_at(status, "/budget/hour_s");
  const auto hour_limit = length_at(status, "/budget/hour_limit_s");
  const auto day = length_at(status, "/budget/day_s");
  const auto day_limit = length_at(status, "/budget/day_limit_s");
  if (hour && hour_limit && day && day_limit)
    out += line(look, Tone::plain,
                "Pump ran " + words::duration(*hour) + " of " + words::duration(*hour_limit) +
                    " this hour, " + words::duration(*day) + " of " + words::duration(*day_limit) +
                    " in 24 h");
  return out;
}

std::string standing_text(const json& status, const Look& look) {
  std::string out;
  for (const json& latch : list_at(status, "/latches"))
    out += line(look, Tone::bad,
                "Latched: " + text_at(latch, "/title") + "; when its cause is gone, neap reset " +
                    text_at(latch, "/latch"));
  for (const json& hold : list_at(status, "/holds")) {
    const auto left = length_at(hold, "/left_s");
    out += line(look, Tone::warning,
                "Held: " + text_at(hold, "/output") + " " + text_at(hold, "/word") +
                    (left ? ", " + words::duration(*left) + " left" : std::string()));
  }
  if (at(status, "/service") != nullptr) {
    const auto left = length_at(status, "/service/left_s");
    out += line(
        look, Tone::warning,
        "Service: floods wait" + (left ? ", " + words::duration(*left) + " left" : std::string()));
  }
  if (const json* test = at(status, "/step_test"); test != nullptr && test->is_object()) {
    const auto figure = [&](const char* path) {
      return words::decimals(number_at(*test, path).value_or(0), 0);
    };
    const auto left = length_at(*test, "/left_s");
    out += line(look, Tone::warning,
                "Step test of the " + text_at(*test, "/title") + ": step " + figure("/step") +
                    " of " + figure("/steps") +
                    (left ? ", " + words::duration(*left) + " left" : std::string()));
  }
  return out;
}

std::string to_do_text(const json& status, const Look& look) {
  std::string out;
  for (const json& item : list_at(status, "/advice"))
    if (item.is_string())
      out += line(look, Tone::strong, "To do: " + words::printable(item.get<std::string>()));
  for (const json& item : list_at(status, "/care"))
    out += line(look, Tone::warning, "Care is due: " + words::printable(item.get<std::string>()));
  return out;
}

std::string readings_text(const json& status, const Look& look) {
  return readings(status, look) + by_hand(status, look);
}

std::string render_status(const json& status, const Look& look) {
  const Margin margin = margin_of(status);
  return head(status, look) + line(look, margin.tone, margin.text) + wanted_text(status, look) +
         stage_text(status, look) + flood(status, look) + water_limits_text(status, look) +
         next(status, look) + standing_text(status, look) + to_do_text(status, look) +
         outputs(status, look) + readings_text(status, look);
}

std::string render_alarms(const json& alarms, const Look& look) {
  std::string out;
  for (const json& alarm : list_at(alarms, "/alarms")) {
    const auto since = length_at(alarm, "/since_s");
    out += line(look, tone_of(alarm),
                text_at(alarm, "/alarm") + ": " + text_at(alarm, "/state") + ", " +
                    text_at(alarm, "/priority") + " priority" +
                    (since ? ", for " + words::duration(*since) : std::string()));
    out += "  " + wrapped(text_at(alarm, "/reason/text"), look.width - 2, 2) + "\n";
    if (const std::string root = text_at(alarm, "/follows"); !root.empty())
      out += "  because of " + root + "\n";
    out += "  " + wrapped("To do: " + text_at(alarm, "/remedy"), look.width - 2, 2) + "\n";
  }
  return out.empty() ? "No alarms.\n" : out;
}

}  // namespace neap::client
