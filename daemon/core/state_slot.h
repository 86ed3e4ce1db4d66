// The form of a slot of the state file (shell/state_file.h): a line "neap-state 1 <counter>
// <length> <crc32c>", then the body. Counter, length and checksum are hexadecimal; the checksum
// covers counter, length and body. Here, and not in the shell, because a backup judges a copy by
// it.
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

namespace neap {

constexpr std::size_t kStateSlotBytes = 64 * 1024;
constexpr std::size_t kStateFileBytes = 2 * kStateSlotBytes;

struct StateSlot {
  std::uint64_t counter = 0;
  std::string_view body;
};

// Bytes of a slot; the rest of its kStateSlotBytes is left as it was.
std::string state_slot(std::uint64_t counter, std::string_view body);
// None unless the slot is whole.
std::optional<StateSlot> state_slot_from(std::string_view bytes);
// A slot in a form that a later neap made.
bool state_slot_is_later(std::string_view bytes);
// The two slots of a state file's bytes, empty where it is shorter.
std::array<std::string_view, 2> state_slots(std::string_view file);
// The whole slot with the higher counter; none: neither is whole.
std::optional<StateSlot> newest_state_slot(std::string_view file);

}  // namespace neap
