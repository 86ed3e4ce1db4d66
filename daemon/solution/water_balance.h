// Where the water goes, from the reservoir's level between floods.
//
// While nothing floods, the plants drink from the medium and not from the reservoir: once the tray
// has drained the level lies flat, but for a lid's evaporation and a leak. What the medium gave
// away is taken from the reservoir by the next flood, so that the fall of the level from before
// flood k to before flood k + 1 is what plants and air took before flood k: one cycle late.
#pragma once

#include <cstddef>
#include <optional>
#include <vector>

namespace neap::solution {

struct Level {
  double at_h = 0;    // hours since any origin, ascending
  double litres = 0;  // mean of a minute or longer
};

struct Flood {
  double began_h = 0;
  double drained_h = 0;  // the tray was proven empty, or the drain was given up
  // What the air asked of the plants since the flood before, in any unit that grows with it: litres
  // of an estimate, or VPD times hours.
  std::optional<double> demand;
  // Not a flood but somebody at work: water may have come and gone by hand.
  bool worked = false;
};

struct WaterRecord {
  std::vector<Level> levels;
  std::vector<Flood> floods;  // ascending
};

// A tray and its medium still drip after they are proven empty.
constexpr double kDripHours = 1.25;
// Shorter windows say next to nothing of a slope, longer ones keep an answer waiting.
constexpr double kWindowLeastHours = 2;
constexpr double kWindowMostHours = 12;
// The level rose by this within ten minutes, no flood being about: somebody poured. A window ends.
constexpr double kPouredLitres = 0.5;

// Time in which the level should lie flat.
struct IdleWindow {
  double from_h = 0;
  double to_h = 0;
  int readings = 0;
  double loss_l_per_h = 0;  // least squares; positive: it falls
  double scatter_l = 0;     // standard deviation of a reading around the line
  double hours() const { return to_h - from_h; }
  double middle_h() const { return (from_h + to_h) / 2; }
};
std::vector<IdleWindow> idle_windows(const WaterRecord& record);

// From before one flood to before the next.
struct CycleLoss {
  double from_h = 0;             // the earlier flood's beginning
  double to_h = 0;               // the later one's
  double litres = 0;             // fall of the level; negative where somebody poured
  std::optional<double> demand;  // of the cycle before: what the earlier flood had to make good
  bool poured = false;           // the level rose: the loss is not known
  double hours() const { return to_h - from_h; }
};
std::vector<CycleLoss> cycle_losses(const WaterRecord& record);

// Losses of the cycles that ended within a day, brought to 24 h by those where nobody poured; none
// where less than six hours of them are known.
struct DayLoss {
  int day = 0;  // whole days since the origin
  std::optional<double> litres;
  double poured_l = 0;  // what came in beyond what such a cycle loses
};
std::vector<DayLoss> day_losses(const std::vector<CycleLoss>& cycles);

// Litres a day over the newest `days` that are known; none when there are none.
std::optional<double> loss_per_day(const std::vector<DayLoss>& days, std::size_t most = 5);

// Days until the level is down to what a flood and the minimum need; 0 when it is there already,
// none when nothing is lost.
std::optional<double> days_until(double level_l, double needed_l, std::optional<double> l_per_day);

}  // namespace neap::solution
