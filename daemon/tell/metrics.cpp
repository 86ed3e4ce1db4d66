#include "daemon/tell/metrics.h"

#include <algorithm>
#include <array>
#include <charconv>
#include <map>

#include "daemon/core/points.h"
#include "daemon/words/words.h"

namespace neap::tell {
namespace {

struct BaseUnit {
  std::string_view unit;    // of the point
  std::string_view suffix;  // of the metric
  double factor;
};
constexpr std::array kBaseUnits{
    BaseUnit{"C", "_celsius", 1},
    BaseUnit{"%", "_ratio", 0.01},
    BaseUnit{"kPa", "_pascals", 1000},
    BaseUnit{"L", "_liters", 1},
    BaseUnit{"g/m3", "_grams_per_cubic_meter", 1},
    BaseUnit{"mS/cm", "_siemens_per_meter", 0.1},
    BaseUnit{"pH", "", 1},
    BaseUnit{"rpm", "_revolutions_per_minute", 1},
    BaseUnit{"lx", "_lux", 1},
};

std::string number(double v) {
  std::array<char, 32> text{};
  const auto end =
      std::to_chars(text.data(), text.data() + text.size(), v, std::chars_format::general, 12).ptr;
  return {text.data(), end};
}

std::string escaped(std::string_view text) {
  std::string out;
  for (const char c : text) {
    if (c == '\\' || c == '"') out += '\\';
    if (c == '\n')
      out += "\\n";
    else
      out += c;
  }
  return out;
}

class Page {
 public:
  explicit Page(const std::string& tent) : tent_("tent=\"" + escaped(tent) + "\"") {}

  void family(const std::string& name, std::string_view help) {
    text_ += "# HELP " + name + " " + std::string(help) + "\n# TYPE " + name + " gauge\n";
  }
  void sample(const std::string& name, double value, const std::string& labels = {}) {
    text_ +=
        name + "{" + tent_ + (labels.empty() ? "" : "," + labels) + "} " + number(value) + "\n";
  }
  std::string take() { return std::move(text_) + "# EOF\n"; }

 private:
  std::string tent_;
  std::string text_;
};

bool fresh(const journal::PointSummary& row, const MetricFacts& facts) {
  return row.latest && facts.newest_tick - row.latest_at.tick <= kStaleMs;
}

// promtool takes a lone "b" for an abbreviated unit, bytes.
std::string stem_of(const PointInfo& point) {
  std::string name = "neap_" + std::string(point.name);
  std::replace(name.begin(), name.end(), '.', '_');
  if (const std::size_t at = name.find("_b_"); at != std::string::npos)
    name.replace(at, 3, "_second_");
  return name;
}

void readings(Page& page, const MetricFacts& facts) {
  for (const journal::PointSummary& row : facts.latest) {
    const PointInfo& point = info(row.point);
    if (point.kind == PointKind::contact || !fresh(row, facts)) continue;
    const auto unit = std::find_if(kBaseUnits.begin(), kBaseUnits.end(),
                                   [&](const BaseUnit& u) { return u.unit == point.unit; });
    std::string name = stem_of(point);
    if (unit != kBaseUnits.end()) name += unit->suffix;
    page.family(name, point.title);
    page.sample(name, *row.latest * (unit == kBaseUnits.end() ? 1 : unit->factor));
  }
}

void contacts(Page& page, const MetricFacts& facts) {
  page.family("neap_contact", "1 for what the contact says");
  for (const journal::PointSummary& row : facts.latest)
    if (info(row.point).kind == PointKind::contact && fresh(row, facts))
      page.sample("neap_contact", 1,
                  "point=\"" + std::string(info(row.point).name) + "\",says=\"" +
                      escaped(words::value(row.point, *row.latest)) + "\"");
}

void newest(Page& page, const MetricFacts& facts) {
  std::optional<std::int64_t> at;
  for (const journal::PointSummary& row : facts.latest)
    if (row.latest && row.latest_at.unix_ms) at = std::max(at.value_or(0), *row.latest_at.unix_ms);
  if (!at) return;
  page.family("neap_newest_reading_timestamp_seconds", "When the newest reading was taken");
  page.sample("neap_newest_reading_timestamp_seconds", static_cast<double>(*at / 1000));
}

}  // namespace

std::string metrics_text(const MetricFacts& facts) {
  Page page(facts.tent);
  page.family("neap_writes", "1 while neapd writes its journal");
  page.sample("neap_writes", facts.writes ? 1 : 0);
  newest(page, facts);
  if (facts.writes) {
    readings(page, facts);
    contacts(page, facts);
  }
  page.family("neap_alarm", "1 for each alarm that stands");
  for (const Alarm alarm : facts.standing)
    page.sample("neap_alarm", 1,
                "alarm=\"" + std::string(info(alarm).name) + "\",priority=\"" +
                    std::string(words::name(info(alarm).priority)) + "\"");
  page.family("neap_hook_failing", "1 while the latest start of a hook failed");
  for (const auto& hook : facts.hooks)
    page.sample("neap_hook_failing", hook.failing ? 1 : 0, "hook=\"" + escaped(hook.name) + "\"");
  page.family("neap_hook_waiting", "Messages that wait for a hook");
  for (const auto& hook : facts.hooks)
    page.sample("neap_hook_waiting", static_cast<double>(hook.waiting),
                "hook=\"" + escaped(hook.name) + "\"");
  return page.take();
}

}  // namespace neap::tell
