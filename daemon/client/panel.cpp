#include "daemon/client/panel.h"

#include <array>
#include <cmath>

#include "daemon/client/look.h"
#include "daemon/core/instant.h"
#include "daemon/words/figures.h"
#include "daemon/words/words.h"

namespace neap::client {
namespace {

constexpr double kLetter = 11.7;  // mean width of one at 22 px, for laying out the legend
constexpr std::int64_t kMinute = Millis{minutes{1}}.count();
constexpr std::int64_t kMinutesPerDay = 24 * 60;

std::string label_of(std::int64_t local_minute) {
  const std::int64_t of_day = local_minute % kMinutesPerDay;
  if (of_day == 0)
    return words::civil_date(static_cast<std::int32_t>(local_minute / kMinutesPerDay)).substr(5);
  return words::clock_time(static_cast<std::int32_t>(of_day * 60));
}

}  // namespace

// Colours differ in lightness too, so that a reader who does not see their hue tells them apart.
const std::string_view kPictureStyle = R"(
text{font:22px sans-serif;fill:#222}
.name{font-size:30px;font-weight:bold}
.head{font-weight:bold}
.paper{fill:#fff}
.frame{fill:none;stroke:#666;stroke-width:1}
.grid{fill:none;stroke:#ddd;stroke-width:1}
.dark{fill:#eef0f5}
.day{fill:#bfe3b4}
.night{fill:#c3cdea}
.canopy{fill:none;stroke:#0b3d66;stroke-width:2;stroke-linejoin:round}
.room{fill:none;stroke:#8a8a8a;stroke-width:1.5;stroke-linejoin:round}
.limit{fill:none;stroke:#c0392b;stroke-width:2;stroke-dasharray:8 6}
.fan{fill:#5b7fa6}
.run{fill:#3d6b50}
.flood{fill:#1f8fd6}
.dip{fill:#1f8fd6;fill-opacity:.22}
.alarm{fill:#c0392b}
.extremes{fill:#0b3d66;fill-opacity:.25}
.mean{fill:none;stroke:#0b3d66;stroke-width:2;stroke-linejoin:round}
)";

// Goes from one whole hour to the next, or by less, so that a change to summer time, which comes on
// a whole hour or half of one, is met where it lies.
std::vector<TimeMark> time_marks(Stretch span, std::int64_t most, const LocalAt& local_at) {
  constexpr std::array<std::int64_t, 19> kSteps{
      1,       2,       5,       10,      15,       30,       60,       120,       180,      360,
      12 * 60, 24 * 60, 48 * 60, 96 * 60, 168 * 60, 336 * 60, 672 * 60, 1344 * 60, 2688 * 60};
  const std::int64_t minutes_in = (span.to - span.from) / kMinute;
  const std::int64_t step = *std::find_if(kSteps.begin(), kSteps.end() - 1,
                                          [&](std::int64_t s) { return minutes_in / s < most; });
  const std::int64_t stride = std::min<std::int64_t>(step, 60);
  std::vector<TimeMark> marks;
  for (std::int64_t tick = span.from; tick <= span.to;) {
    const std::optional<std::int64_t> local = local_at(tick);
    if (!local) {
      tick += stride * kMinute;
      continue;
    }
    const std::int64_t minute = *local / kMinute;
    const std::int64_t past = *local % kMinute;  // not nought at the start, or at a set clock
    if (minute % step == 0 && tick - past >= span.from)
      marks.push_back({tick - past, label_of(minute)});
    tick += (stride - minute % stride) * kMinute - past;
  }
  return marks;
}

double step_of(Scale scale, int most) {
  constexpr std::array kSteps{0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1,  0.2,   0.5,
                              1.0,   2.0,   5.0,   10.0, 20.0, 25.0, 50.0, 100.0, 200.0,
                              500.0, 1e3,   2e3,   5e3,  1e4,  2e4,  5e4,  1e5};
  for (const double step : kSteps)
    if ((scale.high - scale.low) / step <= most) return step;
  return kSteps.back();
}

int decimals_of(double step) {
  int digits = 0;
  for (; step < 0.999 && digits < 3; step *= 10) ++digits;
  return digits;
}

// The legend stands to the right of the title, from the right edge inwards.
void draw_heading(Svg& svg, const Panel& panel, std::string_view title, std::span<const Key> keys) {
  const double y = panel.box.top - 17;
  svg.text({8, y}, title, "head");
  double at = kPlotRight;
  for (auto key = keys.rbegin(); key != keys.rend(); ++key) {
    at -= kLetter * static_cast<double>(columns(key->words));
    svg.text({at, y}, key->words, "");
    at -= 40;
    if (key->filled)
      svg.box({at, y - 14, 32, 14}, key->css_class);
    else
      svg.line({at, y - 7}, {at + 32, y - 7}, key->css_class);
    at -= 22;
  }
}

void draw_grid(Svg& svg, std::span<const TimeMark> marks, const Panel& panel, int most) {
  std::vector<std::vector<Dot>> grid;
  for (const TimeMark& mark : marks)
    grid.push_back({{panel.x(mark.tick), panel.box.top}, {panel.x(mark.tick), panel.box.bottom()}});
  const double step = step_of(panel.scale, most);
  const double first = std::ceil(panel.scale.low / step - 1e-9) * step;
  for (double v = first; v <= panel.scale.high + step * 1e-6; v += step) {
    grid.push_back({{kPlotLeft, panel.y(v)}, {kPlotRight, panel.y(v)}});
    svg.text({kPlotLeft - 8, panel.y(v) + 7}, words::decimals(v, decimals_of(step)), "",
             Anchor::end);
  }
  svg.lines(grid, "grid");
}

void draw_trace(Svg& svg, const Panel& panel, const Trace& trace, std::string_view css_class) {
  std::vector<std::vector<Dot>> runs;
  for (const std::vector<Spot>& run : trace) {
    std::vector<Dot>& dots = runs.emplace_back();
    for (const Spot& spot : run) dots.push_back({panel.x(spot.tick), panel.y(spot.value)});
  }
  svg.lines(runs, css_class);
}

void draw_stretches(Svg& svg, const Panel& panel, std::span<const Stretch> stretches,
                    std::string_view css_class) {
  for (const Stretch& stretch : stretches) {
    const double left = panel.x(stretch.from);
    svg.box({left, panel.box.top, std::max(1.0, panel.x(stretch.to) - left), panel.box.height},
            css_class);
  }
}

void draw_times(Svg& svg, std::span<const TimeMark> marks, Stretch span, double top) {
  const Panel panel{{kPlotLeft, top, kPictureColumns, 0}, span, {}};
  for (const TimeMark& mark : marks) {
    const double x = panel.x(mark.tick);
    const bool at_edge = x > kPlotRight - 24;
    svg.line({x, top}, {x, top + 6}, "frame");
    svg.text({at_edge ? kPictureWidth - 4 : x, top + 28}, mark.label, "",
             at_edge ? Anchor::end : Anchor::middle);
  }
}

}  // namespace neap::client
