// Goal: a hand measurement is corrected and withdrawn by rows of their own; the first figure stays.
#include <gtest/gtest.h>

#include "daemon/journal/reader.h"
#include "tests/journal/support.h"

namespace neap::journal {
namespace {

using testing::at;
using testing::Directory;
using testing::kNoonUnixMs;
using testing::kSummer;
using testing::options_for;
using testing::Shell;

TEST(Amendments, TheNewestCountsAndTheFirstFigureStays) {
  const Directory here;
  {
    const auto writer = Writer::open(options_for(here.file()));
    writer->put(BootEntry{at(0), "0.1.0", false});
    writer->put(ClockEntry{at(0), {kNoonUnixMs, kSummer, TimeQuality::synced}});
    writer->put(MeasurementEntry{at(1000), "a/ph", kNoonUnixMs, "ph", 5.9, "", "roots.jpg"});
    writer->put(MeasurementEntry{at(1000), "b/ec", kNoonUnixMs, "ec", 1.6, ""});
    writer->put(AmendmentEntry{at(2000), "x", "a/ph", 6.4, "typed wrongly"});
    writer->put(AmendmentEntry{at(3000), "y", "a/ph", 6.0, "misread"});
    writer->put(AmendmentEntry{at(3000), "y", "a/ph", 7.0, "the same id a second time"});
    writer->put(AmendmentEntry{at(4000), "z", "b/ec", std::nullopt, "in a buffer"});
    writer->put(CalibrationEntry{at(5000), Point::solution_ph, "7=6.91 4=4.05", 21, 6.93, 0.96});
  }
  std::string error;
  const auto reader = Reader::open(here.file(), error);
  ASSERT_TRUE(reader) << error;
  const auto in_force = reader->measurements({});
  ASSERT_EQ(in_force.size(), 1u);
  EXPECT_EQ(in_force[0].value, 6.0);
  EXPECT_EQ(in_force[0].first_value, 5.9);
  EXPECT_EQ(in_force[0].photo, "roots.jpg");
  EXPECT_EQ(in_force[0].reason, "misread");
  const auto all = reader->measurements({}, true);
  ASSERT_EQ(all.size(), 2u);
  EXPECT_TRUE(all[1].withdrawn);
  EXPECT_EQ(all[1].value, 1.6);
  const auto calibrations = reader->calibrations(Point::solution_ph);
  ASSERT_EQ(calibrations.size(), 1u);
  EXPECT_EQ(calibrations[0].readings, "7=6.91 4=4.05");
  EXPECT_EQ(calibrations[0].slope, 0.96);
  EXPECT_TRUE(reader->calibrations(Point::solution_ec).empty());
  EXPECT_EQ(Shell(here.file())
                .value("SELECT value, first_value, state FROM v_measurements "
                       "WHERE number = 1"),
            "6.0|5.9|corrected");
}

}  // namespace
}  // namespace neap::journal
