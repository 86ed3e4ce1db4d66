// Text from anywhere: whatever comes in, the loader answers with a plan or with problems that stand
// inside the text, and never with a crash. Seeded, so that a failure repeats.
#include <fcntl.h>
#include <gtest/gtest.h>
#include <sys/stat.h>

#include <algorithm>

#include "daemon/core/limits.h"
#include "tests/settings/files.h"

namespace neap::settings {
namespace {

// splitmix64 (Steele, Lea, Flood 2014): small, and the same everywhere.
class Random {
 public:
  explicit Random(std::uint64_t seed) : state_(seed) {}
  std::size_t below(std::size_t bound) {
    std::uint64_t z = (state_ += 0x9E3779B97F4A7C15ULL);
    z = (z ^ (z >> 30U)) * 0xBF58476D1CE4E5B9ULL;
    z = (z ^ (z >> 27U)) * 0x94D049BB133111EBULL;
    return static_cast<std::size_t>((z ^ (z >> 31U)) % bound);
  }

 private:
  std::uint64_t state_;
};

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

TEST(Hostile, changed_bytes_get_an_answer) {
  const std::string demo = shipped("demo.yaml");
  constexpr std::string_view kBytes = "{}[]:,#&*!|>'\"%@`-? \n\t0.9eE_xX~<=\\\xC3\xA9\xFF\x01";
  Random random(4294967000);
  for (int i = 0; i < 4000; ++i) {
    std::string text = demo;
    for (std::size_t n = 1 + random.below(4); n > 0; --n)
      text[random.below(text.size() - 10)] = kBytes[random.below(kBytes.size())];
    expect_an_answer(text);
    if (HasFatalFailure()) return;
  }
}

TEST(Hostile, removed_doubled_and_swapped_lines_get_an_answer) {
  const std::string demo = shipped("demo.yaml");
  std::vector<std::string> lines;
  for (std::size_t at = 0; at < demo.size();) {
    const std::size_t end = demo.find('\n', at) + 1;
    lines.push_back(demo.substr(at, end - at));
    at = end;
  }
  Random random(7);
  for (int i = 0; i < 1500; ++i) {
    std::vector<std::string> changed = lines;
    const std::size_t a = random.below(lines.size() - 1);
    const std::size_t b = random.below(lines.size() - 1);
    if (i % 3 == 0) changed.erase(changed.begin() + static_cast<std::ptrdiff_t>(a));
    if (i % 3 == 1) changed.insert(changed.begin() + static_cast<std::ptrdiff_t>(a), lines[b]);
    if (i % 3 == 2) std::swap(changed[a], changed[b]);
    std::string text;
    for (const auto& line : changed) text += line;
    expect_an_answer(text);
    if (HasFatalFailure()) return;
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
