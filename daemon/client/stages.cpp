#include "daemon/client/stages.h"

#include <algorithm>

#include "daemon/client/ahead.h"

namespace neap::client {
namespace {

constexpr int kMostRows = 2'000'000;

}  // namespace

Stages::Stages(journal::Reader& reader, const Plan& plan, std::int64_t from, std::int64_t to)
    : plan_(plan), changes_(reader.events({from, to}, {EventKind::stage}, kMostRows)) {
  const journal::Stamp start = reader.stamp(from);
  const std::int32_t date =
      start.unix_ms ? civil_of({*start.unix_ms, start.utc_offset_s, TimeQuality::synced}).date
                    : plan.programme.start_date;
  index_ = stage_in_journal(reader, plan.programme, date, from).index;
}

const StagePlan& Stages::at(std::int64_t tick) {
  while (next_ < changes_.size() && changes_[next_].at.tick <= tick)
    index_ = changes_[next_++].event.number;
  const int last = static_cast<int>(plan_.programme.stages.size()) - 1;
  return plan_.programme.stages[static_cast<std::size_t>(std::clamp(index_, 0, last))];
}

const StagePlan& stage_now(journal::Reader& reader, const Plan& plan) {
  const std::int64_t newest = reader.last_tick().value_or(0);
  return Stages(reader, plan, newest, newest).at(newest);
}

}  // namespace neap::client
