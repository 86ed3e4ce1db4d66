// A vector of fixed capacity: the control path allocates nothing. A push beyond the capacity is
// refused and counted, so the owner can say that something was lost rather than lose it in silence.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>

namespace neap {

template <class T, std::size_t Capacity>
class FixedVector {
 public:
  bool push(const T& item) {
    if (size_ == Capacity) {
      ++refused_;
      return false;
    }
    items_[size_++] = item;
    return true;
  }
  void clear() {
    size_ = 0;
    refused_ = 0;
  }
  void erase_at(std::size_t index) {
    for (std::size_t i = index + 1; i < size_; ++i) items_[i - 1] = items_[i];
    if (index < size_) --size_;
  }
  std::size_t size() const { return size_; }
  bool empty() const { return size_ == 0; }
  std::uint32_t refused() const { return refused_; }  // pushes that found no room since clear()
  static constexpr std::size_t capacity() { return Capacity; }

  T& operator[](std::size_t i) { return items_[i]; }
  const T& operator[](std::size_t i) const { return items_[i]; }
  T* begin() { return items_.data(); }
  T* end() { return items_.data() + size_; }
  const T* begin() const { return items_.data(); }
  const T* end() const { return items_.data() + size_; }
  T& back() { return items_[size_ - 1]; }
  const T& back() const { return items_[size_ - 1]; }

 private:
  std::array<T, Capacity> items_{};
  std::size_t size_ = 0;
  std::uint32_t refused_ = 0;
};

}  // namespace neap
