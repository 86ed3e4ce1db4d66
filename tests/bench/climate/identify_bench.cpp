// identify_bench: what daemon/identify finds out about random tents from three simulated days,
// beside the truth.
#include <CLI/CLI.hpp>
#include <array>
#include <cmath>
#include <cstdio>
#include <future>
#include <string>
#include <vector>

#include "daemon/core/predictive_law.h"
#include "daemon/core/rule_law.h"
#include "daemon/core/two_position_law.h"
#include "tests/bench/climate/recorded.h"

namespace neap::arena {
namespace {

using identify::Finding;
using identify::Findings;
using identify::Lack;
using identify::Property;

struct Options {
  int first = 1, tents = 30, days = 3;
  std::string law = "predictive";
  bool uncompared = false;
  bool hour = false;
  bool tests = false;
};

// Properties that are judged, each with its goal in percent of the truth (0: none is set).
struct Judged {
  Property property;
  const char* title;
  double RecordedTruth::*truth;
  double goal_percent;
};
constexpr std::array kJudged{
    Judged{Property::exchange_mean, "exchange", &RecordedTruth::flow_mean, 10},
    Judged{Property::exhaust_flow, "full flow", &RecordedTruth::flow_full, 10},
    Judged{Property::evaporation_lit, "E light", &RecordedTruth::lit_g_per_h, 10},
    Judged{Property::evaporation_dark, "E dark", &RecordedTruth::dark_g_per_h, 10},
    Judged{Property::evaporation_daily, "E a day", &RecordedTruth::litres_a_day, 10},
    Judged{Property::drying, "drying", &RecordedTruth::drying_l_per_day, 15},
    Judged{Property::mist, "mist", &RecordedTruth::mist_g_per_h, 0},
    Judged{Property::probe_lag, "lag", &RecordedTruth::lag_s, 0},
};

struct Tent {
  RecordedTruth truth;
  Findings findings;
};

const ClimateLaw& law_named(const std::string& name) {
  static const TwoPositionLaw two_position;
  static const PredictiveLaw predictive;
  static const RuleLaw rule;
  if (name == "rule") return rule;
  if (name == "two_position") return two_position;
  return predictive;
}

Tent play(int number, const Options& options) {
  Recorded r = record_tent(static_cast<std::uint64_t>(number), law_named(options.law), options.days,
                           options.tests);
  if (options.hour) {
    r.record.steps.resize(360);
    std::erase_if(r.record.floods, [](const identify::Flood& f) { return f.drained >= 360; });
  }
  return {r.truth, identify::identify(r.record, {r.labels, !options.uncompared}, r.fitted)};
}

void print_row(int number, const Tent& tent) {
  std::printf("T%-4d %2d %d%d", number, tent.findings.floods_weighed, tent.findings.fan_tests,
              tent.findings.drying_tests);
  for (const Judged& judged : kJudged) {
    const Finding& found = tent.findings[judged.property];
    const double truth = tent.truth.*judged.truth;
    if (found.lack != Lack::nothing) {
      std::printf("  %17s", "not found");
      continue;
    }
    const bool covered = found.low <= truth && truth <= found.high;
    std::printf("  %+5.1f%% %+4.0f..%-+4.0f%c", 100 * (found.value / truth - 1),
                100 * (found.low / found.value - 1), 100 * (found.high / found.value - 1),
                covered ? ' ' : '!');
  }
  std::printf("\n");
}

void print_sums(const std::vector<Tent>& tents) {
  std::printf("\n%-10s %5s %6s %10s %8s %8s %8s\n", "", "found", "goal", "within it", "median",
              "worst", "covered");
  for (const Judged& judged : kJudged) {
    std::vector<double> errors;
    int within = 0, covered = 0;
    for (const Tent& tent : tents) {
      const Finding& found = tent.findings[judged.property];
      if (found.lack != Lack::nothing) continue;
      const double truth = tent.truth.*judged.truth;
      errors.push_back(100 * std::abs(found.value / truth - 1));
      if (errors.back() <= judged.goal_percent) ++within;
      if (found.low <= truth && truth <= found.high) ++covered;
    }
    std::sort(errors.begin(), errors.end());
    if (errors.empty()) {
      std::printf("%-10s %5d\n", judged.title, 0);
      continue;
    }
    const auto n = static_cast<double>(errors.size());
    std::printf("%-10s %5.0f %5.0f%% %9.0f%% %7.1f%% %7.1f%% %7.0f%%\n", judged.title, n,
                judged.goal_percent, 100 * within / n, errors[errors.size() / 2], errors.back(),
                100 * covered / n);
  }
}

int bench(const Options& options) {
  std::vector<Tent> tents(static_cast<std::size_t>(options.tents));
  const auto half = [&](std::size_t first) {
    for (std::size_t i = first; i < tents.size(); i += 2)
      tents[i] = play(options.first + static_cast<int>(i), options);
  };
  auto other = std::async(std::launch::async, half, 1);
  half(0);
  other.get();
  std::printf("%d random tents from T%d, %d days under the %s law, probes %s, %s step tests\n",
              options.tents, options.first, options.days, options.law.c_str(),
              options.uncompared ? "not compared" : "compared", options.tests ? "with" : "without");
  std::printf(
      "floods weighed, step tests of fan and dehumidifier; error of the estimate, its 90 %% "
      "interval, ! where that misses the truth\n\n%-11s",
      "");
  for (const Judged& judged : kJudged) std::printf("  %17s", judged.title);
  std::printf("\n");
  for (std::size_t i = 0; i < tents.size(); ++i)
    print_row(options.first + static_cast<int>(i), tents[i]);
  print_sums(tents);
  return 0;
}

}  // namespace
}  // namespace neap::arena

int main(int argc, char** argv) {
  neap::arena::Options options;
  CLI::App app("What the journal of three days says of random tents, beside the truth");
  app.add_option("--first", options.first, "number of the first tent");
  app.add_option("--tents", options.tents, "how many");
  app.add_option("--days", options.days, "of each");
  app.add_option("--law", options.law, "predictive, rule or two_position");
  app.add_flag("--uncompared", options.uncompared, "the humidity probes were never compared");
  app.add_flag("--tests", options.tests, "with step tests of fan and dehumidifier");
  app.add_flag("--hour", options.hour, "from the first hour alone");
  CLI11_PARSE(app, argc, argv);
  return neap::arena::bench(options);
}
