#include "daemon/client/energy.h"

#include <algorithm>
#include <iterator>
#include <optional>
#include <set>

namespace neap::client {
namespace {

double part_of_power(Output output, int permille) {
  const double level = permille / 1000.0;
  const bool fan = output == Output::exhaust_fan || output == Output::circulation_fan;
  return fan ? level * level * level : level;
}

// What each start of neapd found: the journal has no change of an output that goes on as it was.
std::set<std::int64_t> starts(journal::Reader& reader, std::int64_t to) {
  std::set<std::int64_t> ticks;
  for (const journal::BootRow& boot : reader.boots({std::nullopt, to})) ticks.insert(boot.at.tick);
  return ticks;
}

double hours_at_full_power(journal::Reader& reader, const std::set<std::int64_t>& began,
                           const OutputPlan& plan, Output output, std::int64_t from,
                           std::int64_t to) {
  const auto after = began.upper_bound(from);
  const std::int64_t first = after == began.begin() ? from : *std::prev(after);
  double hours = 0;
  int level = 0;
  std::int64_t at = from;
  const auto until = [&](std::int64_t tick) {
    const std::int64_t end = std::max(tick, from);
    hours += part_of_power(output, level) * static_cast<double>(end - at) / 3'600'000;
    at = end;
  };
  for (const journal::LevelRow& row : reader.levels(output, {first - 1, to})) {
    until(row.tick);
    level = began.contains(row.tick) && row.permille == 0 ? plan.safe.value : row.permille;
  }
  until(to);
  return hours;
}

}  // namespace

std::vector<EnergyOf> energy_of(journal::Reader& reader, const settings::Loaded& loaded,
                                std::int64_t from, std::int64_t to) {
  std::vector<EnergyOf> all;
  const std::set<std::int64_t> began = starts(reader, to);
  for (const OutputInfo& row : kOutputs) {
    const auto& rated = loaded.rated_w[row.output];
    if (!rated) continue;
    const double hours =
        hours_at_full_power(reader, began, *loaded.plan.outputs[row.output], row.output, from, to);
    all.push_back({row.output, *rated * hours / 1000});
  }
  std::sort(all.begin(), all.end(),
            [](const EnergyOf& a, const EnergyOf& b) { return a.kwh > b.kwh; });
  return all;
}

}  // namespace neap::client
