#include "daemon/client/backup.h"

#include <fcntl.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <sys/statvfs.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <cstring>
#include <ctime>

#include "daemon/client/descriptor.h"
#include "daemon/client/interrupt.h"
#include "daemon/client/new_folder.h"
#include "daemon/client/owner.h"
#include "daemon/client/whole_file.h"
#include "daemon/core/limits.h"
#include "daemon/core/state_folder.h"
#include "daemon/core/state_slot.h"
#include "daemon/journal/archive.h"
#include "daemon/journal/journal.h"
#include "daemon/shell/version.h"
#include "daemon/words/words.h"

namespace neap::client {
namespace {

namespace fs = std::filesystem;

constexpr const char* kPrefix = "neap-";
constexpr mode_t kPrivate = 0640;  // as the files that are copied: owner and group
// Room that a backup leaves on its disk: neapd keeps 8 MiB for events and wants twice that
// (journal/reserve.h). A choice.
constexpr std::uintmax_t kLeftFree = std::uintmax_t{32} << 20;
constexpr std::size_t kMostFiles = 64;  // of settings beside the one in force
// neapd writes one slot and then the other, milliseconds each: some looks find one whole.
constexpr int kLooks = 20;

std::string megabytes(std::uintmax_t bytes) {
  constexpr std::uintmax_t kMega = 1'000'000;
  return std::to_string((bytes + kMega - 1) / kMega) + " MB";
}

[[noreturn]] void fail(const std::string& what, const std::string& remedy) {
  throw Failure(kExitFailed, words::printable(what), remedy);
}

// One backup at a time in a folder; the lock goes with the process.
Descriptor lock_folder(const fs::path& into) {
  constexpr mode_t kFolder = 0750;
  if (::mkdir(into.c_str(), kFolder) == 0)
    own_like(into, into.has_parent_path() ? into.parent_path() : fs::path("."));
  else if (errno != EEXIST)
    fail("cannot make the folder " + into.string() + ": " + std::strerror(errno),
         "make it yourself and let your user write there, or name another folder");
  Descriptor lock(::open(into.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC));
  if (!lock)
    fail("cannot use " + into.string() + ": " + std::strerror(errno),
         "name a folder that your user may read and write");
  if (::flock(lock.number(), LOCK_EX | LOCK_NB) != 0)
    throw Failure(kExitRefused, "another backup into " + into.string() + " is under way",
                  "wait for its end");
  return lock;
}

// What a backup that was cut off left. Nobody else can be at work: the folder is locked.
void sweep(const fs::path& into) {
  std::error_code ignored;
  std::vector<fs::path> left;
  for (const auto& item : fs::directory_iterator(into, ignored)) {
    const std::string name = item.path().filename().string();
    if (name.starts_with(hidden_beginning(kPrefix)) && name.ends_with(kHiddenEnding))
      left.push_back(item.path());
  }
  for (const fs::path& path : left) fs::remove_all(path, ignored);
}

std::uintmax_t size_of(const fs::path& path) {
  std::error_code none;
  const auto bytes = fs::file_size(path, none);
  return none ? 0 : bytes;
}

void check_room(const Globals& globals, const fs::path& into) {
  const std::uintmax_t needed =
      size_of(globals.journal) + size_of(globals.journal + "-wal") + kStateFileBytes + kLeftFree;
  struct statvfs disk {};
  if (::statvfs(into.c_str(), &disk) != 0) return;  // the writing will say what is wrong
  const std::uintmax_t free = std::uintmax_t{disk.f_bavail} * disk.f_frsize;
  if (free < needed)
    fail("the disk of " + into.string() + " has " + megabytes(free) + " free; a backup needs " +
             megabytes(needed) + ", " + megabytes(kLeftFree) + " of them to stay free",
         "free space there, keep fewer backups with --keep, or name another disk");
}

std::string utc(std::int64_t unix_ms, const char* form) {
  const auto seconds = static_cast<std::time_t>(unix_ms / 1000);
  std::tm parts{};
  ::gmtime_r(&seconds, &parts);
  char text[32];
  return {text, std::strftime(text, sizeof text, form, &parts)};
}

fs::path free_name(const fs::path& into, std::int64_t now_unix_ms) {
  const std::string stem = kPrefix + utc(now_unix_ms, "%Y%m%dT%H%M%SZ");
  fs::path path = into / stem;
  std::error_code none;
  for (int again = 2; fs::exists(fs::symlink_status(path, none)); ++again)
    path = into / (stem + "-" + std::to_string(again));
  return path;
}

class Making {
 public:
  Making(const Globals& globals, const fs::path& folder) : globals_(globals), folder_(folder) {}

