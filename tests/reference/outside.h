// Comparisons with values that others published or computed. Each one is counted: a run that
// checked next to nothing must not look like a run that checked everything.
#pragma once

#include <string>
#include <string_view>

namespace neap::reference {

// Expects |ours - theirs| <= tolerance and counts one outside value. `source` is who says so.
void expect_within(double ours, double theirs, double tolerance, std::string_view source);
// The same with a tolerance in percent of the outside value.
void expect_within_percent(double ours, double theirs, double percent, std::string_view source);

int outside_values_checked();

// Folder of data that is not committed and not needed: NEAP_REFERENCE, else ../shared/reference
// beside the repository. Empty when there is none; the tests of it are then skipped by name.
std::string shared_folder();

}  // namespace neap::reference
