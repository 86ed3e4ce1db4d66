#include "daemon/client/page_file.h"

#include <filesystem>
#include <system_error>

#include "daemon/client/failure.h"
#include "daemon/client/whole_file.h"

namespace neap::client {

const PageOption kSvgOption{"--svg", ".svg"};

void check_page_path(const PageOption& option, const std::string& path) {
  if (!path.ends_with(option.ending))
    throw Failure(kExitUsage,
                  option.option + " is " + path + ", which does not end in " + option.ending,
                  "name it day" + option.ending + ", say; a file of that name is replaced");
  const auto folder = std::filesystem::absolute(path).parent_path();
  std::error_code unknown;
  if (!std::filesystem::is_directory(folder, unknown))
    throw Failure(kExitUsage,
                  option.option + " is " + path + ", and there is no folder " + folder.string(),
                  "make the folder first");
}

void save_page(const PageOption& option, const std::string& path, const std::string& text) {
  constexpr mode_t kForAll = 0644;
  if (const std::string trouble = write_whole_file(path, text, kForAll); !trouble.empty())
    throw Failure(kExitFailed, "cannot write " + path + ": " + trouble,
                  "give " + option.option + " a folder that you may write to");
}

}  // namespace neap::client
