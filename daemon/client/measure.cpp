// `neap measure`: hand measurements, to the daemon, or to its spool while it is down; corrections
// and withdrawals of them; and the latest ones beside what the probes showed.
#include <algorithm>
#include <functional>

#include "daemon/client/failure.h"
#include "daemon/client/hand_record.h"
#include "daemon/client/journal_ask.h"
#include "daemon/client/measures.h"
#include "daemon/client/parse.h"
#include "daemon/client/spool.h"
#include "daemon/client/verbs.h"
#include "daemon/words/figures.h"
#include "daemon/words/words.h"

namespace neap::client {
namespace {

using nlohmann::json;

constexpr std::size_t kLongestNote = 256;  // bytes, as the daemon stores it

void check_length(const char* what, const std::string& text) {
  if (text.size() <= kLongestNote) return;
  throw Failure(
      kExitUsage,
      std::string(what) + " has " + std::to_string(text.size()) + " bytes, at most 256 are stored",
      "shorten it");
}

// What the probe that measures the same says at this moment.
std::string probe_words(const json& result, const Measure& measure) {
  const HandInfo& row = info(measure.hand);
  const json probes = result.value("probes", json::object());
  const auto shown = probes.find(std::string(row.key));
  if (shown == probes.end() || !shown->is_number()) return {};
  return "  The probe for " + std::string(row.title) + " shows " +
         drift_text(measure.hand, measure.value, shown->get<double>()) + ".\n";
}

// The measurement of that number as the journal has it.
journal::MeasurementRow numbered(const Session& session, const char* option,
                                 const std::string& text) {
  const int number = parse_whole(option, text, 1, 1'000'000'000, std::string(option) + " 41");
  const auto reader = open_journal(session.globals.journal);
  for (journal::MeasurementRow& row : reader->measurements({}, true)) {
    if (row.number != number) continue;
    if (!row.withdrawn) return std::move(row);
    throw Failure(kExitRefused, "measurement " + text + " was withdrawn", "measure anew");
  }
  throw Failure(kExitRefused, "there is no measurement " + text + " in the journal",
                "`neap measure` alone lists the latest with their numbers");
}

std::string as_it_was(const journal::MeasurementRow& row) {
  const HandInfo* hand = find_hand(row.quantity);
  return (hand ? hand_text(hand->hand, row.value) : row.quantity) + " of " + minute_of(row.taken);
}

// None where neither journal nor settings can be read: a measurement is taken down in any case.
std::optional<double> reservoir_litres(const Session& session) {
  try {
    return plan_in_force(session, *open_journal(session.globals.journal))
        .table.reservoir_capacity.value;
  } catch (const Failure&) {
    return std::nullopt;
  }
}

// Tells neapd, and looks until the journal shows it. `stored` of the result is null where this user
// cannot read the journal. False: it waits in the spool.
bool hand_in_and_see(const Session& session, std::string_view verb, const json& asked,
                     const std::function<bool(const journal::MeasurementRow&)>& is_it,
                     json& result) {
  if (!hand_in(session, verb, asked, result)) return false;
  const Stored stored = once_stored(session, [&](journal::Reader& reader) {
    const auto rows = reader.measurements({}, true);
    return std::any_of(rows.begin(), rows.end(), is_it);
  });
  result["stored"] = stored == Stored::unread ? json(nullptr) : json(stored == Stored::yes);
  return true;
}

std::string stored_words(const json& result) {
  const auto found = result.find("stored");
  if (found == result.end() || *found != false) return {};
  return wrapped(
             "  neapd knows it, but the journal has not written it down yet: `neap alarms` "
             "says what is wrong.",
             kPageWidth, 2) +
         "\n";
}

int withdraw(const Session& session) {
  const journal::MeasurementRow row = numbered(session, "--withdraw", session.args.withdraw);
  if (!session.args.words.empty())
    throw Failure(kExitUsage, "--withdraw takes no values", "write --correct to give another");
  if (session.args.note.empty())
    throw Failure(kExitUsage, "why it is withdrawn is not said",
                  "write for instance --note \"the meter stood in a buffer\"");
  json result;
  const bool told = hand_in_and_see(
      session, "amend",
      {{"of", row.id},
       {"reason", session.args.note},
       {"spool_id", new_spool_id(session.around.now_unix_ms())}},
      [&](const journal::MeasurementRow& now) { return now.id == row.id && now.withdrawn; },
      result);
  session.show(result,
               told ? wrapped("Withdrawn: " + as_it_was(row) + ". The journal keeps what was told.",
                              kPageWidth, 2) +
                          "\n" + stored_words(result)
                    : kept_text(result));
  return kExitDone;
}

int correct(const Session& session) {
  const journal::MeasurementRow row = numbered(session, "--correct", session.args.correct);
  const Measured measured = parse_measured(session.args.words, reservoir_litres(session));
  const HandInfo* hand = find_hand(row.quantity);
  if (measured.values.size() != 1 || !measured.at.empty() || !measured.photo.empty())
    throw Failure(kExitUsage, "--correct takes the one value that is to stand there",
                  "write for instance: neap measure --correct " + session.args.correct + " " +
                      row.quantity + "=...");
  const Measure& value = measured.values.front();
  if (hand == nullptr || hand->hand != value.hand)
    throw Failure(kExitUsage,
                  "measurement " + session.args.correct + " is of " + row.quantity + ", not of " +
                      std::string(info(value.hand).name),
                  "`neap measure` alone lists the latest with their numbers");
  json result;
  const bool told = hand_in_and_see(
      session, "amend",
      {{"of", row.id},
       {"value", value.value},
       {"reason", session.args.note},
       {"spool_id", new_spool_id(session.around.now_unix_ms())}},
      [&](const journal::MeasurementRow& now) {
        return now.id == row.id && now.value == value.value;
      },
      result);
  session.show(result, told ? wrapped("Corrected: " + as_it_was(row) + " is " +
                                          hand_text(value.hand, value.value) +
                                          " now. The journal keeps what was told.",
                                      kPageWidth, 2) +
                                  "\n" + stored_words(result)
                            : kept_text(result));
  return kExitDone;
}

}  // namespace

bool hand_in_measured(const Session& session, const Measured& measured, const std::string& note,
                      json& result) {
  json values = json::object();
  for (const Measure& each : measured.values) values[std::string(info(each.hand).key)] = each.value;
  json asked = {{"values", values},
                {"note", note},
                {"taken_unix_ms", measured.at.empty() ? session.around.now_unix_ms()
                                                      : past_moment(session, measured.at)},
                {"spool_id", new_spool_id(session.around.now_unix_ms())}};
  if (!measured.photo.empty()) asked["photo"] = measured.photo;
  const std::string set = asked["spool_id"].get<std::string>() + "/";
  return hand_in_and_see(
      session, "measure", asked,
      [&](const journal::MeasurementRow& row) { return row.id.starts_with(set); }, result);
}

std::string noted_text(const json& result, const Measured& measured) {
  std::string text = "Noted" + (measured.at.empty() ? std::string() : " for " + measured.at) +
                     ": " + hand_texts(measured.values);
  text = wrapped(text + ".", kPageWidth, 2) + "\n" + stored_words(result);
  if (!measured.at.empty()) return text;
  for (const Measure& each : measured.values) text += probe_words(result, each);
  const std::string phase = result.value("flood", "idle");
  const bool solution =
      std::any_of(measured.values.begin(), measured.values.end(),
                  [](const Measure& m) { return info(m.hand).probe.has_value(); });
  if (solution && water_away(phase))
    text += wrapped("  A flood is under way (" + words::printable(phase) +
                        "): level, pH and EC settle when the tray has drained; measure again then.",
                    kPageWidth, 2) +
            "\n";
  return text;
}

int do_measure(Session& session) {
  check_length("--note", session.args.note);
  if (!session.args.withdraw.empty()) return withdraw(session);
  if (!session.args.correct.empty()) return correct(session);
  if (session.args.words.empty()) return list_measurements(session);
  const Measured measured = parse_measured(session.args.words, reservoir_litres(session));
  check_length("photo", measured.photo);
  if (measured.values.empty())
    throw Failure(kExitUsage, "there is nothing to note",
                  "write for instance neap measure ph=5.9 ec=1.6");
  json result;
  const bool told = hand_in_measured(session, measured, session.args.note, result);
  session.show(result, told ? noted_text(result, measured) : kept_text(result));
  return kExitDone;
}

}  // namespace neap::client
