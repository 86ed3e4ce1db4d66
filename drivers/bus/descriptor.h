// A file descriptor that closes itself.
#pragma once

#include <unistd.h>

#include <utility>

namespace neap::drivers {

class Descriptor {
 public:
  Descriptor() = default;
  explicit Descriptor(int fd) : fd_(fd) {}  // negative, as a failed open() gives it: holds nothing
  Descriptor(Descriptor&& other) noexcept : fd_(std::exchange(other.fd_, kNothing)) {}
  Descriptor& operator=(Descriptor&& other) noexcept {
    std::swap(fd_, other.fd_);
    return *this;
  }
  ~Descriptor() { reset(); }

  explicit operator bool() const { return fd_ >= 0; }
  int get() const { return fd_; }
  void reset() {
    if (fd_ >= 0) ::close(fd_);
    fd_ = kNothing;
  }

 private:
  static constexpr int kNothing = -1;  // the kernel's own word for no descriptor
  int fd_ = kNothing;
};

}  // namespace neap::drivers
