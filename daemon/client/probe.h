// What `neap probe` makes of a survey: advice, and which parts of the settings are there. Pure.
#pragma once

#include <functional>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/client/look.h"
#include "daemon/settings/settings.h"
#include "drivers/bus/survey.h"

namespace neap::client {

struct Advice {
  enum class Weight { good, note, warning };
  Weight weight = Weight::good;
  std::string text;
  std::string remedy;  // an overlay line, a group, a setting; may be empty
};

// What outside the survey decides: who asks, and whether the kernel's clock is disciplined.
struct Asker {
  bool root = false;
  std::string user;
  std::optional<bool> clock_synchronised;
};

std::vector<Advice> advise(const drivers::Survey& survey, const Asker& asker);

// Relays on a Raspberry Pi's header that the pin's own pull would put at an unsafe level, at the
// start and whenever neapd is gone.
std::vector<Advice> advise_rest(const settings::Loaded& loaded);

// One part that the settings name, and whether the machine has it.
struct NamedPart {
  std::string entry;  // outputs.pump
  std::string what;   // file class/leds/pump/brightness
  bool present = false;
  std::string remedy;
};
// Parts whose driver says nothing of a place (programs, simulated ones) are left out. `exists`
// tells of a path below /sys, or an absolute one.
std::vector<NamedPart> look_for(const drivers::Survey& survey, const settings::Loaded& loaded,
                                const std::function<bool(const std::string&)>& exists);

nlohmann::json probe_json(const drivers::Survey& survey, const std::vector<Advice>& advice,
                          const std::vector<NamedPart>& parts);
std::string render_probe(const drivers::Survey& survey, const std::vector<Advice>& advice,
                         const std::vector<NamedPart>& parts, const Look& look);

}  // namespace neap::client
