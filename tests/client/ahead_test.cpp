// Goal: what `neap plan` says is what the core will do, and what it costs.
#include "daemon/client/ahead.h"

#include "daemon/client/zone.h"
#include "tests/client/support.h"

namespace neap::client {
namespace {

using ::testing::HasSubstr;

constexpr std::int32_t kJune1 = 20605;  // 2026-06-01, a Monday

Plan plan() {
  Plan made;
  made.name = "box-room";
  made.table.flood_volume = Litres{25};
  made.table.pump_l_per_h = 600;
  StagePlan first;
  first.name = "leafing";
  first.days = 10;
  first.lights_on_s = 6 * 3600;
  first.light_length_s = 16 * 3600;
  first.floods.rule = SlotRule::at_times;
  first.floods.times_s = {7 * 3600, 12 * 3600};
  first.floods.soak = minutes{8};
  StagePlan second = first;
  second.name = "fallow";
  second.fallow = true;
  second.days = 0;
  made.programme.stages = {first, second};
  made.programme.start_date = kJune1;
  return made;
}

TEST(Ahead, AFloodThatThePumpHoldsCostsItsFillAndItsSoak) {
  const Plan made = plan();
  const Ahead ahead = look_ahead(made, {0, kJune1, true}, {kJune1, 0}, 1);
  ASSERT_EQ(ahead.days.at(0).floods.size(), 2u);
  EXPECT_NEAR(ahead.days[0].pump_s.value(), 2 * (150 + 480), 1e-9);
}

TEST(Ahead, AFloodThatAValveHoldsCostsItsFillOnly) {
  Plan made = plan();
  made.table.drain_path = DrainPath::drain_valve;
  const Ahead ahead = look_ahead(made, {0, kJune1, true}, {kJune1, 0}, 1);
  EXPECT_NEAR(ahead.days.at(0).pump_s.value(), 2 * 150, 1e-9);
  EXPECT_THAT(render_ahead(made, ahead, Look{}), HasSubstr("flood 1, soak 8 min"));
}

TEST(Ahead, LessThanTheStandpipesDepthIsNotHeldByAPump) {
  Plan made = plan();
  made.programme.stages[0].floods.depth = Depth::by_litres;
  made.programme.stages[0].floods.litres = Litres{15};
  const Ahead ahead = look_ahead(made, {0, kJune1, true}, {kJune1, 0}, 1);
  EXPECT_NEAR(ahead.days.at(0).pump_s.value(), 2 * 90, 1e-9);
  EXPECT_THAT(render_ahead(made, ahead, Look{}), HasSubstr("flood 1, 15.0 L\n"));
}

TEST(Ahead, ShowsWhatQuietHoursMoved) {
  Plan made = plan();
  made.programme.quiet = {true, 11 * 3600, 13 * 3600};
  const Ahead ahead = look_ahead(made, {0, kJune1, true}, {kJune1, 0}, 1);
  const std::string text = render_ahead(made, ahead, Look{});
  EXPECT_THAT(text, HasSubstr("  13:00  flood 2, soak 8 min; quiet hours moved it from 12:00"));
  EXPECT_THAT(text, HasSubstr("quiet hours are 11:00 to 13:00"));
  EXPECT_EQ(ahead_json(made, ahead)["days"][0]["floods"][1]["moved"], true);
}

// 3 kPa h in mid-band, 1.0 kPa, are three hours.
TEST(Ahead, FloodsByDemandAreAForecastAndSaidToBe) {
  Plan made = plan();
  StagePlan& stage = made.programme.stages[0];
  stage.vpd_day = {Kilopascal{0.8}, Kilopascal{1.2}};
  stage.floods.rule = SlotRule::by_demand;
  stage.floods.demand_kpa_h = 3;
  stage.floods.no_sooner = hours{2};
  stage.floods.no_later = hours{5};
  stage.floods.first_after_s = 3600;
  stage.floods.last_before_s = 6 * 3600;
  const Ahead ahead = look_ahead(made, {0, kJune1, true}, {kJune1, 0}, 1);
  const std::string text = render_ahead(made, ahead, Look{});
  EXPECT_THAT(text, HasSubstr("Floods come by demand: at 3.0 kPa h since the last, no sooner than "
                              "2 h, no later\n  than 5 h. Those shown are for air in mid-band.\n"));
  EXPECT_THAT(text, HasSubstr(": about 4 floods, pump about"));
  EXPECT_THAT(text, HasSubstr("  10:00  about: flood 2, soak 8 min\n"));
  const nlohmann::json told = ahead_json(made, ahead)["by_demand"];
  EXPECT_EQ(told["amount_kpa_h"], 3.0);
  EXPECT_EQ(told["no_later_s"], 18000);
  EXPECT_TRUE(ahead_json(plan(), ahead)["by_demand"].is_null());
}

TEST(Ahead, SaysThatNothingIsDrivenInObserveMode) {
  Plan made = plan();
  const Ahead ahead = look_ahead(made, {0, kJune1, true}, {kJune1, 0}, 1);
  EXPECT_THAT(render_ahead(made, ahead, Look{}), ::testing::Not(HasSubstr("Observing")));
  EXPECT_EQ(ahead_json(made, ahead)["mode"], "control");
  made.mode = Mode::observe;
  made.outputs[Output::pump].emplace().driven = false;
  EXPECT_THAT(render_ahead(made, ahead, Look{}),
              HasSubstr("\nThe pump is in another hand: these floods are what neap would do.\n"));
  EXPECT_EQ(ahead_json(made, ahead)["mode"], "observe");
}

TEST(Ahead, LeavesOutWhatIsOver) {
  const Ahead ahead = look_ahead(plan(), {0, kJune1, true}, {kJune1, 12 * 3600 + 1}, 2);
  EXPECT_TRUE(ahead.days.at(0).floods.empty());
  EXPECT_FALSE(ahead.days[0].lights_on_s);
  EXPECT_EQ(ahead.days[0].lights_off_s, 22 * 3600);
  EXPECT_EQ(ahead.days.at(1).floods.size(), 2u);
}

TEST(Ahead, SaysWhenAStageIsOverAndWhatToConfirm) {
  const Plan made = plan();
  const Ahead ahead = look_ahead(made, {0, kJune1, true}, {kJune1 + 3, 0}, 1);
  EXPECT_EQ(ahead.stage_due, kJune1 + 10);
  EXPECT_THAT(render_ahead(made, ahead, Look{}),
              HasSubstr("Stage leafing, day 4 of 10. Its days are over on 2026-06-11; then confirm "
                        "with\n  `neap stage fallow`."));
}

TEST(Ahead, AFallowStageHasNeitherLightNorFloods) {
  const Plan made = plan();
  const Ahead ahead = look_ahead(made, {1, kJune1, true}, {kJune1, 0}, 1);
  EXPECT_FALSE(ahead.days.at(0).lights_on_s);
  EXPECT_TRUE(ahead.days[0].floods.empty());
  EXPECT_THAT(render_ahead(made, ahead, Look{}), HasSubstr("Mon 2026-06-01: no floods\n"));
}

TEST(Ahead, WithoutAJournalTheDaysChooseTheStage) {
  const ProgrammePlan programme = plan().programme;
  EXPECT_EQ(stage_by_days(programme, kJune1 + 9).index, 0);
  EXPECT_EQ(stage_by_days(programme, kJune1 + 10).index, 1);
  EXPECT_EQ(stage_by_days(programme, kJune1 + 10).entered_date, kJune1 + 10);
  EXPECT_EQ(stage_by_days(programme, kJune1 - 5).entered_date, kJune1 - 5);
}

TEST(Zone, ConvertsWithTheZonesOwnSummerTime) {
  // 2026-06-01 12:00 and 2026-01-01 12:00 UTC; Brussels is two hours and one hour ahead.
  EXPECT_EQ(civil_at("Europe/Brussels", testing::kNoonUnixMs), (CivilTime{kJune1, 14 * 3600}));
  EXPECT_EQ(civil_at("Europe/Brussels", 1767268800000), (CivilTime{20454, 13 * 3600}));
  EXPECT_EQ(civil_at("", testing::kNoonUnixMs), (CivilTime{kJune1, 12 * 3600}));
}

TEST(Zone, NamesTheDayOfTheWeek) {
  EXPECT_EQ(weekday_date(0), "Thu 1970-01-01");
  EXPECT_EQ(weekday_date(-1), "Wed 1969-12-31");
  EXPECT_EQ(weekday_date(kJune1), "Mon 2026-06-01");
}

}  // namespace
}  // namespace neap::client
