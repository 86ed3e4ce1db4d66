#include "daemon/shell/notes.h"

#include <cstdlib>

namespace neap::shell {
namespace {

std::string stage_name(const Plan& plan, std::int32_t index) {
  const auto place = static_cast<std::size_t>(index);
  return place < plan.programme.stages.size() ? plan.programme.stages[place].name : std::string();
}

std::string target_of(const Request& request, const Plan& plan) {
  switch (request.kind) {
    case RequestKind::hold:
    case RequestKind::release:
    case RequestKind::step_test_start:
      return std::string(info(request.output).name);
    case RequestKind::acknowledge:
      return request.all ? "all" : std::string(info(request.alarm).name);
    case RequestKind::shelve:
      return std::string(info(request.alarm).name);
    case RequestKind::reset_latch:
      return std::string(info(request.latch).name);
    case RequestKind::enter_stage:
      return stage_name(plan, request.number);
    case RequestKind::proof_test:
      return std::string(info(request.proof).name);
    case RequestKind::calibrate:
      return std::string(info(request.fit.probe).name);
    case RequestKind::flood_start:
    case RequestKind::flood_stop:
    case RequestKind::service_begin:
    case RequestKind::service_end:
    case RequestKind::step_test_stop:
      return {};
  }
  return {};
}

}  // namespace

std::string name_of(const Event& event, const Plan& plan, const Requests& requests) {
  if (event.kind == EventKind::stage) return stage_name(plan, event.number);
  if (event.kind != EventKind::request) return {};
  for (const Request& request : requests)
    if (request.id == event.request_id) return target_of(request, plan);
  return {};
}

void Notes::scanned(const Plan& plan, const State& state, const Inputs& inputs,
                    const Outcome& outcome, Instant now) {
  clock(inputs.wall, now);
  readings(plan, state, inputs);
  derived(outcome);
  commands(outcome.outputs, now);
  for (const Event& event : outcome.events)
    journal_.put(journal::EventEntry{now, event, name_of(event, plan, inputs.requests)});
}

void Notes::readings(const Plan& plan, const State& state, const Inputs& inputs) {
  for (const PointInfo& row : kPoints) {
    const Sample& sample = inputs.samples[row.point];
    Noted& noted = noted_[row.point];
    if (!plan.points[row.point] || sample.count == noted.count) continue;
    noted.count = sample.count;
    const Reading<double>& reading = state.points[row.point].reading;
    // A held or refused value is not this sample's: the row then says why there is none.
    const bool judged_good = reading.usable() && reading.taken() == sample.taken;
    std::optional<double> value;
    Fault fault = Fault::none;
    if (judged_good)
      value = *reading;
    else if (sample.fault != Fault::none)
      fault = sample.fault;
    else
      fault = reading.fault() != Fault::none ? reading.fault() : state.points[row.point].fault;
    const Quality quality = judged_good ? reading.quality() : Quality::bad;
    const bool same = noted.any && noted.value == value && noted.fault == fault;
    const bool contact = row.kind == PointKind::contact;
    if (contact && same && sample.taken - noted.at < kContactsAnyway) continue;
    // Which sample stands for a quiet contact depends on when scans come; the trace must not.
    if (!contact || !same) trace_.reading(sample.taken, row.point, value, fault);
    noted.value = value;
    noted.fault = fault;
    put(sample.taken, row.point, value, quality, fault);
  }
}

void Notes::derived(const Outcome& outcome) {
  for (const Derived& item : outcome.derived) {
    Noted& noted = noted_[item.point];
    const bool usable = item.reading.usable();
    const bool fresh = usable && (!noted.value || item.reading.taken() > noted.at);
    const bool newly_lost = !usable && (!noted.any || noted.fault != item.reading.fault());
    if (!fresh && !newly_lost) continue;
    const Instant taken = usable ? item.reading.taken() : noted.at;
    noted.value = usable ? std::optional(*item.reading) : std::nullopt;
    noted.fault = item.reading.fault();
    if (usable) {
      trace_.reading(taken, item.point, noted.value, Fault::none);
      put(taken, item.point, noted.value, item.reading.quality(), Fault::none);
    }
    noted.any = true;
  }
}

void Notes::commands(const OutputImage& outputs, Instant now) {
  for (const OutputInfo& row : kOutputs) {
    const Command& command = outputs.commands[row.output];
    if (levels_[row.output] == command.level) continue;
    levels_[row.output] = command.level;
    trace_.command(now, row.output, command);
  }
}

void Notes::clock(const WallTime& wall, Instant now) {
  const std::int64_t expected = clock_noted_.unix_ms + (now - clock_noted_at_).count();
  const bool same = clock_known_ && wall.quality == clock_noted_.quality &&
                    wall.utc_offset_s == clock_noted_.utc_offset_s &&
                    std::abs(wall.unix_ms - expected) <= kClockStep.count();
  if (same && now - clock_noted_at_ < kClockAnyway) return;
  clock_known_ = true;
  clock_noted_ = wall;
  clock_noted_at_ = now;
  journal_.put(journal::ClockEntry{now, wall});
}

void Notes::put(Instant taken, Point point, std::optional<double> value, Quality quality,
                Fault fault) {
  Noted& noted = noted_[point];
  noted.at = taken;
  noted.any = true;
  journal_.put(journal::ReadingEntry{taken, point, value, quality, fault});
}

}  // namespace neap::shell
