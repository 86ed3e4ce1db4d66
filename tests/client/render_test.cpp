// Goal: the long texts say what matters, in plain sentences, within 80 columns.
#include "daemon/client/render.h"

#include "tests/client/states.h"
#include "tests/client/support.h"

namespace neap::client {
namespace {

using ::testing::Contains;
using ::testing::HasSubstr;
using testing::lines_of;
using testing::widest;

TEST(Status, OfATentWhereAllIsWell) {
  EXPECT_EQ(render_status(testing::all_well(), Look{}),
            "box-room, 2026-06-01 14:00:00\n"
            "All is well\n"
            "VPD 0.82 kPa, 0.12 kPa to its low edge\n"
            "Wanted air VPD 0.70 to 1.10 kPa, air 10.0 C to 28.0 C, humidity to 85 %\n"
            "Stage flowering, day 12 of 21, light period\n"
            "No flood under way; flood 3 in 1 h 20 min, at 15:20 (moved by quiet hours)\n"
            "Pump ran 0 s of 40 min this hour, 21 min of 3 h in 24 h\n"
            "Next: flood 3 in 1 h 20 min\n"
            "\n"
            "output       level    because\n"
            "pump         stopped  no flood under way\n"
            "exhaust_fan  45 %     VPD 0.82 kPa, low in the band 0.70 to 1.10, which is a\n"
            "                      long reason\n"
            "\n"
            "point                reading\n"
            "canopy.temperature    24.1 C\n"
            "room.temperature           -  no answer\n"
            "reservoir.level       41.2 L\n"
            "canopy.vpd          0.82 kPa\n");
}

TEST(Status, SaysWhatWasMeasuredByHandAndHowLongAgo) {
  nlohmann::json status = testing::all_well();
  status["by_hand"] = {
      {{"quantity", "ph"}, {"value", 5.9}, {"age_s", 7200.0}, {"in_force", true}},
      {{"quantity", "ec"}, {"value", 1.6}, {"age_s", 345600.0}, {"in_force", false}},
      {{"quantity", "level"}, {"value", 38.0}, {"age_s", nullptr}, {"in_force", false}}};
  EXPECT_THAT(render_status(status, Look{}),
              HasSubstr("\n\nBy hand: pH 5.90, 2 h ago; EC 1.60 mS/cm, 4 d ago and too old to go "
                        "by; level\n  38.0 L, of a day not known\n"));
}

TEST(Status, SaysWhyTheNextFloodIsWithheld) {
  nlohmann::json status = testing::all_well();
  status["flood"]["withheld"] = {{"text", "reservoir low"}};
  EXPECT_THAT(render_status(status, Look{}),
              ::testing::AllOf(HasSubstr("(moved by quiet hours);\n  withheld: reservoir low\n"),
                               HasSubstr("\nNext: flood 3 (withheld)\n")));
}

TEST(Status, SaysUntilWhenTheRootsAreSafe) {
  nlohmann::json status = testing::all_well();
  status["flood"]["roots"] = {{"in_want", true},
                              {"reason", {{"text", "roots safe until about 19:40; more"}}}};
  EXPECT_THAT(render_status(status, Look{}), HasSubstr("\nRoots safe until about 19:40; more\n"));
}

TEST(Why, ThePumpSaysUntilWhenTheRootsAreSafe) {
  nlohmann::json why = {{"title", "pump"}, {"word", "stopped"}, {"reason", {{"text", "held"}}}};
  why["roots"] = {{"reason", {{"text", "roots safe until about 19:40"}}}};
  EXPECT_THAT(render_why(why, Look{}), HasSubstr("Roots safe until about 19:40.\n"));
}

TEST(Status, SaysWhatAFloodByDemandWaitsFor) {
  nlohmann::json status = testing::all_well();
  nlohmann::json& demand = status["flood"]["demand"];
  demand = {{"used_kpa_h", 1.94},
            {"amount_kpa_h", 3.0},
            {"expected_second", 51600},
            {"latest_second", 57600},
            {"blind", false}};
  EXPECT_THAT(render_status(status, Look{}),
              ::testing::AllOf(HasSubstr(", about 15:20 (moved"),
                               HasSubstr("\nBy demand: 1.9 of 3.0 kPa h; the next flood about "
                                         "14:20, by 16:00 at the latest\n")));
  demand["expected_second"] = 57600;
  demand["blind"] = true;
  EXPECT_THAT(render_status(status, Look{}),
              HasSubstr("\nBy demand: VPD not known; the next flood at 16:00, the latest\n"));
  nlohmann::json why = {{"title", "pump"}, {"word", "stopped"}, {"reason", {{"text", "held"}}}};
  why["demand"] = demand;
  EXPECT_THAT(render_why(why, Look{}), HasSubstr("the next flood at 16:00, the latest.\n"));
}

TEST(Status, FitsEightyColumnsInEveryState) {
  for (const auto& status : {testing::all_well(), testing::flood_running(), testing::leak_latched(),
                             testing::sensor_lost(), testing::infeasible(), testing::daemon_down()})
    EXPECT_LE(widest(render_status(status, Look{})), kPageWidth);
}

TEST(Status, SaysWhatIsLatchedHeldAndHeldBack) {
  nlohmann::json status = testing::leak_latched();
  status["holds"] = {{{"output", "light"}, {"word", "stopped"}, {"left_s", 90}}};
  EXPECT_THAT(lines_of(render_status(status, Look{})),
              ::testing::AllOf(Contains("Latched: leak; when its cause is gone, neap reset leak"),
                               Contains("Held: light stopped, 1 min 30 s left")));
}

TEST(Status, SaysHowFarAStepTestIs) {
  nlohmann::json status = testing::all_well();
  status["step_test"] = {
      {"output", "dehumidifier"}, {"title", "dehumidifier"}, {"step", 2}, {"steps", 4},
      {"step_left_s", 90},        {"left_s", 1890}};
  EXPECT_THAT(render_status(status, Look{}),
              HasSubstr("\nStep test of the dehumidifier: step 2 of 4, 31 min 30 s left\n"));
  status["step_test"] = nullptr;
  EXPECT_THAT(render_status(status, Look{}), ::testing::Not(HasSubstr("Step test")));
}

TEST(Status, SaysOnceWhatHoldsTheBandBack) {
  nlohmann::json status = testing::infeasible();
  const std::string held = "Held back: " + status["diagnosis"]["text"].get<std::string>();
  EXPECT_THAT(lines_of(render_status(status, Look{})), ::testing::Not(Contains(held)))
      << "the verdict says it already";
  status["verdict"]["text"] = "stage change due";
  status["cures"] = {{{"text", "a room 2.0 K warmer"}}, {{"text", "another"}}};
  EXPECT_THAT(lines_of(render_status(status, Look{})),
              ::testing::AllOf(Contains(held),
                               Contains("Would do as well: a room 2.0 K warmer, or another")));
}

TEST(Status, InUsUnitsShowsLimitsInFahrenheit) {
  Look look;
  look.style.metric = false;
  EXPECT_THAT(render_status(testing::all_well(), look), HasSubstr("air 50.0 F to 82.4 F"));
}

nlohmann::json why_pump() {
  return nlohmann::json::parse(R"({
    "output": "pump", "title": "flood pump", "fitted": true, "level": 0, "word": "stopped",
    "precedence": "interlock",
    "reason": {"text": "leak probe on the floor is wet"}, "wanted_level": 1000,
    "wanted_word": "running", "wanted_reason": {"text": "tray fills"},
    "verdict": {"trip": true, "inhibit": true, "cap": 1000,
                "reason": {"text": "leak probe on the floor is wet"}},
    "lease_left_s": null, "latches": [{"latch": "leak", "title": "leak"}],
    "dwell": {"since_s": 12, "min_on_s": 0, "min_off_s": 0}})");
}

TEST(Why, NamesWhoAskedWhoWonAndWhatWasRefused) {
  EXPECT_EQ(render_why(why_pump(), Look{}),
            "The flood pump is stopped: leak probe on the floor is wet.\n"
            "Decided by: interlock.\n"
            "Refused: running was asked for, tray fills.\n"
            "Tripped to its safe state: leak probe on the floor is wet.\n"
            "Latched: leak; when its cause is gone, neap reset leak.\n");
}

TEST(Why, OfAnOutputThatDoesAsItIsAsked) {
  nlohmann::json why = why_pump();
  why["wanted_level"] = 0;
  why["latches"] = nlohmann::json::array();
  why["verdict"] = {{"trip", false}, {"inhibit", false}, {"cap", 1000}};
  why["dwell"] = {{"since_s", 60}, {"min_on_s", 300}, {"min_off_s", 300}};
  why["lease_left_s"] = 2.5;
  EXPECT_EQ(render_why(why, Look{}),
            "The flood pump is stopped: leak probe on the floor is wet.\n"
            "Decided by: interlock.\n"
            "Nothing asked for another level.\n"
            "No interlock holds it back.\n"
            "It changed 1 min ago; it stays running for 5 min and stopped for 5 min at least.\n"
            "Without renewal it goes to its safe state in 3 s.\n");
}

TEST(Why, OfTheFanSaysWhatPutsTheBandOutOfReachAndWhatWouldDo) {
  nlohmann::json why = why_pump();
  why["binding"] = "too_humid";
  why["diagnosis"]["text"] = "too humid for the band; 0.5 L/d of drying would do";
  why["cures"] = {{{"text", "a room of 55 % humidity or less"}}, {{"text", "a room 2.0 K warmer"}}};
  EXPECT_THAT(render_why(why, Look{}),
              HasSubstr("The band is out of reach: too humid for the band; 0.5 L/d of drying would "
                        "do.\nWould do as well: a room of 55 % humidity or less, or a room 2.0 K "
                        "warmer.\n"));
  why["binding"] = "nothing";
  EXPECT_THAT(render_why(why, Look{}), ::testing::Not(HasSubstr("out of reach")));
}

TEST(Why, OfAnOutputInAnotherHandSaysWhatNeapWouldDo) {
  const nlohmann::json why = {
      {"output", "exhaust_fan"}, {"title", "exhaust fan"},
      {"fitted", true},          {"hand", "another"},
      {"word", "running"},       {"reason", {{"text", "it is in another hand"}}},
      {"wanted_word", "60 %"},   {"wanted_reason", {{"text", "VPD under the band"}}}};
  const std::string text = render_why(why, Look{});
  EXPECT_THAT(text, ::testing::HasSubstr("neap would have it 60 %: VPD under the band."));
  EXPECT_THAT(text, ::testing::HasSubstr("`hand: neap` under outputs.exhaust_fan"));
  EXPECT_THAT(text, ::testing::Not(::testing::HasSubstr("Decided by")));
}

TEST(Status, SaysWhatIsInAnotherHandAndWhatNeapWouldDoWithIt) {
  nlohmann::json status = testing::all_well();
  nlohmann::json& pump = status["outputs"][0];
  pump["hand"] = "another";
  pump["would_be"] = {{"word", "stopped"}, {"reason", {{"text", "no flood under way"}}}};
  status["flood"]["hand"] = "another";
  const std::string text = render_status(status, Look{});
  EXPECT_THAT(text, ::testing::HasSubstr("1 of 2 outputs in another hand"));
  EXPECT_THAT(text, ::testing::HasSubstr("not driven  in another hand; neap would: stopped"));
  EXPECT_THAT(text, ::testing::HasSubstr("neap's own flood 3"));
}

TEST(Why, OfAnOutputThatIsNotFitted) {
  nlohmann::json why = why_pump();
  why["fitted"] = false;
  EXPECT_EQ(render_why(why, Look{}), "The flood pump is not fitted in these settings.\n");
}

TEST(Alarms, SayStateCauseAndRemedy) {
  EXPECT_EQ(render_alarms(testing::leak_latched(), Look{}),
            "leak: unacknowledged, high priority, for 1 min 05 s\n"
            "  leak probe on the floor is wet\n"
            "  To do: dry the floor\n");
  EXPECT_EQ(render_alarms(testing::all_well(), Look{}), "No alarms.\n");
  auto storm = testing::leak_latched();
  storm["alarms"].push_back(storm["alarms"][0]);
  storm["alarms"][1]["alarm"] = "roots-dry";
  storm["alarms"][1]["follows"] = "leak";
  EXPECT_THAT(render_alarms(storm, Look{}), HasSubstr("is wet\n  because of leak\n  To do: "));
}

TEST(Look, WrapsAtSpacesAndBreaksWhatHasNone) {
  EXPECT_EQ(wrapped("one two three", 7, 2), "one two\n  three");
  EXPECT_EQ(wrapped("abcdefghij", 4, 1), "abcd\n efg\n hij");
  EXPECT_EQ(wrapped("", 10), "");
  EXPECT_EQ(wrapped("\xC3\xA9\xC3\xA9\xC3\xA9", 3), "\xC3\xA9\xC3\xA9\xC3\xA9");
}

TEST(Look, ClipsByCharactersAndNotByBytes) {
  EXPECT_EQ(clipped("\xC3\xA9\xC3\xA9\xC3\xA9\xC3\xA9", 4), "\xC3\xA9\xC3\xA9\xC3\xA9\xC3\xA9");
  EXPECT_EQ(clipped("\xC3\xA9\xC3\xA9\xC3\xA9\xC3\xA9\xC3\xA9", 4), "\xC3\xA9\xC3\xA9..");
}

}  // namespace
}  // namespace neap::client
