#include "daemon/client/restore.h"

#include <fcntl.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <sys/statvfs.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <cstring>

#include "daemon/client/descriptor.h"
#include "daemon/client/interrupt.h"
#include "daemon/client/new_folder.h"
#include "daemon/client/owner.h"
#include "daemon/client/whole_file.h"
#include "daemon/core/state_folder.h"
#include "daemon/core/state_slot.h"
#include "daemon/journal/journal.h"
#include "daemon/journal/reader.h"
#include "daemon/words/words.h"

namespace neap::client {
namespace {

namespace fs = std::filesystem;

constexpr const char* kStaged = ".restore.new";
constexpr mode_t kMode = 0640;
constexpr std::array kStateFiles{state_folder::kRestored, state_folder::kOutputs[0],
                                 state_folder::kOutputs[1], state_folder::kState};
constexpr std::array kJournalTails{"-wal", "-shm", ""};  // a log without its file is no harm

[[noreturn]] void fail(const std::string& what, const std::string& remedy) {
  throw Failure(kExitFailed, words::printable(what), remedy);
}
[[noreturn]] void cannot(const std::string& what, const fs::path& path) {
  fail("cannot " + what + " " + path.string() + ": " + std::strerror(errno),
       "free space there, and use root or neapd's own user");
}

bool there(const fs::path& path) {
  std::error_code none;
  return fs::exists(fs::symlink_status(path, none));
}

fs::path folder_of(const fs::path& path) {
  return path.has_parent_path() ? path.parent_path() : fs::path(".");
}

void sync_folder(const fs::path& folder) {
  const Descriptor fd(::open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC));
  if (!fd || ::fsync(fd.number()) != 0) cannot("write to", folder);
}

void move(const fs::path& from, const fs::path& to) {
  if (::rename(from.c_str(), to.c_str()) != 0) cannot("rename to", to);
}

void make_folder(const fs::path& path) {
  std::error_code error;
  fs::create_directories(path, error);
  if (error) fail("cannot make " + path.string() + ": " + error.message(), "use root");
}

// One file of the backup to a new place; what was written is compared with the sum.
void copy(const CheckedBackup& backup, const std::string& name, const fs::path& to) {
  const fs::path from = backup.folder / name;
  const Descriptor in(::open(from.c_str(), O_RDONLY | O_CLOEXEC | O_NOFOLLOW));
  if (!in) cannot("read", from);
  {
    const Descriptor out(::open(to.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, kMode));
    if (!out || ::fchmod(out.number(), kMode) != 0) cannot("write", to);
    std::array<char, 65536> chunk{};
    while (true) {
      if (Interrupt::came()) fail("interrupted; nothing was changed", "run it again");
      const ssize_t got = ::read(in.number(), chunk.data(), chunk.size());
      if (got < 0 && errno == EINTR) continue;
      if (got < 0) cannot("read", from);
      if (got == 0) break;
      for (ssize_t done = 0; done < got;) {
        const ssize_t put = ::write(out.number(), chunk.data() + done, got - done);
        if (put < 0 && errno == EINTR) continue;
        if (put <= 0) cannot("write", to);
        done += put;
      }
    }
    if (::fsync(out.number()) != 0) cannot("write", to);
  }
  if (sum_of(to) != backup.sums.at(name))
    fail(to.string() + " does not read back as it was written", "replace that disk or card");
}

// Names of the backup's files in a folder of it.
std::vector<std::string> files_in(const CheckedBackup& backup, const std::string& folder) {
  std::vector<std::string> names;
  for (const auto& [name, sum] : backup.sums)
    if (fs::path(name).parent_path() == folder) names.push_back(fs::path(name).filename().string());
  return names;
}

std::string in_state(const std::string& name) { return std::string(kStateFolder) + "/" + name; }
std::string in_spool(const std::string& name) {
  return in_state(std::string(state_folder::kSpool) + "/" + name);
}
std::string in_settings(const std::string& name) {
  return std::string(kSettingsFolder) + "/" + name;
}

void check_room(const fs::path& folder, std::uintmax_t bytes) {
  struct statvfs disk {};
  if (::statvfs(folder.c_str(), &disk) != 0) return;
  const std::uintmax_t free = std::uintmax_t{disk.f_bavail} * disk.f_frsize;
  if (free < bytes)
    fail("the disk of " + folder.string() + " has " + std::to_string(free / 1'000'000) +
             " MB free; the backup needs " + std::to_string(bytes / 1'000'000 + 1) + " MB",
         "free space there");
}

class InPlace {
 public:
  InPlace(const CheckedBackup& backup, const Globals& globals)
      : backup_(backup),
        dir_(fs::path(globals.state_dir).lexically_normal()),
        journal_(fs::path(globals.journal).lexically_normal()),
        settings_(globals.settings) {
    if (!dir_.has_filename()) dir_ = dir_.parent_path();
  }

