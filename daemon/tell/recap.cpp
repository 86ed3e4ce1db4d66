#include "daemon/tell/recap.h"

#include <algorithm>
#include <array>
#include <set>

#include "daemon/tell/news.h"
#include "daemon/words/figures.h"

namespace neap::tell {
namespace {

std::string counted(int number, std::string_view one) {
  constexpr std::array<std::string_view, 4> kWords{"no", "one", "two", "three"};
  const std::string figure = number >= 0 && number < static_cast<int>(kWords.size())
                                 ? std::string(kWords[static_cast<std::size_t>(number)])
                                 : std::to_string(number);
  return figure + " " + std::string(one) + (number == 1 ? "" : "s");
}

bool complete(const CycleRow& row) { return row.outcome == FloodOutcome::complete; }

// A day of its own is named where the two ends lie on different ones.
std::string span_text(const journal::Stamp& from, const journal::Stamp& to) {
  const auto day = [](const journal::Stamp& s) {
    return words::local_time(*s.unix_ms, s.utc_offset_s).substr(5, 5);
  };
  if (day(from) == day(to)) return clock_of(from) + "-" + clock_of(to);
  return day(from) + " " + clock_of(from) + " to " + day(to) + " " + clock_of(to);
}

std::string floods_text(const DayFacts& facts) {
  std::set<std::pair<std::int32_t, std::int32_t>> slots;
  std::set<std::pair<std::int32_t, std::int32_t>> proven;
  int by_hand = 0;
  const auto key = [](const SlotId& slot) {
    return std::pair<std::int32_t, std::int32_t>(slot.date, slot.number);
  };
  for (const SlotId& slot : facts.skipped) slots.insert(key(slot));
  for (const journal::CycleEntry& cycle : facts.cycles) {
    if (cycle.row.slot.number <= 0) {
      by_hand += complete(cycle.row) ? 1 : 0;
      continue;
    }
    slots.insert(key(cycle.row.slot));
    if (complete(cycle.row)) proven.insert(key(cycle.row.slot));
  }
  std::string text = slots.empty() ? "no flood was due"
                                   : std::to_string(proven.size()) + " of " +
                                         std::to_string(slots.size()) + " floods proven";
  if (by_hand > 0) text += ", " + counted(by_hand, "more flood") + " by hand";
  return text;
}

std::string water_text(const DayFacts& facts, const words::Style& style) {
  double up = 0;
  double back = 0;
  bool known = false;
  for (const journal::CycleEntry& cycle : facts.cycles) {
    if (!cycle.row.litres_known) continue;
    known = true;
    up += cycle.row.litres_out;
    back += cycle.row.litres_back;
  }
  if (!known) return {};
  return ", " + words::volume(up, style) + " up, " + words::volume(back, style) + " back";
}

// The deepest dip of the day, and the longest way back from one.
std::string dip_text(const DayFacts& facts) {
  double deepest = 0;
  Millis longest{};
  bool known = false;
  bool all_back = true;
  for (const journal::CycleEntry& cycle : facts.cycles) {
    if (!cycle.row.dip_known) continue;
    known = true;
    deepest = std::max(deepest, cycle.row.vpd_before_kpa - cycle.row.vpd_lowest_kpa);
    longest = std::max(longest, cycle.row.recovery);
    all_back = all_back && cycle.row.recovered;
  }
  if (!known) return {};
  return ", VPD dipped " + words::decimals(deepest, 2) + " kPa, " +
         (all_back ? "back in " + words::duration(longest) : std::string("not back since"));
}

std::string floor_text(const DayFacts& facts) {
  std::string text;
  for (const journal::PointSummary& row : facts.latest) {
    const bool probe = row.point == Point::leak_floor || row.point == Point::leak_rack ||
                       row.point == Point::leak_reservoir;
    if (!probe) continue;
    const std::string says = row.latest ? words::value(row.point, *row.latest) : "not read";
    if (row.point == Point::leak_floor)
      text = ", floor " + says + text;
    else if (says != "dry")
      text += ", " + std::string(info(row.point).title) + " " + says;
  }
  return text;
}

}  // namespace

std::optional<Outage> outage_of(const journal::BootRow& boot, const journal::Stamp& before,
                                const std::vector<journal::EventRow>& events,
                                const std::vector<journal::CycleEntry>& cycles) {
  if (!boot.at.unix_ms || !before.unix_ms || *boot.at.unix_ms - *before.unix_ms < kShortestOutageMs)
    return std::nullopt;
  Outage outage{before, boot.at, boot.clean_before, 0, {}};
  std::set<std::pair<std::int32_t, std::int32_t>> missed;
  for (const journal::EventRow& row : events)
    if (row.event.kind == EventKind::slot_skipped &&
        row.event.because.reason == Reason::flood_missed)
      missed.insert({row.event.slot.date, row.event.slot.number});
  outage.missed = static_cast<int>(missed.size());
  for (const journal::CycleEntry& cycle : cycles)
    if (cycle.row.origin == FloodOrigin::catch_up && complete(cycle.row))
      outage.caught_up.push_back(cycle.started);
  return outage;
}

bool settled(const Outage& outage) { return outage.missed == 0 || !outage.caught_up.empty(); }

std::string text_of(const Outage& outage) {
  std::string text = (outage.stopped ? "stopped " : "out ") + span_text(outage.from, outage.to) +
                     (outage.stopped ? "" : " (power or crash)");
  text += ", " + counted(outage.missed, "flood") + " missed";
  for (std::size_t i = 0; i < outage.caught_up.size(); ++i)
    text += (i == 0 ? ", caught up " : " and ") + clock_of(outage.caught_up[i]);
  if (outage.missed > 0 && outage.caught_up.empty()) text += ", not caught up";
  return text;
}

std::string daily_text(const DayFacts& facts, const words::Style& style) {
  std::string text =
      floods_text(facts) + water_text(facts, style) + dip_text(facts) + floor_text(facts);
  for (std::size_t i = 0; i < facts.standing.size(); ++i)
    text += (i == 0 ? "; stands: " : ", ") + std::string(info(facts.standing[i]).name);
  return text;
}

}  // namespace neap::tell
