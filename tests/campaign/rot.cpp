#include "tests/campaign/rot.h"

#include <cstdint>
#include <fstream>

#include "daemon/shell/state_file.h"

namespace neap::campaign {
namespace {

constexpr std::int64_t kRotAt = 200;  // inside the text of a slot

}  // namespace

void rot(const std::string& path, bool both) {
  std::fstream file(path, std::ios::in | std::ios::out | std::ios::binary);
  for (std::int64_t slot = 0; slot < (both ? 2 : 1); ++slot) {
    file.seekp(slot * static_cast<std::int64_t>(shell::StateFile::kSlotBytes) + kRotAt);
    file.write("rotten rotten rotten", 20);
  }
}

}  // namespace neap::campaign
