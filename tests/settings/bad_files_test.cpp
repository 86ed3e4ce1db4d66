// Every file in bad/ is refused with exactly the text beside it. A new case is a file; the message
// it gets is written to the build's settings_tests folder for a person to judge and copy.
#include <gtest/gtest.h>

#include <algorithm>
#include <vector>

#include "tests/settings/files.h"

namespace neap::settings {
namespace {

std::vector<std::string> bad_files() {
  std::vector<std::string> names;
  for (const auto& entry :
       std::filesystem::directory_iterator(source_dir() / "tests" / "settings" / "bad"))
    if (entry.path().extension() == ".yaml") names.push_back(entry.path().stem().string());
  std::sort(names.begin(), names.end());
  return names;
}

class BadFile : public testing::TestWithParam<std::string> {};

TEST_P(BadFile, is_refused_with_place_value_rule_and_remedy) {
  const auto folder = source_dir() / "tests" / "settings" / "bad";
  const std::string text = read_all(folder / (GetParam() + ".yaml"));
  const auto result = load_text(text);
  EXPECT_FALSE(result.loaded.has_value());
  for (const auto& problem : result.problems) {
    EXPECT_GT(problem.line, 0);
    EXPECT_GT(problem.column, 0);
    EXPECT_FALSE(problem.message.empty());
    EXPECT_FALSE(problem.remedy.empty()) << problem.message;
  }
  const std::string told = render_all(GetParam() + ".yaml", text, result.problems);
  write_all(scratch_dir() / (GetParam() + ".expected"), told);
  EXPECT_EQ(told, read_all(folder / (GetParam() + ".expected")))
      << "if the new text is the better one, copy it from "
      << (scratch_dir() / (GetParam() + ".expected"));
}

INSTANTIATE_TEST_SUITE_P(settings, BadFile, testing::ValuesIn(bad_files()),
                         [](const auto& test) { return test.param; });

TEST(BadFiles, are_many) { EXPECT_GE(bad_files().size(), 90U); }

}  // namespace
}  // namespace neap::settings