  void state() {
    const fs::path from = globals_.state_dir;
    make_folder(kStateFolder);
    put(fs::path(kStateFolder) / state_folder::kRestored,
        optional(from / state_folder::kRestored).value_or(std::string()));
    whole_state(from / state_folder::kState);
    for (const char* name : state_folder::kOutputs)
      if (const auto text = optional(from / name)) put(fs::path(kStateFolder) / name, *text);
    make_folder(fs::path(kStateFolder) / state_folder::kSpool);
    each_file(from / state_folder::kSpool, ".json", [&](const fs::path& path) {
      // It may be taken in by neapd between the look and the reading.
      if (const auto text = optional(path))
        put(fs::path(kStateFolder) / state_folder::kSpool / path.filename(), *text);
    });
  }

  void settings() {
    const fs::path in_force = globals_.settings;
    make_folder(kSettingsFolder);
    about_.settings = in_force.filename().string();
    put(fs::path(kSettingsFolder) / in_force.filename(), read_settings_text(in_force.string()));
    const fs::path beside = in_force.has_parent_path() ? in_force.parent_path() : fs::path(".");
    for (const char* ending : {".yaml", ".yml"})
      each_file(beside, ending, [&](const fs::path& path) {
        if (path.filename() == in_force.filename()) return;
        if (const auto text = optional(path))
          put(fs::path(kSettingsFolder) / path.filename(), *text);
      });
  }

  void journal() {
    std::string error;
    const auto archived =
        journal::archive(globals_.journal, (folder_ / kJournalFile).string(), error);
    if (!archived)
      throw Failure(fs::exists(globals_.journal) ? kExitFailed : kExitNoJournal,
                    words::printable(error), "give the journal's path with --journal");
    about_.events = archived->events;
    about_.readings = archived->readings;
    about_.days = archived->days;
    about_.tick =
        tick_ms(journal::newest_tick((folder_ / kJournalFile).string()).value_or(Instant{}));
  }

  void about(std::int64_t now_unix_ms) {
    about_.made = utc(now_unix_ms, "%Y-%m-%dT%H:%M:%SZ");
    about_.version = kVersion;
    put(kAboutFile, about_json(about_).dump(2) + "\n");
  }

  // The list of sums, of what the disk gives back and not of what memory still holds.
  void sums() {
    const Sums written = sums_below(folder_);
    put(kSumsFile, sums_text(written));
    forget_pages();
    check_backup(folder_);
  }

  const BackupAbout& about() const { return about_; }
  std::vector<std::string>& remarks() { return remarks_; }

 private:
  void make_folder(const fs::path& name) const {
    std::error_code error;
    if (!fs::create_directory(folder_ / name, error)) cannot(name, error.message());
  }
  void put(const fs::path& name, const std::string& text) const {
    if (Interrupt::came()) fail("interrupted; nothing was kept", "run it again");
    const std::string trouble = write_whole_file((folder_ / name).string(), text, kPrivate);
    if (!trouble.empty()) cannot(name, trouble);
  }
  [[noreturn]] void cannot(const fs::path& name, const std::string& why) const {
    fail("cannot write " + (folder_ / name).string() + ": " + why,
         "free space there, or name a folder on another disk that your user may write to");
  }

  // A file that need not be there; what cannot be read is a Failure.
  static std::optional<std::string> optional(const fs::path& path) {
    std::string trouble;
    auto text = read_whole_file(path.string(), kSmallFile, trouble);
    if (!text && ::access(path.c_str(), F_OK) == 0)
      fail("cannot read " + path.string() + ": " + trouble,
           "use root or neapd's own user, such as: sudo neap backup");
    return text;
  }

