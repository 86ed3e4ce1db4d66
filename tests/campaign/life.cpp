#include "tests/campaign/life.h"

#include <algorithm>
#include <cstdio>
#include <filesystem>
#include <memory>
#include <optional>
#include <stdexcept>

#include "daemon/shell/boot.h"
#include "daemon/shell/state_file.h"

namespace neap::campaign {
namespace {

using drivers::simulated::ContactChannel;
using drivers::simulated::Place;
using drivers::simulated::TentFault;

constexpr Instant kOrigin = instant(Millis{4'294'967'000});
constexpr Millis kSaveAnyway = hours{1};
constexpr Millis kSampleEvery = seconds{10};
constexpr int kCoastS = 5;
constexpr std::int64_t kShortDay = 1774746000000;  // 2026-03-29T01:00Z, clocks go forward
constexpr double kReactsWithinS = 86400;

struct Contacts {
  ContactChannel channel;
  Point point;
};
constexpr std::array kContacts{
    Contacts{ContactChannel::tray_full, Point::tray_full},
    Contacts{ContactChannel::tray_high, Point::tray_high},
    Contacts{ContactChannel::tray_wet, Point::tray_wet},
    Contacts{ContactChannel::reservoir_low, Point::reservoir_low},
    Contacts{ContactChannel::leak_floor, Point::leak_floor},
    Contacts{ContactChannel::leak_rack, Point::leak_rack},
    Contacts{ContactChannel::leak_reservoir, Point::leak_reservoir},
    Contacts{ContactChannel::pump_running, Point::pump_running},
    Contacts{ContactChannel::bucket_full, Point::bucket_full},
};

class Life {
 public:
  Life(const World& world, const std::string& dir, Seen& seen, bool trace)
      : world_(world),
        plan_(world.settings.plan),
        law_(law_of(plan_.climate)),
        path_(dir + "/state"),
        seen_(seen),
        trace_(trace),
        oracle_(world, plan_) {
    std::filesystem::remove(path_);
    std::string error;
    tent_ = drivers::make_tent(*world.settings.hardware.simulation, world.start_unix_ms, 0, error);
    if (!tent_) throw std::runtime_error(error);
    tent_->coast_by(kCoastS);
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
    if (state_) target = std::min(target, std::max(wake_ + shift_, now_ + seconds{1}));
    if (!state_) target = std::min(target, back_at_);
    if (next_ < world_.script.size())
      target = std::min(target, kOrigin + seconds{world_.script[next_].at_s});
    target = std::max(target, now_);
    const auto before = tent_->contacts();
    const Instant from = now_;
    if (target > now_) now_ = tent_->advance_to(target);
    const bool edge = tent_->contacts() != before;
    if (now_ > from) tell_oracle(nullptr, from);
    if (!state_ && now_ >= back_at_) boot(true);
    bool due = edge || (state_ && tick() >= wake_);
    if (now_ >= next_sample_) due = sample() || due;
    if (edge && state_) deliver_contacts();
    while (next_ < world_.script.size() && now_ >= kOrigin + seconds{world_.script[next_].at_s}) {
      happen(world_.script[next_++]);
      due = true;
    }
    if (due && state_) scan_now();
  }

  // --- sensors
  // True when the air was read.
  bool sample() {
    // On the scan's own grid of longest sleeps, so that one moment serves both.
    next_sample_ = now_ + kSampleEvery - tick().time_since_epoch() % kSampleEvery;
    if (!state_) return false;
    deliver_contacts();
    deliver(Point::reservoir_level, tent_->level());
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
    if (contacts_lost_) return;
    contacts_at_ = now_;
    const auto contacts = tent_->contacts();
    for (const Contacts& row : kContacts)
      deliver(row.point,
              {static_cast<double>(contacts[static_cast<std::size_t>(row.channel)]), Fault::none});
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
    if (tick() < instant(Millis{boot_.safe_mode_until})) ++seen_.safe_modes;
    oracle_.began();
  }

  // Pins fall with the power; a killed process leaves them as they are.
  void crash(const Happening& h) {
    if (!state_) return;
    ++result_.crashes;
    last_tick_ = tick();
    state_.reset();
    file_.reset();
    back_at_ = now_ + Millis{h.number};
    powered_ = h.act == Act::kill;
    if (!powered_) drive_safe();
    oracle_.crashed(card_fails_);
  }

  void save() {
    boot_.last_tick = tick_ms(tick());
    if (const std::string error = file_->save({state_->kept, boot_}); !error.empty())
      throw std::runtime_error(error);
    saved_at_ = tick();
  }

  void scan_now() {
    prepare();
    scan(plan_, law_, *state_, inputs_, tick(), *out_);
    inputs_.requests.clear();
    ++result_.scans;
    wake_ = out_->next_wake;
    if (!proven_) wake_ = std::min(wake_, tick() + seconds{1});
    if (!card_fails_ && (out_->keep || tick() - saved_at_ >= kSaveAnyway)) save();
    drive();
    note_events();
    proven_ = true;
    powered_ = true;
    tell_oracle(out_.get(), now_);
  }

  void prepare() {
    const std::int64_t unix_ms = world_.start_unix_ms + (now_ - kOrigin).count() + wall_off_;
    inputs_.wall.unix_ms = unix_ms;
    inputs_.wall.utc_offset_s = plan_.time_zone == "Etc/UTC" ? 0
                                : unix_ms < kShortDay        ? 3600
                                                             : 7200;
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
    pump_waits_ = false;
    for (const OutputInfo& row : kOutputs) {
      if (!plan_.outputs[row.output]) continue;
      Permille level = out_->outputs.commands[row.output].level;
      const bool starts =
          row.output == Output::pump && level > kStopped && pins_[Output::pump] == kStopped;
      if (starts && card_fails_) {
        pump_waits_ = true;
        level = kStopped;
      }
      write(row.output, level);
    }
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
    if (trace_ && (output == Output::pump || output == Output::drain_valve))
      std::printf("%10.0f  %s %d\n", elapsed_s(), std::string(info(output).name).c_str(),
                  level.value);
  }

  // --- what happens
  void happen(const Happening& h) {
    if (trace_) std::printf("%10.0f  %s\n", elapsed_s(), told(h).c_str());
    switch (h.act) {
      case Act::fault_begins:
        ++seen_.entered[static_cast<std::size_t>(h.fault)];
        began_[static_cast<std::size_t>(h.fault)] = elapsed_s();
        inject(h, true);
        return;
      case Act::fault_ends:
        inject(h, false);
        return;
      case Act::power_cut:
        ++seen_.power_cuts;
        return crash(h);
      case Act::kill:
        ++seen_.kills;
        return crash(h);
      case Act::wall_step:
        ++seen_.clock_steps;
        wall_off_ += h.number;
        return;
      case Act::time_lost:
      case Act::time_back:
        time_lost_ = h.act == Act::time_lost;
        return;
      case Act::card_fails:
        ++seen_.card_failures;
        card_fails_ = true;
        return;
      case Act::card_heals:
        card_fails_ = false;
        return;
      case Act::contacts_lost:
      case Act::contacts_back:
        contacts_lost_ = h.act == Act::contacts_lost;
        return;
      case Act::request:
        if (!state_) return;
        Request request = h.request;
        request.id = ++request_id_;
        inputs_.requests.push(request);
        return;
    }
  }

  void inject(const Happening& h, bool active) {
    const std::string_view name =
        drivers::simulated::kTentFaults[static_cast<std::size_t>(h.fault)].name;
    if (!tent_->inject(name, active, h.severity).accepted)
      throw std::runtime_error("the tent knows no fault " + std::string(name));
  }

  void note_events() {
    for (const Event& event : out_->events) {
      if (trace_) print(event);
      if (event.kind == EventKind::latch_set)
        ++seen_.latches[static_cast<std::size_t>(event.latch)];
      if (event.kind == EventKind::latch_reset)
        ++seen_.resets[static_cast<std::size_t>(event.latch)];
      if (event.kind != EventKind::alarm || event.alarm_to != AlarmState::unacknowledged) continue;
      ++seen_.alarms[static_cast<std::size_t>(event.alarm)];
      for (const Reaction& row : reactions()) {
        auto& began = began_[static_cast<std::size_t>(row.fault)];
        if (!began || elapsed_s() - *began > kReactsWithinS) continue;
        if (std::find(row.alarms.begin(), row.alarms.end(), event.alarm) == row.alarms.end())
          continue;
        ++seen_.reacted[static_cast<std::size_t>(row.fault)];
        began.reset();
      }
    }
  }

  void print(const Event& e) const {
    const double at = elapsed_s();
    if (e.kind == EventKind::alarm)
      std::printf("%10.0f  alarm %s %d > %d\n", at, std::string(info(e.alarm).name).c_str(),
                  static_cast<int>(e.alarm_from), static_cast<int>(e.alarm_to));
    if (e.kind == EventKind::flood_phase)
      std::printf("%10.0f  flood phase %d, reason %d\n", at, static_cast<int>(e.phase),
                  static_cast<int>(e.because.reason));
    if (e.kind == EventKind::reading_state)
      std::printf("%10.0f  reading %s, reason %d, fault %.0f\n", at,
                  std::string(info(e.point).name).c_str(), static_cast<int>(e.because.reason),
                  e.because.args[1]);
    if (e.kind == EventKind::latch_set || e.kind == EventKind::latch_reset)
      std::printf("%10.0f  latch %s %s\n", at, std::string(info(e.latch).name).c_str(),
                  e.kind == EventKind::latch_set ? "set" : "reset");
    if (e.kind == EventKind::cycle_closed)
      std::printf("%10.0f  flood ends, outcome %d\n", at, static_cast<int>(e.cycle.outcome));
    if (e.kind == EventKind::slot_skipped)
      std::printf("%10.0f  slot %d skipped, reason %d\n", at, e.slot.number,
                  static_cast<int>(e.because.reason));
    if (e.kind == EventKind::request)
      std::printf("%10.0f  request %s, reason %d\n", at, e.accepted ? "accepted" : "refused",
                  static_cast<int>(e.because.reason));
  }

  void tell_oracle(const Outcome* outcome, Instant from) {
    contacts_ = tent_->contacts();
    Moment m;
    m.now_s = elapsed_s();
    m.since_s = static_cast<double>((now_ - from).count()) / 1000;
    m.powered = powered_ && state_ != nullptr;
    m.proven = proven_;
    m.truth = &tent_->truth();
    m.contacts = contacts_lost_ ? nullptr : &contacts_;
    m.contacts_age_s = static_cast<double>((now_ - contacts_at_).count()) / 1000;
    m.faults = &tent_->state().faults;
    m.pins = &pins_;
    m.state = state_.get();
    m.outcome = outcome;
    oracle_.moment(m);
  }

  const World& world_;
  const Plan plan_;
  const ClimateLaw& law_;
  const std::string path_;
  Seen& seen_;
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
  Instant last_tick_{};
  Instant saved_at_{};
  std::int64_t wall_off_ = 0;
  bool time_lost_ = false;
  bool card_fails_ = false;
  bool contacts_lost_ = false;
  Instant contacts_at_{};
  std::size_t next_ = 0;  // of the script
  std::uint32_t request_id_ = 0;
  std::array<std::optional<double>, drivers::simulated::kTentFaultCount> began_{};
  Result result_;
};

}  // namespace

Result live(const World& world, const std::string& dir, Seen& seen, bool trace) {
  return Life(world, dir, seen, trace).run();
}

}  // namespace neap::campaign
