// A world's script and what came of it, in words, for --trace.
#include <array>
#include <cstdarg>
#include <cstdio>

#include "tests/campaign/world.h"

namespace neap::campaign {
namespace {

using drivers::simulated::kTentFaults;

std::string line(const char* format, ...) {
  std::array<char, 200> text{};
  va_list rest;
  va_start(rest, format);
  std::vsnprintf(text.data(), text.size(), format, rest);
  va_end(rest);
  return text.data();
}

}  // namespace

std::string told(const Happening& h) {
  const std::string number = std::to_string(h.number);
  switch (h.act) {
    case Act::fault_begins:
      return std::string(kTentFaults[static_cast<std::size_t>(h.fault)].name) +
             " begins, severity " + line("%.2f", h.severity);
    case Act::fault_ends:
      return std::string(kTentFaults[static_cast<std::size_t>(h.fault)].name) + " ends";
    case Act::power_cut:
      return "power cut for " + number + " ms";
    case Act::kill:
      return "killed, back after " + number + " ms";
    case Act::wall_step:
      return "wall clock steps by " + number + " ms";
    case Act::time_lost:
      return "time no longer known";
    case Act::time_back:
      return "time known again";
    case Act::card_fails:
      return "card takes no writes";
    case Act::card_heals:
      return "card takes writes again";
    case Act::contacts_lost:
      return h.number == 1 ? "floats are read no more" : "contacts are read no more";
    case Act::contacts_back:
      return "contacts are read again";
    case Act::all_lost:
      return "no sensor is read any more";
    case Act::all_back:
      return "sensors are read again";
    case Act::state_rots:
      return "power cut for " + number + " ms, and the saved state rots";
    case Act::settings_change:
      return "other settings are applied";
    case Act::button_down:
      return "the button is pressed";
    case Act::button_up:
      return "the button is let go";
    case Act::request:
      return "request of kind " + std::to_string(static_cast<int>(h.request.kind)) + ", " +
             std::string(info(h.request.output).name) + " " + std::to_string(h.request.level.value);
  }
  return "";
}

std::string told(const Event& e, double at) {
  if (e.kind == EventKind::alarm)
    return line("%10.0f  alarm %s %d > %d\n", at, std::string(info(e.alarm).name).c_str(),
                static_cast<int>(e.alarm_from), static_cast<int>(e.alarm_to));
  if (e.kind == EventKind::flood_phase)
    return line("%10.0f  flood phase %d, reason %d\n", at, static_cast<int>(e.phase),
                static_cast<int>(e.because.reason));
  if (e.kind == EventKind::reading_state)
    return line("%10.0f  reading %s, reason %d, fault %.0f\n", at,
                std::string(info(e.point).name).c_str(), static_cast<int>(e.because.reason),
                e.because.args[1]);
  if (e.kind == EventKind::latch_set || e.kind == EventKind::latch_reset)
    return line("%10.0f  latch %s %s\n", at, std::string(info(e.latch).name).c_str(),
                e.kind == EventKind::latch_set ? "set" : "reset");
  if (e.kind == EventKind::cycle_closed)
    return line("%10.0f  flood ends, outcome %d\n", at, static_cast<int>(e.cycle.outcome));
  if (e.kind == EventKind::slot_skipped)
    return line("%10.0f  slot %d skipped, reason %d\n", at, e.slot.number,
                static_cast<int>(e.because.reason));
  if (e.kind == EventKind::request)
    return line("%10.0f  request %s, reason %d\n", at, e.accepted ? "accepted" : "refused",
                static_cast<int>(e.because.reason));
  return "";
}

}  // namespace neap::campaign
