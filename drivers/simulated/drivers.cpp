#include "drivers/simulated/drivers.h"

#include <array>
#include <utility>

#include "drivers/simulated/tent.h"

namespace neap::drivers {
namespace {

using simulated::Place;
using simulated::Said;

Tent* tent_of(const Context& context) { return dynamic_cast<Tent*>(context.world); }

std::string simulated_strand(const Params&) { return "simulated"; }

// What every sensor of the tent shares: without a tent nothing answers.
template <std::size_t Channels>
class TentSensor : public Sensor {
 public:
  TentSensor(Tent* tent, Millis conversion) : tent_(tent), conversion_(conversion) {}

  Started begin() override {
    if (tent_ == nullptr) return {Fault::no_answer, Millis{0}};
    said_ = measure(*tent_);
    return {Fault::none, conversion_};
  }

  void finish(Deliveries& out) override {
    for (std::size_t i = 0; i < Channels; ++i)
      out.push({static_cast<int>(i), said_[i].value, said_[i].fault});
  }

 protected:
  using Channelled = std::array<Said, Channels>;
  virtual Channelled measure(const Tent& tent) const = 0;
  Tent* tent() const { return tent_; }

 private:
  static constexpr Channelled nothing_said() {
    Channelled result;
    result.fill({std::nullopt, Fault::no_answer});
    return result;
  }

  Tent* tent_;
  Millis conversion_;
  Channelled said_ = nothing_said();
};

class AirSensor final : public TentSensor<2> {
 public:
  AirSensor(Tent* tent, Place place) : TentSensor(tent, Millis{10}), place_(place) {}

 private:
  Channelled measure(const Tent& tent) const override {
    const auto said = tent.air(place_);
    return {said.temperature, said.humidity};
  }
  Place place_;
};

class LeafSensor final : public TentSensor<1> {
 public:
  explicit LeafSensor(Tent* tent) : TentSensor(tent, Millis{10}) {}

 private:
  Channelled measure(const Tent& tent) const override { return {tent.leaf()}; }
};

class SolutionSensor final : public TentSensor<3> {
 public:
  explicit SolutionSensor(Tent* tent) : TentSensor(tent, Millis{100}) {}

 private:
  Channelled measure(const Tent& tent) const override {
    const auto said = tent.solution();
    return {said.temperature, said.ph, said.ec};
  }
};

class LevelSensor final : public TentSensor<1> {
 public:
  explicit LevelSensor(Tent* tent) : TentSensor(tent, Millis{10}) {}

 private:
  Channelled measure(const Tent& tent) const override { return {tent.level()}; }
};

class LightSensor final : public TentSensor<1> {
 public:
  explicit LightSensor(Tent* tent) : TentSensor(tent, Millis{10}) {}

 private:
  Channelled measure(const Tent& tent) const override { return {tent.light()}; }
};

class ContactSensor final : public TentSensor<simulated::kContactCount> {
 public:
  explicit ContactSensor(Tent* tent) : TentSensor(tent, Millis{0}) {}
  ~ContactSensor() override {
    if (listener_) tent()->forget(*listener_);
  }

  void watch(std::function<void()> on_edge) override {
    if (tent() == nullptr) return;
    if (listener_) tent()->forget(*listener_);
    listener_ = tent()->listen(std::move(on_edge));
  }

 private:
  Channelled measure(const Tent& tent) const override {
    const simulated::Contacts contacts = tent.contacts();
    Channelled result;
    for (std::size_t i = 0; i < contacts.size(); ++i)
      result[i].value = static_cast<double>(contacts[i]);
    return result;
  }
  std::optional<int> listener_;
};

class TentOutput final : public OutputDriver {
 public:
  TentOutput(Tent* tent, Output output) : tent_(tent), output_(output) {
    if (tent_ == nullptr) return;
    if (output == Output::pump_series) tent_->fit_second_contact();
    if (tempers_water(output)) tent_->command_water(output);
  }

  Fault write(Permille level) override {
    if (tent_ == nullptr) return Fault::no_answer;
    const bool end_stop = level == kStopped || level == kRunning;
    const bool between = level > kStopped && level < kRunning && info(output_).may_be_variable;
    if (!end_stop && !between) return Fault::out_of_range;
    tent_->write(output_, level);
    return Fault::none;
  }

  std::optional<Permille> read_back() override {
    if (tent_ == nullptr) return {};
    return tent_->written(output_);
  }

