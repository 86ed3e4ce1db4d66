// Goal: from a journal and two clocks to what hooks are told, over nights, outages, restarts, full
// disks and journals that are gone. Method: a journal as neapd leaves it, hooks that note what they
// get; no time passes.
#include "tests/client/teller_bench.h"

namespace neap::client {
namespace {

using testing::Directory;
using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using testing::json;
using testing::kHour;
using testing::kMinute;
using ::testing::SizeIs;
using ::testing::StartsWith;
using testing::TellerTest;

TEST_F(TellerTest, AnAlarmIsToldOnceAndSoIsItsEnd) {
  EXPECT_THAT(look(), IsEmpty());
  pass(kMinute);
  raise(Alarm::reservoir_low);
  EXPECT_THAT(look(), ElementsAre(HasSubstr("Reservoir low\n  do: top up the reservoir")));
  pass(kMinute);
  lives();
  EXPECT_THAT(look(), IsEmpty());
  pass(kMinute);
  end(Alarm::reservoir_low);
  EXPECT_THAT(look(), ElementsAre(HasSubstr("over at 14:03: reservoir low")));
}

TEST_F(TellerTest, WhatStandsWhenTheTellingBeginsIsToldAndHistoryIsNot) {
  raise(Alarm::canopy_lost);
  end(Alarm::canopy_lost);
  raise(Alarm::reservoir_low);
  EXPECT_THAT(look(), ElementsAre(HasSubstr("Reservoir low; stands since 14:00")));
}

TEST_F(TellerTest, ARestartOfTheTellingRepeatsAndLosesNothing) {
  look();
  pass(kMinute);
  raise(Alarm::reservoir_low);
  why_ = "exit code 1";
  EXPECT_THAT(look(), SizeIs(1));
  teller_.reset();
  raise(Alarm::bucket_full);
  teller();
  pass(kMinute);
  why_.clear();
  EXPECT_THAT(look(), ElementsAre(::testing::AllOf(HasSubstr("Reservoir low"),
                                                   HasSubstr(info(Alarm::bucket_full).remedy))));
  teller_.reset();
  pass(kMinute);
  lives();
  EXPECT_THAT(look(), IsEmpty());
}

TEST_F(TellerTest, AtNightOnlyWhatWakesPeopleAndTheRestInOneMessageInTheMorning) {
  look();
  pass(9 * kHour);  // 23:00
  lives();
  raise(Alarm::reservoir_low);
  raise(Alarm::canopy_lost);
  EXPECT_THAT(look(), IsEmpty());
  pass(kHour);
  lives();
  raise(Alarm::leak);
  EXPECT_THAT(look(), ElementsAre(HasSubstr("Water at a leak probe")));
  alarm(Alarm::leak, AlarmState::unacknowledged, AlarmState::acknowledged);
  pass(7 * kHour + kMinute);  // 07:01
  lives();
  EXPECT_THAT(look(), ElementsAre(::testing::AllOf(HasSubstr("Reservoir low"),
                                                   HasSubstr("No canopy reading"))));
}

TEST_F(TellerTest, WhileFloodsAreHeldTheTextSaysHowLongTheRootsHave) {
  look();
  pass(kMinute);
  status_ = {{"latches", {{{"latch", "leak"}}}},
             {"flood", {{"roots", {{"reason", {{"text", "roots safe until about 19:40"}}}}}}}};
  raise(Alarm::leak);
  EXPECT_THAT(look(), ElementsAre(HasSubstr("; roots safe until about 19:40")));
}

TEST_F(TellerTest, AnAlarmThatNobodyAcknowledgesIsToldAgainEachHour) {
  look();
  pass(kMinute);
  raise(Alarm::leak);
  EXPECT_THAT(look(), SizeIs(1));
  pass(kHour - 1);
  lives();
  EXPECT_THAT(look(), IsEmpty());
  pass(1);
  EXPECT_THAT(look(), ElementsAre(HasSubstr("stands since 14:01")));
  alarm(Alarm::leak, AlarmState::unacknowledged, AlarmState::acknowledged);
  pass(2 * kHour);
  lives();
  EXPECT_THAT(look(), IsEmpty());
}

TEST_F(TellerTest, ASilentNeapdIsTheNewsAtAnyHourAndStopsTheHeartbeats) {
  see_it_write();
  EXPECT_THAT(of_kind("heartbeat"), SizeIs(1));
  pass(10 * kHour);  // midnight
  lives();
  look();
  pass(6 * kMinute);
  EXPECT_THAT(look(), ElementsAre(HasSubstr("neapd has not written since 00:00\n  do: ")));
  pass(kHour);
  EXPECT_THAT(look(), IsEmpty());
  EXPECT_THAT(of_kind("heartbeat"), IsEmpty());
  pass(8 * kHour);
  lives();
  EXPECT_THAT(look(), ElementsAre(HasSubstr("neapd writes again")));
  EXPECT_THAT(of_kind("heartbeat"), SizeIs(1));
}

TEST_F(TellerTest, OverAJournalThatStandsStillNoHeartbeatSaysThatAllIsWell) {
  for (int start = 0; start < 3; ++start) {  // of a telling that dies again and again
    teller_.reset();
    for (int i = 0; i < 3; ++i) {
      look();
      EXPECT_THAT(of_kind("heartbeat"), IsEmpty());
      pass(10'000);
    }
  }
}

TEST_F(TellerTest, ATroubleOfSettingsThatWereMendedIsForgottenAtTheStart) {
  look();
  settings("telling: {hooks: nonsense}\n");
  pass(kMinute);
  look();
  ASSERT_NE(teller().memory().trouble, "");
  teller_.reset();
  settings(testing::kTelling);
  look();
  EXPECT_EQ(teller().memory().trouble, "");
}

TEST_F(TellerTest, AfterAnOutageItSaysWhatWasMissedOnceThatIsCaughtUp) {
  look();
  teller_.reset();  // the whole board was out; the tick stands, the wall clock goes on
  now_.unix_ms += 3 * kHour + 30 * kMinute;
  now_.steady_ms += 1000;
  boot(0, false);
  journal::EventEntry skipped{tick(), {}};
  skipped.event.kind = EventKind::slot_skipped;
  skipped.event.slot = {20'000, 2};
  skipped.event.because = because(Reason::flood_missed);
  writer_->put(skipped);
  lives();
  EXPECT_THAT(look(), IsEmpty()) << "not yet: it may be caught up";
  pass(20 * kMinute);
  lives();
  EXPECT_THAT(look(), IsEmpty());
  journal::EventEntry closed{tick(), {}};
  closed.event.kind = EventKind::cycle_closed;
  closed.event.cycle.started_tick = tick_ms(tick());
  closed.event.cycle.slot = {20'000, 2};
  closed.event.cycle.origin = FloodOrigin::catch_up;
  closed.event.cycle.outcome = FloodOutcome::complete;
  writer_->put(closed);
  lives();
  EXPECT_THAT(look(), ElementsAre(HasSubstr(
                          "out 14:00-17:30 (power or crash), one flood missed, caught up 17:50")));
  pass(10 * kMinute);
  lives();
  EXPECT_THAT(look(), IsEmpty());
  ASSERT_THAT(of_kind("heartbeat"), SizeIs(1));
  EXPECT_THAT(of_kind("heartbeat")[0]["recap"].get<std::string>(), StartsWith("out 14:00-17:30"));
}

TEST_F(TellerTest, TheLineOfTheDayComesOnceADayWhateverTheClockDoes) {
  look();
  EXPECT_THAT(of_kind("daily"), SizeIs(1)) << "the first look proves that the way works";
  const auto lines_after = [&](std::int64_t wall_ms) {
    now_.unix_ms += wall_ms;
    now_.steady_ms += kMinute;
    lives();
    look();
    return of_kind("daily").size();
  };
  EXPECT_EQ(lines_after(-kHour), 0U);
  EXPECT_EQ(lines_after(365 * 24 * kHour), 1U);
  EXPECT_EQ(lines_after(-365 * 24 * kHour), 1U) << "back from a year ahead: not a year of silence";
  EXPECT_EQ(lines_after(kMinute), 0U);
  EXPECT_EQ(lines_after(24 * kHour), 1U);
}

TEST_F(TellerTest, AHeartbeatSaysWhatNeapdSaysOrWhatTheJournalKnows) {
  see_it_write();
  EXPECT_EQ(of_kind("heartbeat").at(0)["verdict"], "No alarm stands");
  raise(Alarm::fan_dead);
  pass(10 * kMinute);
  lives();
  look();
  const json beat = of_kind("heartbeat").at(0);
  EXPECT_EQ(beat["ok"], false);
  EXPECT_EQ(beat["worst"], info(Alarm::fan_dead).name);
  status_ = {{"verdict", {{"ok", true}, {"text", "all is well"}}},
             {"next_event", {{"text", "flood 3"}, {"in_s", 4800}}}};
  pass(10 * kMinute);
  lives();
  look();
  EXPECT_EQ(of_kind("heartbeat").at(0)["verdict"], "All is well");
  EXPECT_EQ(of_kind("heartbeat").at(0)["next"], "flood 3 in 1 h 20 min");
}

TEST_F(TellerTest, AHookThatFailsIsRaisedThroughTheOthersAndWhereAPersonLooks) {
  settings(R"(telling:
  hooks:
    - {name: mail, command: [/bin/true]}
    - {name: pager, command: [/bin/true], from: high, daily: false}
)");
  std::vector<std::string> pager;
  TellWorld world{[this] { return now_; },
                  [&](const settings::Hook& hook, const std::string& told) {
                    if (hook.name == "mail") return HookEnd{false, "exit code 6: no host", {}};
                    pager.push_back(json::parse(told)["text"]);
                    return HookEnd{true, {}, {}};
                  },
                  []() -> json { throw Failure(kExitNoDaemon, "none", ""); }};
  Teller teller(globals_, world, log_);
  for (int i = 0; i < 12; ++i) {
    teller.look();
    pass(30'000);
    lives();
  }
  ASSERT_FALSE(pager.empty());
  EXPECT_THAT(pager.back(), HasSubstr("hook mail does not tell: exit code 6: no host"));
  EXPECT_THAT(log_.str(), HasSubstr("hook mail: exit code 6: no host"));
  const auto said =
      testing::neap({"status", "--socket", "/nowhere/s", "--journal", globals_.journal,
                     "--settings", globals_.settings, "--tell-dir", globals_.tell_dir},
                    {}, false, {}, [this] { return now_.unix_ms; });
  EXPECT_THAT(said.out, HasSubstr("hook mail fails since 06-01 14:00"));
}

TEST_F(TellerTest, ATellingThatStandsStillIsSeenWhereAPersonLooks) {
  const auto status = [this] {
    return testing::neap({"--socket", "/nowhere/s", "--journal", globals_.journal, "--settings",
                          globals_.settings, "--tell-dir", globals_.tell_dir},
                         {}, false, {}, [this] { return now_.unix_ms; })
        .out;
  };
  EXPECT_THAT(status(), HasSubstr("nobody is told"));
  look();
  EXPECT_THAT(status(), ::testing::Not(HasSubstr("nobody is told")));
  pass(11 * kMinute);
  EXPECT_THAT(status(), HasSubstr("nobody is told since 06-01 14:00"));
}

TEST_F(TellerTest, AFullDiskKeepsNothingFromBeingTold) {
  look();
  pass(kMinute);
  globals_.tell_dir = "/nowhere";
  raise(Alarm::leak);
  EXPECT_THAT(look(), SizeIs(1));
  EXPECT_THAT(log_.str(), HasSubstr("/nowhere/telling.json: "));
  pass(kMinute);
  lives();
  EXPECT_THAT(look(), IsEmpty()) << "nor is it told twice";
}

TEST_F(TellerTest, AJournalThatIsGoneIsToldAfterFiveMinutes) {
  look();
  writer_.reset();
  for (const char* file : {"journal.db", "journal.db-wal", "journal.db-shm"})
    std::filesystem::remove(folder_.file(file));
  EXPECT_THAT(look(), IsEmpty());
  pass(6 * kMinute);
  EXPECT_THAT(look(), ElementsAre(HasSubstr("the journal cannot be read: ")));
}

TEST_F(TellerTest, AJournalThatIsNoneIsToldAndNothingEndsByIt) {
  look();
  writer_.reset();
  std::ofstream(globals_.journal) << std::string(8192, 'x');
  pass(6 * kMinute);
  EXPECT_THAT(look(), ElementsAre(HasSubstr("the journal cannot be read: ")));
}

TEST_F(TellerTest, ANewJournalWithLowerNumbersIsReadFromItsBeginning) {
  look();
  for (int i = 0; i < 4; ++i) raise(Alarm::spread), end(Alarm::spread);
  pass(kMinute);
  look();
  writer_.reset();
  for (const char* file : {"journal.db", "journal.db-wal", "journal.db-shm"})
    std::filesystem::remove(folder_.file(file));
  journal::Options options;
  options.path = globals_.journal;
  options.durability = journal::Durability::simulated;
  writer_ = journal::Writer::open(options);
  boot(0, false);
  raise(Alarm::canopy_lost);
  pass(kMinute);
  lives();
  EXPECT_THAT(look(), ElementsAre(HasSubstr("No canopy reading; stands since")));
  pass(kMinute);
  raise(Alarm::bucket_full);
  EXPECT_THAT(look(), SizeIs(1));
}

TEST_F(TellerTest, SettingsThatBecomeWrongLeaveTheOldOnesAndAreSaid) {
  look();
  pass(kMinute);
  settings("telling:\n  hooks: none\n");
  raise(Alarm::leak);
  EXPECT_THAT(look(), SizeIs(1));
  EXPECT_THAT(teller().memory().trouble, HasSubstr("what it said before counts"));
  settings("telling:\n  hooks:\n    - {name: other, command: [/bin/true]}\n");
  pass(kMinute);
  raise(Alarm::tray_overflow);
  look();
  EXPECT_EQ(got_.at(0).hook, "other");
  EXPECT_EQ(teller().memory().trouble, "");
}

TEST_F(TellerTest, SettingsWithoutTellingAreRefusedWithARemedy) {
  settings("");
  try {
    teller();
    FAIL();
  } catch (const Failure& failure) {
    EXPECT_THAT(failure.what(), HasSubstr("has no group \"telling\""));
    EXPECT_THAT(failure.remedy(), HasSubstr("config/telling.md"));
  }
}

TEST_F(TellerTest, TheMetricsAreWrittenWholeAndOnceAMinute) {
  const std::string path = folder_.file("neap.prom");
  settings("telling:\n  metrics: " + path +
           "\n  hooks:\n    - {name: mail, command: [/bin/true]}\n");
  const auto text = [&] {
    std::ifstream in(path);
    return std::string{std::istreambuf_iterator<char>(in), {}};
  };
  look();
  EXPECT_THAT(text(), HasSubstr("says=\"dry\"} 1\n"));
  EXPECT_THAT(text(), ::testing::EndsWith("# EOF\n"));
  std::filesystem::remove(path);
  pass(kMinute - 1);
  look();
  EXPECT_EQ(text(), "");
  pass(1);
  look();
  EXPECT_THAT(text(), HasSubstr("neap_writes{"));
  pass(6 * kMinute);
  look();
  EXPECT_THAT(text(), HasSubstr("} 0\n")) << "neapd is silent";
}

TEST_F(TellerTest, TheManualsExampleIsReadAsItStands) {
  std::ifstream in(places::in_project("config/telling.md"));
  const std::string manual{std::istreambuf_iterator<char>(in), {}};
  const std::size_t from = manual.find("```yaml\n") + 8;
  settings(manual.substr(from, manual.find("```", from) - from));
  teller();
  ASSERT_THAT(teller().memory().boxes, SizeIs(3));
  EXPECT_EQ(teller().memory().boxes[2].hook, "watcher");
}

TEST_F(TellerTest, SettingsThatEveryUserMayWriteStartNobodysPrograms) {
  ::chmod(globals_.settings.c_str(), 0666);
  EXPECT_THROW(teller(), Failure);
}

}  // namespace
}  // namespace neap::client
