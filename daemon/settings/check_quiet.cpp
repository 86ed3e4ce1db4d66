// Rules of quiet hours: floods must keep a time of their own when quiet hours move them.
#include "daemon/core/programme.h"
#include "daemon/settings/checks.h"
#include "daemon/settings/value.h"

namespace neap::settings {
namespace {

constexpr std::int32_t round_the_clock(std::int32_t second) {
  return (second + kSecondsPerDay) % kSecondsPerDay;
}

bool light_is_all_quiet(const QuietHours& quiet, const StagePlan& stage) {
  const std::int32_t into_quiet = round_the_clock(stage.lights_on_s - quiet.from_s);
  return into_quiet + stage.light_length_s <= round_the_clock(quiet.to_s - quiet.from_s);
}

std::string clock(const CivilTime& time) { return format(Kind::clock, time.second_of_day); }

}  // namespace

void check_quiet_hours(const Draft& draft, std::size_t stage_index, Report& report) {
  const ProgrammePlan& programme = draft.plan.programme;
  const StagePlan& stage = programme.stages[stage_index];
  const QuietHours& quiet = programme.quiet;
  if (!quiet.fitted || stage.floods.rule == SlotRule::none ||
      !draft.is_sound("programme.quiet_hours.from") || !draft.is_sound("programme.quiet_hours.to"))
    return;
  const std::string path = draft.stage_paths[stage_index] + ".floods";
  if (light_is_all_quiet(quiet, stage)) {
    report.add(draft.place_of(path), path,
               "the light of stage " + stage.name +
                   " lies in quiet hours altogether; its floods have no time left",
               "move the light or the quiet hours");
    return;
  }
  FloodSlots slots;
  slots_of(programme, stage, programme.start_date, slots);
  if (stage.floods.rule == SlotRule::by_demand) {
    if (slots.empty())
      report.add(draft.place_of(path), path,
                 "first_after, last_before and quiet hours leave by_demand no hour of the light",
                 "shorten one of them, or move the quiet hours");
    return;
  }
  const std::size_t asked = stage.floods.rule == SlotRule::spread
                                ? static_cast<std::size_t>(stage.floods.count)
                                : stage.floods.times_s.size();
  if (slots.size() < asked) {
    report.add(draft.place_of(path), path,
               "quiet hours push floods onto one another: " + std::to_string(slots.size()) +
                   " of " + std::to_string(asked) + " are left; must be all",
               "ask for them outside quiet hours");
    return;
  }
  const Millis cycle = longest_cycle(draft.plan.table, stage.floods);
  for (std::size_t i = 1; i < slots.size(); ++i) {
    const FloodSlot& first = slots[i - 1];
    const FloodSlot& second = slots[i];
    const std::int64_t apart = civil_seconds_between(first.start, second.start);
    if (seconds{apart} >= cycle || !(first.moved() || second.moved())) continue;
    report.add(draft.place_of(path), path,
               "quiet hours move floods to " + clock(first.start) + " and " + clock(second.start) +
                   ", " + format_seconds(apart) + " apart; must be at least " +
                   format_seconds(cycle.count() / 1000),
               "ask for them outside quiet hours");
    return;
  }
}

}  // namespace neap::settings
