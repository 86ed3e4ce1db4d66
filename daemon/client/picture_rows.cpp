// From the journal to what a picture needs.
#include <algorithm>
#include <array>
#include <string_view>

#include "daemon/client/marked.h"
#include "daemon/client/picture.h"
#include "daemon/client/stages.h"
#include "daemon/core/programme.h"
#include "daemon/words/words.h"

namespace neap::client {
namespace {

constexpr int kMostRows = 2'000'000;
constexpr std::int64_t kDay = Millis{hours{24}}.count();
constexpr std::int64_t kMinute = Millis{minutes{1}}.count();

CivilTime civil_of(const journal::Stamp& stamp) {
  return neap::civil_of({*stamp.unix_ms, stamp.utc_offset_s, TimeQuality::synced});
}

// Read a day at a time: each call of the journal has a time-box, and a grow is months.
Trace trace_of(journal::Reader& reader, const Plan& plan, Point point, Stretch span) {
  Thinner thinner(span.from, span.to, held(plan, point));
  for (std::int64_t at = span.from; at < span.to; at += kDay) {
    const std::int64_t end = std::min(at + kDay, span.to);
    for (const journal::ReadingRow& row : reader.readings(point, {at, end - 1}, 0, kMostRows))
      if (row.value && row.quality != Quality::bad) thinner.add({row.at.tick, *row.value});
  }
  return std::move(thinner).runs();
}

std::vector<Aim> aims_of(journal::Reader& reader, const Plan& plan, Stretch span) {
  Stages stages(reader, plan, span.from, span.to);
  std::vector<Aim> aims;
  const std::int64_t step = std::max(kMinute, (span.to - span.from) / (2 * kPictureColumns));
  for (std::int64_t tick = span.from; tick <= span.to; tick += step) {
    const journal::Stamp stamp = reader.stamp(tick);
    if (!stamp.unix_ms) continue;
    const CivilTime civil = civil_of(stamp);
    const StagePlan& stage = stages.at(tick);
    aims.push_back({tick, band_at(stage, civil), !stage.fallow && is_light(stage, civil),
                    stage.fallow, stage.air_lowest, stage.air_highest, stage.humidity_ceiling});
  }
  return aims;
}

// Adds the time from `from` to `to` at `level` to the columns it touches.
void spread(Levels& levels, Stretch whole, Stretch part, double level) {
  const double column = static_cast<double>(whole.to - whole.from) / kPictureColumns;
  const double begin = static_cast<double>(part.from - whole.from) / column;
  const double end = static_cast<double>(part.to - whole.from) / column;
  for (int i = std::max(0, static_cast<int>(begin)); i < kPictureColumns && i < end; ++i)
    levels[static_cast<std::size_t>(i)] +=
        level * (std::min(end, i + 1.0) - std::max(begin, static_cast<double>(i)));
}

PerOutput<Levels> levels_of(journal::Reader& reader, Stretch span) {
  PerOutput<Levels> levels;
  PerOutput<Spot> now;
  const auto advance = [&](Output output, std::int64_t tick, double level) {
    Spot& spot = now[output];
    const std::int64_t since = std::max(spot.tick, span.from);
    if (spot.value > 0 && tick > since) spread(levels[output], span, {since, tick}, spot.value);
    spot = {tick, level};
  };
  const auto all_stopped = [&](std::int64_t tick) {
    for (const OutputInfo& row : kOutputs) advance(row.output, tick, 0);
  };
  for (const journal::EventRow& row :
       reader.events({std::nullopt, span.to}, {EventKind::actuation, EventKind::boot}, kMostRows)) {
    if (row.event.kind == EventKind::boot)
      all_stopped(row.at.tick);
    else
      advance(row.event.output, row.at.tick, row.event.level.value / 1000.0);
  }
  all_stopped(span.to);
  return levels;
}

// Water and air that must always move say nothing about the climate; the fan has its own panel.
bool has_strip(Output output) {
  switch (output) {
    case Output::pump:
    case Output::drain_valve:
    case Output::exhaust_fan:
    case Output::circulation_fan:
    case Output::air_pump:
    case Output::pump_series:
    case Output::sensor_rail:
    case Output::lamp:
    case Output::buzzer:
      return false;
    case Output::dehumidifier:
    case Output::humidifier:
    case Output::light:
    case Output::water_heater:
    case Output::water_chiller:
      return true;
  }
  return false;
}

}  // namespace

void Thinner::add(Spot spot) {
  const std::int64_t column =
      (spot.tick - from_) * kPictureColumns / std::max<std::int64_t>(1, to_ - from_);
  const bool gap = lowest_ && spot.tick - last_tick_ > held_.count();
  if (lowest_ && (column != column_ || gap)) put_column();
  if (runs_.empty() || gap) runs_.emplace_back();
  if (!lowest_ || spot.value < lowest_->value) lowest_ = spot;
  if (!highest_ || spot.value > highest_->value) highest_ = spot;
  column_ = column;
  last_tick_ = spot.tick;
}

void Thinner::put_column() {
  const bool low_first = lowest_->tick < highest_->tick;
  std::vector<Spot>& run = runs_.back();
  run.push_back(low_first ? *lowest_ : *highest_);
  if (lowest_->tick != highest_->tick) run.push_back(low_first ? *highest_ : *lowest_);
  lowest_.reset();
  highest_.reset();
}

Trace Thinner::runs() && {
  if (lowest_) put_column();
  return std::move(runs_);
}

Picture gather_picture(journal::Reader& reader, const Plan& plan, std::int64_t from,
                       std::int64_t to) {
  const Stretch span{from, to};
  Picture picture;
  picture.name = plan.name;
  picture.band_of = plan.climate.band_of;
  picture.metric = plan.metric;
  picture.from = from;
  picture.to = to;
  constexpr std::int64_t kMostMarks = 9;
  picture.marks = time_marks(span, kMostMarks,
                             [&](std::int64_t tick) { return local_ms_of(reader.stamp(tick)); });
  picture.aims = aims_of(reader, plan, span);
  const auto trace = [&](Point point) { return trace_of(reader, plan, point, span); };
  const bool leaf = plan.climate.band_of == BandOf::leaf;
  picture.vpd = trace(leaf ? Point::leaf_vpd : Point::canopy_vpd);
  picture.room_vpd = trace(Point::room_vpd);
  picture.canopy_temperature = trace(Point::canopy_temperature);
  picture.room_temperature = trace(Point::room_temperature);
  picture.canopy_humidity = trace(Point::canopy_humidity);
  picture.room_humidity = trace(Point::room_humidity);
  const PerOutput<Levels> levels = levels_of(reader, span);
  if (plan.outputs[Output::exhaust_fan]) picture.exhaust_fan = levels[Output::exhaust_fan];
  for (const OutputInfo& row : kOutputs)
    if (has_strip(row.output) && plan.outputs[row.output])
      picture.strips.push_back({std::string(row.title), levels[row.output]});
  picture.floods = floods_of(reader, span);
  for (const journal::AlarmSpan& alarm : reader.alarms({from, to}))
    picture.alarms.push_back(stretch_of(alarm, span));
  return picture;
}

}  // namespace neap::client
