#include <algorithm>
#include <vector>

#include "daemon/client/peek.h"
#include "daemon/client/render.h"
#include "daemon/words/figures.h"

namespace neap::client {
namespace {

using nlohmann::json;

// Lines that never leave the telephone's screen.
class Page {
 public:
  explicit Page(const Look& look) : look_(look) {}

  void add(Tone tone, const std::string& text, std::size_t indent = 2) {
    std::string rest = wrapped(text, kPhoneWidth, indent);
    while (!rest.empty()) {
      const std::size_t end = std::min(rest.find('\n'), rest.size());
      lines_.push_back({tone, rest.substr(0, end)});
      rest.erase(0, std::min(end + 1, rest.size()));
    }
  }
  // At most `most` lines of it, the last one ending in "..".
  void add_some(Tone tone, const std::string& text, std::size_t most) {
    const std::size_t before = lines_.size();
    add(tone, text);
    if (lines_.size() <= before + most) return;
    lines_.resize(before + most);
    lines_.back().text = clipped(lines_.back().text + " ....", kPhoneWidth);
  }
  std::size_t room() const { return kPhoneLines - std::min(kPhoneLines, lines_.size()); }

  std::string text() const {
    std::string out;
    for (std::size_t i = 0; i < std::min(lines_.size(), kPhoneLines); ++i)
      out += toned(look_, lines_[i].tone, lines_[i].text) + "\n";
    return out;
  }

 private:
  struct Line {
    Tone tone;
    std::string text;
  };
  const Look& look_;
  std::vector<Line> lines_;
};

std::string clock_of(const json& status) {
  const auto unix_ms = number_at(status, "/unix_ms");
  const auto offset = number_at(status, "/utc_offset_s");
  if (!unix_ms || !offset) return {};
  const std::string local =
      words::local_time(static_cast<std::int64_t>(*unix_ms), static_cast<std::int32_t>(*offset));
  return local.substr(0, 16);
}

void head(const json& status, Page& page) {
  const std::string time = clock_of(status);
  const std::size_t room = kPhoneWidth - std::min(kPhoneWidth, columns(time) + 2);
  const std::string name = clipped(text_at(status, "/name"), room);
  page.add(Tone::quiet, name + (time.empty() ? "" : "  " + time));
  if (const std::string hands = hands_text(status); !hands.empty())
    page.add(Tone::warning, static_cast<char>(std::toupper(hands.front())) + hands.substr(1));
  const Verdict verdict = verdict_of(status);
  page.add_some(verdict.tone, verdict.text, 4);
  if (at(status, "/stopped") != nullptr) {
    page.add_some(Tone::bad, text_at(status, "/stopped/why"), 3);
    const std::string last = text_at(status, "/stopped/last");
    page.add(Tone::plain,
             last.empty() ? "The journal knows nothing." : "Last entry " + last + "; then:");
  }
}

void air(const json& status, Page& page) {
  if (at(status, "/readings") == nullptr) return;
  const Margin margin = margin_of(status);
  page.add(margin.tone, margin.text);
  const auto low = number_at(status, "/targets/low_kpa");
  const auto high = number_at(status, "/targets/high_kpa");
  if (low && high)
    page.add(Tone::plain, "Band " + words::decimals(*low, 2) + " to " + words::decimals(*high, 2) +
                              " kPa" +
                              (text_at(status, "/targets/band_of") == "leaf" ? " (leaf)" : "") +
                              (true_at(status, "/day") ? ", by day" : ", by night"));
}

void water(const json& status, Page& page) {
  const std::string phase = text_at(status, "/flood/phase");
  if (!phase.empty() && phase != "idle") {
    const auto since = length_at(status, "/flood/since_s");
    page.add(Tone::strong,
             "Flood: " + phase + (since ? ", for " + words::duration(*since) : std::string()));
  }
  if (const json* roots = at(status, "/flood/roots");
      roots != nullptr && true_at(*roots, "/in_want"))
    page.add(Tone::bad, roots_text(*roots));
  for (const json& latch : list_at(status, "/latches"))
    page.add(Tone::bad, "Latched: " + text_at(latch, "/title") + " (neap reset " +
                            text_at(latch, "/latch") + ")");
  for (const json& reading : list_at(status, "/readings"))
    if (text_at(reading, "/point") == "reservoir.level" && !text_at(reading, "/text").empty())
      page.add(Tone::plain, "Reservoir " + text_at(reading, "/text"));
}

void next_event(const json& status, Page& page) {
  if (at(status, "/service") != nullptr) {
    const auto left = length_at(status, "/service/left_s");
    page.add(Tone::warning, "Service: floods wait" + (left && *left > Millis{0}
                                                          ? ", " + words::duration(*left) + " left"
                                                          : std::string("; its time is over")));
  }
  if (const std::string next = next_event_text(status); !next.empty())
    page.add(Tone::plain, "Next: " + next);
}

// Nothing to do is a promise: it is made only when the verdict and the readings bear it out.
void no_advice(const json& status, Page& page) {
  const Seen air = air_seen(status);
  if (!true_at(status, "/verdict/ok"))
    page.add(Tone::plain, "`neap status` says more.");
  else if (air == Seen::known)
    page.add(Tone::good, "Nothing to do.");
  else
    page.add(Tone::plain,
             air == Seen::lost ? "Waiting for readings." : "Waiting for the first readings.");
}

// What to do: as much of it as there is room for, what is due of care last.
void advice(const json& status, Page& page) {
  json list = list_at(status, "/advice");
  if (!list.is_array()) list = json::array();
  for (const json& item : list_at(status, "/care")) list.push_back(item);
  if (list.empty()) {
    no_advice(status, page);
    return;
  }
  page.add(Tone::strong, "To do:");
  std::size_t told = 0;
  for (const json& item : list) {
    constexpr std::size_t kForTheRest = 1;
    if (!item.is_string() || page.room() <= kForTheRest) break;
    page.add_some(Tone::plain, "- " + words::printable(item.get<std::string>()),
                  std::min<std::size_t>(page.room() - kForTheRest, 4));
    ++told;
  }
  if (told < list.size())
    page.add_some(Tone::plain, std::to_string(list.size() - told) + " more: neap status", 1);
}

}  // namespace

std::string render_brief(const json& status, const Look& look) {
  Page page(look);
  head(status, page);
  air(status, page);
  water(status, page);
  next_event(status, page);
  advice(status, page);
  return page.text();
}

}  // namespace neap::client
