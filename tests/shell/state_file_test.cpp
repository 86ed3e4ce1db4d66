#include "daemon/shell/state_file.h"

#include <gtest/gtest.h>

#include <fstream>
#include <set>

#include "daemon/core/budget.h"
#include "daemon/core/roots.h"
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
  EXPECT_EQ(sizeof(LawMemory), 808u);
  EXPECT_EQ(sizeof(RootsClock), 56u);
  EXPECT_EQ(sizeof(DemandClock), 72u);
  EXPECT_EQ(sizeof(WaterBalance), 24u);
  EXPECT_EQ(sizeof(ProofRecord), 24u);
  EXPECT_EQ(sizeof(Kept) - sizeof(AlarmTable), 3824u);
}

// An update in mid-grow: the file of a version without the roots' clock.
TEST(StateFile, AFileFromBeforeTheRootsClockLoadsWithTheClockNotYetRunning) {
  const std::string whole = to_text(sample());
  std::string older;
  for (std::size_t at = 0; at < whole.size();) {
    const std::size_t end = whole.find('\n', at) + 1;
    const std::string line = whole.substr(at, end - at);
    at = end;
    const bool is_new = line.starts_with("roots.") || line.starts_with("catch_up.") ||
                        line.starts_with("flood.retr") || line.starts_with("slots.ahead") ||
                        line.starts_with("demand.") || line.starts_with("solution.watched");
    if (!is_new) older += line;
  }
  ASSERT_LT(older.size(), whole.size());
  const auto stored = stored_from(older);
  ASSERT_TRUE(stored.has_value());
  EXPECT_FALSE(stored->kept.roots.running);
  EXPECT_FALSE(stored->kept.demand.running);
  EXPECT_EQ(stored->kept.solution_age.watched_from, 0);
  EXPECT_FALSE(stored->kept.catch_up_pending);
  EXPECT_FALSE(stored->kept.flood_pending.retry_pending);
  EXPECT_EQ(stored->kept.slots_done, sample().kept.slots_done);
}

// A save writes one slot, then the other; the second may be torn too, and then the first has what
// was to be saved.
TEST(StateFile, ASaveTornAtAnyByteOfEitherSlotLeavesAWholeOne) {
  const TempDir dir;
  StateFile file(dir / "state", false);
  ASSERT_EQ(file.save(sample(3)), "");
  const std::string before = bytes_of(dir / "state");
  ASSERT_EQ(file.save(sample(50)), "");
  const std::string after = bytes_of(dir / "state");
  ASSERT_EQ(before.size(), after.size());
  const std::size_t length = before.find('\0', 0);
  ASSERT_GT(length, 5000u);
  for (const int slot : {0, 1}) {
    const std::size_t first = static_cast<std::size_t>(slot) * StateFile::kSlotBytes;
    for (const bool other_done : {false, true}) {
      std::string start = before;
      if (other_done) {
        const auto at = static_cast<long>(StateFile::kSlotBytes - first);
        std::copy_n(after.begin() + at, StateFile::kSlotBytes, start.begin() + at);
      }
      // Every byte of the header and of a stretch of the body, then steps: the file is long.
      for (std::size_t cut = 17; cut < length; cut += cut < 100 ? 1 : 97) {
        std::string torn = start;
        std::copy_n(after.begin() + static_cast<long>(first), cut,
                    torn.begin() + static_cast<long>(first));
        std::ofstream(dir / "torn", std::ios::binary | std::ios::trunc) << torn;
        StateFile reader(dir / "torn", false);
        const auto answer = reader.load();
        ASSERT_EQ(answer.found, StateFile::Found::whole) << "cut at " << cut;
        EXPECT_EQ(to_text(*answer.stored), to_text(sample(other_done ? 50 : 3)))
            << "slot " << slot << " cut at " << cut;
      }
    }
  }
}

// What was acknowledged as saved is in both: one that rots on the card takes nothing with it.
TEST(StateFile, ASlotThatRotsAfterASaveCostsNothingAndIsTold) {
  for (const std::size_t slot : {std::size_t{0}, StateFile::kSlotBytes}) {
    const TempDir dir;
    StateFile file(dir / "state", false);
    for (const int seed : {3, 50, 70}) ASSERT_EQ(file.save(sample(seed)), "");
    std::string bytes = bytes_of(dir / "state");
    bytes[slot + 700] = static_cast<char>(bytes[slot + 700] ^ 16);
    std::ofstream(dir / "state", std::ios::binary | std::ios::trunc) << bytes;
    StateFile reader(dir / "state", false);
    const auto answer = reader.load();
    ASSERT_EQ(answer.found, StateFile::Found::whole);
    EXPECT_TRUE(answer.one_damaged);
    EXPECT_EQ(to_text(*answer.stored), to_text(sample(70)));
    ASSERT_EQ(reader.save(sample(70)), "") << "and heals, though nothing changed";
    EXPECT_FALSE(StateFile(dir / "state", false).load().one_damaged);
  }
}

