#include "daemon/core/state_slot.h"

#include <algorithm>

#include "daemon/core/crc32c.h"
#include "daemon/core/hex.h"

namespace neap {
namespace {

constexpr std::string_view kName = "neap-state ";
constexpr std::string_view kMagic = "neap-state 1 ";
constexpr std::size_t kHeaderBytes = 13 + 16 + 1 + 8 + 1 + 8 + 1;  // magic, counter, length, crc
static_assert(kMagic.size() == 13);

std::string header(std::uint64_t counter, std::string_view body) {
  const std::string head = hex(counter, 16) + " " + hex(body.size(), 8);
  const std::uint32_t crc = crc32c(head + std::string(body));
  return std::string(kMagic) + head + " " + hex(crc, 8) + "\n";
}

}  // namespace

std::string state_slot(std::uint64_t counter, std::string_view body) {
  return header(counter, body) + std::string(body);
}

std::optional<StateSlot> state_slot_from(std::string_view bytes) {
  if (bytes.size() < kHeaderBytes || !bytes.starts_with(kMagic)) return std::nullopt;
  const auto counter = parse_hex(bytes.substr(kMagic.size(), 16));
  const auto length = parse_hex(bytes.substr(kMagic.size() + 17, 8));
  if (!counter || !length || *length > bytes.size() - kHeaderBytes) return std::nullopt;
  const StateSlot slot{*counter, bytes.substr(kHeaderBytes, *length)};
  if (bytes.substr(0, kHeaderBytes) != header(slot.counter, slot.body)) return std::nullopt;
  return slot;
}

bool state_slot_is_later(std::string_view bytes) {
  return bytes.starts_with(kName) && !bytes.starts_with(kMagic);
}

std::array<std::string_view, 2> state_slots(std::string_view file) {
  const std::size_t first = std::min(file.size(), kStateSlotBytes);
  return {file.substr(0, first), file.substr(first, kStateSlotBytes)};
}

std::optional<StateSlot> newest_state_slot(std::string_view file) {
  std::optional<StateSlot> newest;
  for (const std::string_view bytes : state_slots(file)) {
    const auto slot = state_slot_from(bytes);
    if (slot && (!newest || slot->counter > newest->counter)) newest = slot;
  }
  return newest;
}

}  // namespace neap
