// Fill and drain times over many floods: a strainer that clogs, roots in the drain.
//
// ln(time / commissioned time) is averaged with weights that fade by a quarter a flood. What counts
// as news follows from the scatter of the times themselves, so that a steady table is flagged about
// once in a year of four floods a day (tests/bench/trends).
//
// A pump lifts slower out of a low reservoir. How much slower is learnt from neighbouring floods
// between which the level changed, as a top-up does, and taken out of the times; a slow change of
// strainer or drain is hardly in such differences.
#pragma once

#include <optional>
#include <vector>

namespace neap::solution {

struct Timed {
  double at_h = 0;                               // hours since any origin, ascending
  double seconds = 0;                            // > 0
  std::optional<double> level_l = std::nullopt;  // of the reservoir before the flood
};

// Work at the table after which its times may be others.
struct Renewal {
  double at_h = 0;
  // Commissioned again: what 'commissioned' means begins anew. Else cleaned: the times are the same
  // ones' to compare with, and what was averaged before counts no more.
  bool commissioned = false;
};

// The first so many floods are what 'commissioned' means.
constexpr int kCommissioned = 32;
// The flood is told as slow at this by the daemon itself (core/limits.h), the drain sooner or later
// by its limit; forecasts speak of the fill's.
constexpr double kSlowFill = 1.25;
constexpr double kSlowDrain = 1.5;

struct Trend {
  double commissioned_s = 0;
  double now_s = 0;
  double change = 0;                // now over commissioned, less 1
  double scatter = 0;               // of one time, as a part
  double smallest_change = 0;       // that would be flagged
  std::optional<double> flagged_h;  // flood whose average passed it, while it has not come back
  int flags = 0;                    // how often it passed
  double per_litre = 0;             // ln of the time for each litre more in the reservoir
  std::optional<double> per_day;    // change a day of the newest floods, where it is sure
  std::optional<double> reaches_h;  // when the change will be `slow` at that pace
};
// None with hardly more floods than commission it. `slow` as above; `renewals` ascending.
std::optional<Trend> trend_of(const std::vector<Timed>& times, double slow,
                              const std::vector<Renewal>& renewals = {});

}  // namespace neap::solution
