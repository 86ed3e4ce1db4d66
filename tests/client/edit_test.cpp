// Goal: one setting is replaced and nothing else.
#include "daemon/client/edit.h"

#include <gtest/gtest.h>

namespace neap::client {
namespace {

constexpr const char* kText =
    "name: x\n"
    "climate:\n"
    "  # how air is held\n"
    "  law: two_position\n"
    "  hysteresis: 25 %\n"
    "\n"
    "simulation:   # of the tent\n"
    "  seed: 7\n"
    "  parameters:\n"
    "    seed_depth: 3\n"
    "end: true\n";

TEST(Edit, ReplacesTheLineOfAKey) {
  EXPECT_EQ(
      with_setting(kText, "climate", "law", "fixed_fan"),
      "name: x\nclimate:\n  # how air is held\n  law: fixed_fan\n  hysteresis: 25 %\n\n"
      "simulation:   # of the tent\n  seed: 7\n  parameters:\n    seed_depth: 3\nend: true\n");
}

TEST(Edit, PutsAKeyThatIsMissingFirst) {
  EXPECT_EQ(with_setting("a:\n  b: 1\nc: 2\n", "a", "law", "x"), "a:\n  law: x\n  b: 1\nc: 2\n");
}

TEST(Edit, LooksNoFurtherThanTheBlock) {
  EXPECT_EQ(with_setting("a:\n  b: 1\nz:\n  seed: 2\n", "a", "seed", "9"),
            "a:\n  seed: 9\n  b: 1\nz:\n  seed: 2\n");
}

TEST(Edit, KnowsWhenThereIsNoSuchBlock) {
  EXPECT_FALSE(with_setting(kText, "weather", "seed", "1"));
  EXPECT_FALSE(with_setting("climate: {law: two_position}\n", "climate", "law", "x"));
  EXPECT_FALSE(with_setting("climate:\nend: true\n", "climate", "law", "x"));
  EXPECT_FALSE(with_setting("climate:\n", "climate", "law", "x"));
}

}  // namespace
}  // namespace neap::client
