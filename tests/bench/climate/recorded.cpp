#include "tests/bench/climate/recorded.h"

#include <cmath>
#include <regex>
#include <stdexcept>

#include "drivers/simulated/climate.h"
#include "tests/bench/climate/arena.h"
#include "tests/bench/climate/scenarios.h"

namespace neap::arena {
namespace {

constexpr double kWarmUpSeconds = 12 * 3600;
constexpr int kMostTries = 3;

class Recorder final : public Watcher {
 public:
  Recorder(const drivers::simulated::Parameters& p, std::size_t most_steps, bool tests,
           Recorded& out)
      : p_(p), most_steps_(most_steps), out_(out) {
    if (!tests) fan_.tries = drying_.tries = kMostTries;
    for (const OutputInfo& row : kOutputs) level_[row.output] = row.safe.value / 1000.0;
  }

  void minute(const Minute&) override {}
  void asks(double elapsed_s, const State& state, Requests& requests) override {
    if (elapsed_s < kWarmUpSeconds || state.step_test.running || std::fmod(elapsed_s, 600) != 0)
      return;
    const Wanted& wanted = state.day ? fan_ : drying_;
    if (wanted.whole || wanted.tries >= kMostTries) return;
    Request request;
    request.kind = RequestKind::step_test_start;
    request.output = state.day ? Output::exhaust_fan : Output::dehumidifier;
    requests.push(request);
  }
  void scanned(const Minute& now) override {
    if (now.elapsed_s < kWarmUpSeconds || full_) return;
    close_step(now.elapsed_s);
    full_ = out_.record.steps.size() == most_steps_;
    if (full_) return;
    const State& state = now.state;
    identify::Step step;
    const auto probe = [&](Point celsius, Point percent) -> std::optional<identify::Probe> {
      const auto& t = state.points[celsius].reading;
      const auto& h = state.points[percent].reading;
      if (!t || !h) return {};
      return identify::Probe{*t, *h};
    };
    step.canopy = probe(Point::canopy_temperature, Point::canopy_humidity);
    step.room = probe(Point::room_temperature, Point::room_humidity);
    if (const auto& level = state.points[Point::reservoir_level].reading) step.level_l = *level;
    step.light = state.last.commands[Output::light].level.value / 1000.0;
    const FloodPhase phase = state.flood.phase;
    step.water_moves =
        phase == FloodPhase::fill || phase == FloodPhase::soak || phase == FloodPhase::drain;
    follow_flood(step.water_moves, state.flood.row.outcome);
    follow_test(state.step_test);
    follow_truth(now.truth, step);
    out_.record.steps.push_back(step);
  }

  void wrote(std::int64_t second, Output output, Permille level) override {
    integrate(static_cast<double>(second));
    level_[output] = level.value / 1000.0;
  }

  void finish() {
    double fan = 0;
    for (const identify::Step& step : out_.record.steps) fan += step.fan;
    RecordedTruth& t = out_.truth;
    const double hours = lit_h_ + dark_h_;
    t.lit_g_per_h = lit_h_ > 0 ? 1000 * lit_kg_ / lit_h_ : 0;
    t.dark_g_per_h = dark_h_ > 0 ? 1000 * dark_kg_ / dark_h_ : 0;
    t.litres_a_day = 24 * (lit_kg_ + dark_kg_) / hours;
    const double n = hours / identify::kStepHours;
    const auto flow = [&](double level) {
      return drivers::simulated::air_flow_m3_h(
          p_, level, warmer_ / n, drivers::simulated::filter_passes(p_, p_.filter_clogging));
    };
    t.flow_full = flow(1);
    t.flow_mean = flow(fan / n);
    t.drying_l_per_day = p_.dehumidifier_l_per_day;
    t.mist_g_per_h = p_.humidifier_g_per_h;
    t.lag_s = p_.sensor_mixing_s + p_.sensor_lag_humidity_s;
  }

