#include "tests/bench/climate/tables.h"

#include <algorithm>
#include <cstdio>
#include <map>
#include <numeric>
#include <optional>
#include <string>

namespace neap::arena {
namespace {

double mean_of(const std::vector<float>& values) {
  return values.empty() ? 0
                        : std::accumulate(values.begin(), values.end(), 0.0) /
                              static_cast<double>(values.size());
}

double quantile_of(std::vector<float> values, double part) {
  if (values.empty()) return 0;
  const auto at =
      values.begin() + static_cast<std::ptrdiff_t>(part * static_cast<double>(values.size() - 1));
  std::nth_element(values.begin(), at, values.end());
  return *at;
}

}  // namespace

void print_details(const Match& match) {
  const Score& s = match.score;
  std::printf(
      "%-4s %4llu %-13s in %5.1f day %5.1f night %5.1f | humid %4.1f dry %4.1f kPah %.2f worst "
      "%.2f | flood -%.2f %4.1f min | starts %4.1f mist %5.1f moves %5.1f kWh %.2f | >85 %.2f T "
      "%.2f illegal %d flag %4.1f | floods %d%s%s | %.1f/%.0f us\n",
      match.scenario.id.c_str(), static_cast<unsigned long long>(match.seed),
      match.controller->name.c_str(), s.in_band, s.in_band_day, s.in_band_night, s.too_humid,
      s.too_dry, s.out_kpa_h_d, s.worst_kpa, s.flood_below_kpa, s.flood_recovery_min, s.starts_d,
      s.humidifier_starts_d, s.fan_moves_d, s.kwh_d, s.humid_h_d, s.temperature_h_d, s.illegal,
      s.flagged, s.floods_complete, s.latched.empty() ? "" : " LATCHED", s.latched.c_str(),
      mean_of(s.decisions_us), quantile_of(s.decisions_us, 0.99));
}

namespace {

// Means over the matches of one scenario, or of a group of them, under one controller.
struct Mean {
  int count = 0;
  double in = 0, day = 0, night = 0, starts = 0, moves = 0, kwh = 0, over_85 = 0, hot = 0;
  double recovery = 0, out = 0, humid_night = 0, dry_night = 0, flagged = 0;
  int illegal = 0;

