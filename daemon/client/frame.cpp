#include "daemon/client/frame.h"

#include "daemon/core/limits.h"

namespace neap::client {

std::optional<std::string> frame_of(std::string_view payload) {
  if (payload.empty() || payload.size() > limits::kFrameBytes) return std::nullopt;
  std::string frame;
  for (int shift = 24; shift >= 0; shift -= 8)
    frame += static_cast<char>(payload.size() >> shift & 0xFF);
  return frame.append(payload);
}

std::optional<std::size_t> payload_length(std::string_view header) {
  if (header.size() != kFrameHeader) return std::nullopt;
  std::size_t length = 0;
  for (const char c : header) length = length << 8 | static_cast<unsigned char>(c);
  if (length == 0 || length > limits::kFrameBytes) return std::nullopt;
  return length;
}

}  // namespace neap::client
