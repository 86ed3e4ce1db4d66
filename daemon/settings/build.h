// What the table is built of, and what that can do: whether the standpipe passes the pump's flow,
// whether the pump reaches the tray, how long it fills and drains. Warnings, never errors: a person
// may know better, and most of it is measured once the water runs.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace neap {
struct Plan;
}

namespace neap::settings {

// Each figure may be missing; what cannot be worked out then is said.
struct Build {
  std::optional<double> standpipe_bore_mm;
  std::optional<double> standpipe_height_mm;  // its rim over the tray's floor
  std::optional<double> freeboard_mm;         // the tray's rim over the standpipe's
  std::optional<double> pump_free_l_per_h;    // without head
  std::optional<double> pump_head_m;          // at which it moves nothing
  std::optional<double> lift_m;               // a full reservoir's water to the tray's floor
  std::optional<double> hose_bore_mm;
  std::optional<double> hose_length_m;
  std::optional<double> drain_bore_mm;  // weep hole or valve
  std::optional<double> top_up_l;       // the level to which the reservoir is topped up
};

enum class Weight { good, missing, warning };

struct BuildFinding {
  Weight weight = Weight::good;
  std::string_view part;  // standpipe, reservoir, pump, fill, drain
  std::string text;       // what was worked out, with its figures
  std::string remedy;     // of a warning: what to change; of a missing figure: which
};

// What the pump should move into the tray at mid-depth, by its label, its hose and the lift; none
// where the build does not say, or where the pump does not reach.
std::optional<double> expected_flow_l_per_h(const std::optional<Build>& build);

// In the order in which water passes. Empty without a group `build`.
std::vector<BuildFinding> check_build(const Plan& plan, const std::optional<Build>& build);

}  // namespace neap::settings
