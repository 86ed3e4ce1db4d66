// Commissioning: a person at the tent is walked through every part, and the daemon sees it work.
// The daemon keeps what was passed (proof tests, daemon/core/proof_tests.h) and the journal its
// date; figures go there as hand measurements; what is worth writing into the settings is proposed.
#pragma once

#include <functional>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/client/questions.h"
#include "daemon/core/proof_tests.h"

namespace neap::client {

// A verb of the daemon; throws Failure as Session::ask does.
using AskDaemon = std::function<nlohmann::json(std::string_view verb, const nlohmann::json& args)>;

// Figures that were measured on the way, in the units of `neap measure`.
struct Measured {
  std::optional<double> fill_s;
  std::optional<double> drain_s;
  std::optional<double> litres;  // that left the reservoir while the tray filled
  std::optional<int> fan_least_pct;
};
// The last flood of the journal, once it is closed; none when it is not.
using LastFlood = std::function<std::optional<Measured>()>;

struct Finding {
  std::string part;
  bool passed = false;
  std::string remark;  // what a person said is wrong, or why it was left out; may be empty
};

struct Commissioned {
  std::vector<Finding> findings;
  Measured measured;
  std::vector<std::string> settings;  // lines to write
};

// `only`: names of proof tests, or of outputs; empty: everything that is fitted.
Commissioned commission(Questions& questions, const AskDaemon& ask, const LastFlood& last_flood,
                        const std::vector<std::string>& only);

nlohmann::json commissioned_json(const Commissioned& done);

}  // namespace neap::client
