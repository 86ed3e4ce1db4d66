// The state file: what survives a restart. One preallocated file with two slots; each save goes to
// the older slot and then to the other (pwrite, fdatasync each). A power cut in between leaves one
// whole; between saves both hold the newest state, so that a slot which rots on the card takes no
// debit, latch or slot of the day with it. Written on change only.
//
// A slot is text (core/state_slot.h): a line with counter and checksum, then one "name value" line
// a field (kept_fields.h), readable by a person.
//
// When both slots are damaged, or the state is older than what the journal saw, nothing is known of
// budgets and latches since. worst_case() then assumes that the pump has spent its whole day's
// budget, and sets the latch `state`: no flood until a person has looked at the table and said so.
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

#include "daemon/core/plan.h"
#include "daemon/core/state.h"
#include "daemon/core/state_slot.h"

namespace neap::shell {

// The shell's own part beside Kept.
struct BootRecord {
  std::int64_t last_tick = 0;                  // the next boot's tick begins after it
  bool clean_stop = false;                     // the run ended by a proper stop
  std::array<std::int64_t, 4> dirty_starts{};  // ticks of the latest starts without a clean stop
  std::int32_t dirty_count = 0;                // of them in use
  std::int64_t safe_mode_until = 0;            // crash loop: outputs stay safe until this tick
};

struct Stored {
  Kept kept;
  BootRecord boot;
  bool of_later = false;  // it had fields that this program does not know; they are not in here
};

std::string to_text(const Stored& stored);
// None when a line is no "name value" or a value does not fit its field.
std::optional<Stored> stored_from(std::string_view body);

class StateFile {
 public:
  static constexpr std::size_t kSlotBytes = kStateSlotBytes;

  // `durable` false (virtual clock): no sync.
  StateFile(std::string path, bool durable) : path_(std::move(path)), durable_(durable) {}
  ~StateFile();
  StateFile(const StateFile&) = delete;
  StateFile& operator=(const StateFile&) = delete;

  enum class Found : std::uint8_t { whole, absent, damaged };
  struct Answer {
    Found found = Found::absent;
    std::optional<Stored> stored;  // when whole
    bool one_damaged = false;      // whole, from the only slot that can still be read
    bool of_later = false;         // a later neap wrote it: what it knew more is not in `stored`
  };
  // The newest valid slot. Creates nothing.
  Answer load();
  // An error text, or empty once both slots hold it. The file is created and preallocated by the
  // first save. What is already stored, byte for byte, is not written again.
  std::string save(const Stored& stored);

 private:
  std::string open();
  std::string write_slot(int number, const std::string& bytes);

  std::string path_;
  bool durable_;
  int fd_ = -1;
  bool named_ = false;  // its place in the folder is durable
  std::uint64_t counter_ = 0;
  int newest_slot_ = 1;
  std::string last_body_;  // that both slots hold
};

// What to assume when a state existed and cannot be trusted. See above. `known`: what an old one
// says, whose latches and stage still hold.
Kept worst_case(const Plan& plan, Instant now, Kept known = {});

}  // namespace neap::shell
