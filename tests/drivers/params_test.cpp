#include <gtest/gtest.h>

#include <array>

#include "drivers/driver.h"

namespace neap::drivers {
namespace {

TEST(Params, ReadDecimalAndHexadecimalIntegers) {
  Params params;
  params.set("bus", "1");
  params.set("address", "0x44");
  params.set("offset", "-12");
  EXPECT_EQ(params.integer("bus"), 1);
  EXPECT_EQ(params.integer("address"), 0x44);
  EXPECT_EQ(params.integer("offset"), -12);
}

TEST(Params, ReadNumbersWithFractionAndExponent) {
  Params params;
  params.set("gain", "-1.25");
  params.set("area", "2e-4");
  EXPECT_DOUBLE_EQ(params.number("gain"), -1.25);
  EXPECT_DOUBLE_EQ(params.number("area"), 2e-4);
}

TEST(Params, TakeOnlyTheWordTrueForTruth) {
  Params params;
  params.set("yes", "true");
  params.set("no", "false");
  params.set("capital", "True");
  EXPECT_TRUE(params.truth("yes"));
  EXPECT_FALSE(params.truth("no"));
  EXPECT_FALSE(params.truth("capital"));
  EXPECT_FALSE(params.truth("absent"));
}

TEST(Params, KeepWordsInTheirOrder) {
  Params params;
  params.set_words("command", {"/usr/bin/env", "python3", "-u"});
  EXPECT_EQ(params.words("command"), (std::vector<std::string>{"/usr/bin/env", "python3", "-u"}));
  EXPECT_TRUE(params.words("absent").empty());
}

TEST(Params, GiveWhatTheHeaderSaysForAnAbsentName) {
  const Params params;
  EXPECT_EQ(params.text("absent"), "");
  EXPECT_EQ(params.number("absent"), 0);
  EXPECT_EQ(params.integer("absent"), 0);
}

constexpr std::array kSpecs{
    ParamSpec{"running", ParamKind::integer, false, "1", 0, 255, "", "why"},
    ParamSpec{"device", ParamKind::text, false, "", 0, 0, "", "why"},
    ParamSpec{"path", ParamKind::path, true, "", 0, 0, "", "why"},
};

TEST(Params, CompletedFillsFallbacksOfAbsentNamesOnly) {
  Params given;
  given.set("path", "x");
  const Params all = completed(given, kSpecs);
  EXPECT_EQ(all.integer("running"), 1);
  EXPECT_FALSE(all.scalars().contains("device")) << "an empty fallback means: stays absent";

  given.set("running", "255");
  EXPECT_EQ(completed(given, kSpecs).integer("running"), 255);
}

}  // namespace
}  // namespace neap::drivers
