// Whose hand each output is in: neap's, or another's while neap observes.
#include <string>

#include "daemon/settings/checks.h"

namespace neap::settings {

void give_hands(Draft& draft) {
  for (const OutputInfo& row : kOutputs)
    if (auto& output = draft.plan.outputs[row.output])
      output->driven = draft.in_neaps_hand[row.output].value_or(draft.plan.mode == Mode::control);
}

// Whoever starts the pump must be able to stop it, and to let the water out again.
void check_hands(const Draft& draft, Report& report) {
  const auto& pump = draft.plan.outputs[Output::pump];
  if (!pump) return;
  for (const Output other : {Output::pump_series, Output::drain_valve}) {
    const auto& output = draft.plan.outputs[other];
    if (!output || output->driven == pump->driven) continue;
    const std::string name(info(other).name);
    const std::string path = "outputs." + name + ".hand";
    const char* const hands[] = {"another", "neap"};
    report.add(draft.place_of(path), path,
               name + " is in the hand " + hands[output->driven ? 1 : 0] +
                   ", the pump in the hand " + hands[pump->driven ? 1 : 0] +
                   "; what moves the water must be in one",
               "write the same hand at both, or leave both to the mode");
  }
}

}  // namespace neap::settings
