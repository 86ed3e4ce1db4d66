// Panels of a picture over one time axis, and what is drawn into them: shared by the pictures of
// `neap simulate --svg` and `neap chart --svg`. Pure. Times are milliseconds of whichever axis the
// picture has, ticks or wall time; lengths are pixels.
#pragma once

#include <algorithm>
#include <cstdint>
#include <functional>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/client/svg.h"

namespace neap::client {

constexpr int kPictureColumns = 736;  // pixels that the time axis has
constexpr double kPictureWidth = 900;
constexpr double kPlotLeft = 150;  // figures and titles of strips stand before it
constexpr double kPlotRight = kPlotLeft + kPictureColumns;
constexpr double kHeading = 48;  // above each panel
constexpr double kStripHeight = 20;
constexpr double kStripStep = 33;
constexpr double kTimesHeight = 44;  // below the lowest strip

extern const std::string_view kPictureStyle;  // CSS of all classes that are drawn

struct Spot {
  std::int64_t tick = 0;
  double value = 0;
};
using Trace = std::vector<std::vector<Spot>>;  // runs; what was not measured is not drawn

struct Stretch {
  std::int64_t from = 0;
  std::int64_t to = 0;
};

struct TimeMark {
  std::int64_t tick = 0;
  std::string label;
};
// Local time, as milliseconds since 1970-01-01 00:00 there; none where no clock was known.
using LocalAt = std::function<std::optional<std::int64_t>(std::int64_t tick)>;
// Whole minutes, hours or days of local time, fewer than about `most` of them; a midnight by its
// date.
std::vector<TimeMark> time_marks(Stretch span, std::int64_t most, const LocalAt& local_at);

struct Scale {
  double low = 0;
  double high = 1;
};
// The finest round step that gives at most `most` lines.
double step_of(Scale scale, int most);
// Decimals that tell figures one step apart.
int decimals_of(double step);

// A panel's rectangle and what its edges mean.
struct Panel {
  Box box;
  Stretch span;
  Scale scale;

  double x(std::int64_t tick) const {
    return box.left + box.width * static_cast<double>(tick - span.from) /
                          static_cast<double>(std::max<std::int64_t>(1, span.to - span.from));
  }
  double y(double value) const {
    return box.bottom() - box.height * (value - scale.low) / (scale.high - scale.low);
  }
};

struct Key {  // of the legend
  std::string_view css_class;
  std::string_view words;
  bool filled = false;
};

// The legend stands to the right of the title, from the right edge inwards.
void draw_heading(Svg& svg, const Panel& panel, std::string_view title, std::span<const Key> keys);
void draw_grid(Svg& svg, std::span<const TimeMark> marks, const Panel& panel, int most);
void draw_trace(Svg& svg, const Panel& panel, const Trace& trace, std::string_view css_class);
void draw_stretches(Svg& svg, const Panel& panel, std::span<const Stretch> stretches,
                    std::string_view css_class);
// The axis below the lowest panel, whose lower edge is at `top`.
void draw_times(Svg& svg, std::span<const TimeMark> marks, Stretch span, double top);

}  // namespace neap::client
