// The verb `commission`.
#include "daemon/client/commission.h"
#include "daemon/client/failure.h"
#include "daemon/client/verbs.h"

namespace neap::client {
namespace {

double seconds_in(Millis d) { return static_cast<double>(d.count()) / 1000; }

// The newest flood of the journal, when it is complete and began after `from`.
std::optional<Measured> last_flood(const Session& session, std::int64_t from_unix_ms) {
  const auto reader = open_journal(session.globals.journal);
  const auto cycles = reader->cycles({});
  if (cycles.empty()) return std::nullopt;
  const journal::CycleEntry& newest = cycles.back();
  if (newest.row.outcome != FloodOutcome::complete) return std::nullopt;
  if (newest.started.unix_ms && *newest.started.unix_ms < from_unix_ms) return std::nullopt;
  Measured found;
  found.fill_s = seconds_in(newest.row.fill);
  found.drain_s = seconds_in(newest.row.drain);
  if (newest.row.litres_known) found.litres = newest.row.litres_out;
  return found;
}

std::string result_text(const Commissioned& done, const Look& look) {
  Table table({Table::Side::left, Table::Side::left, Table::Side::left});
  for (const Finding& one : done.findings)
    table.add({one.part,
               one.passed ? Cell("passed", Tone::good) : Cell("not passed", Tone::warning),
               one.remark});
  std::string text = "\n" + table.text(look, kPageWidth);
  if (!done.settings.empty()) {
    text += "Worth writing into the settings, then `neap apply`:\n";
    for (const std::string& line : done.settings) text += "  " + line + "\n";
  }
  return text + "The journal has the date of what was passed; `neap events --kind proof_test`.\n";
}

}  // namespace

int do_commission(Session& session) {
  std::ostream& prompts = session.globals.json ? session.around.err : session.out();
  Questions questions(session.around.in, prompts, !session.around.in_is_terminal,
                      "begin again; what was passed is kept, and what is held ends by itself");
  const AskDaemon ask = [&](std::string_view verb, const nlohmann::json& args) {
    return session.ask(verb, args);
  };
  const LastFlood flood = [&] { return last_flood(session, session.around.now_unix_ms); };
  const Commissioned done = commission(questions, ask, flood, session.args.words);
  session.show(commissioned_json(done), result_text(done, session.look));
  for (const Finding& one : done.findings)
    if (!one.passed) return kExitRefused;
  return kExitDone;
}

}  // namespace neap::client
