#include "daemon/manual/mdoc.h"

#include <algorithm>

#include "daemon/client/look.h"
#include "daemon/shell/version.h"

namespace neap::manual {
namespace {

// mdoc wants a date; it is set by hand with a release, so that two builds of one source are alike.
constexpr std::string_view kDate = "November 27, 2026";
constexpr std::size_t kSourceWidth = 78;

// Characters that roff gives a meaning or another glyph.
std::string escaped(std::string_view text) {
  std::string out;
  for (const char c : text) switch (c) {
      case '\\':
        out += "\\e";
        break;
      case '`':
        out += "\\(ga";
        break;
      case '\'':
        out += "\\(aq";
        break;
      case '~':
        out += "\\(ti";
        break;
      case '^':
        out += "\\(ha";
        break;
      default:
        out += c;
    }
  return out;
}

// A line of text that begins with a dot would be a macro.
std::string guarded(std::string line) {
  return line.starts_with('.') || line.starts_with("\\(aq") ? "\\&" + line : line;
}

bool ends_sentence(std::string_view text, std::size_t dot) {
  return text[dot] == '.' && dot + 2 < text.size() && text[dot + 1] == ' ' && dot > 0 &&
         text[dot - 1] != '.' && text[dot + 2] >= 'A' && text[dot + 2] <= 'Z';
}

// As an argument: the name of a macro, "Op", or punctuation that mdoc sets apart.
bool means_something(std::string_view word) {
  const bool macro = (word.size() == 2 || word.size() == 3) && word[0] >= 'A' && word[0] <= 'Z' &&
                     word.find_first_not_of("abcdefghijklmnopqrstuvwxyz", 1) == std::string::npos;
  return macro || word.find_first_not_of(".,:;()[]?!|") == std::string::npos;
}

}  // namespace

std::string capitalised(std::string_view text) {
  std::string out(text);
  if (!out.empty() && out[0] >= 'a' && out[0] <= 'z')
    out[0] = static_cast<char>(out[0] - 'a' + 'A');
  return out;
}

std::string argument(std::string_view text) {
  std::string out;
  const std::string safe = escaped(text);
  for (std::size_t from = 0; from <= safe.size();) {
    const std::size_t end = std::min(safe.find(' ', from), safe.size());
    const std::string word = safe.substr(from, end - from);
    out += (out.empty() ? "" : " ") + std::string(means_something(word) ? "\\&" : "") + word;
    from = end + 1;
  }
  for (std::size_t at = 0; (at = out.find('"', at)) != std::string::npos; at += 4)
    out.replace(at, 1, "\\(dq");
  return out;
}

Page::Page(std::string_view name, int section, std::string_view about) {
  std::string capitals(name);
  for (char& c : capitals)
    if (c >= 'a' && c <= 'z') c = static_cast<char>(c - 'a' + 'A');
  out_ = ".\\\" Made by neap-manual from the tables of the programs; change those.\n.Dd " +
         std::string(kDate) + "\n.Dt " + capitals + " " + std::to_string(section) + "\n.Os neap " +
         kVersion + "\n.Sh NAME\n.Nm " + std::string(name) + "\n.Nd " + argument(about) + "\n";
}

void Page::section(std::string_view title) { out_ += ".Sh " + std::string(title) + "\n"; }

void Page::subsection(std::string_view title) { out_ += ".Ss " + argument(title) + "\n"; }

// One sentence a line, as mdoc wants its source.
void Page::put(std::string_view text) {
  std::size_t from = 0;
  for (std::size_t i = 0; i < text.size(); ++i) {
    const bool last = i + 1 == text.size();
    if (!last && !ends_sentence(text, i)) continue;
    std::string_view rest = text.substr(from, i + 1 - from);
    std::string lines = client::wrapped(rest, kSourceWidth);
    for (std::size_t at = 0; at < lines.size();) {
      const std::size_t end = std::min(lines.find('\n', at), lines.size());
      out_ += guarded(escaped(std::string_view(lines).substr(at, end - at))) + "\n";
      at = end + 1;
    }
    from = i + 2;
  }
}

void Page::text(std::string_view paragraph) {
  const bool opens = out_.ends_with("\n.Sh DESCRIPTION\n") ||
                     out_.compare(out_.rfind('\n', out_.size() - 2) + 1, 2, ".S") == 0;
  if (!opens) out_ += ".Pp\n";
  put(paragraph);
}

void Page::more_text(std::string_view sentence) { put(sentence); }

void Page::begin_list() { out_ += ".Bl -tag -width Ds\n"; }

void Page::term_option(std::string_view option, std::string_view value) {
  const std::size_t dashes = option.starts_with("--") ? 2 : 1;
  out_ += std::string(".It Fl ") + (dashes == 2 ? "\\-" : "") + std::string(option.substr(dashes)) +
          (value.empty() ? std::string() : " Ar " + argument(value)) + "\n";
}

void Page::term(std::string_view words) { out_ += ".It " + argument(words) + "\n"; }

void Page::end_list() { out_ += ".El\n"; }

void Page::bullets(const std::vector<std::string>& items) {
  out_ += ".Bl -dash -compact\n";
  for (const std::string& item : items) {
    out_ += ".It\n";
    put(item);
  }
  out_ += ".El\n";
}

void Page::display(std::string_view lines) {
  out_ += ".Bd -literal -offset 2n\n";
  while (!lines.empty()) {
    const std::size_t end = std::min(lines.find('\n'), lines.size());
    out_ += guarded(escaped(lines.substr(0, end))) + "\n";
    lines.remove_prefix(std::min(end + 1, lines.size()));
  }
  out_ += ".Ed\n";
}

void Page::see_also(std::string_view name, int section, bool last) {
  out_ += ".Xr " + std::string(name) + " " + std::to_string(section) + (last ? "" : " ,") + "\n";
}

}  // namespace neap::manual
