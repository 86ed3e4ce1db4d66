// What `neap simulate --svg` draws: a stretch of the journal as panels over one time axis, in one
// column for a telephone. Gathering reads the journal, thinning keeps what one column of pixels can
// show, drawing is pure.
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "daemon/client/panel.h"
#include "daemon/core/plan.h"
#include "daemon/journal/reader.h"

namespace neap::client {

// A trace thinned to the lowest and the highest value of each column, in the order they came, so
// that no excursion is lost. A run ends where values are further apart than `held`: what was not
// measured is not drawn.
class Thinner {
 public:
  Thinner(std::int64_t from, std::int64_t to, Millis held) : from_(from), to_(to), held_(held) {}
  void add(Spot spot);  // at rising ticks, from `from` to `to`
  Trace runs() &&;

 private:
  void put_column();

  std::int64_t from_, to_;
  Millis held_;
  Trace runs_;
  std::optional<Spot> lowest_, highest_;  // of the column under way
  std::int64_t column_ = 0;
  std::int64_t last_tick_ = 0;
};

// What the programme wanted, from `tick` on.
struct Aim {
  std::int64_t tick = 0;
  Band band;
  bool light = false;
  bool fallow = false;  // no band then
  Celsius air_lowest{0};
  Celsius air_highest{0};
  PercentRh humidity_ceiling{0};
};

// The mean level of an output in each column, 0 to 1.
using Levels = std::array<double, kPictureColumns>;

struct Strip {
  std::string title;
  Levels levels{};
};

struct Picture {
  std::string name;                // of the settings
  std::vector<std::string> facts;  // lines under the name
  BandOf band_of = BandOf::air;
  bool metric = true;
  std::int64_t from = 0;
  std::int64_t to = 0;
  std::vector<TimeMark> marks;
  std::vector<Aim> aims;
  Trace vpd, room_vpd, canopy_temperature, room_temperature, canopy_humidity, room_humidity;
  std::optional<Levels> exhaust_fan;  // none: there is no such output
  std::vector<Strip> strips;          // dehumidifier and what else of the climate there is
  std::vector<Stretch> floods;        // from the pump's start to the end of drain
  std::vector<Stretch> alarms;
};

// Everything but the facts.
Picture gather_picture(journal::Reader& reader, const Plan& plan, std::int64_t from,
                       std::int64_t to);

// An SVG document of 900 by about 1,100 pixels.
std::string draw(const Picture& picture);

}  // namespace neap::client
