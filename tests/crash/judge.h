// What must hold of a board that is switched on again, whatever part of the unsynced is there.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "tests/crash/image.h"
#include "tests/crash/machine.h"

namespace neap::crash {

// What a journal holds.
struct Rows {
  std::vector<EventKey> events;
  std::vector<std::int64_t> numbers;
  std::size_t readings = 0;
  std::size_t packed = 0;    // of them
  std::int64_t doubled = 0;  // that stand as a row and in a block
  std::size_t others = 0;
  std::size_t losses = 0;
  std::size_t late_readings = 0;  // from `since` on
  bool sound = false;             // quick_check, and every block
};
Rows read_journal(const std::string& folder, std::int64_t since = 0);

struct PumpRun {
  std::int64_t from = 0, to = 0;  // ticks
};

// One stretch of a life between two starts: what was on the disk when it began, what was asked of
// the disk, and what the daemon knew.
struct Segment {
  std::uint64_t life = 0;
  int number = 0;
  std::string settings;
  std::int64_t unix_ms = 0;  // at its first tick
  std::int64_t start = 0;    // that tick
  std::vector<Disk::File> disk_before;
  Rows before;
  Pins pins_before;
  std::vector<PumpRun> runs_before;
  std::vector<Op> ops;
  std::vector<Moment> moments;
  std::vector<std::pair<std::size_t, std::size_t>> packings;  // Machine::packings
  Ledger ledger;
  // While the disk fails, and a minute longer, what was to be kept may not be; what was
  // acknowledged still is. Operations; none: it did not fail.
  std::optional<std::size_t> fails_from;
  std::size_t well_from = 0;
  bool fault_met = false;
  bool fails_at(std::size_t cut) const {
    return fails_from && cut >= *fails_from && cut < well_from;
  }
};

// The pump's runs within the segment until `cut`.
std::vector<PumpRun> runs_until(const Segment& segment, std::size_t cut);
Pins pins_at(const Segment& segment, std::size_t cut);
std::int64_t tick_at(const Segment& segment, std::size_t cut);

struct Verdict {
  std::vector<std::string> broken;
  bool one_slot = false;        // one copy of the state was torn, and the other one served
  bool rows_recovered = false;  // more was there than had been acknowledged
  bool packed = false;          // there were readings in blocks
};

// Starts a board on `image`, found `outage` after the cut, in `folder`, and lives on for a while.
Verdict judge(const Segment& segment, std::size_t cut, const Image& image, bool powered,
              Millis outage, std::uint64_t noise, const std::string& folder);

}  // namespace neap::crash
