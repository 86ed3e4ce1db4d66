// Goal: ten answers make a file that `neap check` accepts; wrong answers are asked for again with
// their rule; answers that end leave nothing behind; nothing is written over unasked.
#include "daemon/client/draft.h"

#include <fstream>

#include "daemon/client/questions.h"
#include "daemon/settings/advice.h"
#include "daemon/settings/build.h"
#include "daemon/settings/settings.h"
#include "tests/client/support.h"

namespace neap::client {
namespace {

using ::testing::AllOf;
using testing::Directory;
using ::testing::HasSubstr;
using testing::neap;
using ::testing::Not;
using testing::Said;

const std::string kAllUsual(10, '\n');

std::string read(const std::string& path) {
  std::ifstream file(path);
  return {std::istreambuf_iterator<char>(file), {}};
}

Said draft(const Directory& dir, const std::string& typed,
           const std::vector<std::string>& more = {}) {
  std::vector<std::string> words{"draft", dir.file("tent.yaml")};
  words.insert(words.end(), more.begin(), more.end());
  return neap(words, {}, false, typed);
}

TEST(Draft, TheUsualAnswersMakeAFileThatCheckAccepts) {
  const Directory dir;
  const Said said = draft(dir, kAllUsual);
  EXPECT_EQ(said.code, kExitDone) << said.err;
  EXPECT_EQ(neap({"check", dir.file("tent.yaml")}).code, kExitDone);
  const auto loaded = settings::load_file(dir.file("tent.yaml")).loaded;
  ASSERT_TRUE(loaded.has_value());
  EXPECT_EQ(loaded->plan.mode, Mode::observe);
  EXPECT_EQ(loaded->plan.table.flood_volume.value, 25);
  EXPECT_EQ(loaded->plan.table.fill_limit, seconds{240}) << "150 s and half as long again";
  EXPECT_NEAR(loaded->plan.climate.tent_m3, 1.9, 1e-9);
}

TEST(Draft, EveryAnswerGoesWhereItBelongs) {
  const Directory dir;
  const Said said = draft(dir,
                          "basil shelf\nEurope/Brussels\n80 x 60 x 160 cm\n06:30 16 h\n"
                          "12 L, 20 L\n40 L, 8 L\n480 L/h\ndrain_valve\n"
                          "pump second-contact, drain-valve fan dehumidifier\n"
                          "canopy, room, leak, tray-float, overflow-float, level, pump-proof\n");
  ASSERT_EQ(said.code, kExitDone) << said.err << said.out;
  const auto loaded = settings::load_file(dir.file("tent.yaml")).loaded;
  ASSERT_TRUE(loaded.has_value());
  const Plan& plan = loaded->plan;
  EXPECT_EQ(plan.name, "basil shelf");
  EXPECT_EQ(plan.time_zone, "Europe/Brussels");
  EXPECT_NEAR(plan.climate.tent_m3, 0.77, 1e-9);
  EXPECT_EQ(plan.programme.stages[0].lights_on_s, 6 * 3600 + 1800);
  EXPECT_EQ(plan.programme.stages[0].light_length_s, 16 * 3600);
  EXPECT_EQ(plan.table.tray_capacity.value, 20);
  EXPECT_EQ(plan.table.reservoir_minimum.value, 8);
  EXPECT_EQ(plan.table.pump_l_per_h, 480);
  EXPECT_EQ(plan.table.drain_path, DrainPath::drain_valve);
  EXPECT_TRUE(plan.outputs[Output::pump_series].has_value());
  EXPECT_FALSE(plan.outputs[Output::light].has_value());
  EXPECT_TRUE(plan.points[Point::pump_running].has_value());
}

TEST(Draft, EveryPartOnItsOwnLeavesAFileThatLoads) {
  for (const DraftPart& part : kDraftParts) {
    DraftAnswers answers;
    std::vector<std::string>& list = part.is_output ? answers.outputs : answers.sensors;
    if (std::find(list.begin(), list.end(), part.word) == list.end()) list.emplace_back(part.word);
    if (part.word == "drain-valve") answers.drain_path = "drain_valve";
    if (part.word == "second-contact") answers.sensors.push_back("pump-proof");
    if (tempers_water({std::string(part.word)})) answers.sensors.push_back("water-temperature");
    const auto result = settings::load_text(draft_yaml(answers));
    EXPECT_TRUE(result.loaded.has_value())
        << part.word << ": " << (result.problems.empty() ? "" : result.problems[0].message);
  }
}

TEST(Draft, ATentWithoutWaterHasNoFloods) {
  const Directory dir;
  const Said said = draft(dir, "\n\n\n\n\n\n\n\nfan light\ncanopy\n");
  ASSERT_EQ(said.code, kExitDone) << said.err;
  EXPECT_THAT(read(dir.file("tent.yaml")), HasSubstr("floods: none"));
  EXPECT_THAT(said.out, Not(HasSubstr("weld")));
}

TEST(Draft, AHeaterInTheWaterHasItsBandAndNothingItMustHaveIsLeftOut) {
  DraftAnswers answers;
  answers.outputs = {"water-heater"};
  EXPECT_THAT(draft_complaint(9, "reservoir-float leak", answers),
              HasSubstr("add water-temperature"));
  EXPECT_THAT(draft_complaint(9, "water-temperature leak", answers),
              HasSubstr("add reservoir-float or level"));
  EXPECT_THAT(draft_complaint(9, "water-temperature level", answers), HasSubstr("add leak"));
  EXPECT_EQ(draft_complaint(9, "water-temperature level leak", answers), "");
  answers.sensors = {"water-temperature", "level", "leak"};
  const auto result = settings::load_text(draft_yaml(answers));
  ASSERT_TRUE(result.loaded.has_value());
  EXPECT_TRUE(settings::advise(result.loaded->plan).empty()) << "no stage leaves it off";
  EXPECT_THAT(draft_yaml(answers), HasSubstr("heater and chiller off in the scan"));
  EXPECT_THAT(draft_yaml({}), Not(HasSubstr("heater")));
}

TEST(Draft, AWrongAnswerIsToldItsRuleAndAskedForAgain) {
  const Directory dir;
  const Said said = draft(dir,
                          "a/b\ntent\n\n1 x 2\n100 x 100 x 190 cm\n7:00 14 h\n07:00 30 h\n\n"
                          "45 L, 25 L\n\n30 L, 12 L\n\n600\n10 L/h\n100 L/h\n\nthrough_pumps\n\n"
                          "pump drill\n\ncanopy leak\ncanopy leak tray-float\n\n");
  ASSERT_EQ(said.code, kExitDone) << said.err << said.out;
  for (const char* rule :
       {"letters, digits, blanks", "length x width x height", "write lights-on and length",
        "must be 8 h to 20 h", "must be at most the second", "would take what must stay",
        "write the unit", "must be 30 L/h to 10000 L/h", "a pump of that size takes too long",
        "did you mean \"through_pump\"", "\"drill\" is none of them", "add tray-float",
        "add reservoir-float or level"})
    EXPECT_THAT(said.out, HasSubstr(rule));
}

TEST(Draft, WhatTheLoaderWouldRefuseIsRefusedAtItsQuestion) {
  EXPECT_THAT(draft_complaint(1, "Europe/Brussel", {}), HasSubstr("zone database"));
  EXPECT_EQ(draft_complaint(1, "Europe/Brussels", {}), "");
  DraftAnswers by_valve;
  by_valve.drain_path = "drain_valve";
  EXPECT_THAT(draft_complaint(8, "fan light", by_valve), HasSubstr("name the drain-valve too"));
  EXPECT_THAT(draft_complaint(8, "fan drain-valve", {}), HasSubstr("drain_valve alone"));
}

// The lines of the group `build` are made for taking their marks away.
TEST(Draft, ItsReservoirTakesAFloodAndGivesOneWithTheFiguresThatItProposes) {
  DraftAnswers answers;
  answers.reservoir = "70 L, 8 L";
  for (const DraftAnswers& given : {DraftAnswers{}, answers}) {
    std::string text = draft_yaml(given);
    const std::size_t group = text.find("# build:");
    for (std::size_t at; (at = text.find("\n#   ", group)) != std::string::npos;)
      text.erase(at + 1, 2);
    text.erase(group, 2);
    const auto loaded = settings::load_text(text).loaded;
    ASSERT_TRUE(loaded.has_value()) << text;
    for (const auto& one : settings::check_build(loaded->plan, loaded->build))
      EXPECT_EQ(one.weight, settings::Weight::good) << one.text;
  }
  EXPECT_THAT(draft_yaml(answers), HasSubstr("top_up: 45 L"));
}

TEST(Draft, AnswersThatEndLeaveNothingBehind) {
  const Directory dir;
  const Said said = draft(dir, "\n\n\n");
  EXPECT_EQ(said.code, kExitRefused);
  EXPECT_THAT(said.err, AllOf(HasSubstr("the answers ended at question 4"),
                              HasSubstr("nothing was written")));
  EXPECT_TRUE(std::filesystem::is_empty(dir.path()));
}

TEST(Draft, AFileThatExistsIsWrittenOverOnlyWhenToldTo) {
  const Directory dir;
  std::ofstream(dir.file("tent.yaml")) << "mine";
  const Said refused = draft(dir, kAllUsual);
  EXPECT_EQ(refused.code, kExitRefused);
  EXPECT_THAT(refused.err, HasSubstr("say --overwrite"));
  EXPECT_EQ(read(dir.file("tent.yaml")), "mine");
  EXPECT_EQ(draft(dir, kAllUsual, {"--overwrite"}).code, kExitDone);
  EXPECT_THAT(read(dir.file("tent.yaml")), HasSubstr("neap: 1"));
}

TEST(Draft, SaysWhatThePartsProtectFromAndWhatTheyDoNot) {
  const Directory dir;
  const Said few = draft(dir, kAllUsual);
  EXPECT_THAT(few.out,
              AllOf(HasSubstr("a probe on the floor gets wet"), HasSubstr("and lack these"),
                    HasSubstr("(overflow-float)"), HasSubstr("(pump-proof)")));
  EXPECT_THAT(read(dir.file("tent.yaml")), HasSubstr("# and lack these:"));
  DraftAnswers all;
  all.outputs.clear();
  all.sensors.clear();
  for (const DraftPart& part : kDraftParts)
    (part.is_output ? all.outputs : all.sensors).emplace_back(part.word);
  EXPECT_TRUE(protections_of(all).lack.empty());
}

TEST(Draft, FitsEightyColumns) {
  const Directory dir;
  EXPECT_LE(testing::widest(draft(dir, kAllUsual).out), kPageWidth);
}

TEST(Draft, WithJsonTheQuestionsLeaveStandardOutputAlone) {
  const Directory dir;
  const Said said = draft(dir, kAllUsual, {"--json"});
  const auto result = testing::json::parse(said.out);
  EXPECT_EQ(result["file"], dir.file("tent.yaml"));
  EXPECT_FALSE(result["lack"].empty());
  EXPECT_THAT(said.err, HasSubstr("10/10"));
}

}  // namespace
}  // namespace neap::client
