// Any text as settings: refused with words, or a plan within every hard ceiling.
#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <string_view>

#include "daemon/core/limits.h"
#include "daemon/settings/settings.h"

namespace {

using namespace neap;

void must(bool holds) {
  if (!holds) std::abort();
}

void within_ceilings(const Plan& plan) {
  const TablePlan& table = plan.table;
  must(table.max_on_per_flood > Millis{0} && table.max_on_per_flood <= limits::kPumpRunCeiling);
  must(table.fill_limit <= limits::kFillCeiling && table.drain_limit <= limits::kDrainCeiling);
  must(table.min_gap >= limits::kMinGapFloor);
  must(table.max_floods_per_hour <= limits::kFloodsPerHourCeiling);
  for (const StagePlan& stage : plan.programme.stages)
    must(stage.floods.soak <= limits::kSoakCeiling);
  if (const auto& dryer = plan.outputs[Output::dehumidifier]) must(dryer->safe == kStopped);
  if (const auto& pump = plan.outputs[Output::pump]) must(pump->safe == kStopped);
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::string_view text(reinterpret_cast<const char*>(data), size);
  const settings::LoadResult result = settings::load_text(text);
  if (result.loaded)
    within_ceilings(result.loaded->plan);
  else
    must(!result.problems.empty());  // never refused without a word
  for (const settings::Problem& problem : result.problems)
    must(!settings::render("settings", text, problem).empty());
  return 0;
}
