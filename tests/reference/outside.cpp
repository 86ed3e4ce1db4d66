#include "tests/reference/outside.h"

#include <gtest/gtest.h>

#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <iostream>

#include "tests/places.h"

namespace neap::reference {
namespace {

constexpr int kFewest = 500;  // a run under this many has lost its references
int checked = 0;

class OutsideValues : public testing::Environment {
 public:
  void TearDown() override {
    std::cout << "outside values checked: " << checked << '\n';
    // A filtered run sees a part on purpose; the whole program may not.
    if (testing::GTEST_FLAG(filter) == "*") {
      EXPECT_GE(checked, kFewest) << "the reference checks have gone missing";
    }
  }
};

const testing::Environment* const registered = testing::AddGlobalTestEnvironment(new OutsideValues);

}  // namespace

void expect_within(double ours, double theirs, double tolerance, std::string_view source) {
  ++checked;
  // Written so that NaN fails.
  EXPECT_TRUE(std::abs(ours - theirs) <= tolerance)
      << source << ": ours " << ours << ", theirs " << theirs << ", allowed " << tolerance;
}

void expect_within_percent(double ours, double theirs, double percent, std::string_view source) {
  expect_within(ours, theirs, std::abs(theirs) * percent / 100, source);
}

int outside_values_checked() { return checked; }

std::string shared_folder() {
  std::string folder = places::in_project("../shared/reference");
  if (const char* named = std::getenv("NEAP_REFERENCE")) folder = named;
  return std::filesystem::is_directory(folder) ? folder : std::string{};
}

}  // namespace neap::reference
