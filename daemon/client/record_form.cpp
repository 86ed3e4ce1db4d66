#include "daemon/client/record_form.h"

#include <sys/stat.h>

#include "daemon/client/failure.h"
#include "daemon/client/parse.h"

namespace neap::client {
namespace {

// Events are in the file within 0.2 s, readings within a minute: a look a second is soon enough for
// a person and nothing for the card (choice).
constexpr Millis kLookEvery = seconds{1};

}  // namespace

Form form_of(const Session& session) {
  const bool json = session.globals.json;
  const bool csv = session.args.csv;
  const bool lines = session.args.lines;
  if (json + csv + lines > 1)
    throw Failure(kExitUsage, "more than one of --json, --csv and --lines",
                  "--json is one object, --lines one a record, --csv a table for spreadsheets");
  if (json && session.args.follow)
    throw Failure(kExitUsage, "--json prints one object, and --follow has no end",
                  "write --lines: one object a record");
  if (session.args.follow && !session.args.until.empty())
    throw Failure(kExitUsage, "--until ends what --follow goes on with", "leave one of them out");
  return json ? Form::json : csv ? Form::csv : lines ? Form::lines : Form::table;
}

int limit_of(const Session& session, int fallback) {
  const std::string& limit = session.args.limit;
  return limit.empty() ? fallback : parse_whole("--limit", limit, 1, kMostRecords, "--limit 200");
}

FollowedJournal::FollowedJournal(const Session& session)
    : session_(session), reader_(open_journal(session.globals.journal)), file_(file()) {}

std::optional<std::pair<dev_t, ino_t>> FollowedJournal::file() const {
  struct stat found {};
  if (::stat(session_.globals.journal.c_str(), &found) != 0) return std::nullopt;
  return std::pair(found.st_dev, found.st_ino);
}

bool FollowedJournal::wait() {
  session_.out().flush();
  if (!session_.out().good() || !session_.around.pause(kLookEvery)) return false;
  replaced_ = false;
  const auto now = file();
  if (!now || now == file_) return true;
  std::string error;  // it may not be whole yet: tried again with the next look
  auto reader = journal::Reader::open(session_.globals.journal, error);
  if (!reader) return true;
  reader_ = std::move(reader);
  file_ = now;
  replaced_ = true;
  return true;
}

}  // namespace neap::client
