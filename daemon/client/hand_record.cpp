#include "daemon/client/hand_record.h"

#include <algorithm>
#include <cmath>
#include <cstdlib>

#include "daemon/client/failure.h"
#include "daemon/client/journal_ask.h"
#include "daemon/client/measures.h"
#include "daemon/client/records_json.h"
#include "daemon/words/figures.h"
#include "daemon/words/words.h"

namespace neap::client {
namespace {

using nlohmann::json;

constexpr std::size_t kListed = 20;
constexpr int kMostBeside = 5000;  // readings looked through for one

std::optional<double> probe_beside(journal::Reader& reader, const journal::MeasurementRow& row) {
  const HandInfo* hand = find_hand(row.quantity);
  if (hand == nullptr || !hand->probe) return std::nullopt;
  const std::int64_t within = kBesideWithin.count();
  std::optional<double> nearest;
  std::int64_t away = within + 1;
  for (const journal::ReadingRow& reading : reader.readings(
           *hand->probe, {row.taken.tick - within, row.taken.tick + within}, 0, kMostBeside)) {
    const std::int64_t here = std::abs(reading.at.tick - row.taken.tick);
    if (!reading.value || reading.quality == Quality::bad || here >= away) continue;
    away = here;
    nearest = reading.value;
  }
  return nearest;
}

bool in_flood(const std::vector<journal::CycleEntry>& cycles, std::int64_t tick) {
  for (const journal::CycleEntry& cycle : cycles) {
    const Millis lasted = cycle.row.fill + cycle.row.soak + cycle.row.drain;
    if (tick >= cycle.started.tick && tick <= cycle.started.tick + lasted.count()) return true;
  }
  return false;
}

std::string remarks(const HandRecord& record) {
  std::string text;
  const auto add = [&](const std::string& more) { text += (text.empty() ? "" : "; ") + more; };
  if (record.row.withdrawn) add("withdrawn: " + words::printable(record.row.reason));
  if (record.row.first_value) {
    const HandInfo* hand = find_hand(record.row.quantity);
    add("told as " + (hand ? hand_text(hand->hand, *record.row.first_value) : std::string()));
  }
  if (record.in_flood) add("in mid-flood");
  if (!record.row.note.empty()) add(words::printable(record.row.note));
  if (!record.row.photo.empty()) add("photo " + words::printable(record.row.photo));
  return text;
}

// "6.05 (+0.15)": the probe, and probe minus hand.
std::string beside_text(Hand hand, double by_hand, double probe) {
  const int digits = hand == Hand::ph || hand == Hand::ec ? 2 : 1;
  const double drift = probe - by_hand;
  return words::decimals(probe, digits) + " (" + (drift < 0 ? "" : "+") +
         words::decimals(drift, digits) + ")";
}

std::string value_text(const HandRecord& record) {
  const HandInfo* hand = find_hand(record.row.quantity);
  return hand ? hand_text(hand->hand, record.row.value) : words::printable(record.row.quantity);
}

// Measurements told in one go share the SET of their id, SET/QUANTITY.
std::string_view set_of(const journal::MeasurementRow& row) {
  return std::string_view(row.id).substr(0, row.id.rfind('/'));
}

}  // namespace

std::vector<journal::MeasurementRow> pours_first(std::vector<journal::MeasurementRow> rows) {
  for (auto from = rows.begin(); from != rows.end();) {
    const auto to = std::find_if(from, rows.end(), [&](const journal::MeasurementRow& row) {
      return set_of(row).empty() || set_of(row) != set_of(*from);
    });
    const auto past = std::max(to, from + 1);
    std::stable_partition(from, past, [](const auto& row) {
      return row.quantity != info(Hand::ph).name && row.quantity != info(Hand::ec).name;
    });
    from = past;
  }
  return rows;
}

std::vector<HandRecord> hand_records(journal::Reader& reader, const journal::Span& span,
                                     std::size_t most, bool withdrawn_too) {
  std::vector<journal::MeasurementRow> rows = reader.measurements(span, withdrawn_too);
  if (rows.size() > most) rows.erase(rows.begin(), rows.end() - static_cast<std::ptrdiff_t>(most));
  std::vector<HandRecord> found;
  if (rows.empty()) return found;
  constexpr Millis kLongestFlood = hours{4};
  const auto cycles =
      reader.cycles({rows.front().taken.tick - kLongestFlood.count(), rows.back().taken.tick});
  for (journal::MeasurementRow& row : rows) {
    const HandInfo* hand = find_hand(row.quantity);
    const bool of_solution = hand != nullptr && hand->probe;
    const bool wet = of_solution && in_flood(cycles, row.taken.tick);
    const std::optional<double> probe = probe_beside(reader, row);
    found.push_back({std::move(row), probe, wet});
  }
  return found;
}

std::string drift_text(Hand hand, double by_hand, double probe) {
  const int digits = hand == Hand::ph || hand == Hand::ec ? 2 : 1;
  const double drift = probe - by_hand;
  const std::string shown = words::decimals(probe, digits);
  const std::string off = words::decimals(std::abs(drift), digits);
  if (off == words::decimals(0, digits)) return shown + ", as by hand";
  return shown + ": " + off + (drift > 0 ? " over" : " under") + " the hand";
}

bool water_away(std::string_view phase) {
  return !phase.empty() && phase != words::name(FloodPhase::idle) &&
         phase != words::name(FloodPhase::rest);
}

std::string minute_of(const journal::Stamp& stamp) { return minute_text(stamp); }

int list_measurements(const Session& session) {
  const auto reader = open_journal(session.globals.journal);
  const auto records = hand_records(*reader, {}, kListed, true);
  warn_of_trouble(session, *reader);
  json list = json::array();
  Table table({Table::Side::right, Table::Side::left, Table::Side::left, Table::Side::left,
               Table::Side::left});
  table.add({"no.", "taken", "by hand", "probe (drift)", ""});
  for (const HandRecord& record : records) {
    const HandInfo* hand = find_hand(record.row.quantity);
    json one = measurement_json(record.row);
    one["probe"] = record.probe ? json(*record.probe) : json(nullptr);
    one["in_flood"] = record.in_flood;
    list.push_back(one);
    table.add({std::to_string(record.row.number), minute_of(record.row.taken), value_text(record),
               record.probe && hand ? beside_text(hand->hand, record.row.value, *record.probe) : "",
               remarks(record)});
  }
  session.show({{"measurements", list}},
               records.empty() ? "Nothing was measured by hand yet; write for instance "
                                 "neap measure ph=5.9 ec=1.6\n"
                               : table.text(session.look, kPageWidth));
  return kExitDone;
}

}  // namespace neap::client
