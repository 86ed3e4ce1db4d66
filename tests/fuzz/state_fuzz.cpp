// Any text as a state file's body or as an output manifest: refused, or a value that comes back the
// same through its own text.
#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <string_view>

#include "daemon/shell/manifest.h"
#include "daemon/shell/state_file.h"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::string_view text(reinterpret_cast<const char*>(data), size);
  if (const auto stored = neap::shell::stored_from(text)) {
    const std::string again = neap::shell::to_text(*stored);
    const auto twice = neap::shell::stored_from(again);
    if (!twice || neap::shell::to_text(*twice) != again) std::abort();
  }
  if (const auto manifest = neap::shell::manifest_from(text))
    if (neap::shell::to_text(*manifest) != text) std::abort();
  return 0;
}
