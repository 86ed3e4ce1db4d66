// What the shell's tests share: a folder of their own, an ugly start, a log that is kept.
#pragma once

#include <signal.h>
#include <stdlib.h>
#include <sys/resource.h>

#include <filesystem>
#include <string>
#include <vector>

#include "daemon/shell/log.h"

namespace neap::shell {

inline constexpr Instant kUglyStart = instant(Millis{4294967000});

class TempDir {
 public:
  TempDir() {
    std::string pattern = std::filesystem::temp_directory_path() / "neap-shell-XXXXXX";
    path_ = ::mkdtemp(pattern.data());
  }
  ~TempDir() {
    std::error_code ignored;
    std::filesystem::remove_all(path_, ignored);
  }
  TempDir(const TempDir&) = delete;
  TempDir& operator=(const TempDir&) = delete;
  std::string operator/(const std::string& name) const { return path_ + "/" + name; }
  const std::string& path() const { return path_; }

 private:
  std::string path_;
};

// A full card, for as long as it lives: no file of this process may be written beyond a few bytes.
class FullCard {
 public:
  FullCard() {
    ::signal(SIGXFSZ, SIG_IGN);
    ::getrlimit(RLIMIT_FSIZE, &before_);
    const rlimit few{kFew, before_.rlim_max};
    ::setrlimit(RLIMIT_FSIZE, &few);
  }
  ~FullCard() { ::setrlimit(RLIMIT_FSIZE, &before_); }
  FullCard(const FullCard&) = delete;
  FullCard& operator=(const FullCard&) = delete;
  static constexpr rlim_t kFew = 16;

 private:
  rlimit before_{};
};

struct KeptLog {
  std::vector<std::string> lines;
  LogSink sink() {
    return [this](LogLevel, const std::string& text) { lines.push_back(text); };
  }
  bool has(const std::string& part) const {
    for (const std::string& line : lines)
      if (line.find(part) != std::string::npos) return true;
    return false;
  }
};

}  // namespace neap::shell
