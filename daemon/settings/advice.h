// What is wrong with nothing and yet hardly meant: told by `neap check`, refused by nobody.
#pragma once

#include <string>
#include <vector>

#include "daemon/core/plan.h"

namespace neap::settings {

struct Advice {
  std::string part;    // the output
  std::string text;    // what it will not do
  std::string remedy;  // the line to write
};

// Heater and chiller of the reservoir in stages without a band for its temperature.
std::vector<Advice> advise(const Plan& plan);

}  // namespace neap::settings
