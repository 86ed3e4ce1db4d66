// Names of what lies in a state directory: neapd keeps it, `neap` leaves notes there, copies it and
// puts it back.
#pragma once

#include <array>

namespace neap::state_folder {

inline constexpr const char* kState = "state";  // core/state_slot.h
inline constexpr std::array<const char*, 2> kOutputs{"outputs.a", "outputs.b"};  // shell/manifest.h
inline constexpr const char* kSpool = "spool";  // a folder; *.json in it wait for neapd

// What `neap restore` leaves. While the first is there, its work is half done and neapd does not
// run. The second says that the state beside it is a backup's, how old nobody knows: budgets count
// as spent, latch `state` is set, and what else was latched in the state files that it names, a
// path a line, stands again.
inline constexpr const char* kRestoring = "restoring";
inline constexpr const char* kRestored = "restored";

}  // namespace neap::state_folder
