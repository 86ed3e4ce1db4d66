#include "daemon/client/svg.h"

#include <array>
#include <utility>

#include "daemon/words/figures.h"

namespace neap::client {
namespace {

// A tenth of a pixel is finer than any screen; "12.0" is written "12".
std::string number(double v) {
  std::string text = words::decimals(v, 1);
  if (text.ends_with(".0")) text.resize(text.size() - 2);
  return text;
}

std::string pair(Dot dot) { return number(dot.x) + " " + number(dot.y); }

std::string frame(const Box& box) {
  return "x=\"" + number(box.left) + "\" y=\"" + number(box.top) + "\" width=\"" +
         number(box.width) + "\" height=\"" + number(box.height) + "\"";
}

std::string path_of(const std::vector<Dot>& dots) {
  std::string d = "M" + pair(dots.front());
  for (std::size_t i = 1; i < dots.size(); ++i) d += "L" + pair(dots[i]);
  if (dots.size() == 1) d += "h0.8";
  return d;
}

std::string_view word(Anchor anchor) {
  switch (anchor) {
    case Anchor::start:
      return "start";
    case Anchor::middle:
      return "middle";
    case Anchor::end:
      return "end";
  }
  return {};
}

bool continues(unsigned char c) { return (c & 0xC0) == 0x80; }

// Bytes of the UTF-8 character at the front of `text`, none when they make no character that XML
// 1.0 allows (section 2.2, Char).
std::size_t character_length(std::string_view text) {
  const auto byte = [&](std::size_t i) { return static_cast<unsigned char>(text[i]); };
  const unsigned char lead = byte(0);
  std::size_t length = 0;
  if (lead < 0x80) return (lead >= 0x20 && lead != 0x7F) || lead == '\n' ? 1 : 0;
  if (lead >= 0xC2 && lead <= 0xDF) length = 2;
  if (lead >= 0xE0 && lead <= 0xEF) length = 3;
  if (lead >= 0xF0 && lead <= 0xF4) length = 4;
  if (length == 0 || text.size() < length) return 0;
  for (std::size_t i = 1; i < length; ++i)
    if (!continues(byte(i))) return 0;
  if (lead == 0xE0 && byte(1) < 0xA0) return 0;                     // written too long
  if (lead == 0xED && byte(1) > 0x9F) return 0;                     // half of a pair of UTF-16
  if (lead == 0xEF && byte(1) == 0xBF && byte(2) > 0xBD) return 0;  // U+FFFE, U+FFFF
  if (lead == 0xF0 && byte(1) < 0x90) return 0;                     // written too long
  if (lead == 0xF4 && byte(1) > 0x8F) return 0;                     // over U+10FFFF
  return length;
}

struct Entity {
  char character;
  std::string_view name;
};
constexpr std::array kEntities{Entity{'&', "&amp;"}, Entity{'<', "&lt;"}, Entity{'>', "&gt;"},
                               Entity{'"', "&quot;"}, Entity{'\'', "&#39;"}};

std::string_view entity(char c) {
  for (const Entity& row : kEntities)
    if (row.character == c) return row.name;
  return {};
}

}  // namespace

std::string escaped(std::string_view text) {
  std::string out;
  while (!text.empty()) {
    const std::size_t length = character_length(text);
    if (length == 0)
      out += '?';
    else if (const std::string_view named = entity(text.front()); !named.empty())
      out += named;
    else
      out += text.substr(0, length);
    text.remove_prefix(length == 0 ? 1 : length);
  }
  return out;
}

Svg::Svg(double width, double height, std::string_view title, std::string_view style) {
  const std::string size = number(width) + " " + number(height);
  out_ = "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<svg xmlns=\"http://www.w3.org/2000/svg\" ";
  out_ += "viewBox=\"0 0 " + size + "\" width=\"" + number(width) + "\" height=\"" +
          number(height) + "\" role=\"img\">\n<title>" + escaped(title) + "</title>\n<style>\n";
  out_ += escaped(style);
  out_ += "</style>\n";
}

void Svg::box(const Box& box, std::string_view css_class) {
  out_ += "<rect class=\"" + std::string(css_class) + "\" " + frame(box) + "/>\n";
}

void Svg::line(Dot from, Dot to, std::string_view css_class) { lines({{from, to}}, css_class); }

void Svg::lines(const std::vector<std::vector<Dot>>& runs, std::string_view css_class) {
  std::string d;
  for (const std::vector<Dot>& run : runs)
    if (!run.empty()) d += path_of(run);
  if (d.empty()) return;
  out_ += "<path class=\"" + std::string(css_class) + "\" d=\"" + d + "\"/>\n";
}

void Svg::area(const std::vector<Dot>& outline, std::string_view css_class) {
  if (outline.empty()) return;
  out_ += "<path class=\"" + std::string(css_class) + "\" d=\"" + path_of(outline) + "z\"/>\n";
}

void Svg::text(Dot at, std::string_view words, std::string_view css_class, Anchor anchor) {
  out_ += "<text class=\"" + std::string(css_class) + "\" x=\"" + number(at.x) + "\" y=\"" +
          number(at.y) + "\" text-anchor=\"" + std::string(word(anchor)) + "\">" + escaped(words) +
          "</text>\n";
}

void Svg::clip(const Box& box) {
  const std::string id = "c" + std::to_string(++clips_);
  out_ += "<clipPath id=\"" + id + "\"><rect " + frame(box) +
          "/></clipPath>\n<g clip-path=\"url(#" + id + ")\">\n";
}

void Svg::unclip() { out_ += "</g>\n"; }

std::string Svg::done() && {
  out_ += "</svg>\n";
  return std::move(out_);
}

}  // namespace neap::client
