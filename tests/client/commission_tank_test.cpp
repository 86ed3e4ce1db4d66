// Goal: the tank's table that commissioning proposes gives back the litres that were poured, in any
// unit of the probe, and nothing is taken from where the table in force tells nothing. Method: the
// walk's tank step before levels by the script.
#include <algorithm>
#include <sstream>
#include <variant>

#include "drivers/sensors/curve.h"
#include "tests/client/commission_bench.h"

namespace neap::client {
namespace {

using testing::Bench;
using ::testing::HasSubstr;
using testing::passed;

Tank tank_of_tests() { return {"reservoir", "mV", {{500, 0}, {1500, 50}, {2500, 90}}}; }

TEST(Commission, ATankIsReadBackThroughItsTable) {
  EXPECT_DOUBLE_EQ(reading_for(tank_of_tests(), 25).value_or(0), 1000);
  EXPECT_DOUBLE_EQ(reading_for(tank_of_tests(), 70).value_or(0), 2000);
  for (const double at_an_end : {-1.0, 0.0, 90.0, 91.0})
    EXPECT_EQ(reading_for(tank_of_tests(), at_an_end), std::nullopt) << at_an_end;
}

TEST(Commission, PouredLitresBesideReadingsBecomeTheTanksTable) {
  Bench bench;
  bench.tent.tank = tank_of_tests();
  bench.level_fitted = true;
  bench.level_l = 25;
  int looks = 0;
  bench.on_look = [&] { bench.level_l = 5.0 * ++looks; };
  const Commissioned done = bench.run("yes\nyes\n4\n4.1\n12\n\n", {"tank"});
  EXPECT_TRUE(passed(done, "tank")) << bench.said;
  EXPECT_THAT(bench.said, HasSubstr("no step upwards"));
  EXPECT_THAT(done.settings, ::testing::ElementsAre("sensors.reservoir.with.curve: [700 mV = 4 L, "
                                                    "900 mV = 12 L]"));
}

// The walk with `tank`, whose level comes to each of `levels` in turn after the first look.
Commissioned poured(Bench& bench, const Tank& tank, const std::vector<double>& levels,
                    const std::string& typed) {
  bench.tent.tank = tank;
  bench.level_fitted = true;
  std::size_t looks = 0;
  bench.on_look = [&] {
    if (looks > 0) bench.level_l = levels[std::min(looks, levels.size()) - 1];
    ++looks;
  };
  return bench.run("yes\nyes\n" + typed + "\n", {"tank"});
}

std::variant<drivers::Curve, std::string> curve_of(const std::string& line,
                                                   const std::string& unit) {
  const std::size_t from = line.find('[') + 1;
  std::istringstream list(line.substr(from, line.find(']') - from));
  std::vector<std::string> words;
  for (std::string word; std::getline(list, word, ',');) words.push_back(word);
  return drivers::Curve::parse(words, unit, "L");
}

TEST(Commission, ATankOfAnyUnitIsWrittenSoThatTheLoaderReadsThePouredLitresBack) {
  // A distance from above, and a pressure: 0.5 m and 5 kPa between empty and 100 L.
  for (const Tank& tank : {Tank{"reservoir", "m", {{0.1, 100}, {0.6, 0}}},
                           Tank{"reservoir", "kPa", {{0.2, 0}, {5.2, 100}}}}) {
    Bench bench;
    const std::vector<double> levels{6.5, 13.2, 20.4};
    const std::vector<double> litres{7.25, 14.5, 21.75};
    const Commissioned done = poured(bench, tank, levels, "7.25\n14.5\n21.75\n");
    ASSERT_EQ(done.settings.size(), 1U) << bench.said;
    const auto curve = curve_of(done.settings[0], tank.unit);
    ASSERT_TRUE(std::holds_alternative<drivers::Curve>(curve)) << std::get<std::string>(curve);
    for (std::size_t i = 0; i < levels.size(); ++i)
      EXPECT_NEAR(std::get<drivers::Curve>(curve).at(reading_for(tank, levels[i]).value_or(0)),
                  litres[i], 0.02)
          << done.settings[0];
  }
}

TEST(Commission, AProbeAtAnEndOfItsTableIsToldOfAndPouringGoesOn) {
  Bench bench;
  const Commissioned done = poured(bench, tank_of_tests(), {0, 25, 50, 90}, "1\n20\n45\n88\n");
  EXPECT_THAT(bench.said, HasSubstr("at an end of its table in force"));
  EXPECT_THAT(done.settings, ::testing::ElementsAre("sensors.reservoir.with.curve: [1000 mV = 20 "
                                                    "L, 1500 mV = 45 L]"));
}

TEST(Commission, ALevelsOffsetIsNoPartOfTheTable) {
  Bench bench;
  Tank tank = tank_of_tests();
  tank.offset_l = 2;
  const Commissioned done = poured(bench, tank, {27, 52}, "20\n45\n");
  EXPECT_THAT(done.settings,
              ::testing::ElementsAre("sensors.reservoir.with.curve: [1000 mV = 20 L, 1500 mV = 45 "
                                     "L]",
                                     "calibration.offsets.reservoir.level: 0 L"));
}

}  // namespace
}  // namespace neap::client
