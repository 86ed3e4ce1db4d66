// Text as mdoc(7), the macros that man pages are written in: nothing that a table says can be taken
// for a macro or an escape.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace neap::manual {

class Page {
 public:
  // `section`: 1, 5, 7 or 8. The version is that of the build.
  Page(std::string_view name, int section, std::string_view about);

  void section(std::string_view title);
  void subsection(std::string_view title);
  void text(std::string_view paragraph);      // a paragraph of its own
  void more_text(std::string_view sentence);  // goes on in the paragraph
  void begin_list();                          // of terms, each with what is said of it
  // "--since" and "TEXT"; the value may be empty.
  void term_option(std::string_view option, std::string_view value);
  void term(std::string_view words);
  void end_list();
  void bullets(const std::vector<std::string>& items);
  void display(std::string_view lines);  // as typed, line by line
  void see_also(std::string_view name, int section, bool last);
  void macro(std::string_view line) { out_ += std::string(line) + "\n"; }

  const std::string& done() const { return out_; }

 private:
  void put(std::string_view text);
  std::string out_;
};

// With a capital first letter.
std::string capitalised(std::string_view text);
// One word or more for the arguments of a macro.
std::string argument(std::string_view text);

}  // namespace neap::manual
