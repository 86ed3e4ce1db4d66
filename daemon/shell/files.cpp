#include "daemon/shell/files.h"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <cstring>

namespace neap::shell {
namespace {

struct Fd {
  int number;
  explicit Fd(int fd) : number(fd) {}
  Fd(const Fd&) = delete;
  Fd& operator=(const Fd&) = delete;
  ~Fd() {
    if (number >= 0) ::close(number);
  }
};

bool write_all(int fd, std::string_view text) {
  while (!text.empty()) {
    const ssize_t put = ::write(fd, text.data(), text.size());
    if (put < 0 && errno == EINTR) continue;
    if (put <= 0) return false;
    text.remove_prefix(static_cast<std::size_t>(put));
  }
  return true;
}

std::string failure(const std::string& what) { return what + ": " + std::strerror(errno); }

}  // namespace

std::uint64_t fnv1a(std::string_view bytes, std::uint64_t seed) {
  std::uint64_t hash = seed;
  for (const char c : bytes) hash = (hash ^ static_cast<unsigned char>(c)) * 0x100000001b3ULL;
  return hash;
}

std::optional<std::string> read_file(const std::string& path, std::size_t most, Links links) {
  const int extra = links == Links::refuse ? O_NOFOLLOW : 0;
  const Fd fd(::open(path.c_str(), O_RDONLY | O_CLOEXEC | O_NONBLOCK | extra));
  struct stat status {};
  if (fd.number < 0 || ::fstat(fd.number, &status) != 0 || !S_ISREG(status.st_mode))
    return std::nullopt;
  std::string text;
  std::array<char, 4096> chunk{};
  while (true) {
    const ssize_t got = ::read(fd.number, chunk.data(), chunk.size());
    if (got < 0 && errno == EINTR) continue;
    if (got < 0) return std::nullopt;
    if (got == 0) return text;
    text.append(chunk.data(), static_cast<std::size_t>(got));
    if (text.size() > most) return std::nullopt;
  }
}

std::string sync_folder_of(const std::string& path) {
  const std::size_t slash = path.rfind('/');
  const std::string folder = slash == std::string::npos ? "." : path.substr(0, slash + 1);
  const Fd fd(::open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC));
  if (fd.number < 0 || ::fsync(fd.number) != 0) return failure(folder);
  return {};
}

std::string write_file_atomically(const std::string& path, std::string_view text, unsigned mode) {
  const std::string beside = path + ".new";
  {
    const Fd fd(
        ::open(beside.c_str(), O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC | O_NOFOLLOW, mode));
    if (fd.number < 0) return failure(beside);
    ::fchmod(fd.number, mode);  // whatever the umask says
    if (!write_all(fd.number, text) || ::fsync(fd.number) != 0) return failure(beside);
  }
  if (::rename(beside.c_str(), path.c_str()) != 0) return failure(path);
  return sync_folder_of(path);
}

}  // namespace neap::shell
