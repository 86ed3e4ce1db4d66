#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <cstring>
#include <filesystem>

#include "daemon/core/limits.h"
#include "daemon/settings/checks.h"
#include "daemon/settings/hash.h"
#include "daemon/settings/node.h"
#include "daemon/settings/read.h"
#include "daemon/settings/schema.h"
#include "daemon/settings/settings.h"

namespace neap::settings {
namespace {

void check_all(const Draft& draft, Report& report) {
  check_table(draft, report);
  check_programme(draft, report);
  check_hardware(draft, report);
  check_enable_pulse(draft, report);
  check_hands(draft, report);
  check_telling(draft, report);
  check_simulation(draft, report);
  check_time_zone(draft, report);
}

LoadResult refused(const std::string& message, const std::string& remedy) {
  LoadResult result;
  result.problems.push_back({0, 0, "", message, remedy});
  return result;
}

// The text of an open file, or why there is none.
struct Content {
  std::string text;
  std::string message;
  std::string remedy;
};

Content read_open_file(int fd) {
  struct stat status {};
  if (fstat(fd, &status) != 0 || !S_ISREG(status.st_mode))
    return {{}, "is no regular file; settings are read from nothing else", "name the file itself"};
  Content content;
  std::array<char, 8192> buffer{};
  while (content.text.size() <= static_cast<std::size_t>(limits::kSettingsBytes)) {
    const std::size_t room =
        static_cast<std::size_t>(limits::kSettingsBytes) + 1 - content.text.size();
    const ssize_t got = read(fd, buffer.data(), std::min(buffer.size(), room));
    if (got < 0 && errno == EINTR) continue;
    if (got < 0) return {{}, std::string("cannot be read: ") + std::strerror(errno), "try again"};
    if (got == 0 || room == 0) break;
    content.text.append(buffer.data(), static_cast<std::size_t>(got));
  }
  return content;
}

}  // namespace

LoadResult load_text(std::string_view text) {
  LoadResult result;
  const Source source(text);
  Report report;
  if (check_text(source, report)) {
    if (const auto root = parse(source, report)) {
      Draft draft;
      Walk walk{draft, report};
      if (root->kind == NodeKind::map) {
        read_section(walk, root_section(), *root, "");
        give_hands(draft);
        check_all(draft, report);
      } else {
        report.add({1, 1}, "", "the file is " + written(*root) + "; must be keys and values",
                   "begin with the line \"neap: 1\"");
      }
      if (report.empty()) {
        plan_proofs(draft);
        plan_calibrations(draft);
        const std::uint64_t hash = fnv1a(text);
        draft.plan.hash = hash;
        result.loaded = Loaded{std::move(draft.plan),
                               std::move(draft.hardware),
                               draft.build,
                               draft.feed,
                               draft.care,
                               draft.turnover,
                               draft.rated_w,
                               std::move(draft.telling),
                               std::string(text),
                               hash,
                               {}};
      }
    }
  }
  result.problems = std::move(report).sorted();
  return result;
}

LoadResult load_guarded_file(const std::string& path) {
  struct stat file {};
  const std::filesystem::path parent = std::filesystem::path(path).parent_path();
  const std::string folder = parent.empty() ? "." : parent.string();
  if (stat(path.c_str(), &file) == 0 && (file.st_mode & S_IWOTH) != 0)
    return refused("may be written by every user of this machine, and what it says moves water",
                   "chmod o-w " + path);
  struct stat above {};
  if (stat(folder.c_str(), &above) == 0 && (above.st_mode & S_IWOTH) != 0 &&
      (above.st_mode & S_ISVTX) == 0)
    return refused("lies in " + folder + ", where every user of this machine may replace it",
                   "chmod o-w " + folder);
  return load_file(path);
}

LoadResult load_file(const std::string& path) {
  // Not blocking: a pipe or device given by mistake is told apart, not waited for.
  const int fd = open(path.c_str(), O_RDONLY | O_CLOEXEC | O_NONBLOCK);
  if (fd < 0)
    return refused(std::string("cannot be opened: ") + std::strerror(errno),
                   "check the path and who may read it");
  const Content content = read_open_file(fd);
  close(fd);
  if (!content.message.empty()) return refused(content.message, content.remedy);
  LoadResult result = load_text(content.text);
  if (result.loaded) result.loaded->folder = std::filesystem::path(path).parent_path().string();
  return result;
}

}  // namespace neap::settings
