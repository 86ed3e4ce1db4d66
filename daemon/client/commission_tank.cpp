// The tank's table: what the level probe reads, beside what a person poured.
#include <algorithm>
#include <cmath>

#include "daemon/client/commission_walk.h"
#include "daemon/client/peek.h"
#include "daemon/words/figures.h"

namespace neap::client {
namespace {

constexpr std::size_t kMostPairs = 12;
// Litres by which the probe must move between two pairs, or the second says nothing new (common
// practice, no source).
constexpr double kLeastBetween = 0.5;

// Four significant digits of what the figures span: a probe in m or kPa has all of its travel
// behind the point.
std::string written(double value, double span) {
  const int digits = std::clamp(3 - static_cast<int>(std::floor(std::log10(span))), 1, 9);
  std::string text = words::decimals(value, digits);
  while (text.back() == '0') text.pop_back();
  if (text.back() == '.') text.pop_back();
  return text;
}

// Of two pairs or more that rise or fall throughout.
std::string curve_line(const Tank& tank, const std::vector<TankPair>& pairs) {
  const double readings = std::abs(pairs.back().reading - pairs.front().reading);
  const double litres = pairs.back().litres - pairs.front().litres;
  std::string line = "sensors." + tank.sensor + ".with.curve: [";
  for (const TankPair& pair : pairs)
    line += (line.back() == '[' ? "" : ", ") + written(pair.reading, readings) + " " + tank.unit +
            " = " + written(pair.litres, litres) + " L";
  return line + "]";
}

}  // namespace

std::optional<double> reading_for(const Tank& tank, double litres) {
  const auto [least, most] = std::minmax(tank.table.front().litres, tank.table.back().litres);
  if (litres <= least || litres >= most) return std::nullopt;
  for (std::size_t i = 0; i + 1 < tank.table.size(); ++i) {
    const TankPair& a = tank.table[i];
    const TankPair& b = tank.table[i + 1];
    if (litres < std::min(a.litres, b.litres) || litres > std::max(a.litres, b.litres)) continue;
    const double part = (litres - a.litres) / (b.litres - a.litres);
    return a.reading + part * (b.reading - a.reading);
  }
  return std::nullopt;
}

// What the probe reads now, worked back through the table in force.
std::optional<TankPair> Walk::tank_pair(double litres) {
  look();
  const auto level = value_of(Point::reservoir_level);
  const auto reading =
      level ? reading_for(*tent_.tank, *level - tent_.tank->offset_l) : std::nullopt;
  if (!reading) {
    questions_.say(level
                       ? "  The probe is at an end of its table in force, or beyond it, and tells "
                         "nothing there: pour on if it is the empty end, else write a table that "
                         "reaches further (from its data sheet), `neap apply`, and begin again."
                       : "  The probe cannot be read: see `neap status`.");
    return std::nullopt;
  }
  return TankPair{*reading, litres};
}

void Walk::tank() {
  if (!tent_.tank || !wanted("tank")) return;
  if (!questions_.yes("Measure the tank's table? You pour known litres, from empty upwards; neap "
                      "reads the probe.",
                      "no"))
    return;
  std::vector<TankPair> pairs;
  while (pairs.size() < kMostPairs) {
    const auto litres = questions_.number(
        "How many litres are in the reservoir, all in all? Let the water "
        "come to rest, and the probe have two readings. (Enter ends)",
        0, info(Point::reservoir_level).highest);
    if (!litres) break;
    const auto pair = tank_pair(*litres);
    if (!pair) continue;
    const bool new_pair = pairs.empty() || (*litres - pairs.back().litres >= kLeastBetween &&
                                            pair->reading != pairs.back().reading);
    if (new_pair)
      pairs.push_back(*pair);
    else
      questions_.say("  That is no step upwards from the last one: pour more.");
  }
  if (pairs.size() < 2) return finding("tank", false, "a table needs two levels at least");
  const bool rises = pairs[1].reading > pairs[0].reading;
  for (std::size_t i = 1; i < pairs.size(); ++i)
    if ((pairs[i].reading > pairs[i - 1].reading) != rises)
      return finding("tank", false,
                     "the probe rose and fell while water was poured: a loose probe, or waves");
  done_.settings.push_back(curve_line(*tent_.tank, pairs));
  // The new table says the litres themselves.
  if (tent_.tank->offset_l != 0)
    done_.settings.push_back("calibration.offsets.reservoir.level: 0 L");
  finding("tank", true);
}

}  // namespace neap::client
