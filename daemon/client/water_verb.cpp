// `neap water`: losses, leaks and trends, from the journal with or without a daemon.
#include <algorithm>

#include "daemon/client/failure.h"
#include "daemon/client/journal_ask.h"
#include "daemon/client/verbs.h"
#include "daemon/client/water.h"

namespace neap::client {

int do_water(Session& session) {
  const auto reader = open_journal(session.globals.journal);
  const Plan plan = plan_in_force(session, *reader);
  session.look.style.metric = plan.metric;
  const std::int64_t newest = last_tick(*reader);
  const std::int64_t to =
      session.args.to.empty() ? newest : moment_tick(*reader, "--to", session.args.to);
  const WaterView view = water_view(*reader, plan, std::min(to, newest));
  warn_of_trouble(session, *reader);
  session.show(water_json(view), render_water(view, session.look, page_width(session.args)));
  return kExitDone;
}

}  // namespace neap::client
