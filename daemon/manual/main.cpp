// neap-manual FOLDER: writes the manual and the completion into it. Part of the build, not
// installed.
#include <cstdio>
#include <filesystem>
#include <fstream>

#include "daemon/manual/manual.h"

int main(int argc, char** argv) {
  if (argc != 2) {
    std::fprintf(stderr, "usage: neap-manual FOLDER\n");
    return 2;
  }
  for (const neap::manual::Made& made : neap::manual::all_made()) {
    const auto path = std::filesystem::path(argv[1]) / made.file;
    std::ofstream out(path, std::ios::binary);
    out << made.make();
    if (out.flush()) continue;
    std::fprintf(stderr, "neap-manual: cannot write %s\n", path.c_str());
    return 1;
  }
  return 0;
}
