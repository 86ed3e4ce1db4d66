// The JSON Schema against an independent validator (python3-jsonschema): what ships is valid, and
// what the schema can express is refused by loader and schema alike.
#include <gtest/gtest.h>
#include <stdio.h>

#include <array>
#include <sstream>

#include "tests/settings/files.h"

namespace neap::settings {
namespace {

std::string run(const std::string& command) {
  std::string out;
  FILE* pipe = popen(command.c_str(), "r");
  if (pipe == nullptr) return out;
  std::array<char, 4096> buffer{};
  while (const std::size_t got = fread(buffer.data(), 1, buffer.size(), pipe))
    out.append(buffer.data(), got);
  pclose(pipe);
  return out;
}

bool has_validator() {
  return run("/usr/bin/python3 -W ignore -c 'import jsonschema, yaml; print(1)' 2>&1") == "1\n";
}

// The verdict on each file, in order.
std::vector<std::string> verdicts(const std::vector<std::filesystem::path>& files) {
  std::string command = "/usr/bin/python3 " +
                        (source_dir() / "tests" / "settings" / "schema_check.py").string() + " " +
                        (source_dir() / "schema" / "settings.schema.json").string();
  for (const auto& file : files) command += " " + file.string();
  std::istringstream lines(run(command));
  std::vector<std::string> out;
  for (std::string line; std::getline(lines, line);) out.push_back(line);
  return out;
}

TEST(JsonSchema, accepts_what_ships) {
  if (!has_validator()) GTEST_SKIP() << "python3-jsonschema or python3-yaml is not installed";
  const auto config = source_dir() / "config";
  const std::vector<std::filesystem::path> files{config / "demo.yaml", config / "starter.yaml",
                                                 config / "reference.yaml"};
  EXPECT_EQ(verdicts(files), (std::vector<std::string>{"valid", "valid", "valid"}));
}

struct Mutation {
  const char* from;
  const char* to;
};
constexpr std::array kMutations{
    Mutation{"mode: control", "mode: automatic"},
    Mutation{"display: metric", "display: imperial"},
    Mutation{"neap: 1", "neap: 2"},
    Mutation{"neap: 1", "neap: one"},
    Mutation{"neap: 1", "neap: 1\ncolour: green"},
    Mutation{"mode: control\n", ""},
    Mutation{"drain_path: through_pump", "drain_path: through_the_pump"},
    Mutation{"drain_path: through_pump\n", "\n"},
    Mutation{"tray_capacity: 45 L", "tray_capacity: 45"},
    Mutation{"tray_capacity: 45 L", "tray_capacity: 45 kg"},
    Mutation{"tray_capacity: 45 L", "tray_capacity: 045 L"},
    Mutation{"tray_capacity: 45 L", "tray_capacity: [45 L]"},
    Mutation{"fill_limit: 6 min", "fill_limit: 6 minutes"},
    Mutation{"fill_limit: 6 min", "fill_limit: 1e2 s"},
    Mutation{"fill_limit: 6 min", "fill_limt: 6 min"},
    Mutation{"floods_per_hour: 2", "floods_per_hour: 2.5"},
    Mutation{"floods_per_hour: 2", "floods_per_hour: 99"},
    Mutation{"hysteresis: 25 %", "hysteresis: 25"},
    Mutation{"law: two_position", "law: three_position"},
    Mutation{"vpd_day: 0.5..0.9 kPa", "vpd_day: 0.5-0.9 kPa"},
    Mutation{"vpd_day: 0.5..0.9 kPa", "vpd_day: 0.5..0.9"},
    Mutation{"lights_on: \"06:00\"", "lights_on: \"6:00\""},
    Mutation{"lights_on: \"06:00\"", "lights_on: \"24:00\""},
    Mutation{"start: 2026-03-02", "start: 02.03.2026"},
    Mutation{"name: establishing", "name: Establishing Stage"},
    Mutation{"fallow: true", "fallow: yes"},
    Mutation{"depth: 15 L", "depth: full"},
    Mutation{"soak: 5 min, ", ""},
    Mutation{"floods: {spread: 3", "floods: {spreads: 3"},
    Mutation{"  pump:\n", "  pumpe:\n"},
    Mutation{"floor: 20 %", "floor: off"},
    Mutation{"variable: true", "variable: \"true\""},
    Mutation{"driver: simulated_air", "driver: simulated_airs"},
    Mutation{"with: {place: canopy}", "with: {place: cellar}"},
    Mutation{"with: {place: canopy}", "with: {spot: canopy}"},
    Mutation{"temperature: canopy.temperature", "temperature: canopy.temp"},
    Mutation{"temperature: canopy.temperature", "warmth: canopy.temperature"},
    Mutation{"temperature: canopy.temperature", "temperature: canopy.vpd"},
    Mutation{"leaf_area_index: 2.5", "leaf_area_index: many"},
    Mutation{"leaf_area_index: 2.5", "leaf_index: 2.5"},
    Mutation{"leaf_area_index: 2.5", "leaf_area_index: 99"},
    Mutation{"seed: 7", "seed: seven"},
    Mutation{"at: 31 h", "at: 31"},
};

TEST(JsonSchema, refuses_what_the_loader_refuses) {
  if (!has_validator()) GTEST_SKIP() << "python3-jsonschema or python3-yaml is not installed";
  const std::string demo = shipped("demo.yaml");
  std::vector<std::filesystem::path> files;
  for (const auto& mutation : kMutations) {
    const std::string text = with(demo, mutation.from, mutation.to);
    ASSERT_FALSE(text.empty()) << mutation.from << " is not in demo.yaml";
    EXPECT_FALSE(load_text(text).loaded.has_value()) << mutation.to;
    files.push_back(scratch_dir() / ("mutation_" + std::to_string(files.size()) + ".yaml"));
    write_all(files.back(), text);
  }
  const auto all = verdicts(files);
  ASSERT_EQ(all.size(), files.size());
  for (std::size_t i = 0; i < all.size(); ++i)
    EXPECT_EQ(all[i], "invalid") << kMutations[i].from << " -> " << kMutations[i].to;
}

}  // namespace
}  // namespace neap::settings