TEST(StateFile, ASaveThatTheCardRefusesIsAnErrorUntilOneIsWhole) {
  const TempDir dir;
  StateFile file(dir / "state", false);
  ASSERT_EQ(file.save(sample(3)), "");
  {
    const FullCard card;
    EXPECT_NE(file.save(sample(50)), "");
    EXPECT_NE(file.save(sample(50)), "") << "the same again is not taken for stored";
  }
  EXPECT_EQ(file.save(sample(50)), "");
  EXPECT_EQ(to_text(*StateFile(dir / "state", false).load().stored), to_text(sample(50)));
}

// One slot newer than the other, and fields not yet known: what a neapd before this one left.
TEST(StateFile, AFileOfAnOlderVersionStillLoads) {
  std::string text = to_text(sample());
  for (const char* field : {"latch.weld ", "latch.state ", "alarm.36.state ", "alarm.38.raised "}) {
    const std::size_t from = text.find(field);
    ASSERT_NE(from, std::string::npos) << field;
    text.erase(from, text.find('\n', from) - from + 1);
  }
  const auto stored = stored_from(text);
  ASSERT_TRUE(stored);
  EXPECT_FALSE(stored->kept.kernel.latched[static_cast<std::size_t>(Latch::pump_welded)]);
  EXPECT_FALSE(stored->kept.kernel.latched[static_cast<std::size_t>(Latch::state_lost)]);
  EXPECT_EQ(stored->kept.budget.run_count, sample().kept.budget.run_count);
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

// The first start was cut off between making the file and writing to it. Nothing was kept before,
// so nothing is lost.
TEST(StateFile, AFileThatWasMadeAndNeverWrittenIsNoState) {
  const TempDir dir;
  std::ofstream(dir / "state", std::ios::binary) << std::string(2 * StateFile::kSlotBytes, '\0');
  StateFile file(dir / "state", true);
  EXPECT_EQ(file.load().found, StateFile::Found::absent);
  EXPECT_TRUE(read_boot(file, {}, false).first_run);
  EXPECT_TRUE(read_boot(file, {}, true).state_lost) << "a manifest or a journal beside it says so";
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
  EXPECT_TRUE(kept.kernel.latched[static_cast<std::size_t>(Latch::state_lost)]);
}

// Found by the campaign: the roots had been dry for days, the state rotted, and their clock began
// at nothing again while the floods were withheld.
TEST(Boot, ALostStateLeavesTheRootsHalfTheirTime) {
  Plan plan;
  const Kept fresh = worst_case(plan, kUglyStart);
  EXPECT_TRUE(fresh.roots.running);
  EXPECT_EQ(fresh.roots.since_tick, tick_ms(kUglyStart));
  EXPECT_EQ(fresh.roots.spent, dry_out(plan.table).count() * 500);
  Kept known;
  known.roots.running = true;
  known.roots.spent = dry_out(plan.table).count() * 900;
  EXPECT_EQ(worst_case(plan, kUglyStart, known).roots.spent, known.roots.spent);
}

// A journal from another machine, or one whose state file refused writes for long: the tick goes on
// after it, and would empty every budget.
TEST(Boot, AStateFarBehindTheJournalCountsAsLostAndKeepsItsLatches) {
  const TempDir dir;
  StateFile file(dir / "state", false);
  ASSERT_EQ(file.save(sample()), "");
  const Instant saved = instant(Millis{4294967000});
  EXPECT_FALSE(read_boot(file, saved + Boot::kStateAge, true).state_lost);
  const Boot boot = read_boot(file, saved + hours{26}, true);
  EXPECT_TRUE(boot.state_lost);
  ASSERT_TRUE(boot.kept);
  Plan plan;
  plan.table.max_on_per_day = hours{3};
  const Kept kept = worst_case(plan, boot.start, *boot.kept);
  PumpBudget budget = kept.budget;
  EXPECT_EQ(view_budget(plan.table, budget, boot.start).day, Millis{hours{3}});
  EXPECT_EQ(kept.kernel.latched[0], sample().kept.kernel.latched[0]);
  EXPECT_EQ(kept.stage_index, sample().kept.stage_index);
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
