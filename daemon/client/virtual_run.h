// Runs neapd on its virtual clock, in a directory of its own, for the verbs that simulate.
#pragma once

#include <filesystem>
#include <functional>
#include <nlohmann/json.hpp>
#include <ostream>
#include <string>
#include <string_view>

#include "daemon/client/process.h"
#include "daemon/client/session.h"
#include "daemon/core/plan.h"

namespace neap::client {

class Scratch {  // a directory that goes with its owner
 public:
  Scratch();
  ~Scratch();
  Scratch(const Scratch&) = delete;
  Scratch& operator=(const Scratch&) = delete;
  const std::filesystem::path& path() const { return path_; }

 private:
  std::filesystem::path path_;
};

// A bar of 30 columns on a terminal, redrawn in place.
class Progress {
 public:
  Progress(std::ostream& err, bool shown) : err_(err), shown_(shown) {}
  ~Progress();
  Progress(const Progress&) = delete;
  Progress& operator=(const Progress&) = delete;
  void at(double part);
  // A line of the daemon's log, above the bar.
  void line(std::string_view text);

 private:
  std::ostream& err_;
  bool shown_;
  bool drawn_ = false;
};

struct VirtualJob {
  std::string settings_path;  // as typed: relative paths in the settings start in its folder
  std::string text;           // as it will run
  std::string from;           // local time
  nlohmann::json hands;       // as parse_hands() makes them; null: none
  int days = 1;
  bool confirm_stages = false;
};

struct VirtualEnd {
  nlohmann::json summary = nlohmann::json::object();  // of neapd
  double took_s = 0;
};

// Writes state into `dir` and the journal into `journal`; throws a Failure when neapd fails.
VirtualEnd run_virtually(const Surroundings& around, const VirtualJob& job,
                         const std::filesystem::path& dir, const std::string& journal,
                         const std::function<void(double part)>& progress,
                         const TakeLine& log_line);

// By default a run begins at the first lights-on of the programme, so that a day is one
// photoperiod; with a date alone, at that day's.
std::string start_of(const Plan& plan, const std::string& given);

}  // namespace neap::client