 private:
  void integrate(double until_s) {
    for (const OutputInfo& row : kOutputs)
      sum_[row.output] += level_[row.output] * (until_s - integrated_s_);
    integrated_s_ = until_s;
  }
  // The step before the one that begins now has its levels' means.
  void close_step(double now_s) {
    integrate(now_s);
    if (!out_.record.steps.empty()) {
      identify::Step& step = out_.record.steps.back();
      step.fan = sum_[Output::exhaust_fan] / identify::kStepSeconds;
      step.dehumidifier = sum_[Output::dehumidifier] / identify::kStepSeconds;
      step.humidifier = sum_[Output::humidifier] / identify::kStepSeconds;
    }
    sum_ = {};
  }
  void follow_flood(bool moves, FloodOutcome outcome) {
    auto& floods = out_.record.floods;
    const std::size_t here = out_.record.steps.size();
    if (moves && !moved_) floods.push_back({here, here, false});
    if (!moves && moved_) {
      floods.back().drained = here;
      floods.back().complete = outcome == FloodOutcome::complete;
    }
    moved_ = moves;
  }
  void follow_test(const StepTest& test) {
    auto& tests = out_.record.tests;
    const std::size_t here = out_.record.steps.size();
    if (test.running && !testing_)
      tests.push_back({here, here, test.output == Output::exhaust_fan});
    if (!test.running && testing_) {
      tests.back().to = here;
      Wanted& wanted = tests.back().of_fan ? fan_ : drying_;
      const std::size_t whole = tests.back().of_fan ? 180 : 360;  // steps
      ++wanted.tries;
      wanted.whole = wanted.whole || here - tests.back().from >= whole;
    }
    testing_ = test.running;
  }
  void follow_truth(const drivers::Truth& truth, const identify::Step& step) {
    const double given = truth.ledger.transpired_kg + truth.ledger.evaporated_kg;
    if (!out_.record.steps.empty()) {
      (step.light > 0 ? lit_kg_ : dark_kg_) += given - given_;
      (step.light > 0 ? lit_h_ : dark_h_) += identify::kStepHours;
    }
    given_ = given;
    warmer_ += truth.air_c - truth.room_c;
  }

  const drivers::simulated::Parameters& p_;
  std::size_t most_steps_;
  Recorded& out_;
  PerOutput<double> level_, sum_;
  double integrated_s_ = 0;
  bool full_ = false;
  bool moved_ = false;
  double given_ = 0, lit_kg_ = 0, dark_kg_ = 0, lit_h_ = 0, dark_h_ = 0;
  double warmer_ = 0;
  struct Wanted {
    int tries = 0;
    bool whole = false;
  };
  Wanted fan_, drying_;
  bool testing_ = false;
};

}  // namespace

Recorded record_tent(std::uint64_t number, const ClimateLaw& law, int days, bool tests) {
  const Scenario tent = random_tent(number);
  const std::string text =
      std::regex_replace(settings_text(tent, number), std::regex("canopy_humidity_bias_pct: .*"),
                         "canopy_humidity_bias_pct: 0");
  auto result = settings::load_text(text);
  if (!result.loaded) throw std::runtime_error("settings of " + tent.id + " do not load");
  Run run;
  run.settings = std::move(*result.loaded);
  run.law = &law;
  run.warm_up_days = 0;
  run.days = days + 1;
  std::string error;
  const auto parameters =
      drivers::simulated::parameters_from(run.settings.hardware.simulation->parameters, error);
  if (!error.empty()) throw std::runtime_error(error);
  const Plan& plan = run.settings.plan;
  Recorded out;
  out.labels = {plan.climate.tent_m3,
                plan.climate.fan_m3_per_h,
                plan.climate.dehumidifier_g_per_h,
                plan.climate.humidifier_g_per_h,
                plan.climate.dehumidifier_place,
                plan.climate.dehumidifier_kind};
  out.fitted = {plan.outputs[Output::dehumidifier].has_value(),
                plan.outputs[Output::humidifier].has_value()};
  Recorder recorder(parameters, static_cast<std::size_t>(days) * 8640, tests, out);
  arena::run(run, &recorder);
  recorder.finish();
  return out;
}

}  // namespace neap::arena
