#include "daemon/journal/schema.h"
#include "tests/journal/support.h"

namespace neap::journal::testing {
namespace {

constexpr Migration kSteps[] = {
    {1, "CREATE TABLE a (x INTEGER) STRICT; INSERT INTO a VALUES (5);"},
    {2, "ALTER TABLE a ADD COLUMN y INTEGER; UPDATE a SET y = x * 2;"},
    {3, "CREATE VIEW v AS SELECT x + y AS sum FROM a;"},
};
constexpr Migration kBroken[] = {
    kSteps[0],
    {2, "INSERT INTO a VALUES (6); INSERT INTO nowhere VALUES (1);"},
};

class Migrations : public ::testing::Test {
 protected:
  Migrations() {
    sqlite3* raw = nullptr;
    sqlite3_open(":memory:", &raw);
    db_.reset(raw);
  }
  std::int64_t integer(const char* sql) { return query_integer(db_.get(), sql).value_or(-1); }
  Database db_;
};

TEST_F(Migrations, EachStepIsTakenOnceAndInOrder) {
  EXPECT_EQ(identify(db_.get(), kSteps).kind, Kind::empty);
  ASSERT_EQ(migrate(db_.get(), 0, std::span(kSteps).first(1)), SQLITE_OK);
  EXPECT_EQ(identify(db_.get(), kSteps).kind, Kind::journal);
  EXPECT_EQ(identify(db_.get(), kSteps).version, 1);
  ASSERT_EQ(migrate(db_.get(), 1, kSteps), SQLITE_OK);
  EXPECT_EQ(identify(db_.get(), kSteps).version, 3);
  EXPECT_EQ(integer("SELECT sum FROM v"), 15);
  EXPECT_EQ(integer("SELECT count(*) FROM a"), 1);
}

TEST_F(Migrations, AStepThatFailsHalfwayLeavesNothingOfItself) {
  EXPECT_NE(migrate(db_.get(), 0, kBroken), SQLITE_OK);
  EXPECT_EQ(identify(db_.get(), kSteps).version, 1);
  EXPECT_EQ(integer("SELECT count(*) FROM a"), 1);
}

TEST_F(Migrations, AFileOfALaterProgramIsNewer) {
  ASSERT_EQ(migrate(db_.get(), 0, kSteps), SQLITE_OK);
  EXPECT_EQ(identify(db_.get(), std::span(kSteps).first(2)).kind, Kind::newer);
}

TEST_F(Migrations, TheProgramsOwnStepsRunFromOneWithoutAGap) {
  int expected = 0;
  for (const Migration& step : migrations()) EXPECT_EQ(step.version, ++expected);
  EXPECT_GE(expected, 2);
  ASSERT_EQ(migrate(db_.get(), 0), SQLITE_OK) << sqlite3_errmsg(db_.get());
  ASSERT_EQ(refill_lookups(db_.get()), SQLITE_OK) << sqlite3_errmsg(db_.get());
  ASSERT_EQ(refill_lookups(db_.get()), SQLITE_OK) << "again, as at every start";
}

TEST(MigrationsOnDisk, AJournalOfTheFirstVersionIsBroughtUpAndKeepsItsRows) {
  const Directory here;
  {
    sqlite3* raw = nullptr;
    sqlite3_open(here.file().c_str(), &raw);
    const Database db(raw);
    ASSERT_EQ(migrate(raw, 0, migrations().first(1)), SQLITE_OK);
    ASSERT_EQ(execute(raw,
                      "INSERT INTO event (number, tick, kind, reason, value) "
                      "VALUES (1, 4294967000, 9, 0, 3)"),
              SQLITE_OK);
  }
  const auto writer = Writer::open(options_for(here.file()));
  writer->put(numbered_event(1, 4));
  writer->flush();
  EXPECT_FALSE(writer->trouble()) << writer->trouble_text();
  EXPECT_EQ(Shell(here.file()).rows("SELECT number, event, detail FROM v_events"),
            (std::vector<std::string>{"1|stage|number 4", "2|stage|number 5"}));
}

}  // namespace
}  // namespace neap::journal::testing
