#include "daemon/client/new_folder.h"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>

#include "daemon/client/descriptor.h"
#include "daemon/client/failure.h"

namespace neap::client {

namespace fs = std::filesystem;

std::string hidden_beginning(const std::string& name) { return "." + name; }

NewFolder::NewFolder(const fs::path& wanted) : wanted_(wanted) {
  beside_ = wanted.parent_path() / (hidden_beginning(wanted.filename().string()) + "." +
                                    std::to_string(::getpid()) + kHiddenEnding);
  constexpr mode_t kMode = 0777;  // as the umask leaves it
  if (::mkdir(beside_.c_str(), kMode) != 0) fail(std::strerror(errno));
  made_ = true;
}

NewFolder::~NewFolder() {
  std::error_code ignored;
  if (made_) fs::remove_all(beside_, ignored);
}

void NewFolder::keep() {
  // What is in it reaches the disk before its name does: an empty file after a power cut is none.
  const Descriptor inside(::open(beside_.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC));
  if (!inside || ::syncfs(inside.number()) != 0) fail(std::strerror(errno));
  // rename() would take the place of an empty folder that was made meanwhile: no harm.
  if (::rename(beside_.c_str(), wanted_.c_str()) != 0) fail(std::strerror(errno));
  made_ = false;
  const fs::path above = wanted_.has_parent_path() ? wanted_.parent_path() : fs::path(".");
  const Descriptor around(::open(above.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC));
  if (around) ::fsync(around.number());  // its name; without it the next cut may take it back whole
}

void NewFolder::fail(const std::string& why) const {
  throw Failure(kExitFailed, "cannot write " + wanted_.string() + ": " + why,
                "name a folder that is not there yet, in one that is there and yours");
}

}  // namespace neap::client
