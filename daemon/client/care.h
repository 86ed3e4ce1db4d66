// Care counters: how much of a part's running, or of the calendar, has gone by since a person last
// saw to it. Counted from the journal, which keeps days, cycles and actuations for ever, so that a
// restart, a lost state file or a later default loses nothing.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/client/session.h"

namespace neap::client {

enum class CareCount : std::uint8_t {
  fan_hours,           // of the exhaust fan, at full level
  floods,              // begun, whatever came of them
  pump_hours,          // of running
  days,                // of the calendar
  dehumidifier_hours,  // of running
  light_hours,         // of running
};

struct CarePart {
  std::string_view name;  // as typed
  std::string_view title;
  std::string_view what;  // to do when it is due
  CareCount count;
  std::optional<Output> output;  // without it there is no such part
  double (*due)(const settings::Care& care);
};
const std::vector<CarePart>& care_parts();

struct CareState {
  const CarePart* part = nullptr;
  double used = 0;                     // hours, floods or days
  std::optional<double> due;           // of the same; none: no reminder
  std::optional<journal::Stamp> last;  // none: never told, counted since the journal began
  std::string last_words;
  std::optional<std::int64_t> last_number;  // of the diary's entry; none: it waits in the spool
  bool is_due() const { return due && used >= *due; }
};

// Counting takes a while over a long grow.
enum class CareOf { all, reminded };  // reminded: of which the settings want a reminder

// Of the parts that are fitted, as of the journal's newest entry.
std::vector<CareState> care_of(journal::Reader& reader, const settings::Loaded& loaded,
                               const std::vector<journal::DiaryRow>& diary, CareOf which);

// "120 of 100 h", "31 of 28 floods".
std::string care_figure(const CareState& state);
// One line for each part that is due: "intake strainer: clean it (31 of 28 floods)". Nothing where
// there is no journal, or none that this program can read.
std::vector<std::string> care_due(const Session& session);

}  // namespace neap::client
