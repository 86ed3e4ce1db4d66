#include "daemon/shell/verbs.h"

#include <unistd.h>

#include <array>
#include <cmath>

#include "daemon/core/limits.h"
#include "daemon/shell/calibrate.h"
#include "daemon/shell/granted.h"
#include "daemon/shell/measurements.h"
#include "daemon/shell/status_json.h"
#include "daemon/shell/version.h"
#include "daemon/words/words.h"

namespace neap::shell {
namespace {

using nlohmann::json;

constexpr std::size_t kLongestText = 256;
constexpr double kShortestSeconds = 0.001;
constexpr double kLongestSeconds = 7 * 86400.0;

void bad(Call& call, const std::string& message, const std::string& remedy) {
  call.reply.fail("bad_request", message, remedy, json::object());
}

std::optional<std::string> text_arg(const json& args, const char* key, std::size_t most) {
  const auto found = args.find(key);
  if (found == args.end() || !found->is_string()) return std::nullopt;
  auto text = found->get<std::string>();
  if (text.size() > most) return std::nullopt;
  return text;
}

std::optional<double> number_arg(const json& args, const char* key, double lowest, double highest) {
  const auto found = args.find(key);
  if (found == args.end() || !found->is_number()) return std::nullopt;
  const double value = found->get<double>();
  if (!std::isfinite(value) || value < lowest || value > highest) return std::nullopt;
  return value;
}

template <class Rows, class Name>
std::string names_of(const Rows& rows, Name name) {
  std::string list;
  for (const auto& row : rows) list += (list.empty() ? "" : ", ") + std::string(name(row));
  return list;
}

std::optional<Output> output_arg(Call& call) {
  const auto name = text_arg(call.args, "output", kLongestText);
  if (const OutputInfo* row = name ? find_output(*name) : nullptr) return row->output;
  bad(call,
      "output is \"" + words::printable(name.value_or("")) + "\", and no output is called that",
      "use one of: " + names_of(kOutputs, [](const OutputInfo& row) { return row.name; }));
  return std::nullopt;
}

std::optional<Alarm> alarm_arg(Call& call) {
  const auto name = text_arg(call.args, "alarm", kLongestText);
  for (const AlarmInfo& row : kAlarms)
    if (name && row.name == *name) return row.alarm;
  bad(call, "alarm is \"" + words::printable(name.value_or("")) + "\", and no alarm is called that",
      "use one of: " + names_of(kAlarms, [](const AlarmInfo& row) { return row.name; }));
  return std::nullopt;
}

std::optional<Millis> duration_arg(Call& call, std::optional<Millis> fallback) {
  if (!call.args.contains("for_s") && fallback) return fallback;
  if (const auto value = number_arg(call.args, "for_s", kShortestSeconds, kLongestSeconds))
    return Millis{std::llround(*value * 1000)};
  bad(call, "for_s must be a number of seconds", "write for instance 1800 for half an hour");
  return std::nullopt;
}

// In the order of State::leaks.
constexpr std::array kLeakProbes{Point::leak_floor, Point::leak_rack, Point::leak_reservoir};

// The leak probe that keeps a leak from being over, and how; nothing when all are dry.
std::optional<std::string> leak_that_persists(const Daemon& daemon) {
  const State& state = daemon.state();
  for (std::size_t i = 0; i < kLeakProbes.size(); ++i)
    if (state.leaks[i].last_wet > daemon.now() - limits::kLeakDryHold)
      return "the " + std::string(info(kLeakProbes[i]).title) + " was wet in the last " +
             words::duration(limits::kLeakDryHold);
  const auto where = static_cast<double>(slot(state.kernel_inputs.leak_at));
  switch (state.kernel_inputs.leak) {
    case LeakSeen::dry:
      return std::nullopt;
    case LeakSeen::damp:
      return words::sentence(because(Reason::leak_damp, where));
    case LeakSeen::wet:
      return words::sentence(because(Reason::leak_wet, where));
    case LeakSeen::unknown:
      return words::sentence(because(Reason::leak_unknown, where));
  }
  return std::nullopt;
}

// A reason as the answer to this request: what it is about is named.
std::string refusal(const Daemon& daemon, const Request& request, const Because& because) {
  if (because.reason == Reason::not_fitted)
    return "the " + std::string(info(request.output).title) + " is not fitted";
  const bool of_leak = request.latch == Latch::leak || request.latch == Latch::lost_water;
  if (because.reason == Reason::cause_persists && of_leak)
    return leak_that_persists(daemon).value_or(words::sentence(because));
  return words::sentence(because);
}

// Hands a request to the next scan and answers with what the scan said. `more` adds what an
// accepted one led to.
void ask(Call& call, const Request& request,
         json (*more)(const Daemon&, const Request&) = nullptr) {
  call.daemon.ask(request,
                  [reply = call.reply, &daemon = call.daemon, request, more](const Answer& answer) {
                    const json reason = because_json(answer.because);
                    if (!answer.accepted)
                      return reply.fail("refused", refusal(daemon, request, answer.because),
                                        words::remedy(answer.because), {{"reason", reason}});
                    json result = more == nullptr ? json::object() : more(daemon, request);
                    result["reason"] = reason;
                    reply.ok(result);
                  });
}

void do_ping(Call& call) { call.reply.ok({{"version", kVersion}, {"pid", ::getpid()}}); }
void do_status(Call& call) { call.reply.ok(status_json(call.daemon)); }
void do_alarms(Call& call) { call.reply.ok({{"alarms", alarms_json(call.daemon, true)}}); }
void do_why(Call& call) {
  if (const auto output = output_arg(call)) call.reply.ok(why_json(call.daemon, *output));
}

void do_flood(Call& call) {
  const std::string action = text_arg(call.args, "action", kLongestText).value_or("");
  Request request;
  if (action == "start") {
    request.kind = RequestKind::flood_start;
    ask(call, request, granted_flood);
  } else if (action == "stop") {
    request.kind = RequestKind::flood_stop;
    ask(call, request, granted_flood);
  } else {
    bad(call, "action is \"" + words::printable(action) + "\"", "use start or stop");
  }
}

void do_hold(Call& call) {
  const auto output = output_arg(call);
  if (!output) return;
  const auto level = number_arg(call.args, "level", kStopped.value, kRunning.value);
  if (!level || *level != std::floor(*level))
    return bad(call, "level must be a whole number from 0 to 1000", "0 is stopped, 1000 running");
  const bool half = *level != kStopped.value && *level != kRunning.value;
  const auto& plan = call.daemon.loaded().plan.outputs[*output];
  if (half && plan && !plan->variable)
    return bad(call, std::string(info(*output).title) + " is not variable", "use 0 or 1000");
  const auto duration = duration_arg(call, Millis{0});
  if (!duration) return;
  Request request;
  request.kind = RequestKind::hold;
  request.output = *output;
  request.level = Permille{static_cast<int>(*level)};
  request.duration = *duration;
  ask(call, request, granted_hold);
}

void do_release(Call& call) {
  const auto output = output_arg(call);
  if (!output) return;
  Request request;
  request.kind = RequestKind::release;
  request.output = *output;
  ask(call, request, granted_release);
}

void do_ack(Call& call) {
  Request request;
  request.kind = RequestKind::acknowledge;
  const auto all = call.args.find("all");
  request.all = all != call.args.end() && all->is_boolean() && all->get<bool>();
  if (!request.all) {
    const auto alarm = alarm_arg(call);
    if (!alarm) return;
    request.alarm = *alarm;
  }
  json alarms = json::array();
  const AlarmTable& table = call.daemon.state().kept.alarms;
  for (const AlarmInfo& row : kAlarms) {
    AlarmRecord copy = table[static_cast<std::size_t>(row.alarm)];
    if ((request.all || row.alarm == request.alarm) && acknowledge(copy))
      alarms.push_back(row.name);
  }
  const Reply reply = call.reply;
  call.daemon.ask(request, [reply, alarms](const Answer& answer) {
    if (answer.accepted)
      reply.ok({{"changed", alarms.size()}, {"alarms", alarms}});
    else
      reply.fail("failed", words::sentence(answer.because), "", json::object());
  });
}

void do_shelve(Call& call) {
  const auto alarm = alarm_arg(call);
  if (!alarm) return;
  const auto duration = duration_arg(call, std::nullopt);
  if (!duration) return;
  Request request;
  request.kind = RequestKind::shelve;
  request.alarm = *alarm;
  request.duration = *duration;
  ask(call, request, granted_shelf);
}

void do_reset(Call& call) {
  const auto name = text_arg(call.args, "latch", kLongestText);
  Request request;
  request.kind = RequestKind::reset_latch;
  for (const LatchInfo& row : kLatches) {
    if (!name || row.name != *name) continue;
    request.latch = row.latch;
    return ask(call, request, granted_reset);
  }
  bad(call, "latch is \"" + words::printable(name.value_or("")) + "\", and no latch is called that",
      "use one of: " + names_of(kLatches, [](const LatchInfo& row) { return row.name; }));
}

void do_service(Call& call) {
  const std::string action = text_arg(call.args, "action", kLongestText).value_or("");
  Request request;
  if (action == "end") {
    request.kind = RequestKind::service_end;
    return ask(call, request);
  }
  if (action != "begin")
    return bad(call, "action is \"" + words::printable(action) + "\"", "use begin or end");
  const auto duration = duration_arg(call, limits::kServiceFloor);
  if (!duration) return;
  request.kind = RequestKind::service_begin;
  request.duration = *duration;
  ask(call, request, granted_service);
}

void do_stage(Call& call) {
  const auto name = text_arg(call.args, "name", kLongestText);
  const auto& stages = call.daemon.loaded().plan.programme.stages;
  Request request;
  request.kind = RequestKind::enter_stage;
  for (std::size_t i = 0; i < stages.size(); ++i) {
    if (!name || stages[i].name != *name) continue;
    request.number = static_cast<std::int32_t>(i);
    return ask(call, request, granted_stage);
  }
  bad(call, "name is \"" + words::printable(name.value_or("")) + "\", and no stage is called that",
      "use one of: " + names_of(stages, [](const StagePlan& stage) { return stage.name; }));
}

void do_step_test(Call& call) {
  const std::string action = text_arg(call.args, "action", kLongestText).value_or("");
  Request request;
  if (action == "stop") {
    request.kind = RequestKind::step_test_stop;
    return ask(call, request);
  }
  if (action != "start")
    return bad(call, "action is \"" + words::printable(action) + "\"", "use start or stop");
  const auto output = output_arg(call);
  if (!output) return;
  if (*output != Output::exhaust_fan && *output != Output::dehumidifier)
    return bad(call,
               "output is \"" + std::string(info(*output).name) + "\", which has no step test",
               "use exhaust_fan or dehumidifier");
  request.kind = RequestKind::step_test_start;
  request.output = *output;
  ask(call, request, granted_step_test);
}

// A person says that a part was seen to work; the scan says whether it saw as much.
void do_proof(Call& call) {
  const auto name = text_arg(call.args, "test", kLongestText);
  Request request;
  request.kind = RequestKind::proof_test;
  for (const ProofTestInfo& row : kProofTests) {
    if (!name || row.name != *name) continue;
    request.proof = row.test;
    return ask(call, request);
  }
  bad(call, "test is \"" + words::printable(name.value_or("")) + "\", and no test is called that",
      "use one of: " + names_of(kProofTests, [](const ProofTestInfo& row) { return row.name; }));
}

std::string own_id(const Call& call) {
  return std::to_string(call.peer.uid) + "-" + std::to_string(tick_ms(call.daemon.now()));
}

void do_measure(Call& call) {
  const TakenIn taken = take_in_measurements(call.daemon, call.args, own_id(call));
  if (!taken.error.empty()) return bad(call, taken.error, "see `neap measure --help`");
  json result = {{"stored", taken.stored}};
  if (taken.stored == 0) result["known"] = true;
  result["flood"] = words::name(call.daemon.state().flood.phase);
  json probes = json::object();
  for (const HandInfo& row : kHands) {
    if (!row.probe || !call.daemon.loaded().plan.points[*row.probe]) continue;
    const auto& reading = call.daemon.state().points[*row.probe].reading;
    if (reading.usable()) probes[std::string(row.key)] = *reading;
  }
  result["probes"] = probes;
  call.reply.ok(result);
}

void do_amend(Call& call) {
  const TakenIn taken = take_in_amendment(call.daemon, call.args, own_id(call));
  if (!taken.error.empty()) return bad(call, taken.error, "see `neap measure --help`");
  call.reply.ok({{"stored", taken.stored}});
}

void do_diary(Call& call) {
  const TakenIn taken = take_in_diary(call.daemon, call.args, own_id(call));
  if (!taken.error.empty()) return bad(call, taken.error, "see `neap grow --help`");
  call.reply.ok({{"stored", taken.stored}});
}

json problems_json(const Applied& applied) {
  json list = json::array();
  for (const settings::Problem& problem : applied.problems)
    list.push_back(problem_json(problem, applied.text));
  return list;
}

void do_check(Call& call) {
  const auto text = text_arg(call.args, "text", limits::kSettingsBytes);
  if (!text) return bad(call, "text is missing", "send the settings' text; a long file by `apply`");
  const Applied checked = call.daemon.check(*text);
  call.reply.ok({{"problems", problems_json(checked)},
                 {"difference", checked.difference},
                 {"hash", hex(checked.hash, 16)}});
}

void do_apply(Call& call) {
  const std::string path = text_arg(call.args, "path", 4096).value_or(call.settings_path);
  std::optional<std::uint64_t> hash;
  if (call.args.contains("hash")) {
    hash = parse_hex(text_arg(call.args, "hash", 16).value_or(""));
    if (!hash)
      return bad(call, "hash must be 1 to 16 hexadecimal digits", "leave it out, or check");
  }
  call.daemon.apply(path, hash, [reply = call.reply](const Applied& applied) {
    if (applied.applied)
      return reply.ok({{"difference", applied.difference}, {"hash", hex(applied.hash, 16)}});
    if (!applied.failure.empty())
      return reply.fail("failed", applied.failure, "check the file again, then apply",
                        json::object());
    reply.fail("refused",
               std::to_string(applied.problems.size()) + " problems; nothing was changed",
               "mend them, then apply again", {{"problems", problems_json(applied)}});
  });
}

void do_fault(Call& call) {
  drivers::World* world = call.daemon.world();
  if (world == nullptr)
    return call.reply.fail("refused", "this tent is a real one", "faults are for simulated tents",
                           json::object());
  const auto name = text_arg(call.args, "fault", kLongestText);
  if (!name) {
    json list = json::array();
    for (const auto& row : world->fault_names())
      list.push_back({{"name", row.name}, {"meaning", row.meaning}});
    return call.reply.ok({{"faults", list}});
  }
  const auto active = call.args.find("active");
  const bool on = active == call.args.end() || (active->is_boolean() && active->get<bool>());
  const double severity = number_arg(call.args, "severity", 0, 1).value_or(1);
  const drivers::World::FaultAnswer answer = world->inject(*name, on, severity);
  if (!answer.accepted)
    return call.reply.fail("refused", answer.message, "`neap fault` lists the faults",
                           json::object());
  Event event;
  event.kind = EventKind::fault;
  event.number = on ? 1 : 0;
  event.because = because(Reason::fault_asked, call.peer.uid, on ? severity : 0);
  call.daemon.note(event, *name);
  json fault = {{"name", *name}, {"active", on}};
  if (on) fault["severity"] = severity;
  call.reply.ok({{"faults", json::array({fault})}});
}

constexpr std::array kVerbs{
    Verb{"ping", Role::view, false, do_ping},
    Verb{"status", Role::view, false, do_status},
    Verb{"why", Role::view, false, do_why},
    Verb{"alarms", Role::view, false, do_alarms},
    Verb{"flood", Role::operate, true, do_flood},
    Verb{"hold", Role::operate, true, do_hold},
    Verb{"release", Role::operate, true, do_release},
    Verb{"ack", Role::operate, true, do_ack},
    Verb{"shelve", Role::operate, true, do_shelve},
    Verb{"reset", Role::operate, true, do_reset},
    Verb{"service", Role::operate, true, do_service},
    Verb{"stage", Role::operate, true, do_stage},
    Verb{"step_test", Role::operate, true, do_step_test},
    Verb{"proof", Role::operate, true, do_proof},
    Verb{"measure", Role::operate, true, do_measure},
    Verb{"amend", Role::operate, true, do_amend},
    Verb{"diary", Role::operate, true, do_diary},
    Verb{"calibrate", Role::operate, true, do_calibrate},
    Verb{"calibrations", Role::view, false, do_calibrations},
    Verb{"check", Role::administer, false, do_check},
    Verb{"apply", Role::administer, true, do_apply},
    Verb{"fault", Role::administer, true, do_fault},
};

}  // namespace

std::span<const Verb> verbs() { return kVerbs; }

}  // namespace neap::shell
