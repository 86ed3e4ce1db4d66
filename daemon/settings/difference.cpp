#include <algorithm>
#include <map>

#include "daemon/settings/flat.h"
#include "daemon/settings/settings.h"

namespace neap::settings {
namespace {

const Said* find(const std::vector<Said>& all, std::string_view path) {
  for (const auto& one : all)
    if (one.path == path) return &one;
  return nullptr;
}

// The place of `path` or of the first thing below it.
Place place_below(const std::vector<Said>& all, const std::string& path) {
  for (const auto& one : all)
    if (one.place.line > 0 && one.path.starts_with(path)) return one.place;
  return {};
}

const drivers::OutputSetup* find(const std::vector<drivers::OutputSetup>& all, Output output) {
  for (const auto& one : all)
    if (one.output == output) return &one;
  return nullptr;
}

bool same(const std::optional<drivers::SimulationSetup>& a,
          const std::optional<drivers::SimulationSetup>& b) {
  if (!a || !b) return !a && !b;
  const auto same_fault = [](const drivers::ScriptedFault& x, const drivers::ScriptedFault& y) {
    return x.fault == y.fault && x.at == y.at && x.lasts == y.lasts && x.severity == y.severity;
  };
  return a->seed == b->seed && a->weather == b->weather && a->weather_csv == b->weather_csv &&
         a->csv_time == b->csv_time && a->csv_temperature == b->csv_temperature &&
         a->csv_humidity == b->csv_humidity && a->csv_is_room == b->csv_is_room &&
         a->csv_start == b->csv_start && a->parameters == b->parameters &&
         std::equal(a->faults.begin(), a->faults.end(), b->faults.begin(), b->faults.end(),
                    same_fault);
}

Problem obstacle(const std::vector<Said>& said, const std::string& path, std::string message) {
  const Place place = place_below(said, path);
  return {place.line, place.column, path, std::move(message), "restart neapd to change it"};
}

}  // namespace

std::vector<std::string> difference(const Loaded& before, const Loaded& after) {
  const auto old_said = flatten(before.text);
  const auto new_said = flatten(after.text);
  std::vector<std::string> lines;
  for (const auto& now : new_said) {
    const Said* then = find(old_said, now.path);
    if (then == nullptr || then->value != now.value)
      lines.push_back(now.path + ": " + (then == nullptr ? "absent" : then->text) + " -> " +
                      now.text);
  }
  for (const auto& then : old_said)
    if (find(new_said, then.path) == nullptr)
      lines.push_back(then.path + ": " + then.text + " -> absent");
  return lines;
}

std::vector<Problem> reload_obstacles(const Loaded& before, const Loaded& after) {
  const auto said = flatten(after.text);
  std::vector<Problem> problems;
  std::string with_the_mode;  // one obstacle and one remedy, however many outputs
  for (const auto& row : kOutputs) {
    const std::string name(row.name);
    const std::string path = "outputs." + name;
    const auto* then = find(before.hardware.outputs, row.output);
    const auto* now = find(after.hardware.outputs, row.output);
    if (then == nullptr && now == nullptr) continue;
    if (then == nullptr || now == nullptr)
      problems.push_back(obstacle(said, path,
                                  "output " + name + (now == nullptr ? " goes" : " is new") +
                                      "; a running neapd keeps the outputs it began with"));
    else if (then->driver != now->driver)
      problems.push_back(obstacle(said, path + ".driver",
                                  "driver of " + name + " changes from " + then->driver + " to " +
                                      now->driver + "; a running neapd keeps its drivers"));
    else if (then->params != now->params)
      problems.push_back(obstacle(said, path + ".with",
                                  "address or polarity of " + name +
                                      " changes; a running neapd keeps the lines it drives"));
    else if (then->enable_pulse != now->enable_pulse)
      problems.push_back(obstacle(
          said, path + ".enable_pulse",
          "the enable pulse of " + name + " changes; a running neapd keeps the line it beats on"));
    else if (drives(before.plan, row.output) != drives(after.plan, row.output)) {
      if (before.plan.mode == after.plan.mode)
        problems.push_back(
            obstacle(said, path + ".hand",
                     "hand of " + name + " changes; a running neapd keeps the outputs it drives"));
      else
        with_the_mode += (with_the_mode.empty() ? "" : ", ") + name;
    }
  }
  if (!with_the_mode.empty())
    problems.push_back(obstacle(said, "mode",
                                "with the mode these outputs change hands: " + with_the_mode +
                                    "; a running neapd keeps the outputs it drives"));
  if (!same(before.hardware.simulation, after.hardware.simulation))
    problems.push_back(
        obstacle(said, "simulation", "the simulated tent changes; a running neapd keeps its tent"));
  std::stable_sort(problems.begin(), problems.end(),
                   [](const Problem& a, const Problem& b) { return a.line < b.line; });
  return problems;
}

std::vector<Problem> live_obstacles(const Loaded& loaded) {
  const auto said = flatten(loaded.text);
  std::vector<Problem> problems;
  const auto look = [&](const std::string& entry, const drivers::Params& params) {
    if (!params.truth("lockstep")) return;
    Problem problem = obstacle(said, entry + ".with",
                               entry +
                                   " is in lockstep; time does not wait for a program when "
                                   "neapd runs live");
    problem.remedy = "run these settings with neap simulate, or leave lockstep out";
    problems.push_back(std::move(problem));
  };
  for (const drivers::OutputSetup& setup : loaded.hardware.outputs)
    look("outputs." + std::string(info(setup.output).name), setup.params);
  for (const drivers::SensorSetup& setup : loaded.hardware.sensors)
    look("sensors." + setup.name, setup.params);
  return problems;
}

}  // namespace neap::settings
