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

TEST(Calibrate, WordsThatMakeNoSenseAreRefused) {
  EXPECT_THAT(neap({"calibrate", "hp", "7=6.9"}).err, HasSubstr("did you mean \"ph\"?"));
  EXPECT_THAT(neap({"calibrate", "ph"}).err, HasSubstr("neap calibrate ph 7=6.91 4=4.05"));
  EXPECT_THAT(neap({"calibrate", "ph", "6.91"}).err, HasSubstr("is no STANDARD=SHOWN"));
  EXPECT_THAT(neap({"calibrate", "ph", "seven=6.91"}).err, HasSubstr("which is no number"));
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
