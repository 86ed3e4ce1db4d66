// What a person tells on its way in, from the socket and from the spool alike: hand measurements,
// checked, put into the journal and told to the core; and the diary, which the core never hears of.
#pragma once

#include <nlohmann/json.hpp>
#include <string>

#include "daemon/shell/loop.h"

namespace neap::shell {

struct TakenIn {
  std::string error;  // empty when all was taken
  std::size_t stored = 0;
};

// `args` as of verb `measure` in schema/control.md. `fallback_id` names the set when it has no
// spool_id.
TakenIn take_in_measurements(Daemon& daemon, const nlohmann::json& args,
                             const std::string& fallback_id);
// What was spooled, a measurement or an entry of the diary, by a clock that ran ahead of this one
// is not lost. While nobody confirms this clock it may be the one that is wrong: false, it has to
// wait. Then it is of now at the latest, and its note says so.
bool settle_date(nlohmann::json& args, const WallTime& wall);
// The newest of each watched quantity: {quantity, value, age_s or null, in_force (judged by: not
// too old)}.
nlohmann::json by_hand_json(const Daemon& daemon);
// `args` as of verb `amend`.
TakenIn take_in_amendment(Daemon& daemon, const nlohmann::json& args,
                          const std::string& fallback_id);
// `args` as of verb `diary`.
TakenIn take_in_diary(Daemon& daemon, const nlohmann::json& args, const std::string& fallback_id);

}  // namespace neap::shell
