#include "daemon/client/picture.h"

#include <algorithm>
#include <cmath>
#include <functional>
#include <limits>
#include <span>
#include <string_view>

#include "daemon/client/look.h"
#include "daemon/client/svg.h"
#include "daemon/words/figures.h"

namespace neap::client {
namespace {

constexpr double kVpdHeight = 240;
constexpr double kAirHeight = 150;
constexpr double kHumidityHeight = 130;
constexpr double kFanHeight = 80;
constexpr std::size_t kMostDips = 60;  // floods that can be told apart behind the VPD

Scale scale_of(const Trace& trace, Scale at_least) {
  Scale range = at_least;
  for (const std::vector<Spot>& run : trace)
    for (const Spot& spot : run) {
      range.low = std::min(range.low, spot.value);
      range.high = std::max(range.high, spot.value);
    }
  return range;
}

void draw_dark(Svg& svg, const Picture& picture, const Panel& panel) {
  for (std::size_t i = 0; i < picture.aims.size();) {
    std::size_t end = i;
    while (end < picture.aims.size() && picture.aims[end].light == picture.aims[i].light) ++end;
    const double left = panel.x(picture.aims[i].tick);
    const double right = end < picture.aims.size() ? panel.x(picture.aims[end].tick) : kPlotRight;
    if (!picture.aims[i].light)
      svg.box({left, panel.box.top, right - left, panel.box.height}, "dark");
    i = end;
  }
}

void draw_limit(Svg& svg, const Picture& picture, const Panel& panel,
                const std::function<double(const Aim&)>& limit) {
  std::vector<Dot> dots;
  for (const Aim& aim : picture.aims) {
    const Dot dot{panel.x(aim.tick), panel.y(limit(aim))};
    const std::size_t n = dots.size();
    if (n >= 2 && dots[n - 1].y == dot.y && dots[n - 2].y == dot.y)
      dots.back() = dot;  // the middle of a level line
    else
      dots.push_back(dot);
  }
  svg.lines({dots}, "limit");
}

// Corners of one edge of the band from `first` to `last`: what lies on the line between its
// neighbours is left out.
std::vector<Dot> band_edge(const Panel& panel, const std::vector<Aim>& aims, std::size_t first,
                           std::size_t last, Kilopascal Band::*edge) {
  constexpr double kSameLine = 1e-6;  // kPa
  const auto value = [&](std::size_t i) { return (aims[i].band.*edge).value; };
  std::vector<Dot> dots;
  for (std::size_t i = first; i <= last; ++i) {
    const bool corner =
        i == first || i == last || std::abs(value(i + 1) - 2 * value(i) + value(i - 1)) > kSameLine;
    if (corner) dots.push_back({panel.x(aims[i].tick), panel.y(value(i))});
  }
  return dots;
}

void draw_band(Svg& svg, const Picture& picture, const Panel& panel) {
  const std::vector<Aim>& aims = picture.aims;
  for (std::size_t i = 0; i < aims.size();) {
    std::size_t end = i;
    while (end < aims.size() && aims[end].light == aims[i].light &&
           aims[end].fallow == aims[i].fallow)
      ++end;
    const std::size_t last = std::min(end, aims.size() - 1);  // to where the next part begins
    std::vector<Dot> outline = band_edge(panel, aims, i, last, &Band::high);
    const std::vector<Dot> low = band_edge(panel, aims, i, last, &Band::low);
    outline.insert(outline.end(), low.rbegin(), low.rend());
    if (!aims[i].fallow) svg.area(outline, aims[i].light ? "day" : "night");
    i = end;
  }
}

void draw_levels(Svg& svg, const Panel& panel, const Levels& levels, std::string_view css_class) {
  std::vector<Dot> outline{{kPlotLeft, panel.box.bottom()}};
  constexpr double kSameLevel = 1e-6;
  double before = 0;
  for (std::size_t i = 0; i <= levels.size(); ++i) {
    const double now = i < levels.size() ? levels[i] : 0;
    if (std::abs(now - before) < kSameLevel && i < levels.size()) continue;
    const double x = kPlotLeft + static_cast<double>(i);
    outline.push_back({x, panel.box.bottom() - panel.box.height * before});
    outline.push_back({x, panel.box.bottom() - panel.box.height * now});
    before = now;
  }
  svg.area(outline, css_class);
}

double draw_header(Svg& svg, const Picture& picture) {
  svg.text({8, 36}, picture.name, "name");
  double y = 38;
  for (const std::string& fact : picture.facts) svg.text({8, y += 27}, fact, "");
  return y + 6;
}

// VPD reaches from zero over the band; a dry room may leave the top, the canopy never does.
Scale vpd_range(const Picture& picture) {
  double band = 0.5;
  for (const Aim& aim : picture.aims) band = std::max(band, aim.band.high.value);
  const double canopy = scale_of(picture.vpd, {0, 1.3 * band}).high;
  const double room = scale_of(picture.room_vpd, {0, 0}).high;
  return {0, std::max(canopy, std::min(room, 2 * band)) * 1.04};
}

double shown(double celsius, bool metric) { return metric ? celsius : celsius * 1.8 + 32; }

Trace shown(Trace celsius, bool metric) {
  for (std::vector<Spot>& run : celsius)
    for (Spot& spot : run) spot.value = shown(spot.value, metric);
  return celsius;
}

Scale temperature_range(const Picture& picture) {
  Scale range{std::numeric_limits<double>::max(), std::numeric_limits<double>::lowest()};
  for (const Aim& aim : picture.aims)
    range = {std::min(range.low, aim.air_lowest.value),
             std::max(range.high, aim.air_highest.value)};
  range = scale_of(picture.room_temperature, scale_of(picture.canopy_temperature, range));
  if (range.low > range.high) range = {0, 40};  // nothing is known
  return {shown(range.low - 1, picture.metric), shown(range.high + 1, picture.metric)};
}

// The drawing under way: panels from the top down.
class Page {
 public:
  explicit Page(const Picture& picture)
      : picture_(picture),
        height_(height_of(picture)),
        svg_(kPictureWidth, height_, picture.name, kPictureStyle) {
    svg_.box({0, 0, kPictureWidth, height_}, "paper");
    at_ = draw_header(svg_, picture);
  }

