// A simulated run that is asked over the control socket's desk, as an operator asks.
#pragma once

#include <gtest/gtest.h>

#include <nlohmann/json.hpp>
#include <string>
#include <utility>

#include "daemon/shell/desk.h"
#include "tests/shell/simulated_run.h"

namespace neap::shell {

class AskedRun : public testing::Test {
 protected:
  explicit AskedRun(const std::string& settings = demo_that_floods()) : run{settings} {
    run.run_for(minutes{5});
  }
  nlohmann::json ask(const std::string& verb, nlohmann::json args) {
    nlohmann::json answer;
    const nlohmann::json request = {{"id", ++id}, {"verb", verb}, {"args", std::move(args)}};
    desk.handle(request.dump(), Peer{1000, 42, Role::operate}, run.daemon().now(),
                [&](const std::string& line) { answer = nlohmann::json::parse(line); });
    run.timers().run_until(run.daemon().now());
    return answer;
  }

  SimulatedRun run;
  Desk desk{run.daemon(), "settings.yaml"};
  int id = 0;
};

}  // namespace neap::shell
