// A folder that is there whole or not at all: it is filled under a hidden name beside its place,
// made durable and renamed.
#pragma once

#include <filesystem>
#include <string>

namespace neap::client {

class NewFolder {
 public:
  // Makes the hidden one. A Failure when that cannot be done.
  explicit NewFolder(const std::filesystem::path& wanted);
  ~NewFolder();  // removes it unless it was kept
  NewFolder(const NewFolder&) = delete;
  NewFolder& operator=(const NewFolder&) = delete;

  const std::filesystem::path& path() const { return beside_; }  // to write into
  void keep();
  // Throws the Failure that the folder cannot be written, for `why`.
  [[noreturn]] void fail(const std::string& why) const;

 private:
  std::filesystem::path wanted_, beside_;
  bool made_ = false;
};

// How the hidden ones of a folder that will be named `name` begin and end; process id between.
std::string hidden_beginning(const std::string& name);
inline constexpr const char* kHiddenEnding = ".new";

}  // namespace neap::client
