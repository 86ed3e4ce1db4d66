// Goal: the command line as a whole: exit codes, messages, JSON, and each verb's request.
#include "daemon/client/cli.h"

#include <algorithm>
#include <fstream>

#include "daemon/client/verbs.h"
#include "daemon/journal/journal.h"
#include "drivers/simulated/faults.h"
#include "tests/client/states.h"
#include "tests/client/support.h"
#include "tests/places.h"

namespace neap::client {
namespace {

using ::testing::AllOf;
using testing::FakeDaemon;
using ::testing::HasSubstr;
using testing::json;
using testing::neap;
using testing::Said;

const std::string kDemo = places::in_project("config/demo.yaml");

TEST(Cli, HelpNamesEveryVerbAndEveryExitCode) {
  const Said said = neap({"--help"});
  EXPECT_EQ(said.code, kExitDone);
  for (const Verb& verb : verbs()) EXPECT_THAT(said.out, HasSubstr(std::string(verb.name)));
  for (const ExitCodeRow& row : kExitCodes)
    EXPECT_THAT(said.out, HasSubstr(std::to_string(row.code) + "  " + std::string(row.meaning)));
}

TEST(Cli, EveryVerbHasHelpWithAnExampleOfItself) {
  for (const Verb& verb : verbs()) {
    const Said said = neap({std::string(verb.name), "--help"});
    EXPECT_EQ(said.code, kExitDone) << verb.name;
    EXPECT_THAT(said.out, HasSubstr("Examples:\n  neap " + std::string(verb.name)));
  }
}

TEST(Cli, NoHelpPageIsWiderThanATerminal) {
  const auto expect_narrow = [](const std::vector<std::string>& words) {
    for (const std::string& line : testing::lines_of(neap(words).out))
      EXPECT_LE(columns(line), kPageWidth) << words.front() << ": " << line;
  };
  expect_narrow({"--help"});
  for (const Verb& verb : verbs()) expect_narrow({std::string(verb.name), "--help"});
}

TEST(Cli, HelpShowsTheWordsAsTheyAreTyped) {
  EXPECT_THAT(neap({"hold", "--help"}).out,
              HasSubstr("Usage: neap hold [OPTIONS] OUTPUT LEVEL [for LENGTH]\n"));
  EXPECT_THAT(neap({"shelve", "--help"}).out, HasSubstr("[OPTIONS] ALARM for LENGTH\n"));
  EXPECT_THAT(neap({"fault", "--help"}).out, HasSubstr("[OPTIONS] [FAULT on|off]\n"));
  for (const Verb& verb : verbs()) {
    const std::string help = neap({std::string(verb.name), "--help"}).out;
    EXPECT_EQ(help.find("x)"), std::string::npos) << help;
    EXPECT_EQ(help.find("REQUIRED"), std::string::npos) << help;
  }
}

TEST(Cli, ExamplesOfFaultsAreFaultsThatASimulatedTentHas) {
  for (const Verb& verb : verbs()) {
    if (verb.name != "fault") continue;
    for (const std::string& line : testing::lines_of(std::string(verb.examples))) {
      const std::string name = line.substr(6, line.find(' ', 6) - 6);
      const auto& known = drivers::simulated::kTentFaults;
      EXPECT_TRUE(name == "list" || std::any_of(known.begin(), known.end(),
                                                [&](const auto& row) { return row.name == name; }))
          << line;
    }
  }
}

TEST(Cli, AWholeNumberIsRefusedWithPlaceValueRuleAndRemedy) {
  EXPECT_EQ(neap({"plan", kDemo, "--days", "abc"}).err,
            "neap: --days is \"abc\", which is no whole number\n  write for instance --days 7\n");
  EXPECT_EQ(neap({"plan", kDemo, "--days", "61"}).err,
            "neap: --days is \"61\", outside 1 to 60\n  write for instance --days 7\n");
  EXPECT_THAT(neap({"plan", kDemo, "--days", "99999999999999999999"}).err,
              HasSubstr("outside 1 to 60"));
  EXPECT_EQ(neap({"plan", kDemo, "--days", "60", "--journal", "/nowhere/j"}).code, kExitDone);
}

TEST(Cli, AMisspeltVerbGetsTheNearestOne) {
  const Said said = neap({"statsu"});
  EXPECT_EQ(said.code, kExitUsage);
  EXPECT_EQ(said.err, "neap: there is no verb \"statsu\"\n  did you mean \"status\"?\n");
}

TEST(Cli, AMissingWordOrAnUnknownOptionIsAUsageError) {
  for (const std::vector<std::string>& words :
       std::vector<std::vector<std::string>>{{"why"},
                                             {"hold"},
                                             {"hold", "pump"},
                                             {"flood", "begin"},
                                             {"status", "--loud"},
                                             {"plan", "--days", "x"},
                                             {"--color", "blue"},
                                             {"ack"},
                                             {"shelve", "spread"},
                                             {"service", "begin", "for", "3h"},
                                             {"fault", "leak_floor"},
                                             {"status", "now"}}) {
    const Said said = neap(words);
    EXPECT_EQ(said.code, kExitUsage) << words.front() << ": " << said.err;
    EXPECT_THAT(said.err, HasSubstr("neap: "));
    EXPECT_EQ(said.out, "");
  }
}

TEST(Cli, WithJsonAnErrorIsAnObjectToo) {
  const Said said = neap({"hold", "pump", "on", "--json"});
  EXPECT_EQ(said.code, kExitUsage);
  const json error = json::parse(said.out)["error"];
  EXPECT_EQ(error["code"], kExitUsage);
  EXPECT_EQ(error["message"], "LEVEL is \"on\", which is no level of the flood pump");
  EXPECT_EQ(error["remedy"], "write stopped or running");
}

struct Request {
  std::vector<std::string> words;
  std::string verb;
  json args;
};

TEST(Cli, EachVerbAsksWhatTheProtocolSays) {
  const std::vector<Request> requests{
      {{"flood", "start"}, "flood", {{"action", "start"}}},
      {{"hold", "fan", "45%", "for", "10m"},
       "hold",
       {{"output", "exhaust_fan"}, {"level", 450}, {"for_s", 600.0}}},
      {{"hold", "light", "stopped"}, "hold", {{"output", "light"}, {"level", 0}}},
      {{"release", "pump"}, "release", {{"output", "pump"}}},
      {{"ack", "all"}, "ack", {{"all", true}}},
      {{"ack", "leak"}, "ack", {{"alarm", "leak"}}},
      {{"shelve", "spread", "for", "2h"}, "shelve", {{"alarm", "spread"}, {"for_s", 7200.0}}},
      {{"reset", "lost-water"}, "reset", {{"latch", "lost-water"}}},
      {{"service", "begin"}, "service", {{"action", "begin"}, {"for_s", 1200.0}}},
      {{"service", "begin", "for", "40m"}, "service", {{"action", "begin"}, {"for_s", 2400.0}}},
      {{"service", "end"}, "service", {{"action", "end"}}},
      {{"stage", "status"}, "stage", {{"name", "status"}}},
      {{"step-test", "fan"}, "step_test", {{"action", "start"}, {"output", "exhaust_fan"}}},
      {{"step-test", "dehumidifier"},
       "step_test",
       {{"action", "start"}, {"output", "dehumidifier"}}},
      {{"step-test", "stop"}, "step_test", {{"action", "stop"}}},
      {{"fault"}, "fault", json::object()},
      {{"fault", "list"}, "fault", json::object()},
      {{"fault", "leak_floor", "on", "--severity", "0.5"},
       "fault",
       {{"fault", "leak_floor"}, {"active", true}, {"severity", 0.5}}},
      {{"why", "pump"}, "why", {{"output", "pump"}}},
      {{"alarms"}, "alarms", json::object()},
      {{"status"}, "status", json::object()},
      {{}, "status", json::object()}};
  for (const Request& request : requests) {
    json seen;
    FakeDaemon daemon([&](const json& asked) {
      seen = asked;
      return FakeDaemon::success(asked, json::object());
    });
    std::vector<std::string> words{"--socket", daemon.path()};
    words.insert(words.end(), request.words.begin(), request.words.end());
    const Said said = neap(words);
    EXPECT_EQ(said.code, kExitDone) << request.verb << said.err;
    EXPECT_EQ(seen["verb"], request.verb);
    EXPECT_EQ(seen["args"], request.args) << request.verb;
  }
}

TEST(Cli, AStepTestSaysHowLongItTakesAndWhatComesOfIt) {
  FakeDaemon daemon([&](const json& asked) {
    return FakeDaemon::success(asked, {{"for_s", 3600}});
  });
  const Said said = neap({"step-test", "dehumidifier", "--socket", daemon.path()});
  EXPECT_EQ(said.code, kExitDone) << said.err;
  EXPECT_THAT(said.out, HasSubstr("The step test of the dehumidifier is under way, for 1 h."));
  for (const std::string& line : testing::lines_of(said.out)) EXPECT_LE(columns(line), kPageWidth);
}

TEST(Cli, AnOutputWithoutAStepTestIsRefusedBeforeTheDaemonIsAsked) {
  const Said said = neap({"step-test", "pump"});
  EXPECT_EQ(said.code, kExitUsage);
  EXPECT_THAT(said.err, ::testing::AllOf(HasSubstr("\"pump\", which has no step test"),
                                         HasSubstr("write: neap step-test fan")));
}

TEST(Cli, AHoldSaysTheLengthThatWasGranted) {
  const auto held = [](const json& result) {
    FakeDaemon daemon([&](const json& asked) { return FakeDaemon::success(asked, result); });
    return neap({"hold", "pump", "running", "--socket", daemon.path()}).out;
  };
  EXPECT_THAT(held({{"for_s", 1500}}), HasSubstr("is held running for 25 min, as far"));
  EXPECT_THAT(held(json::object()), HasSubstr("is held running, as far"));
}

TEST(Cli, ARefusalOfTheDaemonIsPrintedWithItsRemedy) {
  FakeDaemon daemon([](const json& asked) {
    return FakeDaemon::refusal(asked, {{"code", "refused"},
                                       {"message", "the cause persists"},
                                       {"remedy", "dry the probe first"}});
  });
  const Said said = neap({"reset", "leak", "--socket", daemon.path()});
  EXPECT_EQ(said.code, kExitRefused);
  EXPECT_EQ(said.err, "neap: the cause persists\n  dry the probe first\n");
}

TEST(Cli, TheEnvironmentGivesPathsAndTheCommandLineWins) {
  const Said by_variable = neap({"alarms"}, {{"NEAP_SOCKET", "/nowhere/a"}});
  EXPECT_EQ(by_variable.code, kExitNoDaemon);
  EXPECT_THAT(by_variable.err, HasSubstr("no daemon at /nowhere/a"));
  const Said by_option =
      neap({"alarms", "--socket", "/nowhere/b"}, {{"NEAP_SOCKET", "/nowhere/a"}});
  EXPECT_THAT(by_option.err, HasSubstr("no daemon at /nowhere/b"));
}

TEST(Cli, ColourOnlyOnATerminalAndWithoutNoColor) {
  const auto colored = [](const std::vector<std::string>& more,
                          const std::map<std::string, std::string>& variables, bool terminal) {
    std::vector<std::string> words{"--socket", "/nowhere/s", "--journal", "/nowhere/j"};
    words.insert(words.end(), more.begin(), more.end());
    return neap(words, variables, terminal).out.find("\x1b[") != std::string::npos;
  };
  EXPECT_FALSE(colored({}, {}, false));
  EXPECT_TRUE(colored({}, {}, true));
  EXPECT_FALSE(colored({}, {{"NO_COLOR", "1"}}, true));
  EXPECT_TRUE(colored({}, {{"NO_COLOR", ""}}, true));
  EXPECT_TRUE(colored({"--color", "always"}, {{"NO_COLOR", "1"}}, false));
  EXPECT_FALSE(colored({"--color", "never"}, {}, true));
}

TEST(Cli, WithoutADaemonPlainNeapSaysSoFirstAndShowsTheJournal) {
  testing::Directory directory;
  journal::Options options;
  options.path = directory.file("journal.db");
  options.durability = journal::Durability::simulated;
  auto writer = journal::Writer::open(options);
  const Instant start = instant(Millis{4294967000});
  std::ifstream demo(kDemo);
  const std::string text{std::istreambuf_iterator<char>(demo), {}};
  writer->put(journal::ClockEntry{start, {testing::kNoonUnixMs, 7200, TimeQuality::synced}});
  writer->put(journal::SettingsEntry{start, 1, text, true, ""});
  writer->put(journal::ReadingEntry{start, Point::canopy_vpd, 0.7, Quality::good, Fault::none});
  Event latch;
  latch.kind = EventKind::latch_set;
  latch.latch = Latch::leak;
  writer->put(journal::EventEntry{start, latch});
  Event stage;
  stage.kind = EventKind::stage;
  stage.number = 2;
  writer->put(journal::EventEntry{start, stage});
  writer->flush();
  const std::vector<std::string> paths{"--socket", directory.file("none"), "--journal",
                                       options.path};
  const Said brief = neap(paths);
  EXPECT_EQ(brief.code, kExitNoDaemon);
  EXPECT_EQ(testing::lines_of(brief.out)[1], "neapd does not run");
  EXPECT_THAT(brief.out, AllOf(HasSubstr("Last entry 2026-06-01 14:00"),
                               HasSubstr("VPD 0.70 kPa, 0.00 kPa to its low edge"),
                               HasSubstr("Latched: leak")));
  std::vector<std::string> words = paths;
  words.push_back("status");
  EXPECT_THAT(neap(words).out, HasSubstr("Stage flowering, day 1 of 21, light period"));
}

TEST(Cli, WithoutAJournalItsVerbsSaySo) {
  for (const char* verb : {"events", "readings", "chart", "report"}) {
    const Said said = neap({verb, "--journal", "/nowhere/j.db"});
    EXPECT_EQ(said.code, kExitNoJournal) << verb;
    EXPECT_THAT(said.err, HasSubstr("/nowhere/j.db"));
  }
}

TEST(Cli, CheckRendersEveryProblemAndExitsWithOne) {
  EXPECT_EQ(neap({"check", kDemo}).code, kExitDone);
  testing::Directory directory;
  std::ifstream demo(kDemo);
  std::string text{std::istreambuf_iterator<char>(demo), {}};
  text.replace(text.find("altitude: 20 m"), 14, "altitud: 20 m ");
  text.replace(text.find("hysteresis: 25 %"), 16, "hysteresis: 250 %");
  std::ofstream(directory.file("bad.yaml")) << text;
  const Said said = neap({"check", directory.file("bad.yaml")});
  EXPECT_EQ(said.code, kExitRefused);
  EXPECT_THAT(said.err, AllOf(HasSubstr("altitud"), HasSubstr("hysteresis"), HasSubstr("^"),
                              HasSubstr("has 2 problems")));
  const Said as_json = neap({"check", directory.file("bad.yaml"), "--json"});
  EXPECT_EQ(json::parse(as_json.out)["error"]["problems"].size(), 2u);
}

// A heater in a tent whose stages have no band for the water.
TEST(Cli, CheckWarnsOfAHeaterThatNoStageHasABandFor) {
  testing::Directory directory;
  std::ifstream demo(kDemo);
  std::string text{std::istreambuf_iterator<char>(demo), {}};
  const std::string air_pump = "  air_pump:\n    driver: simulated\n";
  text.replace(text.find(air_pump), air_pump.size(),
               air_pump + "  water_heater:\n    driver: simulated\n");
  const std::string band = "      water: 15..24 C";
  text.erase(text.find(band), text.find('\n', text.find(band)) - text.find(band) + 1);
  std::ofstream(directory.file("tent.yaml")) << text;
  const Said said = neap({"check", directory.file("tent.yaml")});
  EXPECT_EQ(said.code, kExitDone);
  EXPECT_THAT(said.out, HasSubstr("Allowed, and hardly meant:\n"
                                  "  water_heater  warning  stays off in stage establishing"));
  EXPECT_THAT(said.out, HasSubstr("-> write for example \"water: 18..22 C\" in the stage"));
  const json advice =
      json::parse(neap({"check", directory.file("tent.yaml"), "--json"}).out)["advice"];
  ASSERT_EQ(advice.size(), 1u);
  EXPECT_EQ(advice[0]["part"], "water_heater");
  EXPECT_EQ(json::parse(neap({"check", kDemo, "--json"}).out)["advice"], json::array());
}

TEST(Cli, CheckTellsHowLongADeadManCircuitMustHold) {
  testing::Directory directory;
  std::ifstream starter(places::in_project("config/starter.yaml"));
  std::string text{std::istreambuf_iterator<char>(starter), {}};
  const std::string pump = "line: GPIO17, active: high}\n";
  text.insert(text.find(pump) + pump.size(),
              "    enable_pulse: {chip: pinctrl-bcm2711, line: GPIO13, period_ms: 250}\n");
  std::ofstream(directory.file("tent.yaml")) << text;
  const Said said = neap({"check", directory.file("tent.yaml")});
  EXPECT_EQ(said.code, kExitDone) << said.err;
  EXPECT_THAT(said.out, HasSubstr("edges of line GPIO13 of pinctrl-bcm2711"));
  EXPECT_THAT(said.out, HasSubstr("750 ms"));
  const std::string below_its_path = said.out.substr(said.out.find('\n') + 1);
  EXPECT_LE(testing::widest(below_its_path), kPageWidth) << said.out;
  const json pulse =
      json::parse(neap({"check", directory.file("tent.yaml"), "--json"}).out)["enable_pulse"];
  EXPECT_EQ(pulse["hold_at_least_ms"], 750);
  EXPECT_TRUE(json::parse(neap({"check", kDemo, "--json"}).out)["enable_pulse"].is_null());
}

TEST(Cli, ApplyChecksFirstAndNamesTheTextItChecked) {
  json seen;
  FakeDaemon daemon([&](const json& asked) {
    seen = asked;
    return FakeDaemon::success(asked, {{"difference", {"climate.hysteresis: 25 % -> 30 %"}}});
  });
  const Said said = neap({"apply", kDemo, "--socket", daemon.path(), "--journal", "/nowhere/j"});
  EXPECT_EQ(said.code, kExitDone) << said.err;
  EXPECT_EQ(said.out, "Applied:\n  climate.hysteresis: 25 % -> 30 %\n");
  EXPECT_EQ(seen["args"]["path"], kDemo);
  EXPECT_EQ(seen["args"]["hash"].get<std::string>().size(), 16u);
  testing::Directory directory;
  std::ofstream(directory.file("bad.yaml")) << "neap: 1\n";
  EXPECT_EQ(neap({"apply", directory.file("bad.yaml"), "--socket", "/nowhere/s"}).code,
            kExitRefused)
      << "a bad file is told without asking the daemon";
}

TEST(Cli, PlanNeedsNeitherDaemonNorJournal) {
  const Said said = neap({"plan", kDemo, "--from", "2026-03-04", "--journal", "/nowhere/j.db"});
  EXPECT_EQ(said.code, kExitDone) << said.err;
  EXPECT_LE(testing::widest(said.out), kPageWidth);
  EXPECT_THAT(said.out,
              AllOf(HasSubstr("Stage establishing, day 3 of 14"),
                    HasSubstr("Wed 2026-03-04: 3 floods, pump about 4 min 30 s"),
                    HasSubstr("  06:45  flood 1, 15.0 L\n"), HasSubstr("  22:00  lights off")));
  const Said as_json = neap({"plan", kDemo, "--from", "2026-03-04T12:00", "--days", "1", "--json",
                             "--journal", "/nowhere/j.db"});
  const json day = json::parse(as_json.out)["days"][0];
  EXPECT_EQ(day["lights_on"], nullptr) << "it is over by noon";
  EXPECT_EQ(day["floods"].size(), 2u);
  EXPECT_EQ(day["floods"][0]["number"], 2);
}

TEST(Cli, MeasureGoesToTheDaemon) {
  json seen;
  FakeDaemon daemon([&](const json& asked) {
    seen = asked;
    return FakeDaemon::success(asked, {{"stored", 2}});
  });
  const Said said =
      neap({"measure", "ph=5.9", "ec=1.6", "--note", "after top-up", "--socket", daemon.path()});
  EXPECT_EQ(said.code, kExitDone) << said.err;
  EXPECT_EQ(seen["args"]["values"], (json{{"ph", 5.9}, {"ec", 1.6}}));
  EXPECT_EQ(seen["args"]["note"], "after top-up");
  EXPECT_EQ(seen["args"]["taken_unix_ms"], testing::kNoonUnixMs);
  EXPECT_LE(seen["args"]["spool_id"].get<std::string>().size(), 64u);
}

TEST(Cli, MeasureWaitsInTheSpoolWhileNoDaemonRuns) {
  testing::Directory directory;
  std::filesystem::create_directory(directory.file("spool"));
  const std::vector<std::string> words{"measure",    "level=62",    "--socket",
                                       "/nowhere/s", "--state-dir", directory.path().string()};
  EXPECT_EQ(neap(words).code, kExitDone);
  EXPECT_EQ(neap(words).code, kExitDone);
  std::vector<std::filesystem::path> files;
  for (const auto& entry : std::filesystem::directory_iterator(directory.file("spool")))
    files.push_back(entry.path());
  ASSERT_EQ(files.size(), 2u) << "each measurement has a file of its own";
  std::ifstream in(files[0]);
  const json kept = json::parse(in);
  EXPECT_EQ(files[0].filename().string(), kept["spool_id"].get<std::string>() + ".json");
  EXPECT_EQ(kept["values"], (json{{"level_l", 62.0}}));
  EXPECT_EQ(kept["taken_unix_ms"], testing::kNoonUnixMs);
}

TEST(Cli, MeasureWithNowhereToWaitIsNotSilentlyLost) {
  const Said said =
      neap({"measure", "ph=5.9", "--socket", "/nowhere/s", "--state-dir", "/nowhere"});
  EXPECT_EQ(said.code, kExitNoDaemon);
  EXPECT_THAT(said.err, HasSubstr("cannot wait in /nowhere/spool"));
}

}  // namespace
}  // namespace neap::client
