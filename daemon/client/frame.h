// Frames of the control protocol (schema/control.md), the client's side: four bytes of length, big
// endian, then that many bytes of JSON.
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>

namespace neap::client {

constexpr std::size_t kFrameHeader = 4;

// None when the payload is empty or longer than a frame may be.
std::optional<std::string> frame_of(std::string_view payload);
// The length that a header announces; none when it is outside 1 to 16384.
std::optional<std::size_t> payload_length(std::string_view header);

}  // namespace neap::client
