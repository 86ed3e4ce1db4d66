// A rig for stories: the real scan over a bathtub of water and air that the test sets. Virtual
// time, whole seconds, beginning at an ugly tick. Samples come every 10 s, contact edges at once.
#pragma once

#include <cmath>
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "daemon/core/scan.h"
#include "tests/core/plans.h"

namespace neap::test {

enum class Stepping { each_second, next_wake };

// One change of a granted level, with what it was for.
struct Change {
  std::int64_t tick;
  Output output;
  Permille level;
  Reason reason;
  friend bool operator==(const Change&, const Change&) = default;
};

// What a person asks to hold an output at a level for so long.
inline Request hold(Output output, Permille level, Millis duration) {
  return {.kind = RequestKind::hold, .output = output, .level = level, .duration = duration};
}

class Rig {
 public:
  // 2024-10-04 (civil day 20000) at `second_of_day`, local time = UTC.
  explicit Rig(Plan p, std::int32_t second_of_day = 5 * 3600 + 1800,
               Stepping stepping = Stepping::next_wake)
      : plan(std::move(p)), stepping_(stepping), civil_start_(second_of_day) {
    for (const PointInfo& row : kPoints)
      if (plan.points[row.point] && row.kind == PointKind::contact) values[row.point] = 0;
    values[Point::canopy_temperature] = 24;
    values[Point::canopy_humidity] = 66;
    values[Point::room_temperature] = 21;
    values[Point::room_humidity] = 50;
    inputs.outputs_proven = true;
    inputs.wall.quality = TimeQuality::synced;
    boot(nullptr);
  }

  // Starts as after a power cut: nothing but what was kept survives.
  void boot(const Kept* kept) {
    state = start_state(plan, kept, now);
    out = Outcome{};
    wake_ = now;
    inputs.samples = {};
    sample_all();
  }

  void run(Millis span) {
    const Instant end = now + span;
    while (now < end) second();
  }
  // Runs until `done`, at most `longest`; false when it never was.
  bool run_until(const std::function<bool()>& done, Millis longest) {
    const Instant end = now + longest;
    while (now < end) {
      if (done()) return true;
      second();
    }
    return done();
  }
  // A request, answered at once.
  const Event& ask(Request request) {
    request.id = ++request_id_;
    inputs.requests.push(request);
    scan_now();
    for (const Event& event : out.events)
      if (event.kind == EventKind::request && event.request_id == request_id_) {
        answer_ = event;
        return answer_;
      }
    answer_ = Event{};
    return answer_;
  }
  // Sets a contact and delivers it as an edge.
  void contact(Point point, Contact c) {
    forced_[point] = static_cast<double>(c);
    deliver(point);
    scan_now();
  }
  // The contact goes by the water again.
  void release(Point point) { forced_[point].reset(); }
  void silence(Point point, bool on = true) { silent_[point] = on; }

  Permille level(Output o) const { return state.last.commands[o].level; }
  bool running(Output o) const { return level(o) > kStopped; }
  Reason reason(Output o) const { return state.last.commands[o].because.reason; }
  bool latched(Latch l) const { return state.kept.kernel.latched[static_cast<std::size_t>(l)]; }
  AlarmState alarm(Alarm a) const { return state.kept.alarms[static_cast<std::size_t>(a)].state; }
  int count(EventKind kind) const {
    int n = 0;
    for (const Event& e : events) n += e.kind == kind ? 1 : 0;
    return n;
  }
  std::vector<CycleRow> rows() const {
    std::vector<CycleRow> found;
    for (const Event& e : events)
      if (e.kind == EventKind::cycle_closed) found.push_back(e.cycle);
    return found;
  }
  std::vector<Change> changes() const { return changes_; }

