// Goal: a copy of a journal is whole, readable by itself, and never half there.
#include "daemon/journal/archive.h"

#include <fstream>

#include "daemon/journal/reader.h"
#include "tests/journal/support.h"

namespace neap::journal::testing {
namespace {

TEST(Archive, ACopyTakenWhileTheDaemonWritesHasAllThatWasThereAndReadsByItself) {
  const Directory here;
  const auto writer = Writer::open(options_for(here.file()));
  writer->put(boot(0));
  for (int i = 1; i <= 50; ++i) {
    writer->put(numbered_event(i * 1000, i));
    writer->put(reading(i * 1000, Point::canopy_temperature, 20 + i * 0.1));
  }
  writer->flush();
  const std::string copy = here.path() / "copy.db";
  std::string error;
  const auto archived = archive(here.file(), copy, error);
  ASSERT_TRUE(archived) << error;
  EXPECT_EQ(archived->events, 50);
  EXPECT_EQ(archived->readings, 50);
  EXPECT_FALSE(std::filesystem::exists(copy + "-wal"));
  writer->put(numbered_event(60'000, 60));
  writer->flush();
  EXPECT_FALSE(writer->trouble()) << writer->trouble_text();
  const auto reader = Reader::open(copy, error);
  ASSERT_TRUE(reader) << error;
  EXPECT_EQ(reader->events({}, {}, 100).size(), 50u);
  EXPECT_EQ(reader->readings(Point::canopy_temperature, {}, 0, 100).back().value, 25.0);
}

TEST(Archive, AFileThatIsThereIsNotWrittenOver) {
  const Directory here;
  Writer::open(options_for(here.file()))->flush();
  const std::string copy = here.path() / "copy.db";
  std::ofstream(copy) << "mine";
  std::string error;
  EXPECT_FALSE(archive(here.file(), copy, error));
  EXPECT_EQ(error, copy + " exists");
  EXPECT_EQ(std::filesystem::file_size(copy), 4u);
}

TEST(Archive, WhatDidNotSucceedLeavesNothingBehind) {
  const Directory here;
  const auto writer = Writer::open(options_for(here.file()));
  writer->flush();
  std::string error;
  EXPECT_FALSE(archive(here.file(), (here.path() / "nowhere/copy.db").string(), error));
  EXPECT_NE(error.find("did not succeed"), std::string::npos) << error;
  EXPECT_FALSE(archive((here.path() / "none.db").string(), here.path() / "copy.db", error));
  EXPECT_NE(error.find("there is no journal"), std::string::npos) << error;
  EXPECT_FALSE(std::filesystem::exists(here.path() / "copy.db"));
  EXPECT_FALSE(std::filesystem::exists(here.path() / "copy.db.part"));
}

TEST(Archive, AJournalWithADamagedPageIsNotTakenForGood) {
  const Directory here;
  {
    const auto writer = Writer::open(options_for(here.file()));
    for (int i = 1; i <= 3000; ++i) writer->put(reading(i, Point::canopy_temperature, i * 0.01));
  }
  Shell(here.file()).rows("PRAGMA wal_checkpoint(TRUNCATE)");
  std::fstream file(here.file(), std::ios::in | std::ios::out | std::ios::binary);
  file.seekp(-4096 + 200, std::ios::end);
  file << std::string(1000, '\x5a');
  file.seekp(-4096, std::ios::end);
  file << std::string(16, '\x5a');
  file.close();
  std::string error;
  EXPECT_FALSE(archive(here.file(), here.path() / "copy.db", error));
  EXPECT_FALSE(std::filesystem::exists(here.path() / "copy.db")) << error;
}

}  // namespace
}  // namespace neap::journal::testing
