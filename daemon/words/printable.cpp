#include <array>
#include <cstdint>
#include <cstdio>

#include "daemon/words/words.h"

namespace neap::words {
namespace {

struct CodePoint {
  std::uint32_t value = 0;
  std::size_t bytes = 0;  // 0: not valid UTF-8 here
};

// One code point of UTF-8 (RFC 3629): no overlong forms, no surrogates, nothing past U+10FFFF.
CodePoint decode(std::string_view text) {
  struct Lead {
    std::uint32_t mask, pattern, least;
    std::size_t bytes;
  };
  constexpr std::array<Lead, 4> kLeads{{{0x80, 0x00, 0, 1},
                                        {0xE0, 0xC0, 0x80, 2},
                                        {0xF0, 0xE0, 0x800, 3},
                                        {0xF8, 0xF0, 0x10000, 4}}};
  const auto byte = [text](std::size_t i) {
    return std::uint32_t{static_cast<unsigned char>(text[i])};
  };
  for (const Lead& lead : kLeads) {
    if ((byte(0) & lead.mask) != lead.pattern) continue;
    if (text.size() < lead.bytes) return {};
    std::uint32_t value = byte(0) & ~lead.mask;
    for (std::size_t i = 1; i < lead.bytes; ++i) {
      if ((byte(i) & 0xC0) != 0x80) return {};
      value = value << 6 | (byte(i) & 0x3F);
    }
    const bool surrogate = value >= 0xD800 && value <= 0xDFFF;
    if (value < lead.least || surrogate || value > 0x10FFFF) return {};
    return {value, lead.bytes};
  }
  return {};
}

// Controls move the cursor or start an escape sequence; direction marks reorder what is read.
bool harmless(std::uint32_t c) {
  struct Range {
    std::uint32_t first, last;
  };
  constexpr std::array<Range, 6> kHarmful{{{0x00, 0x1F},
                                           {0x7F, 0x9F},
                                           {0x200E, 0x200F},
                                           {0x2028, 0x202E},
                                           {0x2066, 0x2069},
                                           {0xFEFF, 0xFEFF}}};
  for (const Range& range : kHarmful)
    if (c >= range.first && c <= range.last) return false;
  return true;
}

void escape(std::string_view bytes, std::string& out) {
  for (const char c : bytes) {
    std::array<char, 8> text{};
    std::snprintf(text.data(), text.size(), "\\x%02x",
                  static_cast<unsigned>(static_cast<unsigned char>(c)));
    out += text.data();
  }
}

}  // namespace

std::string printable(std::string_view text) {
  std::string out;
  out.reserve(text.size());
  while (!text.empty()) {
    const CodePoint c = decode(text);
    const std::string_view bytes = text.substr(0, c.bytes == 0 ? 1 : c.bytes);
    if (c.bytes > 0 && harmless(c.value)) {
      out += bytes;
    } else {
      escape(bytes, out);
    }
    text.remove_prefix(bytes.size());
  }
  return out;
}

}  // namespace neap::words
