#include "daemon/client/tent_record.h"

#include <algorithm>

namespace neap::client {
namespace {

using identify::Record;
using identify::Step;

constexpr int kMostRows = 2'000'000;
constexpr int kEnoughBefore = 2000;  // events, to know how the outputs stood
constexpr std::int64_t kStepMs = static_cast<std::int64_t>(identify::kStepSeconds) * 1000;
constexpr std::int64_t kChunk = Millis{hours{24}}.count();  // each inside the reader's time-box

// Calls `take(step, value)` for each step over which a reading of the point holds.
template <class Take>
void each_step(journal::Reader& reader, const Plan& plan, Point point, std::int64_t from,
               std::int64_t to, Take&& take) {
  if (!plan.points[point]) return;
  const std::int64_t held = plan.points[point]->bad_after.count();
  for (std::int64_t at = from; at < to; at += kChunk) {
    const std::int64_t end = std::min(at + kChunk, to);
    const auto rows = reader.readings(point, {at, end - 1}, 0, kMostRows);
    for (std::size_t i = 0; i < rows.size(); ++i) {
      if (!rows[i].value || rows[i].quality == Quality::bad) continue;
      const std::int64_t next = i + 1 < rows.size() ? rows[i + 1].at.tick : end;
      const std::int64_t until = std::min({next, rows[i].at.tick + held, to});
      // The first step that begins at or after the reading.
      for (std::int64_t step = (rows[i].at.tick - from + kStepMs - 1) / kStepMs;
           from + step * kStepMs < until; ++step)
        take(static_cast<std::size_t>(step), *rows[i].value);
    }
  }
}

void read_probe(journal::Reader& reader, const Plan& plan, Point celsius, Point percent,
                std::optional<identify::Probe> Step::*member, std::int64_t from, std::int64_t to,
                Record& record) {
  std::vector<std::optional<double>> warmth(record.steps.size());
  each_step(reader, plan, celsius, from, to,
            [&](std::size_t step, double value) { warmth[step] = value; });
  each_step(reader, plan, percent, from, to, [&](std::size_t step, double value) {
    if (warmth[step]) record.steps[step].*member = identify::Probe{*warmth[step], value};
  });
}

// How the outputs stand between events, spread over the steps.
class Levels {
 public:
  Levels(const Plan& plan, std::int64_t from, Record& record)
      : plan_(plan), from_(from), record_(record) {
    rest();
  }
  void rest() {  // as a daemon starts
    for (const OutputInfo& row : kOutputs) {
      const auto& fitted = plan_.outputs[row.output];
      level_[row.output] = fitted ? fitted->safe.value / 1000.0 : 0;
    }
  }
  void take(const Event& event) {
    // The end of a hold is told with the level that was held; what follows it is told apart.
    if (event.kind == EventKind::boot)
      rest();
    else if (event.because.reason != Reason::operator_hold_expired)
      level_[event.output] = event.level.value / 1000.0;
  }
  // From where it stood until `tick`.
  void stand_until(std::int64_t tick) {
    while (at_ < tick - from_) {
      const std::int64_t step = at_ / kStepMs;
      if (step >= static_cast<std::int64_t>(record_.steps.size())) return;
      const std::int64_t end = std::min((step + 1) * kStepMs, tick - from_);
      const double part = static_cast<double>(end - at_) / static_cast<double>(kStepMs);
      Step& here = record_.steps[static_cast<std::size_t>(step)];
      here.fan += part * level_[Output::exhaust_fan];
      here.light += part * level_[Output::light];
      here.dehumidifier += part * level_[Output::dehumidifier];
      here.humidifier += part * level_[Output::humidifier];
      at_ = end;
    }
  }

