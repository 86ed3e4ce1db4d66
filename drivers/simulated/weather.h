// What surrounds the room: made up (a daily swing with slow wandering) or recorded hours from a CSV
// file. A pure function of the time since the start, so any instant can be asked for in any order.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "drivers/hardware.h"
#include "drivers/simulated/parameters.h"

namespace neap::drivers::simulated {

struct Surroundings {
  double building_c = 0;
  double building_w = 0;  // kg/kg
  double outdoor_c = 0;
  double outdoor_kpa = 0;
  std::optional<double> room_c;  // set when the room itself was recorded
  std::optional<double> room_w;
};

// Seconds since 1970-01-01 on the civil scale of the text itself: "2013-01-01T06:00Z",
// "2016-01-11 17:30" or with seconds. Zone letters are not applied.
std::optional<std::int64_t> civil_seconds(std::string_view text);

// Recorded temperature and humidity. Rows without both are bridged by a straight line, and the
// record begins again at its end.
class Record {
 public:
  struct Row {
    std::int64_t at_s;
    double celsius;
    double percent;
  };
  // Reads the columns that `setup` names. On failure `error` says file, line or column, and remedy.
  static Record read(const SimulationSetup& setup, std::string& error);

  struct Value {
    double celsius = 0;
    double percent = 0;
  };
  // `elapsed_s` after the first row to use.
  Value at(double elapsed_s) const;
  std::size_t size() const { return rows_.size(); }

 private:
  std::vector<Row> rows_;
  std::int64_t first_s_ = 0;  // csv_start, or the first row
};

class Weather {
 public:
  // `local_start_s`: seconds since 1970-01-01 on the local civil scale at the start of the run.
  static Weather make(const SimulationSetup& setup, const Parameters& parameters,
                      std::int64_t local_start_s, std::string& error);
  Surroundings at(double elapsed_s) const;
  bool room_is_recorded() const { return record_ && is_room_; }

 private:
  Surroundings made_up(double elapsed_s) const;

  Parameters parameters_{};
  std::uint64_t seed_ = 0;
  std::int64_t local_start_s_ = 0;
  bool is_room_ = false;
  std::optional<Record> record_;
};

}  // namespace neap::drivers::simulated
