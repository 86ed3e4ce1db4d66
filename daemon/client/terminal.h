// The terminal as `neap watch` uses it: a screen that is painted, and keys. What it found it
// leaves: when this object goes, for whatever reason, the terminal is as it was.
#pragma once

#include <memory>
#include <optional>

#include "daemon/client/watch.h"
#include "daemon/core/instant.h"

namespace neap::client {

enum class KeyKind : std::uint8_t {
  other,
  up,
  down,
  page_up,
  page_down,
  home,
  next,
  previous,
  ended
};

struct Pressed {
  KeyKind key = KeyKind::other;
  char letter = 0;  // of a key that has no name above; 0: none
};

class Terminal {
 public:
  struct Size {
    std::size_t columns = 0;
    std::size_t rows = 0;
  };

  // Throws a Failure when TERM says nothing that a screen can be painted by.
  Terminal(bool utf8, bool color);
  ~Terminal();
  Terminal(const Terminal&) = delete;
  Terminal& operator=(const Terminal&) = delete;

  Size size() const;
  // Sends what differs from the screen before.
  void paint(const Screen& screen);
  // The next key; none when `patience` is over, a signal came or the size changed.
  std::optional<Pressed> key(Millis patience);

 private:
  struct Curses;
  std::unique_ptr<Curses> curses_;
};

}  // namespace neap::client