 private:
  const Plan& plan_;
  std::int64_t from_;
  std::int64_t at_ = 0;  // since `from`
  Record& record_;
  PerOutput<double> level_;
};

void read_levels(journal::Reader& reader, const Plan& plan, std::int64_t from, std::int64_t to,
                 Record& record) {
  const std::vector<EventKind> kinds{EventKind::actuation, EventKind::boot};
  Levels levels(plan, from, record);
  for (const auto& row : reader.events({std::nullopt, from}, kinds, kEnoughBefore))
    levels.take(row.event);
  for (const auto& row : reader.events({from + 1, to}, kinds, kMostRows)) {
    levels.stand_until(row.at.tick);
    levels.take(row.event);
  }
  levels.stand_until(to);
}

// Steps of [from, to), as far as the record has them.
template <class Mark>
void mark(Record& record, std::int64_t from_ms, std::int64_t to_ms, Mark&& set) {
  const auto most = static_cast<std::int64_t>(record.steps.size());
  for (std::int64_t step = std::max<std::int64_t>(0, from_ms / kStepMs);
       step < std::min(most, (to_ms + kStepMs - 1) / kStepMs); ++step)
    set(record.steps[static_cast<std::size_t>(step)]);
}

void read_floods(journal::Reader& reader, std::int64_t from, std::int64_t to, Record& record) {
  for (const journal::CycleEntry& cycle : reader.cycles({from, to - 1})) {
    const CycleRow& row = cycle.row;
    const std::int64_t began = cycle.started.tick - from;
    const std::int64_t drained = began + (row.fill + row.soak + row.drain).count();
    mark(record, began, drained, [](Step& step) { step.water_moves = true; });
    const auto step_at = [](std::int64_t ms) { return static_cast<std::size_t>(ms / kStepMs); };
    if (step_at(drained) + 1 >= record.steps.size()) continue;
    record.floods.push_back(
        {step_at(began), step_at(drained) + 1, row.outcome == FloodOutcome::complete});
  }
}

void read_service(journal::Reader& reader, std::int64_t from, std::int64_t to, Record& record) {
  bool working = false;
  std::int64_t since = 0;
  const auto close = [&](std::int64_t until) {
    if (working) mark(record, since, until, [](Step& step) { step.disturbed = true; });
  };
  for (const auto& row : reader.events({from, to}, {EventKind::service}, kMostRows)) {
    close(row.at.tick - from);
    working = row.event.number == 1;
    since = row.at.tick - from;
  }
  close(to - from);
}

// One that a restart cut off is told to have ended then: what lies between was not read.
void read_tests(journal::Reader& reader, std::int64_t from, std::int64_t to, Record& record) {
  const auto step_at = [&](std::int64_t tick) {
    return static_cast<std::size_t>((tick - from + kStepMs - 1) / kStepMs);
  };
  std::optional<identify::Test> open;
  const auto close = [&](std::size_t end) {
    if (!open) return;
    open->to = std::min(end, record.steps.size());
    record.tests.push_back(*open);
    open.reset();
  };
  for (const auto& row : reader.events({from, to}, {EventKind::step_test}, kMostRows)) {
    const std::size_t here = step_at(row.at.tick);
    close(here);
    if (row.event.number == 1)
      open = identify::Test{here, here, row.event.output == Output::exhaust_fan};
  }
  close(record.steps.size());
}

}  // namespace

Record tent_record(journal::Reader& reader, const Plan& plan, std::int64_t from, std::int64_t to) {
  Record record;
  record.steps.resize(static_cast<std::size_t>(std::max<std::int64_t>(0, (to - from) / kStepMs)));
  const std::int64_t end = from + static_cast<std::int64_t>(record.steps.size()) * kStepMs;
  read_probe(reader, plan, Point::canopy_temperature, Point::canopy_humidity, &Step::canopy, from,
             end, record);
  read_probe(reader, plan, Point::room_temperature, Point::room_humidity, &Step::room, from, end,
             record);
  each_step(reader, plan, Point::reservoir_level, from, end,
            [&](std::size_t step, double value) { record.steps[step].level_l = value; });
  read_levels(reader, plan, from, end, record);
  read_floods(reader, from, end, record);
  read_service(reader, from, end, record);
  read_tests(reader, from, end, record);
  return record;
}

}  // namespace neap::client
