// Goal: what a person says of a probe in its standards reaches the daemon as they meant it, and
// they see what came of it.
#include "tests/client/support.h"

namespace neap::client {
namespace {

using ::testing::AllOf;
using testing::FakeDaemon;
using ::testing::HasSubstr;
using testing::json;
using testing::neap;
using testing::Said;

json asked(std::vector<std::string> words, Said& said, const json& result) {
  json seen;
  const FakeDaemon daemon([&](const json& request) {
    seen = request;
    return FakeDaemon::success(request, result);
  });
  words.insert(words.end(), {"--socket", daemon.path(), "--journal", "/nowhere/j"});
  said = neap(words);
  return seen;
}

TEST(Calibrate, TellsEachStandardAndWhatTheProbeShows) {
  Said said;
  const json seen =
      asked({"calibrate", "ph", "7=6.91", "4=4.05", "10=9.80", "temperature=21"}, said,
            {{"slope_pct", 95.6},
             {"offset_mv", 5.1},
             {"third_off", 0.08},
             {"tired", false},
             {"probe", "ph"}});
  EXPECT_EQ(seen["verb"], "calibrate");
  EXPECT_EQ(seen["args"]["probe"], "ph");
  EXPECT_EQ(seen["args"]["temperature_c"], 21);
  EXPECT_EQ(seen["args"]["shown"][1]["standard"], 4);
  EXPECT_EQ(seen["args"]["shown"][1]["value"], 4.05);
  EXPECT_EQ(
      said.out,
      "The pH probe is calibrated: slope 95.6 % of the ideal one, 5.1 mV at pH 7.\n"
      "  The third buffer reads 0.08 pH off: over 0.05, so one buffer may be old or the probe "
      "is ageing.\n");
}

TEST(Calibrate, SaysWhatTemperatureItTook) {
  Said said;
  const json seen = asked({"calibrate", "ec", "1413=1.38"}, said, {{"gain", 1.024}});
  EXPECT_FALSE(seen["args"].contains("temperature_c"));
  EXPECT_THAT(said.out, AllOf(HasSubstr("cell factor 1.024"),
                              HasSubstr("taken to be at 25 C; say temperature= if not")));
}

// A daemon whose pH probe shows 6.93, and what it was asked by verb.
std::vector<json> walk(const std::string& typed, int requests, Said& said, bool fitted = true) {
  std::vector<json> seen;
  {
    const FakeDaemon daemon(
        [&](const json& request) {
          seen.push_back(request);
          const json one = {{"probe", "ph"}, {"fitted", fitted}, {"shown", 6.934}};
          return FakeDaemon::success(request, request["verb"] == "calibrations"
                                                  ? json{{"calibrations", json::array({one})}}
                                                  : json{{"slope_pct", 95.6}});
        },
        requests);
    said = neap({"calibrate", "ph", "--socket", daemon.path(), "--journal", "/nowhere/j"}, {},
                false, typed);
  }
  return seen;
}

TEST(Calibrate, StepByStepTakesWhatTheProbeShows) {
  Said said;
  const auto seen = walk("7\n\n\n5\n7\n4\n\nx\n4.05\n\n21\n", 4, said);
  ASSERT_EQ(seen.size(), 4u) << said.out << said.err;
  EXPECT_EQ(seen[3]["verb"], "calibrate");
  EXPECT_EQ(seen[3]["args"]["shown"],
            (json{{{"standard", 7.0}, {"value", 6.93}}, {{"standard", 4.0}, {"value", 4.05}}}));
  EXPECT_EQ(seen[3]["args"]["temperature_c"], 21.0);
  EXPECT_THAT(said.out, AllOf(HasSubstr("no buffer is called so"), HasSubstr("told already"),
                              HasSubstr("The pH probe is calibrated")));
}

TEST(Calibrate, LeftHalfWayNothingIsStored) {
  Said said;
  auto seen = walk("7\n\n6.9\n4\n", 2, said);
  EXPECT_EQ(seen.size(), 2u);
  EXPECT_THAT(said.err, HasSubstr("nothing was stored"));
  EXPECT_EQ(said.code, kExitRefused);
  seen = walk("\n", 1, said);
  EXPECT_EQ(seen.size(), 1u);
  EXPECT_THAT(said.err, HasSubstr("nothing was stored"));
}

TEST(Calibrate, WithoutAProbeNobodyIsAskedToWetOne) {
  Said said;
  walk("7\n", 1, said, false);
  EXPECT_THAT(said.err, HasSubstr("probe is fitted, so there is nothing to calibrate"));
  EXPECT_EQ(said.out, "");
}

TEST(Calibrate, WordsThatMakeNoSenseAreRefused) {
  EXPECT_THAT(neap({"calibrate", "hp", "7=6.9"}).err, HasSubstr("did you mean \"ph\"?"));
  EXPECT_THAT(neap({"calibrate", "ph", "6.91"}).err, HasSubstr("is no STANDARD=SHOWN"));
  EXPECT_THAT(neap({"calibrate", "ph", "seven=6.91"}).err, HasSubstr("which is no number"));
}

TEST(Calibrate, AProbeThatNothingBringsTo25CIsToldWithWhatItIsOffBy) {
  for (const auto& [celsius, said] :
       {std::pair{json(nullptr),
                  "no thermometer of the solution has spoken. At 20 C it reads 10 %"},
        {json(20.3), "Brought to 25 C by 2.0 % a kelvin, from 20.3 C."}}) {
    const FakeDaemon daemon([&](const json& request) {
      const json one = {{"probe", "ec"},
                        {"fitted", true},
                        {"to_25_c", {{"per_kelvin", 0.02}, {"celsius", celsius}}}};
      return FakeDaemon::success(request, {{"calibrations", json::array({one})}});
    });
    EXPECT_THAT(neap({"calibrate", "--socket", daemon.path(), "--journal", "/nowhere/j"}).out,
                HasSubstr(said));
  }
}

TEST(Calibrate, AloneSaysWhatIsInForceAndWhatTheProbeShowsWithoutIt) {
  Said said;
  asked({"calibrate"}, said,
        {{"calibrations",
          {{{"probe", "ph"},
            {"fitted", true},
            {"shown", 6.18},
            {"void", false},
            {"in_force", {{"zero", 6.93}, {"slope", 0.956}}}},
           {{"probe", "ec"}, {"fitted", false}}}}});
  EXPECT_EQ(said.out,
            "pH probe: slope 95.6 % of the ideal one, pH 7 shown as 6.93.\n"
            "  It shows 6.18 uncorrected now.\n"
            "EC probe: not fitted.\n");
}

}  // namespace
}  // namespace neap::client
