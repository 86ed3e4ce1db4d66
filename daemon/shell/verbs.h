// The verbs of the control protocol: one row each, with the role that it needs. JSON stays in the
// shell: the core is asked through Daemon.
#pragma once

#include <functional>
#include <nlohmann/json.hpp>
#include <span>
#include <string>
#include <string_view>

#include "daemon/shell/desk.h"

namespace neap::shell {

// How a handler answers: exactly once, now or after a scan.
struct Reply {
  std::function<void(nlohmann::json result)> ok;
  // `more` is merged into the error object.
  std::function<void(std::string code, std::string message, std::string remedy,
                     nlohmann::json more)>
      fail;
};

struct Call {
  Daemon& daemon;
  const Peer& peer;
  const nlohmann::json& args;        // an object
  const std::string& settings_path;  // of the file in force
  Reply reply;
};

struct Verb {
  std::string_view name;
  Role role;
  bool changes;  // journalled with its peer
  void (*handle)(Call&);
};

std::span<const Verb> verbs();

}  // namespace neap::shell
