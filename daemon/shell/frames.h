// Frames of the control protocol (schema/control.md): four bytes of length, big endian, then that
// many bytes of JSON.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

#include "daemon/core/limits.h"

namespace neap::shell {

// Takes bytes as they come and gives whole frames back.
class FrameReader {
 public:
  void feed(std::string_view bytes) { buffer_.append(bytes); }
  // The next whole frame's payload; none when more bytes are needed or the stream is broken().
  std::optional<std::string> next() {
    if (broken_ || buffer_.size() < kHeader) return std::nullopt;
    std::size_t length = 0;
    for (std::size_t i = 0; i < kHeader; ++i)
      length = length << 8 | static_cast<unsigned char>(buffer_[i]);
    if (length == 0 || length > limits::kFrameBytes) {
      broken_ = true;
      return std::nullopt;
    }
    if (buffer_.size() < kHeader + length) return std::nullopt;
    std::string payload = buffer_.substr(kHeader, length);
    buffer_.erase(0, kHeader + length);
    return payload;
  }
  bool broken() const { return broken_; }  // a length outside 1..16384: no way to go on
  bool partial() const { return !buffer_.empty(); }

 private:
  static constexpr std::size_t kHeader = 4;
  std::string buffer_;
  bool broken_ = false;
};

// Answers may be longer than requests: a status in a storm of alarms is.
constexpr std::size_t kAnswerBytes = 256 * 1024;

// None when the payload does not fit an answer's frame.
inline std::optional<std::string> make_frame(std::string_view payload) {
  if (payload.empty() || payload.size() > kAnswerBytes) return std::nullopt;
  std::string frame;
  for (int shift = 24; shift >= 0; shift -= 8)
    frame += static_cast<char>(payload.size() >> shift & 0xFF);
  return frame.append(payload);
}

}  // namespace neap::shell
