// The verbs `calibrate` and `calibrations`: what a probe shows in standards, worked out by
// daemon/solution, put in force by the scan and kept with the state.
#pragma once

#include "daemon/shell/verbs.h"

namespace neap::shell {

void do_calibrate(Call& call);
void do_calibrations(Call& call);

}  // namespace neap::shell
