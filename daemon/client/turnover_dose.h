// The dose of bleach of a turnover, as a person is asked for it.
#pragma once

#include <string>

#include "daemon/client/questions.h"
#include "daemon/settings/care.h"

namespace neap::client {

// Asks for the bottle's strength and for the litres, no more of them than the reservoir holds (1 L
// or more, by the settings' bounds), tells what to pour in, and returns that in words.
std::string asked_dose(Questions& questions, const settings::Turnover& turnover,
                       double reservoir_l);

}  // namespace neap::client
