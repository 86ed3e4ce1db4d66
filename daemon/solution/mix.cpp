#include "daemon/solution/mix.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "daemon/solution/statistics.h"

namespace neap::solution {
namespace {

constexpr std::array<MixFaultInfo, 6> kFaults{{
    {MixFault::no_stocks, "no_stocks", "no stock solution is known",
     "name yours in the settings: group solution, dose and ec of each label"},
    {MixFault::weak_water, "weak_water", "the water alone has a higher EC than that",
     "aim higher, or mix with rain water or reverse osmosis"},
    {MixFault::too_much, "too_much", "the reservoir holds less than that",
     "aim for less: what the tray gives back needs room too"},
    {MixFault::less_than_now, "less_than_now", "the reservoir holds more than that already",
     "aim for more litres, or take some out first"},
    {MixFault::too_strong, "too_strong", "water alone does not bring the EC down that far",
     "take solution out first, then top up"},
    {MixFault::over_strength, "over_strength", "it would take more than 2.5 of the label's doses",
     "measure EC and level again, and look at the doses in the settings"},
}};

constexpr double kLeastMove = 0.1;  // pH: less is the meter's error
constexpr double kNearEnough = 0.05;

// `doses` times litres of the label's dose in `water_l` of water.
Mix make(const Feed& feed, const Solution& now, double water_l, double dosed_l) {
  Mix mix;
  mix.water_l = water_l;
  double stock_l = 0;
  for (const Stock& stock : feed.stocks) {
    const double ml = stock.ml_per_l * dosed_l;
    if (ml > 0) mix.stocks.push_back({stock.name, ml});
    stock_l += ml / 1000;
  }
  mix.added.litres = water_l + stock_l;
  if (mix.added.litres > 0) {
    mix.added.ec = (water_l * feed.water_ec + dosed_l * feed.dose_ec) / mix.added.litres;
    mix.doses = dosed_l / mix.added.litres;
  }
  mix.result = mixed(now, mix.added);
  return mix;
}

}  // namespace

Solution mixed(const Solution& a, const Solution& b) {
  const double litres = a.litres + b.litres;
  if (!(litres > 0)) return {};
  return {litres, (a.salt() + b.salt()) / litres};
}

std::optional<Solution> evaporated(const Solution& from, double litres) {
  if (!(litres >= 0 && litres < from.litres)) return std::nullopt;
  return Solution{from.litres - litres, from.salt() / (from.litres - litres)};
}

double Feed::ml_per_l() const {
  double sum = 0;
  for (const Stock& stock : stocks) sum += stock.ml_per_l;
  return sum;
}

const MixFaultInfo& info(MixFault fault) { return kFaults[static_cast<std::size_t>(fault)]; }

std::variant<Mix, MixRefusal> fresh(const Feed& feed, double litres, double ec, double capacity_l) {
  return top_up(feed, {}, litres, ec, capacity_l);
}

std::variant<Mix, MixRefusal> top_up(const Feed& feed, const Solution& now, double litres,
                                     double ec, double capacity_l) {
  constexpr double kHair = 1e-9;
  if (litres > capacity_l + kHair) return MixRefusal{MixFault::too_much, capacity_l};
  if (litres < now.litres - kHair) return MixRefusal{MixFault::less_than_now, now.litres};
  const double room = std::max(litres - now.litres, 0.0);
  // The salt that is due, less what reservoir and plain water would bring.
  const double missing = ec * (now.litres + room) - now.salt() - feed.water_ec * room;
  if (missing < -kHair) {
    if (!(ec > feed.water_ec)) return MixRefusal{MixFault::weak_water, feed.water_ec};
    // Take x out and put x more of water in: the salt of x (ec_now - ec_water) leaves.
    return MixRefusal{MixFault::too_strong, -missing / (now.ec - feed.water_ec)};
  }
  if (missing <= kHair) return make(feed, now, room, 0);
  if (feed.stocks.empty() || !(feed.dose_ec > 0)) return MixRefusal{MixFault::no_stocks, {}};
  const double stock_part = feed.ml_per_l() / 1000;  // litres of stock for a litre's dose
  // Stock takes the place of water, which brings salt of its own.
  double dosed = missing / (feed.dose_ec - feed.water_ec * stock_part);
  double water = room - dosed * stock_part;
  if (water < 0) {
    // No room for water: stock alone, and the level rises by it.
    water = 0;
    dosed = now.litres * (ec - now.ec) / (feed.dose_ec - ec * stock_part);
  }
  const Mix mix = make(feed, now, water, dosed);
  if (mix.result.litres > capacity_l + kHair) return MixRefusal{MixFault::too_much, capacity_l};
  // Where little is added to much, its own strength says nothing: that of the whole does.
  const double doses = dosed / mix.result.litres;
  if (!(dosed > 0) || doses > kMostDoses) return MixRefusal{MixFault::over_strength, doses};
  return mix;
}

Taken taken_between(const Solution& before, const Solution& added, const Solution& after) {
  Taken taken;
  const Solution start = mixed(before, added);
  taken.water_l = start.litres - after.litres;
  taken.salt = start.salt() - after.salt();
  if (taken.water_l >= kLeastTaken) taken.concentration = taken.salt / taken.water_l;
  taken.ec_if_water_alone = after.litres > 0 ? start.salt() / after.litres : start.ec;
  return taken;
}

std::optional<PhResponse> ph_response(const std::vector<Dosed>& doses, bool acid) {
  std::vector<double> each;
  for (const Dosed& dose : doses) {
    const double moved = acid ? dose.ph_before - dose.ph_after : dose.ph_after - dose.ph_before;
    if (!(moved >= kLeastMove) || !(dose.litres > 0) || !(dose.millilitres > 0)) continue;
    each.push_back(dose.millilitres / (moved * 10) / dose.litres);
  }
  if (each.empty()) return std::nullopt;
  const auto [lowest, highest] = std::minmax_element(each.begin(), each.end());
  return PhResponse{median(each), static_cast<int>(each.size()), *lowest, *highest};
}

std::optional<PhStep> ph_step(const std::optional<PhResponse>& response, double litres, double ph,
                              double target) {
  const double way = std::abs(ph - target);
  if (way <= kNearEnough || !(litres > 0)) return std::nullopt;
  PhStep step;
  step.acid = ph > target;
  if (!response) {
    step.millilitres = step.all_ml = kFirstTry * litres;
    return step;
  }
  const double move = way <= kLeastMove ? way : std::min(std::max(way / 2, kLeastMove), kPhStep);
  const double ml_per_ph = response->ml_per_tenth_per_l * 10 * litres;
  step.millilitres = ml_per_ph * move;
  step.all_ml = ml_per_ph * way;
  step.expected_ph = step.acid ? ph - move : ph + move;
  return step;
}

}  // namespace neap::solution
