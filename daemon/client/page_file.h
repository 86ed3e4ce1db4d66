// A page or picture that an option writes into a file.
#pragma once

#include <string>

namespace neap::client {

struct PageOption {
  std::string option;  // "--svg"
  std::string ending;  // ".svg"
};

// Fails unless `path` has the ending and lies in a folder that is there: asked before the work, so
// that hours of it are not lost.
void check_page_path(const PageOption& option, const std::string& path);
// Whole or not at all, over what was there; a Failure when it cannot be written.
void save_page(const PageOption& option, const std::string& path, const std::string& text);

extern const PageOption kSvgOption;

}  // namespace neap::client