  Restored run(bool over_newer) {
    find_folders();
    const Descriptor lock = lock_state();
    refuse_newer(over_newer);
    stage();
    put_in_place();
    put_settings();
    out_.state_dir = dir_;
    out_.journal = journal_;
    out_.settings = settings_;
    return std::move(out_);
  }

 private:
  void find_folders() {
    std::error_code none;
    if (!fs::is_directory(dir_, none)) {
      if (!fs::is_directory(folder_of(dir_), none))
        fail(dir_.string() + " is not there, nor is " + folder_of(dir_).string(),
             "make the latter, or correct --state-dir");
      make_folder(dir_);
    }
    if (!fs::is_directory(folder_of(journal_), none))
      fail("the journal's folder " + folder_of(journal_).string() + " is not there",
           "make it, or correct --journal");
  }

  // The lock that neapd holds while it runs (shell/run_live.cpp), held to the end.
  Descriptor lock_state() const {
    Descriptor lock(::open(dir_.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC));
    if (!lock) cannot("use", dir_);
    if (::flock(lock.number(), LOCK_EX | LOCK_NB) != 0)
      throw Failure(kExitRefused, "neapd runs on " + dir_.string(),
                    "stop it first: systemctl stop neapd; its outputs are safe then");
    return lock;
  }

  // The newest tick that is known here, and of which file.
  void refuse_newer(bool over_newer) const {
    if (over_newer || there(dir_ / state_folder::kRestoring)) return;  // or it was asked before
    std::int64_t newest = 0;
    fs::path of = journal_;
    if (const auto tick = journal::newest_tick(journal_.string())) newest = tick_ms(*tick);
    std::string trouble;
    const auto bytes =
        read_whole_file((dir_ / state_folder::kState).string(), kStateFileBytes, trouble);
    const auto body = bytes ? newest_state(*bytes) : std::nullopt;
    if (const auto tick = body ? state_tick(*body) : std::nullopt; tick && *tick > newest) {
      newest = *tick;
      of = dir_ / state_folder::kState;
    }
    if (newest <= backup_.tick) return;
    throw Failure(
        kExitRefused,
        of.string() + " goes on after the backup: by " +
            words::duration(Millis{newest - backup_.tick}) + " of neapd's running",
        "take a newer backup, or add --over-newer: what is here is set aside, not deleted");
  }

  fs::path staged(const fs::path& folder) const { return folder / kStaged; }

  void stage() {
    const fs::path near = folder_of(journal_);
    std::error_code none;
    check_room(near, backup_.bytes);
    for (const fs::path& folder : {dir_, near}) fs::remove_all(staged(folder), none);
    for (const fs::path& folder : {dir_, near}) make_folder(staged(folder));
    try {
      copy(backup_, kJournalFile, staged(near) / journal_.filename());
      for (const std::string& name : files_in(backup_, kStateFolder))
        if (name != state_folder::kRestored) copy(backup_, in_state(name), staged(dir_) / name);
      make_folder(staged(dir_) / state_folder::kSpool);
      for (const std::string& name : files_in(backup_, in_state(state_folder::kSpool)))
        copy(backup_, in_spool(name), staged(dir_) / state_folder::kSpool / name);
    } catch (const Failure&) {
      for (const fs::path& folder : {dir_, near}) fs::remove_all(staged(folder), none);
      throw;
    }
    own_like(staged(dir_), dir_);
    own_like(staged(near), near);
    sync_folder(staged(dir_));
    sync_folder(staged(near));
  }

  void write(const fs::path& path, const std::string& text) const {
    const std::string trouble = write_whole_file(path.string(), text, kMode);
    if (!trouble.empty()) fail("cannot write " + path.string() + ": " + trouble, "use root");
    own_like(path, dir_);
    sync_folder(folder_of(path));
  }

  // The name of the folder for what is here: the same again after a restore that was cut off.
  std::string name_aside() const {
    std::string trouble;
    if (const auto begun =
            read_whole_file((dir_ / state_folder::kRestoring).string(), kSmallFile, trouble))
      return *begun;
    const std::string stem = "before-restore";
    std::string name = stem;
    for (int n = 2; there(dir_ / name) || there(folder_of(journal_) / name); ++n)
      name = stem + "-" + std::to_string(n);
    return name;
  }