 private:
  Tent* tent_;
  Output output_;
};

struct PlaceName {
  std::string_view name;
  Place place;
};
constexpr std::array kPlaces{PlaceName{"canopy", Place::canopy},
                             PlaceName{"canopy_b", Place::canopy_b}, PlaceName{"room", Place::room},
                             PlaceName{"outdoor", Place::outdoor}};

std::unique_ptr<Sensor> make_air(const Params& params, Context& context) {
  const std::string wanted = params.text("place");
  for (const PlaceName& row : kPlaces)
    if (row.name == wanted) return std::make_unique<AirSensor>(tent_of(context), row.place);
  // The loader fills in the default and refuses other words, so this is a canopy probe unnamed.
  return std::make_unique<AirSensor>(tent_of(context), Place::canopy);
}

template <class SensorKind>
std::unique_ptr<Sensor> make_plain(const Params&, Context& context) {
  return std::make_unique<SensorKind>(tent_of(context));
}

std::unique_ptr<OutputDriver> make_output(const Params&, Output output, Context& context) {
  return std::make_unique<TentOutput>(tent_of(context), output);
}

std::string no_resource(const Params&, Output) { return {}; }

constexpr std::array kAirParams{
    ParamSpec{"place", ParamKind::choice, false, "canopy", 0, 0, "canopy canopy_b room outdoor",
              "where the probe hangs; over the plants is where control looks"}};

constexpr std::array kAirChannels{ChannelSpec{"temperature", "C", -40, 125},
                                  ChannelSpec{"humidity", "%", 0, 100}};
constexpr std::array kLeafChannels{ChannelSpec{"temperature", "C", -40, 85}};
constexpr std::array kSolutionChannels{ChannelSpec{"temperature", "C", 0, 60},
                                       ChannelSpec{"ph", "pH", 0, 14},
                                       ChannelSpec{"ec", "mS/cm", 0, 20}};
constexpr std::array kLevelChannels{ChannelSpec{"level", "L", 0, 1000}};
constexpr std::array kLightChannels{ChannelSpec{"light", "lx", 0, 200000}};
// In the order of simulated::ContactChannel.
constexpr std::array kContactChannels{
    ChannelSpec{"tray_full", "", 0, 3},          ChannelSpec{"tray_high", "", 0, 3},
    ChannelSpec{"tray_wet", "", 0, 3},           ChannelSpec{"reservoir_low", "", 0, 3},
    ChannelSpec{"leak_floor", "", 0, 3},         ChannelSpec{"leak_rack", "", 0, 3},
    ChannelSpec{"leak_reservoir", "", 0, 3},     ChannelSpec{"pump_running", "", 0, 3},
    ChannelSpec{"bucket_full", "", 0, 3},        ChannelSpec{"air_pump_running", "", 0, 3},
    ChannelSpec{"board_undervoltage", "", 0, 3}, ChannelSpec{"pump_auto", "", 0, 3},
    ChannelSpec{"button_pressed", "", 0, 3},
};
static_assert(kContactChannels.size() == simulated::kContactCount);

constexpr Millis kFastest{1000};  // the tent's own grid
constexpr Millis kFastestContact{100};
constexpr Millis kDeadline{50};

}  // namespace

constinit const SensorInfo kSimulatedAir{
    "simulated_air",
    "air temperature and humidity in the simulated tent, its room or outdoors",
    kAirChannels,
    kAirParams,
    kFastest,
    kDeadline,
    true,
    simulated_strand,
    make_air};
constinit const SensorInfo kSimulatedLeaf{"simulated_leaf",
                                          "leaf temperature by infrared in the simulated tent",
                                          kLeafChannels,
                                          {},
                                          kFastest,
                                          kDeadline,
                                          true,
                                          simulated_strand,
                                          make_plain<LeafSensor>};
constinit const SensorInfo kSimulatedSolution{"simulated_solution",
                                              "temperature, pH and EC in the simulated reservoir",
                                              kSolutionChannels,
                                              {},
                                              kFastest,
                                              kDeadline,
                                              true,
                                              simulated_strand,
                                              make_plain<SolutionSensor>};
constinit const SensorInfo kSimulatedLevel{"simulated_level",
                                           "litres in the simulated reservoir",
                                           kLevelChannels,
                                           {},
                                           kFastest,
                                           kDeadline,
                                           true,
                                           simulated_strand,
                                           make_plain<LevelSensor>};
constinit const SensorInfo kSimulatedContacts{
    "simulated_contacts",
    "floats, leak probes, proofs, bucket, supply, switch and button of the simulated tent",
    kContactChannels,
    {},
    kFastestContact,
    kDeadline,
    true,
    simulated_strand,
    make_plain<ContactSensor>};
constinit const SensorInfo kSimulatedLight{"simulated_light",
                                           "light over the simulated canopy",
                                           kLightChannels,
                                           {},
                                           kFastest,
                                           kDeadline,
                                           true,
                                           simulated_strand,
                                           make_plain<LightSensor>};
constinit const OutputDriverInfo kSimulatedOutput{"simulated",
                                                  "any output of the simulated tent",
                                                  {},
                                                  true,
                                                  true,
                                                  true,
                                                  simulated_strand,
                                                  no_resource,
                                                  make_output};

}  // namespace neap::drivers
