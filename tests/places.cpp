#include "tests/places.h"

namespace neap::places {

std::string project() { return NEAP_SOURCE_DIR; }
std::string in_project(std::string_view path) { return NEAP_SOURCE_DIR "/" + std::string(path); }
std::string in_build(std::string_view path) { return NEAP_BINARY_DIR "/" + std::string(path); }

}  // namespace neap::places
