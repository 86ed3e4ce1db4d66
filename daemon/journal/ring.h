// A bounded queue that drops its oldest item when it is full and counts the drop. Items carry a
// sequence number, so that a reader can copy some, write them, and then take out exactly those,
// even when a few were dropped meanwhile. Not synchronised: the writer guards it.
#pragma once

#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <deque>
#include <utility>
#include <vector>

namespace neap::journal {

template <class T>
class Ring {
 public:
  explicit Ring(std::size_t capacity) : capacity_(capacity) {}

  void push(T item) {
    if (items_.size() >= capacity_ && !items_.empty()) {
      items_.pop_front();
      ++first_;
      ++dropped_;
    }
    items_.push_back(std::move(item));
  }

  std::size_t size() const { return items_.size(); }
  bool empty() const { return items_.empty(); }
  const T& front() const { return items_.front(); }
  const T& back() const { return items_.back(); }
  std::uint64_t first() const { return first_; }                // sequence number of front()
  std::uint64_t end() const { return first_ + items_.size(); }  // of the next item pushed
  std::uint64_t dropped() const { return dropped_; }            // since the ring was made

  // Copies the oldest `most` items into `out`.
  void copy(std::vector<T>& out, std::size_t most) const {
    out.assign(items_.begin(),
               items_.begin() + static_cast<std::ptrdiff_t>(std::min(most, items_.size())));
  }

  // What waits will never be stored.
  void forfeit() {
    first_ += items_.size();
    dropped_ += items_.size();
    items_.clear();
  }

  // The items [from, to) are safe elsewhere: takes them out. Those of them that had been dropped
  // are no loss after all.
  void release(std::uint64_t from, std::uint64_t to) {
    if (first_ > from) dropped_ -= std::min(first_, to) - from;
    while (first_ < to && !items_.empty()) {
      items_.pop_front();
      ++first_;
    }
  }

 private:
  std::size_t capacity_;
  std::deque<T> items_;
  std::uint64_t first_ = 0;
  std::uint64_t dropped_ = 0;
};

}  // namespace neap::journal
