#include "daemon/client/backup_set.h"

#include <fcntl.h>

#include <array>
#include <cerrno>
#include <charconv>
#include <cstring>
#include <sstream>

#include "daemon/client/descriptor.h"
#include "daemon/client/interrupt.h"
#include "daemon/client/sha256.h"
#include "daemon/client/whole_file.h"
#include "daemon/core/state_folder.h"
#include "daemon/core/state_slot.h"
#include "daemon/journal/reader.h"
#include "daemon/words/words.h"

namespace neap::client {
namespace {

namespace fs = std::filesystem;
using nlohmann::json;

constexpr const char* kForm = "neap-backup 1";
constexpr std::size_t kDigits = 64;  // of a SHA-256

[[noreturn]] void bad(const fs::path& place, const std::string& why) {
  throw Failure(kExitFailed, words::printable(place.string()) + " " + why,
                "take another backup; this one is not whole");
}

// "<64 digits>  <path>" a line, as sha256sum writes and reads.
Sums sums_from(const fs::path& folder) {
  const fs::path file = folder / kSumsFile;
  std::string trouble;
  const auto text = read_whole_file(file.string(), kSmallFile, trouble);
  if (!text) bad(file, "cannot be read: " + trouble);
  Sums sums;
  std::istringstream lines(*text);
  for (std::string line; std::getline(lines, line);) {
    if (line.size() <= kDigits + 2 || line.compare(kDigits, 2, "  ") != 0)
      bad(file, "has a line that is no checksum: " + words::printable(line));
    sums[line.substr(kDigits + 2)] = line.substr(0, kDigits);
  }
  if (sums.empty()) bad(file, "is empty");
  return sums;
}

void compare(const fs::path& folder, const Sums& wanted, const Sums& found) {
  for (const auto& [name, sum] : wanted) {
    const auto have = found.find(name);
    if (have == found.end()) bad(folder / name, "is missing, and SHA256SUMS has it");
    if (have->second != sum)
      bad(folder / name, "is damaged: its SHA-256 is not that of SHA256SUMS");
  }
  for (const auto& [name, sum] : found)
    if (!wanted.contains(name)) bad(folder / name, "is not in SHA256SUMS");
}

std::int64_t check_journal(const fs::path& file) {
  std::string error;
  const auto reader = journal::Reader::open(file.string(), error);
  if (!reader)
    throw Failure(kExitFailed, words::printable(error), "install the neap that made this backup");
  const auto tick = reader->last_tick();
  reader->events({}, {}, 1);
  reader->days({});
  if (!reader->trouble().empty()) bad(file, "cannot be read: " + reader->trouble());
  return tick.value_or(0);
}

}  // namespace

json about_json(const BackupAbout& about) {
  return {{"form", kForm},      {"made", about.made},        {"version", about.version},
          {"tick", about.tick}, {"events", about.events},    {"readings", about.readings},
          {"days", about.days}, {"settings", about.settings}};
}

std::optional<BackupAbout> read_about(const fs::path& folder) {
  std::string trouble;
  const auto text = read_whole_file((folder / kAboutFile).string(), kSmallFile, trouble);
  if (!text) return std::nullopt;
  const json value = json::parse(*text, nullptr, false);
  if (!value.is_object() || value.value("form", json()) != kForm) return std::nullopt;
  try {
    return BackupAbout{value.at("made"), value.at("version"), value.at("settings"),
                       value.at("tick"), value.at("events"),  value.at("readings"),
                       value.at("days")};
  } catch (const json::exception&) {
    return std::nullopt;  // a field that is missing or of another type
  }
}

std::string sum_of(const fs::path& file) {
  const auto fail = [&] {
    throw Failure(kExitFailed,
                  "cannot read " + words::printable(file.string()) + ": " + std::strerror(errno),
                  "let your user read it, or use root");
  };
  const Descriptor fd(::open(file.c_str(), O_RDONLY | O_CLOEXEC | O_NOFOLLOW));
  if (!fd) fail();
  Sha256 sum;
  std::array<char, 65536> chunk{};
  while (true) {
    if (Interrupt::came())
      throw Failure(kExitFailed, "interrupted; nothing was changed", "run it again");
    const ssize_t got = ::read(fd.number(), chunk.data(), chunk.size());
    if (got < 0 && errno == EINTR) continue;
    if (got < 0) fail();
    if (got == 0) return sum.digest();
    sum.take({chunk.data(), static_cast<std::size_t>(got)});
  }
}

Sums sums_below(const fs::path& folder) {
  Sums sums;
  std::error_code error;
  for (fs::recursive_directory_iterator item(folder, error), end; !error && item != end;
       item.increment(error)) {
    const std::string name = item->path().lexically_relative(folder).string();
    const fs::file_type type = item->symlink_status().type();
    if (type == fs::file_type::directory || name == kSumsFile) continue;
    if (type != fs::file_type::regular) bad(item->path(), "is neither a file nor a folder");
    sums[name] = sum_of(item->path());
  }
  if (error) bad(folder, "cannot be listed: " + error.message());
  return sums;
}

std::string sums_text(const Sums& sums) {
  std::string text;
  for (const auto& [name, sum] : sums) text += sum + "  " + name + "\n";
  return text;
}

std::optional<std::string> newest_state(const std::string& bytes) {
  const auto slot = newest_state_slot(bytes);
  if (!slot) return std::nullopt;
  return std::string(slot->body);
}

std::optional<std::int64_t> state_tick(const std::string& body) {
  constexpr std::string_view kName = "boot.last_tick ";
  const std::size_t at = body.find(kName);
  if (at == std::string::npos) return std::nullopt;
  std::int64_t tick = 0;
  const char* begin = body.data() + at + kName.size();
  if (std::from_chars(begin, body.data() + body.size(), tick).ec != std::errc{})
    return std::nullopt;
  return tick;
}

CheckedBackup check_backup(const fs::path& folder) {
  std::error_code error;
  if (!fs::is_directory(folder, error))
    throw Failure(kExitFailed,
                  "there is no backup " + words::printable(folder.string()) + " to read" +
                      (error ? ": " + error.message() : std::string()),
                  "name the folder that `neap backup` made, neap-DATE");
  CheckedBackup out;
  out.folder = folder;
  out.sums = sums_from(folder);
  compare(folder, out.sums, sums_below(folder));
  const auto about = read_about(folder);
  if (!about)
    throw Failure(kExitFailed,
                  (folder / kAboutFile).string() + " is missing, or of a later neap's form",
                  "name the folder that `neap backup` made, or install that neap");
  out.about = *about;
  out.tick = check_journal(folder / kJournalFile);
  const fs::path state = folder / kStateFolder / state_folder::kState;
  if (out.sums.contains(std::string(kStateFolder) + "/" + state_folder::kState)) {
    std::string trouble;
    const auto bytes = read_whole_file(state.string(), kStateFileBytes, trouble);
    const auto body = bytes ? newest_state(*bytes) : std::nullopt;
    if (!body) bad(state, "has no whole slot");
    out.tick = std::max(out.tick, state_tick(*body).value_or(0));
  }
  for (const auto& [name, sum] : out.sums) out.bytes += fs::file_size(folder / name, error);
  return out;
}

}  // namespace neap::client
