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

#include "daemon/client/failure.h"
#include "daemon/client/questions.h"
#include "daemon/core/proof_tests.h"

namespace neap::client {

// A verb of the daemon; throws Failure as Session::ask does.
using AskDaemon = std::function<nlohmann::json(std::string_view verb, const nlohmann::json& args)>;

// A reading of the tank's probe, in the unit of its input, and what was in the tank.
struct TankPair {
  double reading = 0;
  double litres = 0;
};
// The sensor that tells the reservoir's level by a table (driver analog_level), as the settings in
// force have it: two pairs or more.
struct Tank {
  std::string sensor;
  std::string unit;
  std::vector<TankPair> table;
  double offset_l = 0;  // of calibration.offsets, which the level has on top of the table
};
// What the probe must read for its table to say `litres`; none at an end of the table or beyond:
// the driver cuts at empty, so that what is read there tells no reading any more.
std::optional<double> reading_for(const Tank& tank, double litres);

// Figures that were measured on the way, in the units of `neap measure`.
struct CommissionFigures {
  std::optional<double> fill_s;
  std::optional<double> drain_s;
  std::optional<double> litres;             // that left the reservoir while the tray filled
  std::optional<double> pump_flow_l_per_h;  // by bucket and watch
  std::optional<int> fan_least_pct;
};
// The last flood of the journal, once it is closed; none when it is not.
using LastFlood = std::function<std::optional<CommissionFigures>()>;

// What the walk knows of the tent besides what neapd says.
struct AtTheTent {
  LastFlood last_flood;
  std::optional<double> build_flow_l_per_h;  // by the pump's label and the hose
  std::optional<Tank> tank;
  std::string enable_pulse;  // the line that feeds the pump's dead-man circuit; empty: none
};

struct Finding {
  std::string part;
  bool passed = false;
  std::string remark;  // what a person said is wrong, or why it was left out; may be empty
};

struct Commissioned {
  std::vector<Finding> findings;
  CommissionFigures measured;
  std::vector<std::string> settings;  // lines to write
};

// The walk ended before its end: answers that ran out, Ctrl-C, neapd gone. What ran was ended as
// far as neapd obeys, and what was passed and measured until then is `so_far`.
class CommissionEnded : public Failure {
 public:
  CommissionEnded(const Failure& why, Commissioned done)
      : Failure(why.code(), why.what(), why.remedy()), so_far(std::move(done)) {}
  Commissioned so_far;
};

// `only`: names of proof tests, or of outputs; empty: everything that is fitted.
Commissioned commission(Questions& questions, const AskDaemon& ask, const AtTheTent& tent,
                        const std::vector<std::string>& only);

nlohmann::json commissioned_json(const Commissioned& done);

}  // namespace neap::client
