// The verbs of neap, one row each. A new verb is a row and a handler.
#pragma once

#include <span>
#include <string_view>

#include "daemon/client/session.h"

namespace CLI {
class App;
}

namespace neap::client {

struct Verb {
  std::string_view name;
  std::string_view role;  // view, operate, administer; "-" needs no daemon
  std::string_view about;
  std::string_view examples;             // lines
  void (*shape)(CLI::App&, Arguments&);  // declares words and options
  int (*handle)(Session&);               // an exit code; throws Failure
};

std::span<const Verb> verbs();

// Handlers, by the file that has them.
int do_brief(Session&);  // now: plain neap, status, why, alarms
int do_watch(Session&);  // watch_verb
int do_status(Session&);
int do_why(Session&);
int do_alarms(Session&);

int do_explain(Session&);  // explain_verb

int do_flood(Session&);  // operate
int do_hold(Session&);
int do_release(Session&);
int do_ack(Session&);
int do_shelve(Session&);
int do_reset(Session&);
int do_service(Session&);
int do_stage(Session&);
int do_step_test(Session&);
int do_fault(Session&);

int do_measure(Session&);    // measure
int do_calibrate(Session&);  // calibrate
int do_check_in(Session&);   // check_in
int do_away(Session&);       // away_verb
int do_grow(Session&);       // grow_verb
int do_care(Session&);       // care_verb
int do_weekly(Session&);     // looks
int do_turnover(Session&);   // turnover_verb

int do_tell(Session&);  // tell_verb

int do_draft(Session&);       // draft
int do_probe(Session&);       // probe
int do_commission(Session&);  // commission

int do_check(Session&);  // settings
int do_apply(Session&);
int do_plan(Session&);
int do_version(Session&);

int do_events(Session&);    // events_verb
int do_readings(Session&);  // readings_verb
int do_export(Session&);    // export_verb
int do_backup(Session&);    // backup_verb
int do_restore(Session&);
int do_report(Session&);  // journal_verbs
int do_chart(Session&);   // chart_verb

int do_identify(Session&);  // identify
int do_water(Session&);     // water
int do_mix(Session&);       // mix

int do_simulate(Session&);  // simulate
int do_size(Session&);      // size

}  // namespace neap::client
