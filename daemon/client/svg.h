// A drawing as SVG 1.1 text: the few shapes that a chart is made of. Pure. Lengths are in pixels,
// x to the right, y down. Classes are those of the style sheet given at the start; every text is
// escaped here and nowhere else.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace neap::client {

struct Dot {
  double x = 0;
  double y = 0;
};

struct Box {
  double left = 0;
  double top = 0;
  double width = 0;
  double height = 0;
  double right() const { return left + width; }
  double bottom() const { return top + height; }
};

enum class Anchor { start, middle, end };

class Svg {
 public:
  // `style` is CSS; `title` is what a screen reader says.
  Svg(double width, double height, std::string_view title, std::string_view style);

  void box(const Box& box, std::string_view css_class);
  void line(Dot from, Dot to, std::string_view css_class);
  // Runs of dots, each joined by straight lines; a run of one dot is a short dash.
  void lines(const std::vector<std::vector<Dot>>& runs, std::string_view css_class);
  void area(const std::vector<Dot>& outline, std::string_view css_class);
  void text(Dot at, std::string_view words, std::string_view css_class,
            Anchor anchor = Anchor::start);
  // What is drawn until unclip() shows inside `box` only.
  void clip(const Box& box);
  void unclip();

  std::string done() &&;

 private:
  std::string out_;
  int clips_ = 0;
};

// Characters that XML 1.0 cannot carry become '?', those with a meaning in it their entities.
// Bytes over 127 are taken for UTF-8; a broken sequence becomes '?'.
std::string escaped(std::string_view text);

}  // namespace neap::client
