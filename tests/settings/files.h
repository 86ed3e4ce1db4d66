// Files of the tree and of the build, for tests of settings.
#pragma once

#include <filesystem>
#include <fstream>
#include <iterator>
#include <string>

#include "daemon/settings/settings.h"
#include "tests/places.h"

namespace neap::settings {

inline std::filesystem::path source_dir() { return places::project(); }

inline std::filesystem::path scratch_dir() {
  const std::filesystem::path path = places::in_build("settings_tests");
  std::filesystem::create_directories(path);
  return path;
}

inline std::string read_all(const std::filesystem::path& path) {
  std::ifstream file(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(file), {}};
}

inline void write_all(const std::filesystem::path& path, const std::string& text) {
  std::ofstream(path, std::ios::binary) << text;
}

inline std::string render_all(const std::string& name, const std::string& text,
                              const std::vector<Problem>& problems) {
  std::string out;
  for (const auto& problem : problems) out += render(name, text, problem);
  return out;
}

inline std::string shipped(const std::string& name) {
  return read_all(source_dir() / "config" / name);
}

// `text` with the first `from` made into `to`; empty when `from` is not there, which fails the test
// that uses it.
inline std::string with(std::string text, const std::string& from, const std::string& to) {
  const std::size_t at = text.find(from);
  if (at == std::string::npos) return {};
  return text.replace(at, from.size(), to);
}

}  // namespace neap::settings
