#include "tests/campaign/world.h"

#include <algorithm>
#include <stdexcept>

#include "tests/campaign/draw.h"
#include "tests/campaign/drawn_settings.h"

namespace neap::campaign {
namespace {

using drivers::simulated::kTentFaultCount;
using drivers::simulated::kTentFaults;
using drivers::simulated::TentFault;

constexpr std::int64_t kHour = 3600;
constexpr std::int64_t kDay = 24 * kHour;
constexpr std::int64_t kWeek = 7 * kDay;
constexpr std::int64_t kMarch = 1772323200000;  // 2026-03-01T00:00Z

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
  for (int i = draw.chance(0.2) ? 1 + draw.below(6) : 0; i > 0; --i) {
    draw_spell(draw, until, Act::contacts_lost, Act::contacts_back, 9000, script);
    script[script.size() - 2].number = draw.below(2);
  }
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
