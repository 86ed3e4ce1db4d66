// Text from anywhere: whatever comes in, the loader answers with a plan or with problems that stand
// inside the text, and never with a crash. Ruined files by the thousand: tests/settings/mutants.
#include <fcntl.h>
#include <gtest/gtest.h>
#include <sys/stat.h>

#include <algorithm>

#include "daemon/core/limits.h"
#include "tests/settings/files.h"

namespace neap::settings {
namespace {

void expect_an_answer(const std::string& text) {
  const auto result = load_text(text);
  ASSERT_NE(result.loaded.has_value(), !result.problems.empty())
      << "a plan or problems, never both or none";
  const auto lines = static_cast<int>(std::count(text.begin(), text.end(), '\n')) + 1;
  for (const auto& problem : result.problems) {
    ASSERT_GE(problem.line, 0);
    ASSERT_LE(problem.line, lines);
    ASSERT_FALSE(render("x", text, problem).empty());
  }
}

TEST(Hostile, brackets_without_end_are_refused_at_once) {
  for (const char* open : {"[", "{", "- ", "? ", "{a: ", "[["}) {
    std::string text;
    while (text.size() < 60000) text += open;
    expect_an_answer(text + "\nend: true\n");
    EXPECT_FALSE(load_text(text + "\nend: true\n").loaded.has_value());
  }
}

TEST(Size, is_64_kib_and_no_more) {
  std::string text = shipped("demo.yaml");
  const std::size_t end = text.rfind("end: true");
  text.insert(
      end,
      std::string(static_cast<std::size_t>(limits::kSettingsBytes) - text.size() - 1, '#') + "\n");
  ASSERT_EQ(text.size(), static_cast<std::size_t>(limits::kSettingsBytes));
  EXPECT_TRUE(load_text(text).loaded.has_value());
  text.insert(end, "#");
  const auto result = load_text(text);
  ASSERT_EQ(result.problems.size(), 1U);
  EXPECT_EQ(result.problems[0].message,
            "the file is over 64 KiB; settings must be at most 65536 bytes");
}

std::string only_message(const LoadResult& result) {
  return result.problems.size() == 1 ? result.problems[0].message : "not one problem";
}

TEST(File, that_is_not_there_is_told) {
  EXPECT_EQ(only_message(load_file((scratch_dir() / "nowhere.yaml").string())),
            "cannot be opened: No such file or directory");
}

TEST(File, must_be_a_regular_file) {
  constexpr std::string_view kRule = "is no regular file; settings are read from nothing else";
  EXPECT_EQ(only_message(load_file(scratch_dir().string())), kRule);
  EXPECT_EQ(only_message(load_file("/dev/zero")), kRule);
  const auto pipe = scratch_dir() / "pipe";
  std::filesystem::remove(pipe);
  ASSERT_EQ(mkfifo(pipe.c_str(), 0600), 0);
  EXPECT_EQ(only_message(load_file(pipe.string())), kRule) << "and it does not wait for a writer";
}

TEST(File, that_is_huge_is_refused_by_its_size) {
  const auto path = scratch_dir() / "huge.yaml";
  write_all(path, std::string(5'000'000, '#'));
  EXPECT_EQ(only_message(load_file(path.string())),
            "the file is over 64 KiB; settings must be at most 65536 bytes");
}

// Hazard Z4.
TEST(File, that_every_user_may_write_or_replace_moves_no_water) {
  namespace fs = std::filesystem;
  const auto folder = scratch_dir() / "open";
  fs::create_directories(folder);
  fs::permissions(folder, fs::perms{0755});
  const auto path = folder / "tent.yaml";
  write_all(path, read_all(source_dir() / "config/demo.yaml"));
  fs::permissions(path, fs::perms{0664});
  EXPECT_TRUE(load_guarded_file(path.string()).loaded.has_value());
  fs::permissions(path, fs::perms{0646});
  EXPECT_EQ(only_message(load_guarded_file(path.string())),
            "may be written by every user of this machine, and what it says moves water");
  fs::permissions(path, fs::perms{0644});
  fs::permissions(folder, fs::perms{0757});
  EXPECT_NE(only_message(load_guarded_file(path.string())).find("may replace it"),
            std::string::npos);
  fs::permissions(folder, fs::perms{01777});
  EXPECT_TRUE(load_guarded_file(path.string()).loaded.has_value()) << "a sticky folder is safe";
  EXPECT_TRUE(load_file(path.string()).loaded.has_value());
  fs::remove_all(folder);
}

TEST(Render, cuts_a_long_line_around_the_column) {
  const std::string text = std::string(300, 'a') + "X" + std::string(300, 'b') + "\n";
  const std::string out = render("f", text, {1, 301, "", "here", "do this"});
  const std::size_t line = out.find('\n') + 1;
  const std::size_t caret_line = out.find('\n', line) + 1;
  const std::size_t caret = out.find('^') - caret_line;
  EXPECT_EQ(out[line + caret], 'X');
  EXPECT_LT(caret_line - line, 120U);
  EXPECT_EQ(out.substr(0, out.find('\n')), "f:1:301: here");
}

TEST(Render, of_the_file_as_a_whole_has_no_line) {
  EXPECT_EQ(render("f", "", {0, 0, "", "is gone", "look again"}), "f: is gone\n  look again\n");
}

}  // namespace
}  // namespace neap::settings
