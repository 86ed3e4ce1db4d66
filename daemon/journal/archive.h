// A copy of a journal to keep: by SQLite's online backup, so that the daemon goes on writing.
#pragma once

#include <cstdint>
#include <optional>
#include <string>

namespace neap::journal {

struct Archived {
  std::int64_t events = 0;
  std::int64_t readings = 0;
  std::int64_t days = 0;
};

// Copies the journal `from` into the new file `to`, and reads the copy through: every page, and as
// many rows as the journal had when the copy began. The copy is one file without a log beside it,
// and appears under its name only when it was found good. None, and why in `error`, otherwise;
// nothing is left behind then.
std::optional<Archived> archive(const std::string& from, const std::string& to, std::string& error);

}  // namespace neap::journal
