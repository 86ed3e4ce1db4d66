// Any text as settings: refused with words, or a plan within every ceiling.
#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <string_view>

#include "daemon/settings/settings.h"
#include "tests/settings/ceilings.h"

namespace {

using namespace neap;

void must(bool holds) {
  if (!holds) std::abort();
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::string_view text(reinterpret_cast<const char*>(data), size);
  const settings::LoadResult result = settings::load_text(text);
  if (result.loaded)
    must(settings::breaches(result.loaded->plan, result.loaded->hardware).empty());
  else
    must(!result.problems.empty());  // never refused without a word
  for (const settings::Problem& problem : result.problems)
    must(!settings::render("settings", text, problem).empty());
  return 0;
}
