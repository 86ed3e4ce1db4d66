#include "daemon/core/interlock.h"

#include <algorithm>
#include <span>

namespace neap {
namespace {

// In order of strength: the strongest effect names the reason.
enum class Effect : std::uint8_t { none, cap, inhibit, trip };

struct Rule {
  Effect effect;
  Reason reason;
  bool (*holds)(const KernelInputs& in);
};

// Water moves only while every guard is known to be well.
constexpr std::array kPumpRules{
    Rule{Effect::trip, Reason::leak_wet, [](auto& in) { return in.leak == LeakSeen::wet; }},
    Rule{Effect::trip, Reason::leak_unknown, [](auto& in) { return in.leak == LeakSeen::unknown; }},
    Rule{Effect::trip, Reason::tray_overflow,
         [](auto& in) { return in.tray_high == FloatSeen::set; }},
    Rule{Effect::trip, Reason::float_unknown,
         [](auto& in) { return in.tray_high == FloatSeen::unknown; }},
    Rule{Effect::trip, Reason::reservoir_low,
         [](auto& in) { return in.reservoir == LevelSeen::low; }},
    Rule{Effect::trip, Reason::reservoir_unknown,
         [](auto& in) { return in.reservoir == LevelSeen::unknown && !in.timed; }},
    Rule{Effect::trip, Reason::output_trouble, [](auto& in) { return in.deaf; }},
    Rule{Effect::trip, Reason::pump_welded,
         [](auto& in) { return in.pump_seen == PumpSeen::welded; }},
    Rule{Effect::trip, Reason::pump_in_hand,
         [](auto& in) { return in.pump_seen == PumpSeen::in_hand; }},
    Rule{Effect::trip, Reason::pump_off_auto,
         [](auto& in) { return in.pump_seen == PumpSeen::off_auto; }},
    Rule{Effect::trip, Reason::service_holds, [](auto& in) { return in.service; }},
    Rule{Effect::trip, Reason::rail_cycles, [](auto& in) { return in.rail_off; }},
    Rule{Effect::trip, Reason::state_unsaved, [](auto& in) { return in.unsaved; }},
    Rule{Effect::trip, Reason::pump_run_limit, [](auto& in) { return in.run_expired; }},
    Rule{Effect::trip, Reason::budget_cycle, [](auto& in) { return in.budget_cycle_spent; }},
    Rule{Effect::trip, Reason::budget_hour, [](auto& in) { return in.budget_hour_spent; }},
    Rule{Effect::trip, Reason::budget_day, [](auto& in) { return in.budget_day_spent; }},
    // A fill under way may go on without its float: its limit still ends it. A new one may not
    // begin.
    Rule{Effect::inhibit, Reason::float_unknown,
         [](auto& in) { return in.tray_full == FloatSeen::unknown && !in.timed; }},
    Rule{Effect::inhibit, Reason::leak_damp, [](auto& in) { return in.leak == LeakSeen::damp; }},
    // A pump that runs has its inrush behind it.
    Rule{Effect::inhibit, Reason::supply_low, [](auto& in) { return in.supply_low; }},
};

// Open is always the safe direction: it lets the tray run back to the reservoir, off the floor.
constexpr std::array kDrainValveRules{
    Rule{Effect::trip, Reason::leak_wet, [](auto& in) { return in.leak == LeakSeen::wet; }},
    Rule{Effect::trip, Reason::leak_unknown, [](auto& in) { return in.leak == LeakSeen::unknown; }},
    Rule{Effect::trip, Reason::tray_overflow,
         [](auto& in) { return in.tray_high == FloatSeen::set; }},
    Rule{Effect::trip, Reason::float_unknown,
         [](auto& in) { return in.tray_high == FloatSeen::unknown; }},
    Rule{Effect::trip, Reason::output_trouble, [](auto& in) { return in.deaf; }},
};

// A dehumidifier is a heat source and holds water: without a temperature it may not start, so that
// one shed for heat does not come back when the probe that saw the heat dies of it.
constexpr std::array kDehumidifierRules{
    Rule{Effect::trip, Reason::bucket_full, [](auto& in) { return in.bucket_full; }},
    Rule{Effect::trip, Reason::over_temperature, [](auto& in) { return in.heat == Heat::shed; }},
    Rule{Effect::inhibit, Reason::no_canopy_reading,
         [](auto& in) { return in.heat == Heat::unknown; }},
};

// A humidifier's tank is one more body of water that may be the leak.
constexpr std::array kHumidifierRules{
    Rule{Effect::trip, Reason::leak_wet, [](auto& in) { return in.leak == LeakSeen::wet; }},
    Rule{Effect::trip, Reason::leak_unknown, [](auto& in) { return in.leak == LeakSeen::unknown; }},
};

// A lost temperature does not darken the tent: the crop would pay for a dead probe.
constexpr std::array kLightRules{
    Rule{Effect::trip, Reason::light_shed_for_heat, [](auto& in) { return in.heat == Heat::shed; }},
    Rule{Effect::cap, Reason::light_dimmed_for_heat, [](auto& in) { return in.heat == Heat::dim; }},
};

// A heater out of water burns what it touches, a chiller's coil freezes: what hangs in the
// reservoir runs while it is known to be covered, and nobody has his hands in there. Where the
// water's temperature is not known, nobody knows where it is taken to.
constexpr std::array kWaterHeaterRules{
    Rule{Effect::trip, Reason::water_too_hot, [](auto& in) { return in.water == WaterSeen::hot; }},
    Rule{Effect::trip, Reason::leak_wet, [](auto& in) { return in.leak == LeakSeen::wet; }},
    Rule{Effect::trip, Reason::leak_unknown, [](auto& in) { return in.leak == LeakSeen::unknown; }},
    Rule{Effect::trip, Reason::reservoir_low,
         [](auto& in) { return in.covered == LevelSeen::low; }},
    Rule{Effect::trip, Reason::reservoir_unknown,
         [](auto& in) { return in.covered != LevelSeen::enough; }},
    Rule{Effect::trip, Reason::water_no_reading,
         [](auto& in) { return in.water == WaterSeen::unknown; }},
    Rule{Effect::trip, Reason::service_holds, [](auto& in) { return in.service; }},
    Rule{Effect::trip, Reason::rail_cycles, [](auto& in) { return in.rail_off; }},
};
// All but the heat.
constexpr auto kWaterChillerRules = std::span(kWaterHeaterRules).subspan(1);

constexpr std::size_t number(Latch latch) { return static_cast<std::size_t>(latch); }

// Latches as a set: one bit each.
constexpr unsigned only(Latch latch) { return 1U << number(latch); }
constexpr unsigned kNoLatch = 0;
constexpr unsigned kLeakLatch = only(Latch::leak);
// Water is where it should not be, and may be missing where it should.
constexpr unsigned kSpillLatches =
    only(Latch::leak) | only(Latch::tray_overflow) | only(Latch::lost_water);
constexpr unsigned kAnyLatch = (1U << kLatchCount) - 1;

struct Guard {
  Output output;
  std::span<const Rule> rules;
  unsigned held_by;  // latches
};

// Every output stands here; fans and the air pump have no trip of their own, because still air and
// still water harm in silence, nor has the supply of the sensors. What opens one contact of the
// pump opens the other.
constexpr std::array<Guard, kOutputCount> kGuards{{
    {Output::pump, kPumpRules, kAnyLatch},
    {Output::drain_valve, kDrainValveRules, kAnyLatch},
    {Output::exhaust_fan, {}, kNoLatch},
    {Output::circulation_fan, {}, kNoLatch},
    {Output::dehumidifier, kDehumidifierRules, kNoLatch},
    {Output::humidifier, kHumidifierRules, kLeakLatch},
    {Output::light, kLightRules, kNoLatch},
    {Output::air_pump, {}, kNoLatch},
    {Output::pump_series, kPumpRules, kAnyLatch},
    {Output::sensor_rail, {}, kNoLatch},
    {Output::lamp, {}, kNoLatch},
    {Output::buzzer, {}, kNoLatch},
    {Output::water_heater, kWaterHeaterRules, kSpillLatches},
    {Output::water_chiller, kWaterChillerRules, kSpillLatches},
}};

bool is_set(const KernelState& state, Latch latch) { return state.latched[number(latch)]; }

void set(KernelState& state, Latch latch, bool cause) { state.latched[number(latch)] |= cause; }

bool speaks_of_a_leak_probe(Reason reason) {
  return reason == Reason::leak_wet || reason == Reason::leak_unknown ||
         reason == Reason::leak_damp;
}

Because cause_of(const Rule& rule, const KernelInputs& in) {
  if (speaks_of_a_leak_probe(rule.reason))
    return because(rule.reason, static_cast<double>(in.leak_at));
  if (rule.reason == Reason::output_trouble)
    return because(rule.reason, static_cast<double>(slot(in.deaf_at)));
  return because(rule.reason);
}

Because held(Latch latch) {
  return latch == Latch::leak ? because(Reason::leak_latched)
                              : because(Reason::latched, static_cast<double>(latch));
}

void apply_rules(const Guard& guard, const KernelInputs& in, Verdict& verdict) {
  Effect strongest = Effect::none;
  for (const Rule& rule : guard.rules) {
    if (!rule.holds(in)) continue;
    verdict.trip |= rule.effect == Effect::trip;
    verdict.inhibit |= rule.effect == Effect::inhibit;
    if (rule.effect == Effect::cap) verdict.cap = std::min(verdict.cap, kDimmedLight);
    if (rule.effect <= strongest) continue;
    strongest = rule.effect;
    verdict.because = cause_of(rule, in);
  }
}

void apply_latches(const Guard& guard, const KernelState& state, Verdict& verdict) {
  if (verdict.trip) return;
  for (const LatchInfo& row : kLatches) {
    const bool holds = (guard.held_by & only(row.latch)) != 0;
    if (!holds || !is_set(state, row.latch)) continue;
    verdict.trip = true;
    verdict.because = held(row.latch);
    return;
  }
}

void judge_output(const Guard& guard, const KernelInputs& in, const KernelState& state,
                  Verdict& verdict) {
  verdict = {};
  if (!in.outputs_proven || !in.first_inputs_seen) {
    verdict.trip = true;
    verdict.because = because(Reason::outputs_not_proven);
    return;
  }
  apply_rules(guard, in, verdict);
  apply_latches(guard, state, verdict);
}

bool below_the_rim(FloatSeen high) {
  return high == FloatSeen::clear || high == FloatSeen::not_fitted;
}

// What proves that the cause of a latch is over. In the order of the latches.
struct Proof {
  Latch latch;
  bool (*holds)(const KernelInputs& in);
};
constexpr std::array<Proof, kLatchCount> kProofs{{
    {Latch::leak, [](auto& in) { return in.leak == LeakSeen::dry && !in.leak_confirmed; }},
    {Latch::tray_overflow, [](auto& in) { return below_the_rim(in.tray_high); }},
    {Latch::lost_water, [](auto& in) { return in.leak == LeakSeen::dry && !in.lost_water; }},
    {Latch::fill_failed,
     [](auto& in) { return below_the_rim(in.tray_high) && !in.fill_expired && !in.drain_expired; }},
    {Latch::slow_drain, [](auto& in) { return below_the_rim(in.tray_high) && !in.drain_expired; }},
    {Latch::pump_welded, [](auto& in) { return in.pump_seen == PumpSeen::obeys && !in.deaf; }},
    {Latch::state_lost,
     [](auto& in) {
       return in.leak == LeakSeen::dry && below_the_rim(in.tray_high) && !in.drain_expired;
     }},
}};

// Row by row what its number says, so that a table is indexed by its enum.
consteval bool in_order() {
  for (std::size_t i = 0; i < kOutputCount; ++i)
    if (slot(kGuards[i].output) != i) return false;
  for (std::size_t i = 0; i < kLatchCount; ++i)
    if (number(kProofs[i].latch) != i || number(kLatches[i].latch) != i) return false;
  return true;
}
static_assert(in_order());

bool cause_is_over(const KernelInputs& in, Latch latch) { return kProofs[number(latch)].holds(in); }

}  // namespace

Permille permitted(Output output, Permille wanted, Permille now, const Verdict& verdict,
                   Permille safe) {
  if (verdict.trip) return info(output).safe_is_fixed ? info(output).safe : safe;
  if (verdict.inhibit && now == kStopped) return kStopped;
  return std::min(wanted, verdict.cap);
}

void judge(const KernelInputs& in, KernelState& state, Verdicts& out) {
  set(state, Latch::leak, in.leak_confirmed);
  set(state, Latch::tray_overflow, in.tray_high == FloatSeen::set);
  set(state, Latch::lost_water, in.lost_water);
  set(state, Latch::fill_failed, in.fill_expired);
  set(state, Latch::slow_drain, in.drain_expired);
  set(state, Latch::pump_welded, in.pump_seen == PumpSeen::welded);
  for (const Guard& guard : kGuards) judge_output(guard, in, state, out.of[guard.output]);
}

Because reset(const KernelInputs& in, KernelState& state, Latch latch) {
  const auto which = static_cast<double>(latch);
  if (!is_set(state, latch)) return because(Reason::latch_not_set, which);
  if (!cause_is_over(in, latch)) return because(Reason::cause_persists, which);
  state.latched[number(latch)] = false;
  return because(Reason::none);
}

}  // namespace neap
