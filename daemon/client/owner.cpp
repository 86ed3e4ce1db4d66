#include "daemon/client/owner.h"

#include <sys/stat.h>
#include <unistd.h>

namespace neap::client {
namespace {

namespace fs = std::filesystem;

// A file system without owners gives the same to everybody: no harm.
void give(const fs::path& path, const struct stat& to) {
  if (::lchown(path.c_str(), to.st_uid, to.st_gid) != 0) return;
}

}  // namespace

void own_like(const fs::path& path, const fs::path& like) {
  struct stat owner {};
  if (::geteuid() != 0 || ::stat(like.c_str(), &owner) != 0) return;
  give(path, owner);
  std::error_code error;
  if (!fs::is_directory(fs::symlink_status(path, error))) return;
  for (fs::recursive_directory_iterator item(path, error), end; !error && item != end;
       item.increment(error))
    give(item->path(), owner);
}

}  // namespace neap::client
