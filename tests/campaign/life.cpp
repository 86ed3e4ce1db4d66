#include "tests/campaign/life.h"

#include <algorithm>
#include <cstdio>
#include <filesystem>
#include <memory>
#include <optional>
#include <stdexcept>

#include "daemon/core/pump_contacts.h"
#include "daemon/shell/boot.h"
#include "daemon/shell/state_file.h"
#include "tests/campaign/contacts.h"
#include "tests/campaign/rot.h"

namespace neap::campaign {
namespace {

using drivers::simulated::ContactChannel;
using drivers::simulated::Place;
using drivers::simulated::TentFault;

constexpr Instant kOrigin = instant(Millis{4'294'967'000});
constexpr Millis kSaveAnyway = hours{1};
constexpr Millis kSampleEvery = seconds{10};
constexpr Millis kPressedEvery = seconds{1};  // a button, while it counts
constexpr int kCoastS = 10;
constexpr std::int64_t kDayMs = 86'400'000;
constexpr std::int64_t kShortDay = 1774746000000;  // 2026-03-29T01:00Z, clocks go forward
constexpr double kLoopS = 600;                     // three starts in that time are a crash loop

class Life {
 public:
  Life(const World& world, const std::string& dir, Seen& seen, bool trace)
      : world_(world),
        plan_(world.settings.plan),
        law_(law_of(plan_.climate)),
        path_(dir + "/state"),
        watcher_(seen),
        trace_(trace),
        oracle_(world, plan_) {
    std::filesystem::remove(path_);
    std::string error;
    tent_ = drivers::make_tent(*world.settings.hardware.simulation, world.start_unix_ms, 0, error);
    if (!tent_) throw std::runtime_error(error);
    tent_->coast_by(kCoastS);
    if (plan_.outputs[Output::pump_series]) tent_->fit_second_contact();
    for (const Output tempers : {Output::water_heater, Output::water_chiller})
      if (plan_.outputs[tempers]) tent_->command_water(tempers);
    for (const OutputInfo& row : kOutputs) pins_[row.output] = safe(row.output);
    now_ = tent_->advance_to(kOrigin);
    boot(false);
  }

  Result run() {
    const Instant end = kOrigin + seconds{world_.ends_s};
    while (now_ < end && oracle_.violations().empty()) advance(end);
    if (oracle_.violations().empty()) oracle_.ended(elapsed_s());
    result_.violations = oracle_.violations();
    result_.floods_complete = oracle_.floods_complete();
    return result_;
  }

 private:
  Instant tick() const { return now_ - shift_; }
  double elapsed_s() const { return static_cast<double>((now_ - kOrigin).count()) / 1000; }
  Permille safe(Output output) const {
    const auto& fitted = plan_.outputs[output];
    return fitted ? fitted->safe : info(output).safe;
  }

  // To the next moment at which anything may happen.
  void advance(Instant end) {
    Instant target = std::min(end, next_sample_);
    target = std::min(target, state_ ? std::max(wake_ + shift_, now_ + seconds{1}) : back_at_);
    if (armed_at_) target = std::min(target, *armed_at_);
    if (next_ < world_.script.size())
      target = std::min(target, kOrigin + seconds{world_.script[next_].at_s});
    target = std::max(target, now_);
    const auto before = contacts_;
    const Instant from = now_;
    if (target > now_) now_ = tent_->advance_to(target);
    contacts_ = tent_->contacts();
    const bool edge = contacts_ != before;
    if (now_ > from) tell_oracle(nullptr, from);
    if (!state_ && now_ >= back_at_) boot(true);
    bool due = edge || (state_ && tick() >= wake_);
    if (now_ >= next_sample_) due = sample() || due;
    if (edge && state_) deliver_contacts();
    if (armed_at_ && now_ >= *armed_at_) spring();
    while (next_ < world_.script.size() && now_ >= kOrigin + seconds{world_.script[next_].at_s}) {
      const Happening& h = world_.script[next_++];
      if (h.after_pump_ms)
        armed_ = &h;
      else
        happen(h);
      due = true;
    }
    if (due && state_) scan_now();
  }

  // True when the air was read.
  bool sample() {  // On the scan's own grid of longest sleeps, so that one moment serves both.
    const Millis every =
        tent_->state().faults[TentFault::button_pressed] ? kPressedEvery : kSampleEvery;
    next_sample_ = now_ + every - tick().time_since_epoch() % every;
    if (!state_ || all_lost_) return false;
    deliver_contacts();
    deliver(Point::reservoir_level, tent_->level());
    if (plan_.points[Point::solution_temperature])
      deliver(Point::solution_temperature, tent_->solution().temperature);
    if (now_ < next_air_) return false;
    next_air_ = now_ + air_every();
    const auto canopy = tent_->air(Place::canopy);
    deliver(Point::canopy_temperature, canopy.temperature);
    deliver(Point::canopy_humidity, canopy.humidity);
    const auto room = tent_->air(Place::room);
    deliver(Point::room_temperature, room.temperature);
    deliver(Point::room_humidity, room.humidity);
    return true;
  }

  Millis air_every() const {
    for (const auto& sensor : world_.settings.hardware.sensors)
      if (sensor.name == "canopy") return sensor.period;
    return kSampleEvery;
  }

  void deliver(Point point, const drivers::simulated::Said& said) {
    if (!plan_.points[point]) return;
    Sample& sample = inputs_.samples[point];
    sample = {said.value, said.fault, tick(), sample.count + 1};
  }

  void deliver_contacts() {
    if (contacts_lost_ || all_lost_) return;
    if (!floats_lost_) contacts_at_ = now_;
    contacts_heard_ = true;
    for (const ContactRow& row : kContacts)
      if (const Contact seen = contacts_[static_cast<std::size_t>(row.channel)];
          !floats_lost_ || !is_float(row.point))
        deliver(row.point, {static_cast<double>(seen), Fault::none});
  }

  // --- the process
  void boot(bool again) {
    file_ = std::make_unique<shell::StateFile>(path_, false);
    shell::Boot found = shell::read_boot(
        *file_, again ? std::optional{last_tick_} : std::optional<Instant>{}, again);
    const Instant start = again ? next_whole_second(found.start) : kOrigin;
    shift_ = now_ - start;
    boot_ = found.record;
    std::optional<Kept> kept = found.kept;
    if (found.state_lost) kept = shell::worst_case(plan_, start, found.kept.value_or(Kept{}));
    state_ = std::make_unique<State>(start_state(plan_, kept ? &*kept : nullptr, start));
    inputs_ = Inputs{};
    proven_ = false;
    pump_waits_ = false;
    wake_ = tick();
    next_sample_ = now_ + seconds{1};
    next_air_ = now_;
    if (!card_fails_) save();
    drive_safe();
    boots_.push_back(elapsed_s());
    if (boots_.size() >= 3 && elapsed_s() - boots_[boots_.size() - 3] < kLoopS)
      watcher_.meets(Told::crash_loop, elapsed_s());
    if (tick() < instant(Millis{boot_.safe_mode_until}))
      watcher_.answers(Told::crash_loop, elapsed_s());
    oracle_.began();
  }

  // Pins fall with the power; a killed process leaves them as they are.
  void crash(const Happening& h) {
    if (!state_) return;
    ++result_.crashes;
    if (h.act == Act::kill && pump_is_on()) watcher_.meets(Told::killed_while_pumping, elapsed_s());
    if (state_->flood.phase != FloodPhase::idle) watcher_.meets(Told::cut_in_a_flood, elapsed_s());
    if (pins_[Output::dehumidifier] > kStopped) watcher_.meets(Told::compressor_cut, elapsed_s());
    last_tick_ = tick();
    write_card();
    state_.reset();
    file_.reset();
    back_at_ = now_ + Millis{h.number};
    powered_ = h.act == Act::kill;
    if (!powered_) drive_safe();
    const bool gone = h.act == Act::state_rots && h.number % 2 == 0;
    if (h.act == Act::state_rots) rot(path_, gone);
    if (gone) watcher_.meets(Told::state_gone, elapsed_s());
    oracle_.crashed(card_fails_ || gone);
  }

  // What the card holds. It is written out when somebody will read it: at a crash.
  void save() {
    boot_.last_tick = tick_ms(tick());
    saved_ = shell::Stored{state_->kept, boot_};
    saved_at_ = tick();
  }
  void write_card() {
    if (!saved_) return;
    if (const std::string error = file_->save(*saved_); !error.empty())
      throw std::runtime_error(error);
    saved_.reset();
  }

  void scan_now() {
    prepare();
    scan(plan_, law_, *state_, inputs_, tick(), *out_);
    inputs_.requests.clear();
    ++result_.scans;
    wake_ = out_->next_wake;
    if (!proven_) wake_ = std::min(wake_, tick() + seconds{1});
    if (!card_fails_ && (out_->keep || tick() - saved_at_ >= kSaveAnyway)) save();
    const bool tempered = tempered_uncovered();
    drive();
    if (tempered && !tempered_uncovered())
      watcher_.answers(Told::uncovered_in_the_water, elapsed_s());
    note_events();
    proven_ = true;
    powered_ = true;
    tell_oracle(out_.get(), now_);
  }

  void prepare() {
    const std::int64_t unix_ms = world_.start_unix_ms + (now_ - kOrigin).count() + wall_off_;
    const std::int32_t offset_before = inputs_.wall.utc_offset_s;
    inputs_.wall.unix_ms = unix_ms;
    inputs_.wall.utc_offset_s = plan_.time_zone == "Etc/UTC" ? 0
                                : unix_ms < kShortDay        ? 3600
                                                             : 7200;
    if (offset_before == 3600 && inputs_.wall.utc_offset_s == 7200)
      watcher_.meets(Told::short_day, elapsed_s());
    inputs_.wall.quality = time_lost_ ? TimeQuality::unset : TimeQuality::synced;
    inputs_.outputs_proven = proven_;
    inputs_.safe_mode = tick() < instant(Millis{boot_.safe_mode_until});
    inputs_.unsaved = card_fails_;
    inputs_.pump_waits = pump_waits_;
    for (const OutputInfo& row : kOutputs)
      if (plan_.outputs[row.output]) inputs_.driven[row.output] = Driven{pins_[row.output], true};
  }

  // As the gate does: a pump starts when its debit is on the card, and not before.
  void drive() {
    const bool starts = pump_runs(plan_, out_->outputs) && !pump_is_on();
    pump_waits_ = starts && card_fails_;
    for (const OutputInfo& row : kOutputs) {
      if (!plan_.outputs[row.output]) continue;
      const bool waits = pump_waits_ && is_pump_contact(row.output);
      write(row.output, waits ? kStopped : out_->outputs.commands[row.output].level);
    }
    if (starts && !pump_waits_ && armed_ != nullptr && !armed_at_)
      armed_at_ = now_ + Millis{*armed_->after_pump_ms};
  }
  bool pump_is_on() const {
    return pump_told(plan_, pins_[Output::pump], pins_[Output::pump_series]) == PumpTold::runs;
  }
  void drive_safe() {
    for (const OutputInfo& row : kOutputs)
      if (plan_.outputs[row.output]) write(row.output, safe(row.output));
  }
  void write(Output output, Permille level) {
    if (pins_[output] == level) return;
    pins_[output] = level;
    tent_->write(output, level);
    result_.trace = (result_.trace ^ static_cast<std::uint64_t>(now_.time_since_epoch().count()) ^
                     (static_cast<std::uint64_t>(level.value) << 48) ^
                     (static_cast<std::uint64_t>(output) << 60)) *
                    1099511628211u;
    if (trace_ && moves_water(output))
      std::printf("%10.0f  %s %d\n", elapsed_s(), std::string(info(output).name).c_str(),
                  level.value);
  }

  // --- what happens
  void spring() {
    armed_at_.reset();
    happen(*std::exchange(armed_, nullptr));
  }

  void happen(const Happening& h) {
    if (trace_) std::printf("%10.0f  %s\n", elapsed_s(), told(h).c_str());
    watcher_.happens(h, elapsed_s());
    switch (h.act) {
      case Act::fault_begins:
      case Act::fault_ends:
      case Act::button_down:
      case Act::button_up:
        return inject(h, h.act == Act::fault_begins || h.act == Act::button_down);
      case Act::power_cut:
      case Act::state_rots:
      case Act::kill:
        return crash(h);
      case Act::wall_step:
        return step_clock(h.number);
      case Act::time_lost:
      case Act::time_back:
        time_lost_ = h.act == Act::time_lost;
        return;
      case Act::card_fails:
      case Act::card_heals:
        card_fails_ = h.act == Act::card_fails;
        return;
      case Act::contacts_lost:
      case Act::contacts_back:
        contacts_lost_ = h.act == Act::contacts_lost && h.number == 0;
        floats_lost_ = h.act == Act::contacts_lost && h.number == 1;
        contacts_heard_ = false;
        return;
      case Act::all_lost:
      case Act::all_back:
        all_lost_ = h.act == Act::all_lost;
        contacts_heard_ = false;
        return;
      case Act::settings_change:
        return change_settings();
      case Act::request:
        return ask(h.request);
    }
  }

  void step_clock(std::int64_t ms) {
    wall_off_ += ms;
    if (ms < 0) watcher_.meets(Told::clock_back, elapsed_s());
    if (ms > kDayMs) watcher_.meets(Told::clock_days_ahead, elapsed_s());
  }

  // To the other grow plan of this world, and back at the next change.
  void change_settings() {
    changed_ = !changed_;
    oracle_.settings_changed(plan_.table);
    const Plan& next = changed_ ? world_.changed.plan : world_.settings.plan;
    if (state_) adopt_plan(plan_, next, *state_, tick());
    plan_ = next;
  }

  void ask(Request request) {
    if (!state_) return;
    request.id = ++request_id_;
    inputs_.requests.push(request);
    if (request.kind == RequestKind::hold && request.output == Output::pump &&
        request.level > kStopped)
      watcher_.meets(Told::hold_of_the_pump, elapsed_s());
    const bool wet =
        tent_->contacts()[static_cast<std::size_t>(ContactChannel::leak_floor)] == Contact::set;
    if (request.kind == RequestKind::reset_latch && request.latch == Latch::leak && wet &&
        state_->kept.kernel.latched[static_cast<std::size_t>(Latch::leak)])
      watcher_.meets(Told::reset_of_a_wet_latch, elapsed_s());
  }

  void inject(const Happening& h, bool active) {
    const std::string_view name =
        drivers::simulated::kTentFaults[static_cast<std::size_t>(h.fault)].name;
    if (!tent_->inject(name, active, h.severity).accepted)
      throw std::runtime_error("the tent knows no fault " + std::string(name));
    if (active && h.fault == TentFault::bus_stuck && plan_.outputs[Output::sensor_rail])
      watcher_.meets(Told::bus_stuck_on_a_rail, elapsed_s());
  }

  bool tempered_uncovered() {
    const Litres covered = plan_.water.covered_at.value_or(plan_.table.reservoir_minimum);
    const bool runs =
        std::max(pins_[Output::water_heater], pins_[Output::water_chiller]) > kStopped;
    if (!runs || tent_->state().reservoir_kg > covered.value) return false;
    watcher_.meets(Told::uncovered_in_the_water, elapsed_s());
    return true;
  }

  void note_events() {
    for (const Event& event : out_->events) {
      if (trace_) std::fputs(told(event, elapsed_s()).c_str(), stdout);
      watcher_.event(event, elapsed_s());
      if (event.kind == EventKind::service && event.number == 1)
        watcher_.meets(Told::service_begun, elapsed_s());
      if (event.kind == EventKind::alarm && event.alarm == Alarm::flood_withheld &&
          event.alarm_to == AlarmState::unacknowledged)
        watcher_.meets(Told::flood_withheld, elapsed_s());
    }
    if (state_->service && state_->slot_due) watcher_.meets(Told::slot_in_service, elapsed_s());
    const Reason dehumidifier = out_->outputs.commands[Output::dehumidifier].because.reason;
    if (dehumidifier == Reason::min_off_dwell) watcher_.answers(Told::compressor_cut, elapsed_s());
    if (!proven_ && !pump_is_on()) watcher_.answers(Told::killed_while_pumping, elapsed_s());
  }

  void tell_oracle(const Outcome* outcome, Instant from) {
    contacts_ = tent_->contacts();
    Moment m;
    m.now_s = elapsed_s();
    m.since_s = static_cast<double>((now_ - from).count()) / 1000;
    m.powered = powered_ && state_ != nullptr;
    m.proven = proven_;
    m.truth = &tent_->state();
    m.contacts = contacts_lost_ || all_lost_ ? nullptr : &contacts_;
    m.contacts_heard = contacts_heard_;
    m.contacts_age_s = static_cast<double>((now_ - contacts_at_).count()) / 1000;
    m.faults = &tent_->state().faults;
    m.pins = &pins_;
    m.state = state_.get();
    m.outcome = outcome;
    m.other_settings = changed_;
    m.clock_ahead_s = static_cast<double>(wall_off_) / 1000;
    oracle_.moment(m);
  }

  const World& world_;
  Plan plan_;
  const ClimateLaw& law_;
  const std::string path_;
  Watcher watcher_;
  const bool trace_;
  Oracle oracle_;
  std::unique_ptr<drivers::Tent> tent_;
  PerOutput<Permille> pins_;
  drivers::simulated::Contacts contacts_{};

  Instant now_{};   // of the world
  Millis shift_{};  // world less tick
  Instant back_at_{};
  Instant next_sample_{};
  Instant next_air_{};
  Instant wake_{};  // in ticks
  bool powered_ = true;
  bool proven_ = false;
  bool pump_waits_ = false;

  std::unique_ptr<shell::StateFile> file_;
  std::unique_ptr<State> state_;
  std::unique_ptr<Outcome> out_ = std::make_unique<Outcome>();
  shell::BootRecord boot_;
  Inputs inputs_;
  Instant last_tick_{}, contacts_at_{};
  std::optional<shell::Stored> saved_;
  Instant saved_at_{};
  std::int64_t wall_off_ = 0;
  bool changed_ = false;  // the settings are the other ones
  bool time_lost_ = false, card_fails_ = false;
  bool contacts_lost_ = false, floats_lost_ = false, contacts_heard_ = false, all_lost_ = false;
  std::vector<double> boots_;
  std::size_t next_ = 0;              // of the script
  const Happening* armed_ = nullptr;  // waits for the pump
  std::optional<Instant> armed_at_{};
  std::uint32_t request_id_ = 0;
  Result result_;
};

}  // namespace

Result live(const World& world, const std::string& dir, Seen& seen, bool trace) {
  return Life(world, dir, seen, trace).run();
}

}  // namespace neap::campaign
