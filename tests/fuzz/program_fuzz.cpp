// Any line from a program driver: understood within the protocol's bounds, or refused.
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <string_view>

#include "drivers/program/messages.h"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const auto answer = neap::drivers::program::parse_answer(
      std::string_view(reinterpret_cast<const char*>(data), size));
  if (!answer) return 0;
  if (answer->level && (answer->level->value < 0 || answer->level->value > 1000)) std::abort();
  if (answer->values)
    for (const auto& channel : *answer->values)
      if (channel.value && !std::isfinite(*channel.value)) std::abort();
  return 0;
}
