// The output manifest: which driver, with which parameters, serves each output, and the level that
// is safe. Written at each accepted settings revision; read at start and by neap-outputs-safe,
// which must drive every output safe before, or without, any settings text being parsed.
//
// Text lines, the last one a CRC-32C of all before it. Two copies, each replaced atomically: a torn
// or lost one leaves the other.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/core/plan.h"
#include "daemon/settings/settings.h"
#include "drivers/hardware.h"

namespace neap::shell {

struct ManifestRow {
  drivers::OutputSetup setup;
  Permille safe = kStopped;
};

struct Manifest {
  std::uint64_t revision = 0;  // counts accepted revisions; the newer valid copy counts
  std::uint64_t settings_hash = 0;
  std::vector<ManifestRow> rows;  // empty when the settings observe all
};

// What is in another hand is not listed: nobody but that hand writes it.
Manifest manifest_of(const Plan& plan, const drivers::Hardware& hardware);
// What must be written for `next` after `before`: the very same, revision included, when nothing
// but its revision would differ.
Manifest next_manifest(const settings::Loaded& next, const Manifest& before);
// The same outputs on the same drivers with the same parameters (safe levels may differ).
bool same_outputs(const Manifest& a, const Manifest& b);

std::string to_text(const Manifest& manifest);
// None for anything that is not, byte for byte, a whole manifest.
std::optional<Manifest> manifest_from(std::string_view text);

// The newest valid copy in `state_dir`; none when there is none.
std::optional<Manifest> load_manifest(const std::string& state_dir);
// Writes each copy that does not say so already: a full or read-only disk is no matter to a
// manifest that stands on it. An error text, or empty.
std::string save_manifest(const std::string& state_dir, const Manifest& manifest);

}  // namespace neap::shell