  void vpd() {
    constexpr std::array kKeys{Key{"day", "band by day", true}, Key{"night", "by night", true},
                               Key{"canopy", "canopy"}, Key{"room", "room"},
                               Key{"dip", "flood", true}};
    const Panel panel = next(kHeading, kVpdHeight, vpd_range(picture_));
    draw_band(svg_, picture_, panel);
    if (picture_.floods.size() <= kMostDips) draw_stretches(svg_, panel, picture_.floods, "dip");
    draw_grid(svg_, picture_.marks, panel, 6);
    svg_.clip(panel.box);
    draw_trace(svg_, panel, picture_.room_vpd, "room");
    draw_trace(svg_, panel, picture_.vpd, "canopy");
    svg_.unclip();
    const bool leaf = picture_.band_of == BandOf::leaf;
    finish(panel, leaf ? "leaf VPD, kPa" : "air VPD, kPa", kKeys);
  }

  void temperature() {
    const Panel panel = next(kHeading, kAirHeight, temperature_range(picture_));
    draw_grid(svg_, picture_.marks, panel, 5);
    const bool metric = picture_.metric;
    draw_trace(svg_, panel, shown(picture_.room_temperature, metric), "room");
    draw_trace(svg_, panel, shown(picture_.canopy_temperature, metric), "canopy");
    draw_limit(svg_, picture_, panel,
               [&](const Aim& aim) { return shown(aim.air_highest.value, metric); });
    draw_limit(svg_, picture_, panel,
               [&](const Aim& aim) { return shown(aim.air_lowest.value, metric); });
    finish(panel, metric ? "temperature, C" : "temperature, F", kAirKeys);
  }

  void humidity() {
    Scale range = scale_of(picture_.canopy_humidity, {50, 100});
    range = scale_of(picture_.room_humidity, range);
    const Panel panel = next(kHeading, kHumidityHeight, range);
    draw_grid(svg_, picture_.marks, panel, 4);
    draw_trace(svg_, panel, picture_.room_humidity, "room");
    draw_trace(svg_, panel, picture_.canopy_humidity, "canopy");
    draw_limit(svg_, picture_, panel, [](const Aim& aim) { return aim.humidity_ceiling.value; });
    finish(panel, "humidity, %", kAirKeys);
  }

  void fan() {
    if (!picture_.exhaust_fan) return;
    constexpr std::array kKeys{Key{"dark", "lights off", true}};
    const Panel panel = next(kHeading, kFanHeight, {0, 100});
    draw_levels(svg_, panel, *picture_.exhaust_fan, "fan");
    draw_grid(svg_, picture_.marks, panel, 2);
    finish(panel, "exhaust fan, %", kKeys);
  }

  void strips() {
    at_ += kStripGap;
    for (const Strip& each : picture_.strips)
      draw_levels(svg_, strip(each.title), each.levels, "run");
    draw_stretches(svg_, strip("floods"), picture_.floods, "flood");
    if (!picture_.alarms.empty()) draw_stretches(svg_, strip("alarms"), picture_.alarms, "alarm");
    draw_times(svg_, picture_.marks, {picture_.from, picture_.to}, at_);
  }

  std::string done() && { return std::move(svg_).done(); }

 private:
  static constexpr double kStripGap = 14;
  static constexpr std::array kAirKeys{Key{"canopy", "canopy"}, Key{"room", "room"},
                                       Key{"limit", "limit"}};

  static double height_of(const Picture& picture) {
    constexpr double kHeader = 44;
    constexpr double kFact = 27;
    const std::size_t strips = picture.strips.size() + (picture.alarms.empty() ? 1 : 2);
    return kHeader + kFact * static_cast<double>(picture.facts.size()) + kVpdHeight + kAirHeight +
           kHumidityHeight + 3 * kHeading + (picture.exhaust_fan ? kFanHeight + kHeading : 0) +
           kStripGap + kStripStep * static_cast<double>(strips) + kTimesHeight;
  }

  Panel next(double above, double height, Scale range) {
    const Panel panel{
        {kPlotLeft, at_ + above, kPictureColumns, height}, {picture_.from, picture_.to}, range};
    at_ = panel.box.bottom();
    draw_dark(svg_, picture_, panel);
    return panel;
  }
  void finish(const Panel& panel, std::string_view title, std::span<const Key> keys) {
    draw_heading(svg_, panel, title, keys);
    svg_.box(panel.box, "frame");
  }
  Panel strip(std::string_view title) {
    const Panel panel = next(kStripStep - kStripHeight, kStripHeight, {0, 1});
    svg_.text({kPlotLeft - 8, panel.box.bottom() - 3}, title, "", Anchor::end);
    return panel;
  }
  const Picture& picture_;
  double height_;
  Svg svg_;
  double at_ = 0;
};

}  // namespace

std::string draw(const Picture& picture) {
  Page page(picture);
  page.vpd();
  page.temperature();
  page.humidity();
  page.fan();
  page.strips();
  return std::move(page).done();
}

}  // namespace neap::client
