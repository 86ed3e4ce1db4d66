#include "drivers/sensors/leak_rope.h"

#include <array>

#include "daemon/core/points.h"
#include "drivers/bus/iio.h"

namespace neap::drivers {
namespace {

constexpr double kWhole = 100;        // percent
constexpr double kSurelyRead = 0.98;  // of the converter's range; its gain may be a little off

constexpr std::array kChannels{ChannelSpec{"contact", "", 0, 3}};

constexpr std::array kParams{
    iio::chip_param(),
    iio::device_param(),
    ParamSpec{"input", ParamKind::text, true, "", 0, 0, "",
              "the kernel's name of the voltage input, such as voltage0"},
    ParamSpec{"end_of_line", ParamKind::number, true, "", 100, 10e6, "",
              "the resistor at the rope's far end, in ohm; 100000 suits a rope of a few metres"},
    ParamSpec{"series", ParamKind::number, true, "", 100, 10e6, "",
              "the resistor from the supply to the input, in ohm; best as large as end_of_line"},
    ParamSpec{"supply", ParamKind::number, false, "3300", 1000, 5500, "",
              "the supply of that resistor, in mV; 3300 is the board's 3.3 V"},
    ParamSpec{"range", ParamKind::number, false, "2048", 256, 6144, "",
              "the most that the converter can read, in mV: 2048 for an ADS1115 as it starts, 4096 "
              "with cha_gain=1"},
    ParamSpec{"open_above", ParamKind::number, false, "150", 101, 1000, "",
              "percent of end_of_line over which the wire is open"},
    ParamSpec{"damp_below", ParamKind::number, false, "80", 2, 99, "",
              "percent of end_of_line under which the rope is damp"},
    ParamSpec{"wet_below", ParamKind::number, false, "40", 1, 98, "",
              "percent of end_of_line under which it is wet"},
    ParamSpec{"short_below", ParamKind::number, false, "0.2", 0, 50, "",
              "percent of end_of_line under which the wires touch"},
};

struct Bands {
  double open_above, damp_below, wet_below, short_below;  // ohm
};

Bands bands_of(const Params& params) {
  const double one_percent = params.number("end_of_line") / kWhole;
  return {params.number("open_above") * one_percent, params.number("damp_below") * one_percent,
          params.number("wet_below") * one_percent, params.number("short_below") * one_percent};
}

struct State {
  Contact contact;
  Fault fault;
};

constexpr State kOpen{Contact::faulty, Fault::open_wire};

State state_of(const Bands& bands, double ohm) {
  if (ohm > bands.open_above) return kOpen;
  if (ohm < bands.short_below) return {Contact::faulty, Fault::short_wire};
  if (ohm < bands.wet_below) return {Contact::set, Fault::none};
  if (ohm < bands.damp_below) return {Contact::damp, Fault::none};
  return {Contact::clear, Fault::none};
}

class LeakRope final : public Sensor {
 public:
  LeakRope(const Params& params, const Context& context)
      : device_(params, context),
        input_(params.text("input")),
        series_(params.number("series")),
        supply_(params.number("supply")),
        bands_(bands_of(params)) {}

  Started begin() override { return {device_.find(), Millis{0}}; }

  void finish(Deliveries& out) override {
    const iio::Value said = device_.read(input_);
    const bool beyond = said.fault == Fault::out_of_range;  // over the range: nothing pulls it down
    if (!said.value && !beyond) {
      out.push({0, std::nullopt, said.fault});
      return;
    }
    const State state = beyond ? kOpen : state_at(*said.value);
    out.push({0, static_cast<double>(state.contact), state.fault});
  }

 private:
  State state_at(double millivolt) const {
    if (millivolt >= supply_) return kOpen;  // no current at all
    return state_of(bands_, series_ * millivolt / (supply_ - millivolt));
  }

  iio::Device device_;
  std::string input_;
  double series_;
  double supply_;
  Bands bands_;
};

std::string check(const Params& given) {
  const Params params = completed(given, kParams);
  if (iio::unit_of(params.text("input")) != "mV")
    return "input is " + params.text("input") +
           "; must be a voltage, as the number in the file in_voltage0_raw says: voltage0";
  const Bands bands = bands_of(params);
  if (bands.short_below >= bands.wet_below || bands.wet_below >= bands.damp_below)
    return "the bands must rise from short_below over wet_below to damp_below; swap two of them";
  const double series = params.number("series");
  const double open_at = params.number("supply") * bands.open_above / (series + bands.open_above);
  if (open_at < kSurelyRead * params.number("range")) return {};
  return "an open wire begins at " + std::to_string(static_cast<int>(open_at)) +
         " mV, which the converter with its range of " + params.text("range") +
         " mV cannot tell from a dry rope; give the converter a larger range, or the rope a larger "
         "series";
}

std::unique_ptr<Sensor> make(const Params& params, Context& context) {
  return std::make_unique<LeakRope>(completed(params, kParams), context);
}

}  // namespace

constinit const SensorInfo kLeakRope{
    .name = "leak_rope",
    .about = "a leak rope with a resistor at its end: dry, damp, wet, wire open, wires short",
    .channels = kChannels,
    .params = kParams,
    .fastest_period = Millis{500},
    .deadline = iio::kDeadline,
    .simulated = false,
    .strand = iio::strand,
    .make = make,
    .check = check,
    .boot_line = "dtoverlay=ads1115,addr=0x48,cha_enable,cha_cfg=4",
};

}  // namespace neap::drivers
