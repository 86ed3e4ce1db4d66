// Parts that the short and the long status share.
#include <algorithm>
#include <cctype>

#include "daemon/client/peek.h"
#include "daemon/client/render.h"
#include "daemon/words/figures.h"

namespace neap::client {
namespace {

using nlohmann::json;

const json* banded_reading(const json& status) {
  const bool leaf = text_at(status, "/targets/band_of") == "leaf";
  for (const json& reading : list_at(status, "/readings"))
    if (text_at(reading, "/point") == (leaf ? "leaf.vpd" : "canopy.vpd")) return &reading;
  return nullptr;
}

std::string kilopascals(double v) { return words::decimals(v, 2) + " kPa"; }

bool has_value(const json& reading) { return number_at(reading, "/value").has_value(); }

}  // namespace

std::string hands_text(const json& status) {
  const json& outputs = list_at(status, "/outputs");
  const auto in_another = std::count_if(outputs.begin(), outputs.end(), [](const json& output) {
    return text_at(output, "/hand") == "another";
  });
  if (in_another == 0) return {};
  if (in_another == static_cast<std::ptrdiff_t>(outputs.size()))
    return "observing: nothing is driven";
  return std::to_string(in_another) + " of " + std::to_string(outputs.size()) +
         " outputs in another hand";
}

Seen air_seen(const json& status) {
  const json& all = list_at(status, "/readings");
  const json* reading = banded_reading(status);
  if (reading == nullptr)
    return std::any_of(all.begin(), all.end(), has_value) ? Seen::known : Seen::not_yet;
  if (has_value(*reading)) return Seen::known;
  return text_at(*reading, "/fault") == words::name(Fault::never_read) ? Seen::not_yet : Seen::lost;
}

std::string roots_text(const json& roots) {
  const std::string text = text_at(roots, "/reason/text");
  if (text.empty()) return {};
  return static_cast<char>(std::toupper(static_cast<unsigned char>(text.front()))) + text.substr(1);
}

std::string demand_text(const json& demand) {
  const auto used = number_at(demand, "/used_kpa_h");
  const auto amount = number_at(demand, "/amount_kpa_h");
  const auto expected = number_at(demand, "/expected_second");
  const auto latest = number_at(demand, "/latest_second");
  if (!used || !amount || !expected || !latest) return {};
  const auto clock = [](double second) {
    return words::clock_time(static_cast<std::int32_t>(second));
  };
  const std::string so_far = true_at(demand, "/blind") ? std::string("VPD not known")
                                                       : words::decimals(*used, 1) + " of " +
                                                             words::decimals(*amount, 1) + " kPa h";
  return "By demand: " + so_far + "; the next flood " +
         (*expected == *latest
              ? "at " + clock(*latest) + ", the latest"
              : "about " + clock(*expected) + ", by " + clock(*latest) + " at the latest");
}

std::string next_event_text(const json& status) {
  const auto in = length_at(status, "/next_event/in_s");
  const std::string event = text_at(status, "/next_event/text");
  if (!in || event.empty()) return {};
  // The time of a flood that nothing lets start would be a promise that is not kept.
  if (event.rfind("flood", 0) == 0 && at(status, "/flood/withheld") != nullptr)
    return event + " (withheld)";
  return event + " in " + words::duration(*in);
}

Margin margin_of(const json& status) {
  const auto low = number_at(status, "/targets/low_kpa");
  const auto high = number_at(status, "/targets/high_kpa");
  const json* reading = banded_reading(status);
  if (reading == nullptr) return {"VPD is not measured", Tone::warning};
  const auto vpd = number_at(*reading, "/value");
  if (!vpd) {
    const std::string fault = text_at(*reading, "/fault");
    return {"VPD not known" + (fault.empty() ? "" : ": " + fault), Tone::bad};
  }
  if (!low || !high) return {"VPD " + kilopascals(*vpd), Tone::plain};
  const std::string now = "VPD " + kilopascals(*vpd) + ", ";
  if (*vpd < *low) return {now + kilopascals(*low - *vpd) + " under the band", Tone::warning};
  if (*vpd > *high) return {now + kilopascals(*vpd - *high) + " over the band", Tone::warning};
  const bool nearer_low = *vpd - *low <= *high - *vpd;
  return {now + kilopascals(nearer_low ? *vpd - *low : *high - *vpd) +
              (nearer_low ? " to its low edge" : " to its high edge"),
          Tone::good};
}

std::string cures_text(const json& answer) {
  std::string text;
  for (const json& cure : list_at(answer, "/cures")) {
    if (!text.empty()) text += ", or ";
    text += text_at(cure, "/text");
  }
  return text;
}

Verdict verdict_of(const json& status) {
  if (at(status, "/stopped") != nullptr) return {"neapd does not run", Tone::bad};
  std::string text = text_at(status, "/verdict/text");
  if (text.empty()) return {"no verdict", Tone::warning};
  text.front() = static_cast<char>(std::toupper(static_cast<unsigned char>(text.front())));
  const bool latched = !list_at(status, "/latches").empty();
  if (!true_at(status, "/verdict/ok")) return {text, Tone::bad};
  const bool plain =
      list_at(status, "/alarms").empty() && !latched && text_at(status, "/binding") == "nothing";
  return {text, plain ? Tone::good : Tone::warning};
}

}  // namespace neap::client
