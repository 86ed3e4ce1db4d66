#include "daemon/shell/granted.h"

#include "daemon/core/step_test.h"
#include "daemon/words/words.h"

namespace neap::shell {

using nlohmann::json;

namespace {

// How long something lasts and when it ends. `until` is an instant of schema/control.md.
json granted_until(const Daemon& daemon, Instant until) {
  const WallTime wall = daemon.wall();
  const Millis length = until - daemon.now();
  json end = {{"tick", tick_ms(until)}};
  if (wall.quality != TimeQuality::unset) {
    end["unix_ms"] = wall.unix_ms + length.count();
    end["utc_offset_s"] = wall.utc_offset_s;
  }
  return {{"for_s", static_cast<double>(length.count()) / 1000}, {"until", end}};
}

}  // namespace

// A hold's length may be the default, within its output's own limit.
json granted_hold(const Daemon& daemon, const Request& request) {
  const Hold& hold = daemon.state().holds[request.output];
  json out = {{"output", info(request.output).name}};
  if (!hold.active) return out;
  out.update(granted_until(daemon, hold.until));
  out["level"] = hold.level.value;
  out["word"] = words::level(request.output, hold.level);
  return out;
}

json granted_release(const Daemon&, const Request& request) {
  return {{"output", info(request.output).name}};
}

json granted_flood(const Daemon& daemon, const Request&) {
  return {{"phase", words::name(daemon.state().flood.phase)}};
}

json granted_shelf(const Daemon& daemon, const Request& request) {
  const AlarmRecord& record = daemon.state().kept.alarms[static_cast<std::size_t>(request.alarm)];
  json out = {{"alarm", info(request.alarm).name}};
  out.update(granted_until(daemon, record.shelved_until));
  return out;
}

json granted_reset(const Daemon&, const Request& request) {
  return {{"latch", info(request.latch).name}};
}

json granted_service(const Daemon& daemon, const Request&) {
  if (!daemon.state().service) return json::object();
  return granted_until(daemon, daemon.state().service_until);
}

json granted_step_test(const Daemon& daemon, const Request& request) {
  const StepTestView view = view_step_test(daemon.state().step_test, daemon.now());
  json out = granted_until(daemon, view.ends);
  out["output"] = info(request.output).name;
  out["steps"] = view.steps;
  return out;
}

json granted_stage(const Daemon& daemon, const Request& request) {
  const auto& stages = daemon.loaded().plan.programme.stages;
  return {{"name", stages[static_cast<std::size_t>(request.number)].name},
          {"number", request.number + 1}};
}

}  // namespace neap::shell
