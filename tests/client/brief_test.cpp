// Goal: plain `neap` fits a telephone and says the verdict, the margin, the next event and what to
// do, in every state. Method: golden texts, and hostile ones that only have to fit.
#include "daemon/client/render.h"
#include "tests/client/states.h"
#include "tests/client/support.h"

namespace neap::client {
namespace {

using testing::lines_of;
using testing::widest;

void expect_fits(const std::string& text) {
  EXPECT_LE(widest(text), kPhoneWidth) << text;
  EXPECT_LE(lines_of(text).size(), kPhoneLines) << text;
}

void expect_brief(const nlohmann::json& status, const std::string& expected) {
  const std::string text = render_brief(status, Look{});
  expect_fits(text);
  EXPECT_EQ(text, expected);
}

TEST(Brief, WhenAllIsWell) {
  expect_brief(testing::all_well(),
               "box-room  2026-06-01 14:00\n"
               "All is well\n"
               "VPD 0.82 kPa, 0.12 kPa to its low edge\n"
               "Band 0.70 to 1.10 kPa, by day\n"
               "Reservoir 41.2 L\n"
               "Next: flood 3 in 1 h 20 min\n"
               "Nothing to do.\n");
}

TEST(Brief, WhatIsDueOfCareIsToDo) {
  nlohmann::json status = testing::all_well();
  status["care"] = {"intake strainer: clean it (31 of 28 floods)"};
  const std::string text = render_brief(status, {});
  expect_fits(text);
  EXPECT_THAT(text,
              ::testing::HasSubstr("To do:\n- intake strainer: clean it (31 of 28\n  floods)\n"));
}

TEST(Brief, WhileAFloodIsUnderWay) {
  expect_brief(testing::flood_running(),
               "box-room  2026-06-01 14:00\n"
               "All is well\n"
               "VPD 0.82 kPa, 0.12 kPa to its low edge\n"
               "Band 0.70 to 1.10 kPa, by day\n"
               "Flood: soak, for 2 min 05 s\n"
               "Reservoir 41.2 L\n"
               "Next: flood 3 in 1 h 20 min\n"
               "Nothing to do.\n");
}

TEST(Brief, WhenALeakIsLatched) {
  expect_brief(testing::leak_latched(),
               "box-room  2026-06-01 14:00\n"
               "Water on the floor\n"
               "VPD 0.82 kPa, 0.12 kPa to its low edge\n"
               "Band 0.70 to 1.10 kPa, by day\n"
               "Latched: leak (neap reset leak)\n"
               "Reservoir 41.2 L\n"
               "To do:\n"
               "- leak: dry the floor, find where it came\n"
               "  from, dry the probe, then `neap reset\n"
               "  leak`; the pump stays stopped until then\n"
               "- flood withheld: `neap why pump` says\n"
               "  what has to change first\n");
}

TEST(Brief, WhenASensorIsLost) {
  expect_brief(testing::sensor_lost(),
               "box-room  2026-06-01 14:00\n"
               "Canopy sensor lost\n"
               "VPD not known: too old\n"
               "Band 0.70 to 1.10 kPa, by day\n"
               "Reservoir 41.2 L\n"
               "Next: flood 3 in 1 h 20 min\n"
               "To do:\n"
               "- canopy sensor lost: look at its cable;\n"
               "  the fan runs at its fall-back\n");
}

TEST(Brief, WhenTheBandIsOutOfReach) {
  expect_brief(testing::infeasible(),
               "box-room  2026-06-01 14:00\n"
               "Venting alone cannot dry the canopy: it\n"
               "  reaches 0.62 kPa VPD of 0.70\n"
               "VPD 0.62 kPa, 0.08 kPa under the band\n"
               "Band 0.70 to 1.10 kPa, by day\n"
               "Reservoir 41.2 L\n"
               "Next: flood 3 in 1 h 20 min\n"
               "Nothing to do.\n");
}

TEST(Brief, AStoppedDaemonIsSaidFirst) {
  expect_brief(testing::daemon_down(),
               "box-room\n"
               "neapd does not run\n"
               "no daemon at /run/neap/neap.sock:\n"
               "  Connection refused\n"
               "Last entry 2026-06-01 13:58; then:\n"
               "VPD 0.82 kPa, 0.12 kPa to its low edge\n"
               "Band 0.70 to 1.10 kPa, by day\n"
               "Reservoir 41.2 L\n"
               "To do:\n"
               "- Start neapd; if it ends, its log says\n"
               "  why\n");
}

TEST(Brief, InObserveModeSaysSoBeforeAnythingElse) {
  nlohmann::json status = testing::all_well();
  status["mode"] = "observe";
  for (auto& output : status["outputs"]) output["hand"] = "another";
  expect_brief(status,
               "box-room  2026-06-01 14:00\n"
               "Observing: nothing is driven\n"
               "All is well\n"
               "VPD 0.82 kPa, 0.12 kPa to its low edge\n"
               "Band 0.70 to 1.10 kPa, by day\n"
               "Reservoir 41.2 L\n"
               "Next: flood 3 in 1 h 20 min\n"
               "Nothing to do.\n");
}

TEST(Brief, AWithheldFloodHasNoTime) {
  nlohmann::json status = testing::all_well();
  status["flood"]["withheld"] = {{"text", "reservoir low"}};
  EXPECT_THAT(lines_of(render_brief(status, Look{})),
              ::testing::Contains("Next: flood 3 (withheld)"));
  status["next_event"]["text"] = "lights off";
  EXPECT_THAT(lines_of(render_brief(status, Look{})),
              ::testing::Contains("Next: lights off in 1 h 20 min"));
}

TEST(Brief, SaysNothingToDoOnlyWhenItKnows) {
  const auto last_line = [](const nlohmann::json& status) {
    return lines_of(render_brief(status, Look{})).back();
  };
  nlohmann::json status = testing::all_well();
  nlohmann::json& vpd = status["readings"][3];
  vpd["value"] = nullptr;
  vpd["fault"] = "not read yet";
  EXPECT_EQ(last_line(status), "Waiting for the first readings.");
  vpd["fault"] = "too old";
  EXPECT_EQ(last_line(status), "Waiting for readings.");
  status["readings"] = nlohmann::json::array();
  EXPECT_EQ(last_line(status), "Waiting for the first readings.");
  status = testing::all_well();
  status["verdict"]["ok"] = false;
  EXPECT_EQ(last_line(status), "`neap status` says more.");
}

TEST(Brief, DuringServiceItSaysThatFloodsWait) {
  nlohmann::json status = testing::all_well();
  status["service"] = {{"left_s", 754}};
  EXPECT_THAT(lines_of(render_brief(status, Look{})),
              ::testing::Contains("Service: floods wait, 12 min 34 s left"));
  status["service"] = {{"left_s", 0}};
  EXPECT_THAT(lines_of(render_brief(status, Look{})),
              ::testing::Contains("Service: floods wait; its time is over"));
}

TEST(Brief, FitsWhateverTheDaemonSays) {
  nlohmann::json status = testing::leak_latched();
  const std::string endless(3000, 'x');
  status["name"] = endless;
  status["verdict"]["text"] = endless;
  status["latches"][0]["title"] = "\x1b]0;title\x07";
  for (int i = 0; i < 30; ++i)
    status["advice"].push_back("advice number " + std::to_string(i) + " " + std::string(300, 'y'));
  const std::string text = render_brief(status, Look{});
  expect_fits(text);
  EXPECT_EQ(text.find('\x1b'), std::string::npos);
  EXPECT_NE(text.find("Latched: \\x1b]0;title\\x07"), std::string::npos)
      << "an endless verdict pushed the latch off the screen:\n"
      << text;
}

TEST(Brief, SaysHowMuchAdviceDidNotFit) {
  nlohmann::json status = testing::all_well();
  for (int i = 0; i < 30; ++i) status["advice"].push_back("do this " + std::to_string(i));
  const std::string text = render_brief(status, Look{});
  expect_fits(text);
  EXPECT_EQ(lines_of(text).back(), "18 more: neap status");
}

TEST(Brief, MakesSenseOfNothingAtAll) {
  for (const char* text : {"{}", R"({"readings": 3, "targets": [], "flood": "x", "advice": {}})"})
    expect_fits(render_brief(nlohmann::json::parse(text), Look{}));
}

TEST(Brief, ColourAddsNothingThatTheWordsDoNotSay) {
  Look look;
  look.color = true;
  std::string text = render_brief(testing::leak_latched(), look);
  EXPECT_NE(text.find("\x1b["), std::string::npos);
  for (std::size_t at = 0; (at = text.find("\x1b[")) != std::string::npos;)
    text.erase(at, text.find('m', at) - at + 1);
  EXPECT_EQ(text, render_brief(testing::leak_latched(), Look{}));
}

}  // namespace
}  // namespace neap::client
