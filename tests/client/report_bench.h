// A small journal for reports, written row by row: noon of 2026-06-01 at kStart, in UTC, by light,
// with a band of 0.70 to 1.10 kPa.
#pragma once

#include <gtest/gtest.h>

#include <memory>
#include <optional>
#include <string>

#include "daemon/core/plan.h"
#include "daemon/journal/journal.h"
#include "daemon/journal/reader.h"
#include "daemon/settings/settings.h"
#include "tests/client/support.h"

namespace neap::client::testing {

inline constexpr std::int64_t kStart = 4294967000;  // ms; no test begins at zero

inline Plan plan() {
  Plan made;
  made.name = "box-room";
  StagePlan stage;
  stage.name = "leafing";
  stage.lights_on_s = 6 * 3600;
  stage.light_length_s = 16 * 3600;
  stage.vpd_day = {Kilopascal{0.7}, Kilopascal{1.1}};
  stage.vpd_night = {Kilopascal{0.5}, Kilopascal{0.9}};
  stage.band_ramp_s = 0;
  made.programme.stages.push_back(stage);
  made.programme.start_date = 20605;
  return made;
}

class ReportTest : public ::testing::Test {
 protected:
  ReportTest() {
    journal::Options options;
    options.path = directory_.file("journal.db");
    options.durability = journal::Durability::simulated;
    writer_ = journal::Writer::open(options);
    // Noon of 2026-06-01 at kStart, in UTC: light, band 0.70 to 1.10 kPa.
    writer_->put(journal::ClockEntry{tick(0), WallTime{kNoonUnixMs, 0, TimeQuality::synced}});
  }
  static Instant tick(std::int64_t ms) { return instant(Millis{kStart + ms}); }
  void reading(std::int64_t s, Point point, std::optional<double> value) {
    writer_->put(journal::ReadingEntry{tick(s * 1000), point, value,
                                       value ? Quality::good : Quality::bad,
                                       value ? Fault::none : Fault::no_answer});
  }
  void actuation(std::int64_t s, Output output, int level) {
    Event event;
    event.kind = EventKind::actuation;
    event.output = output;
    event.level = Permille{level};
    writer_->put(journal::EventEntry{tick(s * 1000), event});
  }
  void cycle(std::int64_t s, FloodOrigin origin, FloodOutcome outcome) {
    Event event;
    event.kind = EventKind::cycle_closed;
    event.cycle.started_tick = kStart + s * 1000;
    event.cycle.slot = {20605, 2};
    event.cycle.origin = origin;
    event.cycle.outcome = outcome;
    event.cycle.fill = seconds{90};
    event.cycle.soak = minutes{5};
    event.cycle.drain = minutes{4};
    event.cycle.litres_known = true;
    event.cycle.litres_out = 15;
    event.cycle.litres_back = 14.2;
    writer_->put(journal::EventEntry{tick((s + 700) * 1000), event});
  }
  std::unique_ptr<journal::Reader> reader() {
    writer_->flush();
    EXPECT_FALSE(writer_->trouble()) << writer_->trouble_text();
    std::string error;
    auto opened = journal::Reader::open(directory_.file("journal.db"), error);
    EXPECT_TRUE(opened) << error;
    return opened;
  }

  Directory directory_;
  std::unique_ptr<journal::Writer> writer_;
};

}  // namespace neap::client::testing
