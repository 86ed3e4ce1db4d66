#include "tests/campaign/world.h"

#include <algorithm>
#include <array>
#include <cstdio>
#include <stdexcept>

#include "tests/campaign/draw.h"

namespace neap::campaign {
namespace {

using drivers::simulated::kTentFaultCount;
using drivers::simulated::kTentFaults;
using drivers::simulated::TentFault;

constexpr std::int64_t kHour = 3600;
constexpr std::int64_t kDay = 24 * kHour;
constexpr std::int64_t kWeek = 7 * kDay;
constexpr std::int64_t kMarch = 1772323200000;  // 2026-03-01T00:00Z

std::string format(const char* text, double value) {
  std::array<char, 128> line{};
  std::snprintf(line.data(), line.size(), text, value);
  return line.data();
}

// --- settings -----------------------------------------------------------------------------------

std::string floods_of(Draw& draw, bool valve, bool by_night) {
  const double soak = draw.between(2, 15);
  std::string how;
  switch (draw.below(3)) {
    case 0:
      how = format("spread: %.0f", draw.between(2, 6)) + ", first_after: 45 min, last_before: 2 h";
      break;
    case 1:
      how = "after_lights_on: [45 min, 4 h, 8 h]";
      break;
    default:
      how = by_night ? "at: [\"20:50\", \"02:30\", \"06:00\"]"
                     : "at: [\"07:45\", \"11:00\", \"16:00\"]";
  }
  std::string depth;
  if (valve && draw.chance(0.4)) depth = format(", depth: %.0f L", draw.between(12, 26));
  return "      floods: {" + how + format(", soak: %.0f min", soak) + depth + "}\n";
}

std::string laws_of(Draw& draw) {
  const double p = draw.between(0, 1);
  return p < 0.02 ? "predictive" : p < 0.15 ? "rule" : p < 0.25 ? "fixed_fan" : "two_position";
}

struct Fitted {
  bool level, tray_wet, tray_high, rack, reservoir_probe, proof, dehumidifier, humidifier,
      second_contact, air_proof, supply, rail, hand_switch, button;
};

Fitted fitted_of(Draw& draw) {
  Fitted f{draw.chance(0.8), draw.chance(0.6), draw.chance(0.8), draw.chance(0.5), draw.chance(0.5),
           draw.chance(0.6), draw.chance(0.7), draw.chance(0.4), draw.chance(0.4), draw.chance(0.5),
           draw.chance(0.5), draw.chance(0.5), draw.chance(0.5), draw.chance(0.5)};
  f.second_contact = f.second_contact && f.proof;
  return f;
}

std::string sensors_text(const Fitted& f, int air_every_s) {
  std::string text = "sensors:\n  canopy:\n    driver: simulated_air\n    with: {place: canopy}\n";
  text += format("    every: %.0f s\n", air_every_s);
  if (f.rail) text += "    on_rail: true\n";
  text +=
      "    points: {temperature: canopy.temperature, humidity: canopy.humidity}\n"
      "    frozen_after: 30 min\n"
      "  room:\n    driver: simulated_air\n    with: {place: room}\n    every: 30 s\n"
      "    points: {temperature: room.temperature, humidity: room.humidity}\n";
  if (f.level)
    text +=
        "  reservoir:\n    driver: simulated_level\n    every: 10 s\n"
        "    points: {level: reservoir.level}\n";
  text +=
      "  contacts:\n    driver: simulated_contacts\n    every: 10 s\n    points:\n"
      "      tray_full: tray.full\n      reservoir_low: reservoir.low\n"
      "      leak_floor: leak.floor\n";
  if (f.tray_high) text += "      tray_high: tray.high\n";
  if (f.tray_wet) text += "      tray_wet: tray.wet\n";
  if (f.rack) text += "      leak_rack: leak.rack\n";
  if (f.reservoir_probe) text += "      leak_reservoir: leak.reservoir\n";
  if (f.dehumidifier) text += "      bucket_full: bucket.full\n";
  if (f.air_proof) text += "      air_pump_running: air_pump.running\n";
  if (f.supply) text += "      board_undervoltage: board.undervoltage\n";
  if (f.button)
    text +=
        "  button:\n    driver: simulated_contacts\n    every: 1 s\n"
        "    points: {button_pressed: button.pressed}\n";
  if (f.proof)
    text +=
        "  proof:\n    driver: simulated_contacts\n    every: 1 s\n"
        "    points: {pump_running: pump.running" +
        std::string(f.hand_switch ? ", pump_auto: pump.auto" : "") + "}\n";
  return text;
}

std::string outputs_text(const Fitted& f, bool valve) {
  std::string text =
      "outputs:\n  pump: {driver: simulated}\n  air_pump: {driver: simulated}\n"
      "  exhaust_fan: {driver: simulated, variable: true, floor: 20 %, fallback: 40 %}\n"
      "  circulation_fan: {driver: simulated, variable: true, floor: 30 %}\n"
      "  light: {driver: simulated, variable: true}\n";
  if (f.dehumidifier)
    text +=
        "  dehumidifier: {driver: simulated, min_on: 5 min, min_off: 5 min, starts_per_hour: 6}\n";
  if (f.humidifier) text += "  humidifier: {driver: simulated, min_on: 1 min, min_off: 1 min}\n";
  if (valve) text += "  drain_valve: {driver: simulated}\n";
  if (f.second_contact) text += "  pump_series: {driver: simulated}\n";
  if (f.rail) text += "  sensor_rail: {driver: simulated}\n";
  if (f.button) text += "  lamp: {driver: simulated}\n  buzzer: {driver: simulated}\n";
  return text;
}

// `plan`: which of a world's two grow plans, on the same hardware.
std::string settings_text(std::uint64_t seed, const char* plan, bool calm) {
  Draw grow(seed, plan);
  Draw draw(seed, "settings");
  const bool valve = draw.chance(0.3);
  const Fitted f = fitted_of(draw);
  std::string text = "neap: 1\nname: campaign\nmode: control\ntime_zone: ";
  text += draw.chance(0.5) ? "Europe/Brussels" : "Etc/UTC";
  text +=
      "\ntent: {volume: 1.9 m3, exhaust_flow: 150 m3/h, leaf_offset: -1.4 K, "
      "shed_light_above: 34 C}\ntable:\n  name: table\n";
  text += valve ? "  drain_path: drain_valve\n" : "  drain_path: through_pump\n";
  text +=
      "  tray_capacity: 45 L\n  flood_volume: 29 L\n  reservoir_capacity: 95 L\n"
      "  reservoir_minimum: 12 L\n  pump_flow: 600 L/h\n  fill_limit: 6 min\n"
      "  soak_limit: 20 min\n  drain_limit: 25 min\n  min_gap: 40 min\n";
  text += format("  pump_budget: {per_flood: 25 min, per_hour: %.0f min, ", grow.between(40, 60));
  text += format("per_day: %.0f min, floods_per_hour: 2}\n", grow.between(150, 240));
  text += "climate:\n  law: " + laws_of(draw) + "\n";
  text += f.dehumidifier ? "  dehumidifier_in: tent\n" : "";
  const bool by_night = draw.chance(0.25);
  text += "programme:\n  start: 2026-02-20\n";
  if (!by_night) text += "  quiet_hours: {from: \"22:30\", to: \"06:30\"}\n";
  text += "  stages:\n    - name: growing\n";
  text += by_night ? "      lights_on: \"20:00\"\n" : "      lights_on: \"06:00\"\n";
  text += format("      light: %.0f h\n", grow.between(12, 16));
  text +=
      "      vpd_day: 0.7..1.1 kPa\n      vpd_night: 0.5..0.9 kPa\n      air: 12..29 C\n"
      "      humidity_ceiling: 88 %\n";
  text += floods_of(grow, valve, by_night);
  text += outputs_text(f, valve) + sensors_text(f, 10 * (1 + draw.below(6)));
  text += format("simulation:\n  seed: %.0f\n  parameters:\n", static_cast<double>(seed % 100000));
  text += format("    leaf_area_index: %.2f\n", draw.between(0.5, 4));
  text += format("    building_c: %.1f\n", draw.between(17, 25));
  text += format("    building_w_g_kg: %.1f\n", draw.between(5, 12));
  text += "    reservoir_capacity_l: 95\n";
  // A few litres over what a flood and the pump's minimum need, where a week without a refill is to
  // be felt; and enough of them where nothing may be.
  const double full = calm ? draw.between(56, 65) : draw.between(48, 60);
  text += format("    reservoir_start_l: %.0f\n", full) +
          format("    refill_below_l: %.0f\n", full - 2);
  if (valve) text += "    drain_path: 2\n";
  return text + "end: true\n";
}

// --- happenings ---------------------------------------------------------------------------------

// Seconds that a fault stays.
double lasts_of(Draw& draw, TentFault fault) {
  constexpr auto kADay = static_cast<double>(kDay);
  if (fault == TentFault::reservoir_not_refilled) return draw.between(3, 5) * kADay;
  if (fault == TentFault::reservoir_seeps) return draw.between(1, 3) * kADay;
  if (fault == TentFault::tray_float_bounces) return draw.between(30, 600);
  return draw.chance(0.3) ? draw.between(30, 1800) : draw.between(1800, 40000);
}

// The swarm: of all faults each world has a few, so that deep combinations are reached that a mean
// of everything would never show.
void draw_faults(Draw& draw, std::int64_t until, std::vector<Happening>& script) {
  const int first = draw.below(static_cast<int>(kTentFaultCount));
  const int kinds = 1 + draw.below(4);
  for (int kind = 0; kind < kinds; ++kind) {
    const auto fault =
        static_cast<TentFault>(kind == 0 ? first : draw.below(static_cast<int>(kTentFaultCount)));
    const int times = 1 + draw.below(3);
    for (int i = 0; i < times; ++i) {
      Happening h;
      h.fault = fault;
      h.act = Act::fault_begins;
      h.severity = draw.between(0.2, 1);
      h.at_s = static_cast<std::int64_t>(draw.between(kHour, static_cast<double>(until)));
      script.push_back(h);
      const auto began = h.at_s;
      h.act = Act::fault_ends;
      h.at_s = std::min(until, h.at_s + static_cast<std::int64_t>(lasts_of(draw, fault)));
      script.push_back(h);
      if (fault != TentFault::leak && fault != TentFault::hose_burst) continue;
      // Somebody resets the latch without a look at the floor.
      for (const double part : {0.3, 0.6, 0.9}) {
        Happening reset;
        reset.at_s = began + static_cast<std::int64_t>(part * static_cast<double>(h.at_s - began));
        reset.request.kind = RequestKind::reset_latch;
        reset.request.latch = Latch::leak;
        script.push_back(reset);
      }
    }
  }
}

void draw_power(Draw& draw, std::int64_t until, std::vector<Happening>& script) {
  const int times = draw.chance(0.5) ? draw.below(6) : 0;
  for (int i = 0; i < times; ++i) {
    Happening h;
    h.act = draw.chance(0.5) ? Act::power_cut : Act::kill;
    h.at_s = static_cast<std::int64_t>(draw.between(kHour, static_cast<double>(until)));
    // Half of them when it matters: within seconds or minutes of the pump's next start.
    if (draw.chance(0.5))
      h.after_pump_ms = draw.chance(0.5) ? draw.below(2000) : draw.below(900'000);
    h.number = h.act == Act::kill ? static_cast<std::int64_t>(draw.between(500, 10'000))
               : draw.chance(0.6) ? static_cast<std::int64_t>(draw.between(1000, 60'000))
                                  : static_cast<std::int64_t>(draw.between(6e4, 3e7));
    script.push_back(h);
    // Power that comes back in bits and pieces.
    h.after_pump_ms.reset();
    for (int again = draw.chance(0.2) ? draw.below(5) : 0; again > 0; --again) {
      h.at_s += h.number / 1000 + 5 + draw.below(120);
      if (h.at_s < until) script.push_back(h);
    }
  }
}

void draw_clock(Draw& draw, std::int64_t until, std::vector<Happening>& script) {
  const int times = draw.chance(0.4) ? 1 + draw.below(3) : 0;
  for (int i = 0; i < times; ++i) {
    Happening h;
    h.at_s = static_cast<std::int64_t>(draw.between(kHour, static_cast<double>(until)));
    h.act = draw.chance(0.7) ? Act::wall_step : Act::time_lost;
    const double far = draw.chance(0.7) ? 4 * 3.6e6 : 5 * 86.4e6;
    h.number = static_cast<std::int64_t>(draw.between(-far, far));
    script.push_back(h);
    // Somebody, or a time source, sets it right again.
    h.at_s = std::min<std::int64_t>(until, h.at_s + 60 + draw.below(40000));
    if (h.act == Act::time_lost)
      h.act = Act::time_back;
    else
      h.number = -h.number;
    script.push_back(h);
  }
}

// Both ends of a time in which something is not there.
void draw_spell(Draw& draw, std::int64_t until, Act from, Act to, double longest_s,
                std::vector<Happening>& script) {
  Happening h;
  h.act = from;
  h.at_s = static_cast<std::int64_t>(draw.between(kHour, static_cast<double>(until)));
  script.push_back(h);
  h.act = to;
  h.at_s = std::min<std::int64_t>(until,
                                  h.at_s + static_cast<std::int64_t>(draw.between(30, longest_s)));
  script.push_back(h);
}

// The card takes no writes for a while, or what it holds rots while the power is off.
void draw_card(Draw& draw, std::int64_t until, std::vector<Happening>& script) {
  if (draw.chance(0.15)) draw_spell(draw, until, Act::card_fails, Act::card_heals, 60000, script);
  if (!draw.chance(0.1)) return;
  Happening h;
  h.act = Act::state_rots;
  h.at_s = static_cast<std::int64_t>(draw.between(kHour, static_cast<double>(until)));
  h.number = static_cast<std::int64_t>(draw.between(1000, 60'000));
  script.push_back(h);
}

void draw_sensors(Draw& draw, std::int64_t until, std::vector<Happening>& script) {
  for (int i = draw.chance(0.2) ? 1 + draw.below(6) : 0; i > 0; --i)
    draw_spell(draw, until, Act::contacts_lost, Act::contacts_back, 9000, script);
  if (draw.chance(0.1)) draw_spell(draw, until, Act::all_lost, Act::all_back, 86400, script);
}

// An even number of changes: the week ends on the settings it began with.
void draw_changes(Draw& draw, std::int64_t until, std::vector<Happening>& script) {
  for (int i = draw.chance(0.2) ? 1 + draw.below(3) : 0; i > 0; --i)
    draw_spell(draw, until, Act::settings_change, Act::settings_change,
               2.0 * static_cast<double>(kDay), script);
}

Request drawn_request(Draw& draw) {
  Request r;
  switch (draw.below(9)) {
    case 0:
      r.kind = RequestKind::flood_start;
      break;
    case 1:
      r.kind = RequestKind::flood_stop;
      break;
    case 2:
      r.kind = RequestKind::hold;
      r.output =
          kOutputs[static_cast<std::size_t>(draw.below(static_cast<int>(kOutputCount)))].output;
      r.level = Permille{draw.below(3) * 500};
      r.duration = seconds{10 + draw.below(1500)};
      break;
    case 3:
      r.kind = RequestKind::hold;
      r.level = draw.chance(0.5) ? kRunning : kStopped;
      r.duration = seconds{10 + draw.below(4000)};
      break;
    case 4:
      r.kind = RequestKind::release;
      break;
    case 5:
      r.kind = RequestKind::service_begin;
      r.duration = minutes{5 + draw.below(60)};
      break;
    case 6:
      r.kind = RequestKind::service_end;
      break;
    case 7:
      r.kind = RequestKind::reset_latch;
      r.latch = kLatches[static_cast<std::size_t>(draw.below(static_cast<int>(kLatchCount)))].latch;
      break;
    default:
      r.kind = RequestKind::acknowledge;
      r.all = true;
  }
  return r;
}

void draw_person(Draw& draw, std::int64_t until, std::vector<Happening>& script) {
  const int times = draw.chance(0.6) ? draw.below(25) : 0;
  for (int i = 0; i < times; ++i) {
    Happening h;
    h.at_s = static_cast<std::int64_t>(draw.between(600, static_cast<double>(until)));
    h.request = drawn_request(draw);
    script.push_back(h);
  }
}

// Somebody at the tent presses the button: short, long, in between, or again and again.
void draw_presses(Draw& draw, std::int64_t until, std::vector<Happening>& script) {
  for (int i = draw.chance(0.6) ? 1 + draw.below(12) : 0; i > 0; --i) {
    auto at = static_cast<std::int64_t>(draw.between(600, static_cast<double>(until) - 300));
    for (int again = draw.chance(0.2) ? 1 + draw.below(8) : 1; again > 0; --again) {
      Happening h;
      h.act = Act::button_down;
      h.fault = TentFault::button_pressed;
      h.at_s = at;
      script.push_back(h);
      h.act = Act::button_up;
      h.at_s = at += draw.chance(0.5) ? 1 : 3 + draw.below(8);
      script.push_back(h);
      at += 1 + draw.below(3);
    }
  }
}

// Somebody runs the pump by hand again and again on one day, and the power goes meanwhile: what
// the day's budget is for.
void draw_eager(Draw& draw, std::int64_t until, std::vector<Happening>& script) {
  if (!draw.chance(0.15)) return;
  const double day = draw.between(kHour, static_cast<double>(until) - 86400);
  const auto some_time = [&] { return static_cast<std::int64_t>(draw.between(day, day + 86400)); };
  for (int i = 0; i < 40; ++i) {
    Happening h;
    h.at_s = some_time();
    h.request.kind = RequestKind::hold;
    h.request.level = kRunning;
    h.request.duration = minutes{5 + draw.below(20)};
    script.push_back(h);
  }
  for (int i = draw.below(5); i > 0; --i) {
    Happening h;
    h.act = Act::power_cut;
    h.at_s = some_time();
    h.number = 1000 + draw.below(60'000);
    script.push_back(h);
  }
}

Happening ask(std::int64_t at_s, RequestKind kind) {
  Happening h;
  h.at_s = at_s;
  h.request.kind = kind;
  h.request.all = kind == RequestKind::acknowledge;
  return h;
}

// After the last fault a person comes, ends what was begun, and resets what is latched; and again
// each hour, since a cause may last a while.
void put_right(std::int64_t from, std::int64_t until, std::vector<Happening>& script) {
  for (std::int64_t at = from + 120; at < until; at += kHour) {
    script.push_back(ask(at, RequestKind::service_end));
    for (const OutputInfo& row : kOutputs) {
      Happening h = ask(at, RequestKind::release);
      h.request.output = row.output;
      script.push_back(h);
    }
    script.push_back(ask(at + 1, RequestKind::acknowledge));
    for (const LatchInfo& row : kLatches) {
      Happening h = ask(at + 2, RequestKind::reset_latch);
      h.request.latch = row.latch;
      script.push_back(h);
    }
  }
}

settings::Loaded loaded(std::uint64_t seed, const std::string& text) {
  auto result = settings::load_text(text);
  if (result.loaded) return std::move(*result.loaded);
  std::string words = "seed " + std::to_string(seed) + ":\n";
  for (const settings::Problem& problem : result.problems)
    words += settings::render("settings", text, problem);
  throw std::runtime_error(words);
}

}  // namespace

World make_world(std::uint64_t seed, bool calm_only) {
  World world;
  world.seed = seed;
  Draw draw(seed, "world");
  // Any week from March to May: the short day is among them.
  world.start_unix_ms = kMarch + 86'400'000LL * draw.below(80) + 3'600'000LL * draw.below(24);
  world.calm = draw.chance(0.1) || calm_only;
  world.text = settings_text(seed, "plan", world.calm);
  world.settings = loaded(seed, world.text);
  world.changed = loaded(seed, settings_text(seed, "other plan", world.calm));
  world.ends_s = kWeek;
  world.heals_s = world.calm ? 0 : static_cast<std::int64_t>(draw.between(0.5, 0.75) * kWeek);
  if (world.calm) return world;
  const std::int64_t until = world.heals_s;
  Draw faults(seed, "faults"), power(seed, "power"), clock(seed, "clock"), card(seed, "card"),
      person(seed, "person"), sensors(seed, "sensors"), eager(seed, "eager"),
      changes(seed, "changes"), presses(seed, "presses");
  draw_faults(faults, until, world.script);
  draw_power(power, until, world.script);
  draw_clock(clock, until, world.script);
  draw_card(card, until, world.script);
  draw_sensors(sensors, until, world.script);
  draw_changes(changes, until, world.script);
  draw_person(person, until, world.script);
  draw_eager(eager, until, world.script);
  draw_presses(presses, until, world.script);
  put_right(until, world.ends_s, world.script);
  std::stable_sort(world.script.begin(), world.script.end(),
                   [](const Happening& a, const Happening& b) { return a.at_s < b.at_s; });
  return world;
}

}  // namespace neap::campaign
