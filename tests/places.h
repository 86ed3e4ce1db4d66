#pragma once
// Where the project and its build are, for tests that read files or start programs. Only places.cpp
// knows: a file with these folders in its command line would be compiled anew in every clone.
#include <string>
#include <string_view>

namespace neap::places {

std::string project();                          // the folder with CMakeLists.txt
std::string in_project(std::string_view path);  // "config/demo.yaml"
std::string in_build(std::string_view path);    // "neapd"

}  // namespace neap::places
