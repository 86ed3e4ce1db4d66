// What a verb works with: the parsed command line, the terminal, and what comes from outside. Tests
// make one with their own streams, clock and environment.
#pragma once

#include <cstdint>
#include <functional>
#include <istream>
#include <memory>
#include <nlohmann/json.hpp>
#include <optional>
#include <ostream>
#include <string>
#include <vector>

#include "daemon/client/look.h"
#include "daemon/journal/reader.h"
#include "daemon/settings/settings.h"

namespace neap::client {

// All that neap takes from its surroundings.
struct Surroundings {
  std::ostream& out;
  std::ostream& err;
  bool out_is_terminal = false;
  bool err_is_terminal = false;
  std::function<std::optional<std::string>(const char*)> variable;  // of the environment
  std::function<std::int64_t()> now_unix_ms;  // wall time; questions take minutes
  std::string program;                        // path of this executable
  std::istream& in;
  bool in_is_terminal = false;
  std::size_t out_columns = 0;  // of the terminal; 0: not known, or none
  // Waits that long; false when the person wants it to end. For what follows the journal.
  std::function<bool(Millis)> pause = [](Millis) { return false; };
};

enum class Color { when_terminal, always, never };

// The words and options of a command line. Each verb reads those that its shape declares.
struct Arguments {
  std::vector<std::string> words;
  std::string since, until, day, kind, note, severity, from, every, keep_journal, days, limit, seed;
  std::string law, svg, html, hands;
  std::string of, room;
  std::string about;              // events
  bool follow = false;            // events, readings
  bool csv = false;               // events, readings
  bool lines = false;             // events, readings
  std::string correct, withdraw;  // measure
  std::string root;               // probe
  bool overwrite = false;         // draft
  std::string to;                 // identify, water, restore
  std::string keep;               // backup
  bool over_newer = false;        // restore
  bool probes_agree = false;      // identify
  bool narrow = false;            // water, mix, chart
  bool ascii = false;             // chart
  bool confirm_stages = false;
  bool quiet = false;
  bool speed_report = false;
  bool beside_fixed_fan = false;
};

struct Globals {
  std::string socket = "/run/neap/neap.sock";
  std::string journal = "/var/lib/neap/journal.db";
  std::string settings = "/etc/neap/tent.yaml";
  std::string state_dir = "/var/lib/neap";
  std::string tell_dir = "/var/lib/neap-tell";  // of `neap tell run`
  bool json = false;
  Color color = Color::when_terminal;
};

struct Session {
  const Surroundings& around;
  const Globals& globals;
  const Arguments& args;
  Look look;

  std::ostream& out() const { return around.out; }
  nlohmann::json ask(std::string_view verb, const nlohmann::json& args_of_verb) const;
  // Prints `text`, or `value` as one line of JSON when --json was given.
  void show(const nlohmann::json& value, const std::string& text) const;
};

// Columns of a page: a telephone's with --narrow.
std::size_t page_width(const Arguments& args);
// Whether the locale says that the terminal shows UTF-8 (POSIX: the first of LC_ALL, LC_CTYPE and
// LANG that is not empty).
bool shows_utf8(const Surroundings& around);

std::string json_line(const nlohmann::json& value);

// Reads at most one byte more than a settings file may have; a Failure when it cannot be read.
std::string read_settings_text(const std::string& path);
// Text that must be right; a Failure with all problems rendered when it is not.
settings::Loaded load_or_fail(const std::string& path);
settings::Loaded load_text_or_fail(const std::string& path, const std::string& text);
nlohmann::json problems_json(const std::string& path, const std::string& text,
                             const std::vector<settings::Problem>& problems);

// The journal, or a Failure of kind no journal.
std::unique_ptr<journal::Reader> open_journal(const std::string& path);

}  // namespace neap::client
