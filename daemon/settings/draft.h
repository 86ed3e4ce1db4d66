// The plan while it is being read. Rows of the schema write into it; cross-checks look at it with
// the place of every value at hand.
#pragma once

#include <map>
#include <optional>
#include <set>
#include <string>
#include <string_view>

#include "daemon/core/plan.h"
#include "daemon/settings/build.h"
#include "daemon/settings/care.h"
#include "daemon/settings/source.h"
#include "daemon/settings/telling.h"
#include "daemon/solution/mix.h"
#include "drivers/hardware.h"

namespace neap::settings {

// How old a sensor's values may grow, as far as the settings say.
struct Freshness {
  std::optional<Millis> uncertain_after;
  std::optional<Millis> bad_after;
  std::optional<Millis> frozen_after;
  bool on_rail = false;
};

struct Draft {
  Plan plan;
  drivers::Hardware hardware;
  std::optional<Build> build;
  std::optional<solution::Feed> feed;
  Care care;
  Turnover turnover;
  std::optional<Telling> telling;
  bool proven_by_hand = false;
  PerOutput<std::optional<bool>> in_neaps_hand;  // as written; absent: the mode decides

  PerOutput<std::optional<double>> rated_w;

  // Where the walk stands: what a row of the schema writes to.
  StagePlan* stage = nullptr;
  OutputPlan* output = nullptr;
  drivers::OutputSetup* output_setup = nullptr;
  drivers::SensorSetup* sensor = nullptr;
  Freshness freshness;

  // By path ("table.fill_limit", "programme.stages[leafing].light"): where a value or group
  // stands, and which values were read without a problem (defaults included).
  std::map<std::string, Place, std::less<>> places;
  std::set<std::string, std::less<>> sound;
  std::vector<std::string> stage_paths;  // as many as plan.programme.stages

  bool given(std::string_view path) const { return places.contains(path); }
  bool is_sound(std::string_view path) const { return sound.contains(path); }
  // The place of `path`, or of the nearest group around it.
  Place place_of(std::string_view path) const {
    for (;;) {
      if (const auto found = places.find(path); found != places.end()) return found->second;
      const std::size_t dot = path.rfind('.');
      if (dot == std::string_view::npos) return {1, 1};
      path = path.substr(0, dot);
    }
  }
};

}  // namespace neap::settings
