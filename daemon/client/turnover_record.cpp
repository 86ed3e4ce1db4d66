// What the diary tells of a turnover.
#include <algorithm>

#include "daemon/client/turnover.h"

namespace neap::client {

const journal::DiaryRow* TurnoverRecord::told(std::string_view step) const {
  const auto found = std::find_if(steps.rbegin(), steps.rend(),
                                  [&](const auto& row) { return row.subject == step; });
  return found == steps.rend() ? nullptr : &*found;
}

bool TurnoverRecord::done(std::string_view step) const {
  const journal::DiaryRow* row = told(step);
  return row != nullptr && row->mark == kDone;
}

bool TurnoverRecord::wants_rinse() const {
  const bool bleached = done(kDose) || told(kBleachFlood) != nullptr || done("disinfect");
  return bleached && !done("rinse");
}

void TurnoverRecord::take(const journal::DiaryRow& row) {
  if (row.subject == kTurnoverBegin)
    *this = {true, row.happened.unix_ms.value_or(0), row, {}, {}};
  else if (row.subject == kTurnoverEnd)
    end_by(row);
  else
    steps.push_back(row);
}

void TurnoverRecord::end_by(const journal::DiaryRow& row) {
  if (under_way) ended = row;
  under_way = false;
}

TurnoverRecord turnover_of(const std::vector<journal::DiaryRow>& diary) {
  TurnoverRecord record;
  for (const journal::DiaryRow& row : diary)
    if (row.kind == "turnover")
      record.take(row);
    else if (row.kind == "grow_started" && row.happened.unix_ms > record.began_unix_ms)
      record.end_by(row);
  return record;
}

double bleach_ml(double chlorine_mg_per_l, double bleach_pct, double litres) {
  return litres * chlorine_mg_per_l / (10 * bleach_pct);
}

}  // namespace neap::client
