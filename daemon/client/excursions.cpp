#include "daemon/client/excursions.h"

#include <algorithm>
#include <iterator>
#include <optional>

#include "daemon/client/banded.h"
#include "daemon/client/records_json.h"

namespace neap::client {
namespace {

constexpr Millis kReturn = minutes{20};  // inside the band for so long ends it
constexpr Millis kShortest = minutes{3};
constexpr Millis kBefore = minutes{20};  // a light or a flood acts on the air for so long
constexpr int kMostEvents = 200;

// Joins readings on one side of the band into excursions. Air that swings through the band is out
// of it on both sides at once, each for itself.
class Gathering {
 public:
  Gathering(journal::Reader& reader, bool below) : reader_(reader), below_(below) {}

  void take(const BandedReading& here) {
    const std::int64_t at = here.row.at.tick;
    const double beyond = below_ ? -here.beyond() : here.beyond();
    if (open_ && at - last_out_ > kReturn.count()) close();
    if (beyond <= 0) return;
    if (!open_) {
      open_.emplace();
      open_->from = here.row.at;
      open_->below = below_;
    }
    last_out_ = at + here.stood.count();
    open_->out += here.stood;
    open_->kpa_h += beyond * static_cast<double>(here.stood.count()) / 3'600'000;
    if (beyond <= furthest_) return;
    furthest_ = beyond;
    open_->furthest_kpa = *here.row.value;
    open_->edge_kpa = (below_ ? here.band.low : here.band.high).value;
    open_->furthest = at;
  }

  std::vector<Excursion> done() && {
    if (open_) close();
    return std::move(found_);
  }

 private:
  void close() {
    open_->to = reader_.stamp(last_out_);
    if (open_->out >= kShortest) found_.push_back(*open_);
    open_.reset();
    furthest_ = 0;
  }

  journal::Reader& reader_;
  const bool below_;
  std::optional<Excursion> open_;
  std::vector<Excursion> found_;
  std::int64_t last_out_ = 0;  // a tick
  double furthest_ = 0;
};

std::string clock_text(const journal::Stamp& at) {
  const std::string text = minute_text(at);  // "2026-06-01 14:05"
  return at.unix_ms ? text.substr(11) : text;
}

// What of an event acts on the air; empty of any other.
std::string text_of(const journal::EventRow& row) {
  const Event& event = row.event;
  const std::string at = " at " + clock_text(row.at);
  if (event.kind == EventKind::boot && event.because.reason == Reason::started)
    return "neapd started" + at;
  if (event.kind == EventKind::settings && event.because.reason == Reason::settings_applied)
    return "other settings" + at;
  if (event.kind == EventKind::service && event.number != 0) return "work at the tent" + at;
  if (event.kind == EventKind::stage) return "stage " + row.name + at;
  return {};
}

std::optional<int> level_at(journal::Reader& reader, Output output, std::int64_t tick) {
  std::optional<int> level;
  for (const journal::LevelRow& row : reader.levels(output, {tick, tick})) level = row.permille;
  return level;
}

// A lamp that is dimmed up or down has come on, or gone, once.
void say_light(journal::Reader& reader, const journal::Span& around, Excursion& excursion) {
  std::optional<bool> lit;
  for (const journal::LevelRow& row : reader.levels(Output::light, around)) {
    const bool now = row.permille > 0;
    if (lit && *lit != now)
      excursion.with.push_back((now ? "light on at " : "light off at ") +
                               clock_text(reader.stamp(row.tick)));
    lit = now;
  }
}

void say_outputs(journal::Reader& reader, const Plan& plan, Excursion& excursion) {
  for (const Output output : {Output::exhaust_fan, Output::dehumidifier, Output::humidifier}) {
    if (!plan.outputs[output]) continue;
    const auto level = level_at(reader, output, excursion.furthest);
    if (!level) continue;
    const std::string name(info(output).title);
    excursion.with.push_back(plan.outputs[output]->variable
                                 ? name + " at " + std::to_string((*level + 5) / 10) + " %"
                                 : name + (*level > 0 ? " ran" : " stood"));
  }
}

}  // namespace

std::vector<Excursion> worst_excursions(journal::Reader& reader, const Plan& plan,
                                        std::int64_t from, std::int64_t to, std::size_t most) {
  Gathering below(reader, true);
  Gathering above(reader, false);
  each_banded(reader, plan, from, to, [&](const BandedReading& here) {
    below.take(here);
    above.take(here);
  });
  std::vector<Excursion> found = std::move(below).done();
  std::ranges::move(std::move(above).done(), std::back_inserter(found));
  std::sort(found.begin(), found.end(),
            [](const Excursion& a, const Excursion& b) { return a.kpa_h > b.kpa_h; });
  found.resize(std::min(found.size(), most));
  std::sort(found.begin(), found.end(),
            [](const Excursion& a, const Excursion& b) { return a.from.tick < b.from.tick; });
  return found;
}

void explain(journal::Reader& reader, const Plan& plan, Excursion& excursion) {
  const journal::Span around{excursion.from.tick - kBefore.count(), excursion.to.tick};
  for (const journal::CycleEntry& cycle : reader.cycles(around))
    excursion.with.push_back("flood at " + clock_text(cycle.started));
  say_light(reader, around, excursion);
  for (const journal::EventRow& row : reader.events(
           around, {EventKind::boot, EventKind::settings, EventKind::service, EventKind::stage},
           kMostEvents))
    if (std::string text = text_of(row); !text.empty()) excursion.with.push_back(std::move(text));
  for (const journal::AlarmSpan& alarm : reader.alarms(around))
    if (alarm.alarm != Alarm::vpd_out_of_band && alarm.raised.tick >= *around.from)
      excursion.with.push_back("alarm " + std::string(info(alarm.alarm).name));
  say_outputs(reader, plan, excursion);
}

}  // namespace neap::client
