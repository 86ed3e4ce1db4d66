// Mixing on the back of a bag: litres of water, mL of stock solutions, what a top-up does to EC and
// level, and what the plants and the air did since the last one.
//
// Salt is counted as EC times litres (mS/cm L): conductivity grows with what is dissolved nearly in
// proportion at the 0.5 to 3 mS/cm of nutrient solutions (common practice, no source; a real one
// lies some per cent below the line, which is why the end of every mix is a measurement). Volumes
// add up. Then mixing conserves water and salt exactly, and the tests hold it to that.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

namespace neap::solution {

// EC at 25 C, mS/cm.
struct Solution {
  double litres = 0;
  double ec = 0;
  double salt() const { return litres * ec; }
};
Solution mixed(const Solution& a, const Solution& b);
// Water gone, salt stayed. None when there is not that much, or nothing would be left.
std::optional<Solution> evaporated(const Solution& from, double litres);

// A concentrate and its dose by the label.
struct Stock {
  std::string name;     // "part_a"
  double ml_per_l = 0;  // > 0
};
// What is fed: all stocks together in the proportion of their doses.
struct Feed {
  std::vector<Stock> stocks;
  double dose_ec = 0;   // what one dose of all of them adds to a litre's EC
  double water_ec = 0;  // of the tap or the barrel
  double ml_per_l() const;
};

enum class MixFault : std::uint8_t {
  no_stocks,      // no stock solution is known, and salt is needed
  weak_water,     // the target is under the EC of the water itself; `value` is that EC
  too_much,       // over what the reservoir holds; `value` is that, L
  less_than_now,  // the reservoir holds more already; `value` is that, L
  too_strong,     // water alone does not bring the EC down; `value` is the litres to take out first
  over_strength   // more than kMostDoses; `value` is the doses
};
struct MixFaultInfo {
  MixFault fault;
  std::string_view key;
  std::string_view what;
  std::string_view remedy;
};
const MixFaultInfo& info(MixFault fault);
struct MixRefusal {
  MixFault fault = MixFault::no_stocks;
  std::optional<double> value;
};

// More than this much of a label's dose is a slip of the pen or of the probe (common practice, no
// source).
constexpr double kMostDoses = 2.5;

struct Portion {
  std::string stock;
  double millilitres = 0;
};
struct Mix {
  double water_l = 0;
  std::vector<Portion> stocks;
  double doses = 0;  // of the label, in the water and stock that are added
  Solution added;    // what goes in
  Solution result;   // what is in the reservoir then
};
// `litres` of `ec` in an empty reservoir.
std::variant<Mix, MixRefusal> fresh(const Feed& feed, double litres, double ec, double capacity_l);
// From `now` up to `litres` of `ec`.
std::variant<Mix, MixRefusal> top_up(const Feed& feed, const Solution& now, double litres,
                                     double ec, double capacity_l);

// What happened between two measurements of the reservoir, `added` in between.
struct Taken {
  double water_l = 0;                   // by plants and air
  double salt = 0;                      // by plants, mS/cm L; negative: more than was there
  std::optional<double> concentration;  // of what was taken, mS/cm; none for less than kLeastTaken
  double ec_if_water_alone = 0;         // where the EC would be, had only water gone
};
constexpr double kLeastTaken = 0.5;  // L: less is the measurement's error
Taken taken_between(const Solution& before, const Solution& added, const Solution& after);

// --- pH -----------------------------------------------------------------------------------------

// A dose of acid or base and the pH on both sides of it.
struct Dosed {
  double millilitres = 0;
  double ph_before = 0;
  double ph_after = 0;
  double litres = 0;  // in the reservoir
};
// mL for a tenth of a pH in a litre, from past doses of one bottle: the median of those that moved
// the pH the right way by a tenth at least. It holds near the pH they were given at alone: a
// solution's buffering is no straight line.
struct PhResponse {
  double ml_per_tenth_per_l = 0;
  int doses = 0;
  double lowest = 0, highest = 0;  // of the single ones
};
std::optional<PhResponse> ph_response(const std::vector<Dosed>& doses, bool acid);

// One step: at most half of the way and at most 0.3 pH, so that a wrong response cannot overshoot;
// what is under a tenth is done at once. Without a response a first try of 0.005 mL a litre tells
// it: of 85 % phosphoric acid (14.6 mol/L, from memory) that is less than a fifth of the alkalinity
// of soft water of 20 mg/L CaCO3, and bottles of 10 to 85 % differ tenfold.
constexpr double kPhStep = 0.3;
constexpr double kFirstTry = 0.005;  // mL a litre
struct PhStep {
  bool acid = true;
  double millilitres = 0;
  std::optional<double> expected_ph;  // none for a first try
  double all_ml = 0;                  // the whole way by the response; of a first try, that
};
// None when the pH is within 0.05 of the target.
std::optional<PhStep> ph_step(const std::optional<PhResponse>& response, double litres, double ph,
                              double target);

}  // namespace neap::solution