  // Between the first rename and the last neapd does not run.
  void put_in_place() {
    const std::string aside = name_aside();
    write(dir_ / state_folder::kRestoring, aside);
    const fs::path near = folder_of(journal_);
    write_marker(dir_ / aside / state_folder::kState);
    for (const char* tail : kJournalTails)
      set_aside(near / (journal_.filename().string() + tail), near / aside);
    move(staged(near) / journal_.filename(), journal_);
    for (const char* name : kStateFiles) {
      set_aside(dir_ / name, dir_ / aside);
      if (there(staged(dir_) / name)) move(staged(dir_) / name, dir_ / name);
    }
    put_spool();
    sync_folder(near);
    sync_folder(dir_);
    std::error_code none;
    for (const fs::path& folder : {dir_, near}) fs::remove_all(staged(folder), none);
    if (::unlink((dir_ / state_folder::kRestoring).c_str()) != 0)
      cannot("remove", dir_ / state_folder::kRestoring);
    sync_folder(dir_);
    for (const fs::path& folder : {dir_ / aside, near / aside})
      if (there(folder) &&
          std::find(out_.set_aside.begin(), out_.set_aside.end(), folder) == out_.set_aside.end())
        out_.set_aside.push_back(folder);
  }

  // Which old state has latches that neapd must take over: that of this time, and those of a
  // restore before it that no neapd has seen.
  void write_marker(const fs::path& old_state) const {
    std::string text;
    std::string trouble;
    for (const fs::path& known :
         {dir_ / state_folder::kRestored, backup_.folder / kStateFolder / state_folder::kRestored})
      if (const auto lines = read_whole_file(known.string(), kSmallFile, trouble)) text += *lines;
    const std::string line = fs::absolute(old_state).string() + "\n";
    if (text.find(line) == std::string::npos) text += line;
    write(staged(dir_) / state_folder::kRestored, text);
  }

  // Once set aside, what stands in the place is already of a backup.
  void set_aside(const fs::path& path, const fs::path& folder) const {
    if (!there(path)) return;
    if (there(folder / path.filename())) {
      if (::unlink(path.c_str()) != 0) cannot("remove", path);
      return;
    }
    make_folder(folder);
    own_like(folder, folder.parent_path());
    move(path, folder / path.filename());
  }

  // Beside what waits there: it was told and is in no journal.
  void put_spool() const {
    make_folder(dir_ / state_folder::kSpool);
    own_like(dir_ / state_folder::kSpool, dir_);
    std::error_code none;
    for (const auto& item : fs::directory_iterator(staged(dir_) / state_folder::kSpool, none)) {
      const fs::path to = dir_ / state_folder::kSpool / item.path().filename();
      if (!there(to)) move(item.path(), to);
    }
  }

  void put_settings() {
    const std::string name = backup_.about.settings;
    if (there(settings_)) {
      std::string trouble;
      const auto text = read_whole_file(settings_.string(), kSmallFile, trouble);
      const auto kept =
          read_whole_file((backup_.folder / kSettingsFolder / name).string(), kSmallFile, trouble);
      if (text != kept)
        out_.remarks.push_back(settings_.string() +
                               " differs from the backup's and was left as it "
                               "is; the other is " +
                               (backup_.folder / kSettingsFolder / name).string() + ".");
      return;
    }
    make_folder(folder_of(settings_));
    for (const std::string& file : files_in(backup_, kSettingsFolder)) {
      const fs::path to = file == name ? settings_ : folder_of(settings_) / file;
      if (!there(to)) copy(backup_, in_settings(file), to);
    }
    out_.remarks.push_back(settings_.string() + " was not there and is the backup's now.");
  }

  const CheckedBackup& backup_;
  fs::path dir_, journal_, settings_;
  Restored out_;
};

}  // namespace

Restored restore_in_place(const CheckedBackup& backup, const Globals& globals, bool over_newer) {
  return InPlace(backup, globals).run(over_newer);
}

Restored restore_to(const CheckedBackup& backup, const fs::path& to) {
  const fs::path target = to.has_filename() ? to : to.parent_path();
  if (there(target))
    throw Failure(kExitRefused, target.string() + " exists, and nothing is written over",
                  "name a folder that is not there yet");
  check_room(folder_of(target), backup.bytes);
  NewFolder folder(target);
  const fs::path& root = folder.path();
  copy(backup, kJournalFile, root / kJournalFile);
  for (const std::string& name : files_in(backup, kStateFolder))
    copy(backup, in_state(name), root / name);
  make_folder(root / state_folder::kSpool);
  for (const std::string& name : files_in(backup, in_state(state_folder::kSpool)))
    copy(backup, in_spool(name), root / state_folder::kSpool / name);
  make_folder(root / kSettingsFolder);
  for (const std::string& name : files_in(backup, kSettingsFolder))
    copy(backup, in_settings(name), root / kSettingsFolder / name);
  folder.keep();
  return {target, target / kJournalFile, target / kSettingsFolder / backup.about.settings, {}, {}};
}

}  // namespace neap::client
