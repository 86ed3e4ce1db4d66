// Plain neap, status, why, alarms: what is true now.
#include "daemon/client/care.h"
#include "daemon/client/failure.h"
#include "daemon/client/last_known.h"
#include "daemon/client/parse.h"
#include "daemon/client/peek.h"
#include "daemon/client/render.h"
#include "daemon/client/teller.h"
#include "daemon/client/verbs.h"

namespace neap::client {
namespace {

using nlohmann::json;

struct Told {
  json status;
  int code = kExitDone;
};

// The daemon's status, or what the journal knows when there is no daemon.
Told status_or_last_known(Session& session) {
  Told told;
  try {
    told.status = session.ask("status", json::object());
  } catch (const Failure& failure) {
    if (failure.code() != kExitNoDaemon) throw;
    std::string error;
    const auto reader = journal::Reader::open(session.globals.journal, error);
    told.status = last_known_status(reader.get(), failure.what());
    told.code = kExitNoDaemon;
  }
  session.look.style.metric = text_at(told.status, "/display") != "us";
  told.status["care"] = care_due(session);  // nothing of it rings: whoever looks is told
  // Nor can the telling tell that it fails.
  for (const std::string& line : telling_troubles(session)) told.status["advice"].push_back(line);
  return told;
}

}  // namespace

int do_brief(Session& session) {
  const Told told = status_or_last_known(session);
  session.show(told.status, render_brief(told.status, session.look));
  return told.code;
}

int do_status(Session& session) {
  const Told told = status_or_last_known(session);
  session.show(told.status, render_status(told.status, session.look));
  return told.code;
}

int do_why(Session& session) {
  if (session.args.words.size() != 1)
    throw Failure(kExitUsage, "more than one OUTPUT", "ask for one at a time");
  const Output output = parse_output(session.args.words.front());
  const json result = session.ask("why", {{"output", info(output).name}});
  session.show(result, render_why(result, session.look));
  return kExitDone;
}

int do_alarms(Session& session) {
  const json result = session.ask("alarms", json::object());
  session.show(result, render_alarms(result, session.look));
  return kExitDone;
}

}  // namespace neap::client