  void add(const Score& s) {
    ++count;
    in += s.in_band;
    day += s.in_band_day;
    night += s.in_band_night;
    starts += s.starts_d;
    moves += s.fan_moves_d;
    kwh += s.kwh_d;
    over_85 += s.humid_h_d;
    hot += s.temperature_h_d;
    recovery += s.flood_recovery_min;
    out += s.out_kpa_h_d;
    humid_night += s.night_humid_h;
    dry_night += s.night_dry_h;
    flagged += s.flagged;
    illegal += s.illegal;
  }
  double of(double sum) const { return count > 0 ? sum / count : 0; }
};

constexpr const char* kBound = "clairvoyant";

std::vector<std::string> columns_of(const std::vector<Match>& matches, bool bounded) {
  std::vector<std::string> names;
  for (const Controller& c : controllers())
    if (std::any_of(matches.begin(), matches.end(),
                    [&](const Match& j) { return j.controller == &c; }))
      names.push_back(c.name);
  if (bounded) names.emplace_back(kBound);
  return names;
}

using Means = std::map<std::string, Mean>;  // by controller

// Where the clairvoyant itself leaves the temperature limits, what is in band depends on the trade.
std::string title_of(const Match& match, const std::optional<Score>& bound) {
  constexpr double kConflict = 0.05;  // h a day
  switch (match.scenario.group) {
    case Group::ten:
      return "the ten";
    case Group::infeasible:
      return "the ten's two that are out of reach on purpose";
    case Group::own:
      return "what the ten leave out";
    case Group::random:
      return bound && bound->temperature_h_d > kConflict ? "random tents in a temperature conflict"
                                                         : "random tents";
  }
  return "";
}

void print_row(const std::string& title, const std::vector<std::string>& columns, Means& means) {
  std::printf("%-12s", title.c_str());
  for (const std::string& name : columns) std::printf(" %12.1f", means[name].of(means[name].in));
  std::printf("\n");
}

// What each controller costs; humid and dry: hours a night under and over the band.
void print_summary(const std::string& title, const std::vector<std::string>& columns,
                   Means& means) {
  std::printf("\n%s\n%-12s %6s %6s %6s %6s %6s %6s %6s %7s %6s %6s %6s %6s %6s %7s\n",
              title.c_str(), "", "in %", "ratio", "day", "night", "humid", "dry", "kPah/d",
              "starts", "moves", "kWh/d", ">85 h", "T h", "flood", "illegal");
  const Mean bound = means[kBound];
  for (const std::string& name : columns) {
    const Mean& m = means[name];
    const double ratio = bound.in > 0 ? m.of(m.in) / bound.of(bound.in) : 0;
    std::printf(
        "%-12s %6.1f %6.3f %6.1f %6.1f %6.2f %6.2f %6.2f %7.1f %6.0f %6.2f %6.2f %6.2f %6.1f %7d\n",
        name.c_str(), m.of(m.in), ratio, m.of(m.day), m.of(m.night), m.of(m.humid_night),
        m.of(m.dry_night), m.of(m.out), m.of(m.starts), m.of(m.moves), m.of(m.kwh), m.of(m.over_85),
        m.of(m.hot), m.of(m.recovery), m.illegal);
  }
}

// What neap says is out of reach beside what was out of the band, under the predictive law.
void print_diagnosis(const std::vector<std::string>& order, std::map<std::string, Means>& rows) {
  std::printf("\nsaid to be out of reach, predictive\n%-12s %10s %10s\n", "", "out of %", "said %");
  for (const std::string& id : order) {
    const auto found = rows[id].find("predictive");
    if (found == rows[id].end()) continue;
    const Mean& m = found->second;
    const double out = 100 - m.of(m.in);
    if (out < 1 && m.of(m.flagged) < 0.05) continue;
    std::printf("%-12s %10.1f %10.1f\n", id.c_str(), out, m.of(m.flagged));
  }
}

void print_decision_times(const std::vector<Match>& matches) {
  std::vector<float> took;
  for (const Match& match : matches)
    if (match.controller->name == "predictive")
      took.insert(took.end(), match.score.decisions_us.begin(), match.score.decisions_us.end());
  if (took.empty()) return;
  std::printf("\na decision of the predictive law: mean %.0f us, p99 %.0f us, of %zu\n",
              mean_of(took), quantile_of(took, 0.99), took.size());
}

}  // namespace

// Scenarios by rows, then what each controller costs, for the ten and for the others apart. The
// bound stands where it is stored for all that was played.
void print_table(const std::vector<Match>& matches, int days, const Bounds& bounds) {
  std::vector<std::string> order;
  std::map<std::string, Means> rows;
  std::map<std::string, Means> groups;  // by title
  bool bounded = true;
  for (const Match& match : matches) {
    const auto bound = bounds.find(match.scenario, match.seed, days);
    bounded = bounded && bound.has_value();
    if (rows.find(match.scenario.id) == rows.end()) order.push_back(match.scenario.id);
    Means& row = rows[match.scenario.id];
    Means& group = groups[title_of(match, bound)];
    row[match.controller->name].add(match.score);
    group[match.controller->name].add(match.score);
    if (!bound || match.controller != matches.front().controller) continue;
    row[kBound].add(*bound);
    group[kBound].add(*bound);
  }
  const auto columns = columns_of(matches, bounded);
  std::printf("%% of time in band\n%-12s", "");
  for (const std::string& name : columns) std::printf(" %12s", name.c_str());
  std::printf("\n");
  for (const std::string& id : order) print_row(id, columns, rows[id]);
  for (auto& [title, means] : groups) print_summary(title, columns, means);
  print_diagnosis(order, rows);
  print_decision_times(matches);
}

}  // namespace neap::arena
