// Room that the journal keeps for itself on its disk: a file that is given up when the disk is
// full, so that events still find room while readings wait in memory (hazards.md, D1).
#pragma once

#include <cstdint>
#include <string>

namespace neap::journal {

class Reserve {
 public:
  // `bytes` 0: nothing is kept, and there is always room.
  Reserve(std::string path, std::int64_t bytes) : path_(std::move(path)), bytes_(bytes) {}

  // Sets the room aside unless it is already, where the disk has twice as much to spare; once it
  // was given up four times as much, so that readings do not fill the disk again at once. False:
  // the disk is nearly full, and what is left of it is for the events.
  bool hold();
  void give_up();

 private:
  bool has_to_spare() const;

  std::string path_;
  std::int64_t bytes_;
  bool held_ = false;
  bool given_up_ = false;
};

}  // namespace neap::journal