  void whole_state(const fs::path& path) {
    for (int look = 0; look < kLooks; ++look) {
      const auto bytes = optional(path);
      if (!bytes) return remarks_.push_back("there is no state file yet: neapd never ran here");
      if (newest_state(*bytes)) return put(fs::path(kStateFolder) / state_folder::kState, *bytes);
    }
    fail(path.string() + " has no whole slot: it is damaged",
         "a running neapd writes it anew within the hour; `neap status` tells of a state that is "
         "lost");
  }

  // Files of one ending, with names that every system takes.
  template <class Take>
  static void each_file(const fs::path& folder, std::string_view ending, const Take& take) {
    std::error_code error;
    std::size_t count = 0;
    for (fs::directory_iterator item(folder, error), end; !error && item != end;
         item.increment(error)) {
      const std::string name = item->path().filename().string();
      const bool plain = std::all_of(name.begin(), name.end(), [](unsigned char c) {
        return std::isalnum(c) != 0 || c == '-' || c == '_' || c == '.';
      });
      std::error_code none;
      if (!plain || !name.ends_with(ending) || !item->is_regular_file(none)) continue;
      if (++count > kMostFiles) return;
      take(item->path());
    }
  }

  void forget_pages() const {
    const Descriptor inside(::open(folder_.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC));
    if (!inside || ::syncfs(inside.number()) != 0) cannot(".", std::strerror(errno));
    std::error_code none;
    for (const auto& item : fs::recursive_directory_iterator(folder_, none)) {
      const Descriptor fd(::open(item.path().c_str(), O_RDONLY | O_CLOEXEC));
      if (fd) ::posix_fadvise(fd.number(), 0, 0, POSIX_FADV_DONTNEED);
    }
  }

  const Globals& globals_;
  fs::path folder_;
  BackupAbout about_;
  std::vector<std::string> remarks_;
};

// The oldest by what their journals reached, for a clock may have been wrong; never the new one.
std::vector<fs::path> prune(const fs::path& into, const fs::path& made, int keep,
                            std::vector<std::string>& remarks) {
  struct Old {
    std::int64_t tick;
    fs::path path;
  };
  std::vector<Old> old;
  std::error_code error;
  for (const auto& item : fs::directory_iterator(into, error)) {
    if (!item.path().filename().string().starts_with(kPrefix) || item.path() == made) continue;
    if (const auto about = read_about(item.path())) old.push_back({about->tick, item.path()});
  }
  std::sort(old.begin(), old.end(), [](const Old& a, const Old& b) {
    return std::tie(a.tick, a.path) > std::tie(b.tick, b.path);
  });
  std::vector<fs::path> gone;
  for (std::size_t i = static_cast<std::size_t>(keep) - 1; i < old.size(); ++i) {
    fs::remove_all(old[i].path, error);
    if (error)
      remarks.push_back("the old backup " + old[i].path.string() +
                        " could not be removed: " + error.message());
    else
      gone.push_back(old[i].path);
  }
  return gone;
}

}  // namespace

MadeBackup make_backup(const Globals& globals, const fs::path& into, int keep,
                       std::int64_t now_unix_ms) {
  const Descriptor lock = lock_folder(into);
  sweep(into);
  check_room(globals, into);
  MadeBackup out;
  out.folder = free_name(into, now_unix_ms);
  NewFolder folder(out.folder);
  Making making(globals, folder.path());
  making.state();
  making.settings();
  making.journal();
  making.about(now_unix_ms);
  making.sums();
  own_like(folder.path(), into);
  folder.keep();
  out.about = making.about();
  out.remarks = std::move(making.remarks());
  std::error_code none;
  for (const auto& item : fs::recursive_directory_iterator(out.folder, none))
    if (item.is_regular_file(none)) out.bytes += item.file_size(none);
  struct stat journal {};
  struct stat copy {};
  out.same_disk = ::stat(globals.journal.c_str(), &journal) == 0 &&
                  ::stat(out.folder.c_str(), &copy) == 0 && journal.st_dev == copy.st_dev;
  if (keep > 0) out.gone = prune(into, out.folder, keep, out.remarks);
  return out;
}

}  // namespace neap::client
