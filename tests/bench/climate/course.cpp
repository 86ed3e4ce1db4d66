#include "tests/bench/climate/course.h"

#include "daemon/core/two_position_law.h"
#include "tests/bench/climate/arena.h"

namespace neap::arena {
namespace {

class Recorder final : public Watcher {
 public:
  void minute(const Minute& minute) override { course.quiet.push_back(minute.state.targets.quiet); }
  void moment(const Scorer::Moment& moment) override {
    course.steps.push_back({moment.band, moment.day});
  }
  void wrote(std::int64_t second, Output output, Permille level) override {
    const bool is_a_laws = output == Output::exhaust_fan || output == Output::dehumidifier ||
                           output == Output::humidifier;
    if (!is_a_laws) course.changes.push_back({second, output, level});
  }

  Course course;
};

}  // namespace

Course foresee(const settings::Loaded& settings, int days) {
  static const TwoPositionLaw law;
  Run run;
  run.settings = settings;
  run.law = &law;
  run.warm_up_days = 0;
  run.days = days;
  Recorder recorder;
  arena::run(run, &recorder);
  return std::move(recorder.course);
}

}  // namespace neap::arena
