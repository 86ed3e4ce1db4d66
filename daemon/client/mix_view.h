// What `neap mix` answers: arithmetic of daemon/solution/mix.h with where its figures came from.
#pragma once

#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <vector>

#include "daemon/client/look.h"
#include "daemon/journal/reader.h"
#include "daemon/solution/mix.h"

namespace neap::client {

// A figure and whence it came: "typed", "level sensor, 2026-06-01 14:05", "by hand, ...".
struct Figure {
  double value = 0;
  std::string whence;
};

struct MixView {
  bool top_up = false;
  std::optional<Figure> level, ec;  // of what is there, of a top-up
  Figure target;                    // EC, mS/cm
  double water_ec = 0;
  solution::Mix mix;
};
nlohmann::json mix_json(const MixView& view);
std::string render_mix(const MixView& view, const Look& look, std::size_t width);

struct PhView {
  Figure level, ph, target;
  std::optional<solution::PhResponse> response;
  std::optional<solution::PhStep> step;  // none: near enough
};
nlohmann::json ph_json(const PhView& view);
std::string render_ph(const PhView& view, const Look& look, std::size_t width);

// Doses of acid or base among the measurements by hand, with the pH noted within six hours on both
// sides; a pH told together with a dose is the one after it. `litres` of a dose is the level noted
// last before it, else `level_l`.
std::vector<solution::Dosed> doses_noted(const std::vector<journal::MeasurementRow>& rows,
                                         bool acid, double level_l);

}  // namespace neap::client
