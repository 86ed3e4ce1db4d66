#include "daemon/shell/state_file.h"

#include <gtest/gtest.h>

#include <fstream>
#include <set>

#include "daemon/shell/boot.h"
#include "daemon/shell/files.h"
#include "daemon/shell/kept_fields.h"
#include "tests/shell/support.h"

namespace neap::shell {
namespace {

// Sets every field to a value of its own; enums stay within their few values.
struct FillFields {
  int next = 3;
  template <class T>
  void operator()(const std::string&, T& field) {
    ++next;
    if constexpr (std::is_same_v<T, bool>)
      field = next % 2 == 0;
    else if constexpr (std::is_enum_v<T>)
      field = static_cast<T>(next % 3);
    else if constexpr (std::is_floating_point_v<T>)
      field = next + 0.1;
    else
      field = static_cast<T>(next);
  }
};

struct NameFields {
  std::set<std::string> names;
  int count = 0;
  template <class T>
  void operator()(const std::string& name, T&) {
    names.insert(name);
    ++count;
  }
};

Stored sample(int seed = 3) {
  Stored stored;
  FillFields fill{seed};
  visit_kept(fill, stored.kept);
  stored.boot = {4294967000, true, {1, 2, 3, 4}, 4, 99};
  return stored;
}

std::string bytes_of(const std::string& path) { return *read_file(path, 1 << 20); }

TEST(StateFile, EveryFieldComesBackAsItWasWritten) {
  const TempDir dir;
  StateFile out(dir / "state", true);
  ASSERT_EQ(out.save(sample()), "");
  StateFile in(dir / "state", true);
  const auto answer = in.load();
  ASSERT_EQ(answer.found, StateFile::Found::whole);
  EXPECT_EQ(to_text(*answer.stored), to_text(sample()));
  EXPECT_EQ(answer.stored->kept.flood_row.litres_out, sample().kept.flood_row.litres_out);
  EXPECT_EQ(answer.stored->boot.dirty_starts[3], 4);
}

TEST(StateFile, NoTwoFieldsShareAName) {
  Stored stored;
  NameFields names;
  visit_kept(names, stored.kept);
  EXPECT_EQ(static_cast<int>(names.names.size()), names.count);
  EXPECT_GT(names.count, 400);
}

// The visitor must know all of Kept: a field that it forgets would be reset by every restart. A new
// field changes one of these sizes; then kept_fields.h wants a line, and this test the new size.
TEST(StateFile, NoFieldWasAddedToKeptBehindTheVisitorsBack) {
  EXPECT_EQ(sizeof(AlarmRecord), 72u);
  EXPECT_EQ(sizeof(Dwell), 88u);
  EXPECT_EQ(sizeof(PumpRun), 24u);
  EXPECT_EQ(sizeof(PumpBudget), 608u);
  EXPECT_EQ(sizeof(CycleRow), 120u);
  EXPECT_EQ(sizeof(DayTally), 184u);
  EXPECT_EQ(sizeof(LawMemory), 616u);
  EXPECT_EQ(sizeof(Kept) - sizeof(AlarmTable), 2336u);
}

TEST(StateFile, ASaveTornAtAnyByteLeavesTheOneBefore) {
  const TempDir dir;
  StateFile file(dir / "state", false);
  ASSERT_EQ(file.save(sample(3)), "");
  const std::string before = bytes_of(dir / "state");
  ASSERT_EQ(file.save(sample(50)), "");
  const std::string after = bytes_of(dir / "state");
  ASSERT_EQ(before.size(), after.size());
  std::size_t first = 0;
  while (before[first] == after[first]) ++first;
  std::size_t last = after.size();
  while (before[last - 1] == after[last - 1]) --last;
  ASSERT_GT(last - first, 5000u);
  // Every byte of the header and of a stretch of the body, then steps: the file is long.
  for (std::size_t cut = first; cut < last; cut += cut < first + 400 ? 1 : 97) {
    std::string torn = before;
    std::copy(after.begin() + static_cast<long>(first), after.begin() + static_cast<long>(cut),
              torn.begin() + static_cast<long>(first));
    std::ofstream(dir / "torn", std::ios::binary | std::ios::trunc) << torn;
    StateFile reader(dir / "torn", false);
    const auto answer = reader.load();
    ASSERT_EQ(answer.found, StateFile::Found::whole) << "cut at " << cut;
    EXPECT_EQ(to_text(*answer.stored), to_text(sample(3))) << "cut at " << cut;
  }
}

TEST(StateFile, WithBothSlotsSpoiltItSaysSo) {
  const TempDir dir;
  StateFile file(dir / "state", false);
  ASSERT_EQ(file.save(sample(3)), "");
  ASSERT_EQ(file.save(sample(50)), "");
  std::string bytes = bytes_of(dir / "state");
  bytes[100] = static_cast<char>(bytes[100] ^ 4);
  bytes[StateFile::kSlotBytes + 100] = static_cast<char>(bytes[StateFile::kSlotBytes + 100] ^ 4);
  std::ofstream(dir / "state", std::ios::binary | std::ios::trunc) << bytes;
  StateFile reader(dir / "state", false);
  EXPECT_EQ(reader.load().found, StateFile::Found::damaged);
}

TEST(StateFile, WhatIsStoredAlreadyIsNotWrittenAgain) {
  const TempDir dir;
  StateFile file(dir / "state", false);
  ASSERT_EQ(file.save(sample(3)), "");
  const std::string before = bytes_of(dir / "state");
  ASSERT_EQ(file.save(sample(3)), "");
  EXPECT_EQ(bytes_of(dir / "state"), before);
}

TEST(StateFile, AFieldThatAnOlderVersionDidNotKnowStaysAtItsDefault) {
  std::string text = to_text(sample());
  const std::size_t from = text.find("flood.fills ");
  text.erase(from, text.find('\n', from) - from + 1);
  text += "field.of.the.future 12\n";
  const auto stored = stored_from(text);
  ASSERT_TRUE(stored);
  EXPECT_EQ(stored->kept.flood_learnt.fills, 0);
  EXPECT_EQ(stored->kept.flood_learnt.drains, sample().kept.flood_learnt.drains);
}

TEST(StateFile, AValueThatDoesNotFitItsFieldIsNotTakenForAnother) {
  const std::string text = to_text(sample());
  for (const char* bad : {"latch.leak 2", "latch.leak x", "latch.leak ", "stage.index 99999999999",
                          "day.kpa_h_out nan", "day.kpa_h_out 1e999"})
    EXPECT_FALSE(stored_from(std::string(bad) + "\n" + text)) << bad;
}

TEST(Boot, TheTickGoesOnAfterWhateverWasLaterOfStateAndJournal) {
  const TempDir dir;
  StateFile file(dir / "state", false);
  ASSERT_EQ(file.save(sample()), "");
  EXPECT_EQ(tick_ms(read_boot(file, instant(Millis{5}), true).start), 4294967001);
  EXPECT_EQ(tick_ms(read_boot(file, instant(Millis{4294968000}), true).start), 4294968001);
}

TEST(Boot, AMissingStateIsAFirstRunOnlyWhereNothingRanBefore) {
  const TempDir dir;
  StateFile file(dir / "state", false);
  EXPECT_TRUE(read_boot(file, {}, false).first_run);
  EXPECT_FALSE(read_boot(file, {}, false).state_lost);
  EXPECT_TRUE(read_boot(file, {}, true).state_lost);
}

TEST(Boot, ALostStateCountsAsADayOfPumpTimeSpent) {
  Plan plan;
  plan.table.max_on_per_day = hours{3};
  const Kept kept = worst_case(plan, kUglyStart);
  std::int64_t spent = 0;
  for (const std::int64_t ms : kept.budget.hour_ms) spent += ms;
  EXPECT_EQ(spent, Millis{hours{3}}.count());
}

// Three starts in ten minutes without a proper stop: half an hour of safe mode; a proper stop in
// between ends the count.
TEST(Boot, ACrashLoopEndsInSafeModeAndAProperStopInNone) {
  for (const bool proper : {false, true}) {
    const TempDir dir;
    StateFile file(dir / "state", false);
    BootRecord record;
    for (int start = 0; start < 4; ++start) {
      Boot boot = read_boot(file, {}, start > 0);
      record = boot.record;
      record.last_tick += 60'000;
      record.clean_stop = proper && start == 2;
      ASSERT_EQ(file.save({{}, record}), "");
    }
    EXPECT_EQ(record.safe_mode_until > record.last_tick, !proper);
  }
}

TEST(Boot, CrashesThatAreFarApartAreNoLoop) {
  const TempDir dir;
  StateFile file(dir / "state", false);
  BootRecord record;
  for (int start = 0; start < 6; ++start) {
    record = read_boot(file, {}, start > 0).record;
    record.last_tick += Millis{minutes{11}}.count();
    ASSERT_EQ(file.save({{}, record}), "");
  }
  EXPECT_EQ(record.safe_mode_until, 0);
}

}  // namespace
}  // namespace neap::shell
