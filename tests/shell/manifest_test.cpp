#include "daemon/shell/manifest.h"

#include <gtest/gtest.h>

#include <fstream>

#include "daemon/core/crc32c.h"
#include "daemon/shell/files.h"
#include "tests/shell/support.h"

namespace neap::shell {
namespace {

Manifest sample() {
  Manifest manifest;
  manifest.revision = 7;
  manifest.settings_hash = 0xfeedface12345678ULL;
  ManifestRow pump;
  pump.setup.output = Output::pump;
  pump.setup.driver = "level_file";
  pump.setup.params.set("path", "/tmp/a file %41\nwith all");
  pump.setup.params.set("running", "");
  pump.setup.enable_pulse.emplace().set("line", "GPIO13 %");
  pump.safe = kStopped;
  ManifestRow fan;
  fan.setup.output = Output::exhaust_fan;
  fan.setup.driver = "program";
  fan.setup.params.set_words("command", {"/usr/bin/x", "", "two words"});
  fan.safe = Permille{450};
  manifest.rows = {pump, fan};
  return manifest;
}

TEST(Manifest, ARoundTripKeepsEveryParameterWhateverItsBytes) {
  const auto back = manifest_from(to_text(sample()));
  ASSERT_TRUE(back);
  EXPECT_EQ(back->revision, 7u);
  EXPECT_EQ(back->settings_hash, 0xfeedface12345678ULL);
  EXPECT_TRUE(same_outputs(*back, sample()));
  EXPECT_EQ(back->rows[1].safe, Permille{450});
}

TEST(Manifest, AnotherLineOfTheEnablePulseOrNoneIsAnotherOutput) {
  Manifest other = sample();
  other.rows[0].setup.enable_pulse->set("line", "GPIO14");
  EXPECT_FALSE(same_outputs(other, sample()));
  other.rows[0].setup.enable_pulse.reset();
  EXPECT_FALSE(same_outputs(other, sample()));
}

TEST(Manifest, TornAtAnyByteItIsRefused) {
  const std::string text = to_text(sample());
  for (std::size_t length = 0; length < text.size(); ++length)
    EXPECT_FALSE(manifest_from(text.substr(0, length))) << "cut at " << length;
}

TEST(Manifest, WithAnyBitFlippedItIsRefused) {
  const std::string text = to_text(sample());
  for (std::size_t i = 0; i < text.size(); ++i) {
    std::string spoilt = text;
    spoilt[i] = static_cast<char>(spoilt[i] ^ 1);
    EXPECT_FALSE(manifest_from(spoilt)) << "flipped in byte " << i;
  }
}

TEST(Manifest, OneSpoiltCopyLeavesTheOther) {
  const TempDir dir;
  ASSERT_EQ(save_manifest(dir.path(), sample()), "");
  for (const char* copy : {"outputs.a", "outputs.b"}) {
    ASSERT_EQ(save_manifest(dir.path(), sample()), "");
    std::ofstream(dir / copy, std::ios::trunc) << "neap-manifest 1\n";
    const auto back = load_manifest(dir.path());
    ASSERT_TRUE(back) << copy;
    EXPECT_EQ(back->rows.size(), 2u);
  }
}

TEST(Manifest, OfTwoWholeCopiesTheNewerCounts) {
  const TempDir dir;
  Manifest newer = sample();
  newer.revision = 8;
  newer.rows.pop_back();
  ASSERT_EQ(write_file_atomically(dir / "outputs.a", to_text(sample()), 0640), "");
  ASSERT_EQ(write_file_atomically(dir / "outputs.b", to_text(newer), 0640), "");
  EXPECT_EQ(load_manifest(dir.path())->revision, 8u);
}

TEST(Manifest, SettingsThatOnlyObserveListNothingToDrive) {
  Plan plan;
  drivers::Hardware hardware;
  for (const Output output : {Output::pump, Output::exhaust_fan}) {
    plan.outputs[output].emplace().driven = false;
    hardware.outputs.push_back({output, "level_file", {}});
  }
  EXPECT_TRUE(manifest_of(plan, hardware).rows.empty());
  plan.outputs[Output::exhaust_fan]->driven = true;
  const Manifest manifest = manifest_of(plan, hardware);
  ASSERT_EQ(manifest.rows.size(), 1u);
  EXPECT_EQ(manifest.rows[0].setup.output, Output::exhaust_fan);
}

TEST(Files, TheChecksumIsCrc32c) {
  EXPECT_EQ(crc32c("123456789"), 0xE3069283u);  // check value of CRC-32C, RFC 3720 appendix B.4
}

TEST(Files, TheHashIsFnv1a64) {
  EXPECT_EQ(fnv1a(""), 0xcbf29ce484222325ULL);   // Fowler, Noll, Vo: offset basis
  EXPECT_EQ(fnv1a("a"), 0xaf63dc4c8601ec8cULL);  // published test vector
}

}  // namespace
}  // namespace neap::shell
