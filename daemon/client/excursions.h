// Stretches of time in which the VPD was out of its band, with what went on at the time: from the
// journal, for the report. Nothing here says that one thing caused another; it says what coincided.
#pragma once

#include <cstddef>
#include <string>
#include <vector>

#include "daemon/core/plan.h"
#include "daemon/journal/reader.h"
#include "daemon/words/words.h"

namespace neap::client {

struct Excursion {
  journal::Stamp from, to;
  Millis out{0};                  // of that time
  bool below = false;             // more humid than the band
  double furthest_kpa = 0;        // the VPD where it was furthest from the band
  double edge_kpa = 0;            // and the band's edge there
  std::int64_t furthest = 0;      // when, a tick
  double kpa_h = 0;               // distance times time
  std::vector<std::string> with;  // "flood at 11:10", "exhaust fan at 100 %"
};

// The `most` worst of [from, to], by kPa h, in order of time, without what coincided. A return to
// the band that lasts less than 20 min ends none, and what was out for less than 3 min is none
// (choices).
std::vector<Excursion> worst_excursions(journal::Reader& reader, const Plan& plan,
                                        std::int64_t from, std::int64_t to, std::size_t most);

// Fills in `with`: what began in the 20 min before it or during it (floods, light, alarms, work,
// new settings, another stage, a start of neapd), and what fan and dryers did where it was worst.
void explain(journal::Reader& reader, const Plan& plan, Excursion& excursion);

}  // namespace neap::client
