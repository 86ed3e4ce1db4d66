// Disks as they may be found after a power cut: of what was written and not yet synced, each part
// may be there or not. What was synced is there: a card that damages what it has long stored is a
// fault of another kind (judge.h has one of those too).
#pragma once

#include <array>
#include <cstdint>
#include <map>
#include <string>
#include <string_view>
#include <vector>

#include "tests/crash/disk.h"

namespace neap::crash {

// A small generator of its own, so that a state is drawn alike on every machine.
class Draw {
 public:
  explicit Draw(std::uint64_t seed) : state_(seed * 0x9E3779B97F4A7C15ULL + 1) {}
  std::uint64_t next() {  // splitmix64 (Steele, Lea, Flood 2014), from memory
    std::uint64_t z = state_ += 0x9E3779B97F4A7C15ULL;
    z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9ULL;
    z = (z ^ (z >> 27)) * 0x94D049BB133111EBULL;
    return z ^ (z >> 31);
  }
  std::size_t below(std::size_t bound) { return bound == 0 ? 0 : next() % bound; }
  bool chance(double p) { return static_cast<double>(next() >> 11) * 0x1.0p-53 < p; }

 private:
  std::uint64_t state_;
};

enum class Loss : std::uint8_t {
  nothing,      // the process was killed, or the cache was just written out
  all,          // nothing that was not synced is there
  tail,         // everything up to some moment, nothing after
  head,         // the newest is there, something older is not
  writes,       // each write by itself
  sectors,      // each 512 bytes by themselves
  torn,         // the last write up to a sector, all before it
  smeared,      // the same, and that sector is noise
  sizes_alone,  // files have grown or shrunk, and what should fill them is not there
};
struct LossInfo {
  Loss loss;
  std::string_view name;
};
inline constexpr std::array kLosses{
    LossInfo{Loss::nothing, "nothing lost"},   LossInfo{Loss::all, "all unsynced lost"},
    LossInfo{Loss::tail, "tail lost"},         LossInfo{Loss::head, "head lost"},
    LossInfo{Loss::writes, "writes lost"},     LossInfo{Loss::sectors, "sectors lost"},
    LossInfo{Loss::torn, "last write torn"},   LossInfo{Loss::smeared, "last sector noise"},
    LossInfo{Loss::sizes_alone, "sizes alone"}};

struct Image {
  std::map<std::string, std::string> files;
  std::uint64_t what = 0;  // two images that are made alike have the same number
};
// Replaces the files of `folder`. The -shm file of `noise` != 0 is noise: a power cut leaves some.
void lay_out(const Image& image, const std::string& folder, std::uint64_t noise);

// Goes through a recording from its beginning.
class Platter {
 public:
  Platter(const std::vector<Disk::File>& before, const std::vector<Op>& ops);
  // Operations [0, cut) have been asked for. `cut` never goes back.
  void advance(std::size_t cut);
  Image image(Loss loss, Draw draw) const;

 private:
  struct Piece;
  struct File {
    std::string stored;
    std::string cached;                // what the kernel shows to those who read
    std::vector<std::size_t> pending;  // operations since the last sync
  };
  void settle(File& file, const Op* lost_by);
  std::vector<Piece> kept(Loss loss, Draw& draw) const;

  const std::vector<Op>& ops_;
  std::map<int, File> files_;
  std::map<std::string, int> folder_;        // names that are surely there
  std::vector<std::size_t> folder_pending_;  // creates, renames and removes since
  std::size_t cut_ = 0;
  std::uint64_t settled_ = 0;  // counts what has changed for good
};

}  // namespace neap::crash
