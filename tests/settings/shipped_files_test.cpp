// The files in config/ load, are whole or refused, and what is generated is up to date.
#include <gtest/gtest.h>

#include "daemon/settings/describe.h"
#include "daemon/settings/schema.h"
#include "tests/settings/files.h"

namespace neap::settings {
namespace {

class ShippedFile : public testing::TestWithParam<std::string> {};

TEST_P(ShippedFile, loads_without_a_problem) {
  const std::string text = shipped(GetParam());
  const auto result = load_file(source_dir() / "config" / GetParam());
  ASSERT_TRUE(result.loaded.has_value()) << render_all(GetParam(), text, result.problems);
  EXPECT_EQ(result.loaded->text, text);
  EXPECT_EQ(result.loaded->plan.hash, result.loaded->hash);
}

TEST_P(ShippedFile, is_refused_when_cut_at_any_byte) {
  const std::string text = shipped(GetParam());
  ASSERT_FALSE(text.empty());
  for (std::size_t length = 0; length < text.size(); ++length)
    ASSERT_FALSE(load_text(text.substr(0, length)).loaded.has_value()) << "cut at " << length;
}

INSTANTIATE_TEST_SUITE_P(settings, ShippedFile,
                         testing::Values("demo.yaml", "grow.yaml", "july.yaml", "starter.yaml",
                                         "reference.yaml"),
                         [](const auto& test) {
                           return test.param.substr(0, test.param.find('.'));
                         });

// The generated text is written to the build, so that a person can copy it after a look.
void expect_current(const std::string& generated, const std::filesystem::path& committed) {
  const auto fresh = scratch_dir() / committed.filename();
  write_all(fresh, generated);
  EXPECT_TRUE(generated == read_all(committed))
      << committed << " is out of date; copy " << fresh << " over it";
}

TEST(Reference, is_what_the_tables_say) {
  expect_current(reference_yaml(), source_dir() / "config" / "reference.yaml");
}

TEST(JsonSchema, is_what_the_tables_say) {
  expect_current(json_schema(), source_dir() / "schema" / "settings.schema.json");
}

void expect_every_key(const Section& section, const std::string& text) {
  for (const auto& key : section.keys) {
    EXPECT_NE(text.find(std::string(key.name) + ":"), std::string::npos) << key.name;
    EXPECT_FALSE(key.why.empty()) << key.name;
    if (key.section != nullptr) expect_every_key(*key.section, text);
  }
}

TEST(Reference, has_every_key_with_its_reason) {
  expect_every_key(root_section(), shipped("reference.yaml"));
}

// A line is a key's value in force, or it is not: comments do not count.
TEST(Reference, shows_every_default_in_force) {
  const auto result = load_text(shipped("reference.yaml"));
  ASSERT_TRUE(result.loaded.has_value());
  EXPECT_EQ(result.loaded->plan.table.soak_limit, minutes{20});
  EXPECT_EQ(result.loaded->plan.programme.stages.size(), 5U);
}

TEST(Reference, has_weather_from_a_file_that_loads_when_it_is_uncommented) {
  std::string text = with(shipped("reference.yaml"), "weather: synthetic", "weather: csv");
  const std::size_t begin = text.find("  # csv:");
  ASSERT_NE(begin, std::string::npos);
  const std::size_t end = text.find("  # The simulated tent's own", begin);
  std::string group = text.substr(begin, end - begin);
  for (std::size_t at = group.find("  # "); at != std::string::npos; at = group.find("\n  # ", at))
    group.replace(group.find("# ", at), 2, ""), at += 3;
  text.replace(begin, end - begin, group);
  const auto result = load_text(text);
  ASSERT_TRUE(result.loaded.has_value()) << render_all("reference.yaml", text, result.problems);
  EXPECT_EQ(result.loaded->hardware.simulation->weather_csv, "weather.csv");
}

// A starter programme takes the place of the demo's.
TEST(Programmes, of_each_crop_load_in_the_place_of_another) {
  const std::string demo = shipped("demo.yaml");
  const std::size_t begin = demo.find("programme:\n");
  const std::size_t end = demo.find("outputs:\n");
  ASSERT_LT(begin, end);
  int found = 0;
  for (const auto& entry :
       std::filesystem::directory_iterator(source_dir() / "config" / "programmes")) {
    ++found;
    const std::string name = entry.path().filename().string();
    const std::string text = demo.substr(0, begin) + read_all(entry.path()) + demo.substr(end);
    const auto result = load_text(text);
    ASSERT_TRUE(result.loaded.has_value()) << render_all(name, text, result.problems);
    EXPECT_GE(result.loaded->plan.programme.stages.size(), 3U) << name;
    EXPECT_TRUE(result.loaded->plan.programme.stages.back().fallow) << name;
  }
  EXPECT_EQ(found, 3);
}

}  // namespace
}  // namespace neap::settings