  Plan plan;
  State state;
  Inputs inputs;
  Outcome out;
  Instant now = instant(Millis{4'294'967'000});
  PerPoint<double> values;
  std::vector<Event> events;
  // The bathtub.
  double tray_l = 0;
  double reservoir_l = 70;
  double floor_l = 0;
  double pump_l_per_s = 0.2;
  double drain_l_per_s = 0.08;
  bool drain_blocked = false;
  bool hose_burst = false;
  bool other_hand_pumps = false;  // a timer's socket, past neap
  // Called each second before sampling, to move the air.
  std::function<void(Rig&)> air;
  // Called after each scan.
  std::function<void(const Rig&)> after_scan;
  std::int64_t scans = 0;
  Millis wall_shift{};  // a stepped wall clock

  void scan_now() {
    inputs.wall.unix_ms = std::int64_t{20000} * 86'400'000 + civil_start_ * std::int64_t{1000} +
                          (now - began_).count() + wall_shift.count();
    const PerOutput<Command> before = state.last.commands;
    scan(plan, law_of(plan.climate), state, inputs, now, out);
    inputs.requests.clear();
    ++scans;
    for (const OutputInfo& row : kOutputs)
      if (before[row.output].level != out.outputs.commands[row.output].level)
        changes_.push_back({tick_ms(now), row.output, level(row.output), reason(row.output)});
    for (const Event& event : out.events) events.push_back(event);
    wake_ = out.next_wake;
    if (after_scan) after_scan(*this);
  }

 private:
  void second() {
    now += seconds{1};
    flow();
    if (air) air(*this);
    bool due = stepping_ == Stepping::each_second || now >= wake_;
    if (tick_ms(now) % 10'000 == 0) {
      sample_all();
      due = true;
    }
    due = deliver_edges() || due;
    if (due) scan_now();
  }
  void flow() {
    if (running(Output::pump) || other_hand_pumps) {
      const double moved = std::min(pump_l_per_s, reservoir_l);
      reservoir_l -= moved;
      (hose_burst ? floor_l : tray_l) += moved;
    } else if (!drain_blocked) {
      const double back = std::min(drain_l_per_s, tray_l);
      tray_l -= back;
      reservoir_l += back;
    }
    const double over = std::max(0.0, tray_l - plan.table.flood_volume.value - 0.5);
    if (!drain_blocked) {  // the standpipe
      tray_l -= over;
      reservoir_l += over;
    }
  }
  double contact_value(Point p) const {
    if (forced_[p]) return *forced_[p];
    const auto is = [](bool wet) { return wet ? 1.0 : 0.0; };
    const double full = plan.table.flood_volume.value;
    if (p == Point::tray_full) return is(tray_l >= full);
    if (p == Point::tray_high) return is(tray_l >= full + 5);
    if (p == Point::reservoir_low) return is(reservoir_l > 10);
    return values[p];
  }
  void deliver(Point p) {
    Sample& sample = inputs.samples[p];
    ++sample.count;
    sample.taken = now;
    if (silent_[p]) {
      sample.value.reset();
      sample.fault = Fault::no_answer;
      return;
    }
    const bool is_contact = info(p).kind == PointKind::contact;
    sample.value = p == Point::reservoir_level ? reservoir_l
                   : is_contact                ? contact_value(p)
                                               : values[p];
    sample.fault = Fault::none;
  }
  void sample_all() {
    for (const PointInfo& row : kPoints)
      if (plan.points[row.point]) deliver(row.point);
  }
  bool deliver_edges() {
    bool any = false;
    for (const PointInfo& row : kPoints) {
      if (!plan.points[row.point] || row.kind != PointKind::contact || silent_[row.point]) continue;
      const auto& told = inputs.samples[row.point].value;
      if (told && *told == contact_value(row.point)) continue;
      deliver(row.point);
      any = true;
    }
    return any;
  }

  Stepping stepping_;
  std::int32_t civil_start_;
  Instant began_ = now;
  Instant wake_ = now;
  std::uint32_t request_id_ = 0;
  Event answer_;
  PerPoint<std::optional<double>> forced_;
  PerPoint<bool> silent_;
  std::vector<Change> changes_;
};

}  // namespace neap::test
