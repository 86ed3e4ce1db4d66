// A file descriptor that closes itself.
#pragma once

#include <unistd.h>

#include <utility>

namespace neap::client {

class Descriptor {
 public:
  Descriptor() = default;
  explicit Descriptor(int number) : number_(number) {}
  Descriptor(Descriptor&& other) noexcept : number_(std::exchange(other.number_, kNone)) {}
  Descriptor& operator=(Descriptor&& other) noexcept {
    std::swap(number_, other.number_);
    return *this;
  }
  ~Descriptor() { close(); }

  void close() {
    if (number_ != kNone) ::close(std::exchange(number_, kNone));
  }
  explicit operator bool() const { return number_ != kNone; }
  int number() const { return number_; }

 private:
  static constexpr int kNone = -1;  // as the kernel's calls say it
  int number_ = kNone;
};

}  // namespace neap::client
