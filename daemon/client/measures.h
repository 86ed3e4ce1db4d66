// The words of `neap measure`: figures in the units that meters have, and when they were read.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/core/hand.h"
#include "daemon/core/instant.h"
#include "daemon/core/solution_watch.h"

namespace neap::client {

struct Measure {
  Hand hand = Hand::ph;
  double value = 0;  // in the unit of kHands
};

struct Measured {
  std::vector<Measure> values;  // as they were given, each once; may be empty
  std::string at;               // as it was written; empty: now
  std::string photo;
};

// ph=5.9 ec=1.6 level=62 water=20.5, at=07:30 or at=yesterday 19:10, photo=FILE. A figure may carry
// its unit: ec=1600uS/cm, level=10gal, water=68F, ec=800ppm500. A Failure of kind usage where one
// cannot be meant so, asking what was meant where that can be guessed; or is hardly meant so, until
// it is written with its unit. `reservoir_l`: what the reservoir holds; none: not known.
Measured parse_measured(const std::vector<std::string>& words,
                        std::optional<double> reservoir_l = {});

// One figure as it stands after the `=`; a Failure likewise.
double parse_figure(Hand hand, std::string_view text, std::optional<double> reservoir_l = {});

// A civil moment: 07:30 of `today`, "yesterday 19:10", 2026-06-01T19:10. A Failure otherwise.
CivilTime parse_moment(std::string_view text, std::int32_t today);

// "pH 5.90", "EC 1.60 mS/cm", in the units of kHands.
std::string hand_text(Hand hand, double value);
// "5.5 to 6.5", "1.25 to 1.60": as fine as it is set.
std::string hand_band_text(Hand hand, const Range& band);
// All of them, by commas.
std::string hand_texts(const std::vector<Measure>& values);

}  // namespace neap::client
