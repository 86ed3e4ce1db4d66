#include "tests/bench/climate/portrait.h"

#include <algorithm>
#include <array>
#include <cstdio>

#include "daemon/client/picture.h"
#include "daemon/words/words.h"
#include "tests/bench/climate/arena.h"

namespace neap::arena {
namespace {

constexpr std::int64_t kDay = Millis{hours{24}}.count();
constexpr std::int64_t kHour = Millis{hours{1}}.count();
constexpr std::int64_t kMarkEvery = 3 * kHour;
constexpr std::int64_t kDayBegins = 6 * kHour;  // of kStartUnixMs
constexpr Millis kHeld = minutes{2};

std::string name_of(Output output) { return std::string(info(output).title); }

class Sitting final : public Watcher {
 public:
  Sitting(const Plan& plan, int days)
      : to_((kWarmUpDays + days) * kDay), from_(to_ - kDay), stage_(plan.programme.stages.front()) {
    picture_.band_of = plan.climate.band_of;
    picture_.from = from_;
    picture_.to = to_;
    for (std::int64_t tick = from_; tick <= to_; tick += kMarkEvery)
      picture_.marks.push_back(
          {tick, words::clock_time(static_cast<std::int32_t>((tick + kDayBegins) % kDay / 1000))});
    fan_ = plan.outputs[Output::exhaust_fan].has_value();
    for (const Output output : {Output::dehumidifier, Output::humidifier})
      if (plan.outputs[output]) picture_.strips.push_back({name_of(output), {}});
  }

  void minute(const Minute&) override {}
  void scanned(const Minute& now) override {
    const auto tick = static_cast<std::int64_t>(now.elapsed_s * 1000);
    if (tick < from_ || tick > to_) return;
    const drivers::Truth& truth = now.truth;
    const bool leaf = picture_.band_of == BandOf::leaf;
    vpd_.add({tick, leaf ? truth.leaf_vpd_kpa : truth.vpd_kpa});
    canopy_c_.add({tick, truth.air_c});
    canopy_percent_.add({tick, truth.air_percent});
    room_c_.add({tick, truth.room_c});
    room_vpd_.add({tick, truth.room_vpd_kpa});
    const State& state = now.state;
    picture_.aims.push_back({tick, state.targets.band, state.day, false, stage_.air_lowest,
                             stage_.air_highest, stage_.humidity_ceiling});
    note_flood(tick, state.flood.phase);
    note_levels(tick, state.last);
  }

  client::Picture done() && {
    picture_.vpd = std::move(vpd_).runs();
    picture_.canopy_temperature = std::move(canopy_c_).runs();
    picture_.canopy_humidity = std::move(canopy_percent_).runs();
    picture_.room_temperature = std::move(room_c_).runs();
    picture_.room_vpd = std::move(room_vpd_).runs();
    if (fan_) picture_.exhaust_fan = mean(levels_);
    for (client::Strip& strip : picture_.strips) strip.levels = mean(strip.levels);
    return std::move(picture_);
  }

 private:
  static constexpr int kWarmUpDays = 1;

  client::Thinner thinner() const { return {from_, to_, kHeld}; }

  void note_flood(std::int64_t tick, FloodPhase phase) {
    const bool water =
        phase == FloodPhase::fill || phase == FloodPhase::soak || phase == FloodPhase::drain;
    if (water && !flooding_) picture_.floods.push_back({tick, tick});
    if (water) picture_.floods.back().to = tick;
    flooding_ = water;
  }

  void note_levels(std::int64_t tick, const OutputImage& image) {
    const auto column = std::min<std::size_t>(
        client::kPictureColumns - 1,
        static_cast<std::size_t>((tick - from_) * client::kPictureColumns / kDay));
    ++looks_[column];
    const auto level = [&](Output o) { return image.commands[o].level.value / 1000.0; };
    levels_[column] += level(Output::exhaust_fan);
    for (client::Strip& strip : picture_.strips)
      strip.levels[column] += level(
          strip.title == name_of(Output::dehumidifier) ? Output::dehumidifier : Output::humidifier);
  }

  client::Levels mean(client::Levels sums) const {
    for (std::size_t i = 0; i < sums.size(); ++i)
      if (looks_[i] > 0) sums[i] /= looks_[i];
    return sums;
  }

  std::int64_t to_, from_;
  const StagePlan stage_;
  client::Picture picture_;
  client::Thinner vpd_ = thinner(), canopy_c_ = thinner(), canopy_percent_ = thinner();
  client::Thinner room_c_ = thinner(), room_vpd_ = thinner();
  client::Levels levels_{};
  std::array<int, client::kPictureColumns> looks_{};
  bool fan_ = false;
  bool flooding_ = false;
};

std::string text_of(const char* format, double a, double b, double c) {
  std::array<char, 160> line{};
  std::snprintf(line.data(), line.size(), format, a, b, c);
  return line.data();
}

}  // namespace

std::string portrait(Match& match, int days) {
  const Run run = run_of(match, days);
  Sitting sitting(run.settings.plan, days);
  match.score = arena::run(run, &sitting);
  client::Picture picture = std::move(sitting).done();
  picture.name = match.scenario.id + ", " + match.scenario.what;
  picture.facts = {
      match.controller->name + ", seed " + std::to_string(match.seed) +
          "; by the tent's own truth, the last of " + std::to_string(days) + " days",
      text_of("VPD in band %.1f %% of all days: %.1f %% by day, %.1f %% by night",
              match.score.in_band, match.score.in_band_day, match.score.in_band_night)};
  return client::draw(picture);
}

}  // namespace neap::arena
