// record_sensor: reads a sensor of this machine through its driver and writes what passed between
// the driver and the kernel, beside what the driver made of it: a file for
// tests/drivers/recordings.
//
//   record_sensor sht4x address=0x44 reads=3 > sht45.txt
//   record_sensor analog_level chip=ads1115 input=voltage0 "curve=400 mV = 0 L" "curve=..."
#include <poll.h>

#include <charconv>
#include <cstdio>
#include <iostream>
#include <string>
#include <string_view>

#include "drivers/bus/recording.h"

namespace {

using namespace neap::drivers;

struct Request {
  Params params;
  int reads = 2;
  std::string wrong;
};

const ParamSpec* find_param(const SensorInfo& info, std::string_view name) {
  for (const ParamSpec& spec : info.params)
    if (spec.name == name) return &spec;
  return nullptr;
}

// Writes the lines that say which driver was asked, and with what.
Request take_arguments(const SensorInfo& info, int count, char** arguments) {
  Request request;
  std::cout << "driver " << info.name << "\n";
  std::vector<std::string> words;
  for (int i = 2; i < count; ++i) {
    const std::string_view argument = arguments[i];
    const std::size_t equals = argument.find('=');
    const std::string name{argument.substr(0, equals)};
    const std::string value{equals == argument.npos ? "" : argument.substr(equals + 1)};
    const ParamSpec* spec = find_param(info, name);
    if (name == "reads") {
      std::from_chars(value.data(), value.data() + value.size(), request.reads);
    } else if (spec == nullptr) {
      request.wrong = "the driver " + std::string{info.name} + " has no \"" + name + "\"";
    } else if (spec->kind == ParamKind::words) {
      words.push_back(value);
      request.params.set_words(name, words);
      std::cout << "word " << name << " " << value << "\n";
    } else {
      request.params.set(name, value);
      std::cout << "with " << name << " " << value << "\n";
    }
  }
  return request;
}

void read_once(const SensorInfo& info, Sensor& sensor) {
  std::cout << "read\n";
  const Started started = sensor.begin();
  Deliveries out;
  if (started.fault == neap::Fault::none) {
    ::poll(nullptr, 0, static_cast<int>(started.ready_after.count()));
    sensor.finish(out);
  } else {
    std::cout << "= begin !" << recorded_name(started.fault) << "\n";
  }
  for (const Delivery& delivery : out) {
    std::cout << "= " << info.channels[static_cast<std::size_t>(delivery.channel)].name;
    if (delivery.value) std::cout << " " << *delivery.value;
    if (delivery.fault != neap::Fault::none) std::cout << " !" << recorded_name(delivery.fault);
    std::cout << "\n";
  }
}

}  // namespace

int main(int count, char** arguments) {
  const SensorInfo* info = count > 1 ? find_sensor_driver(arguments[1]) : nullptr;
  if (info == nullptr || info->simulated) {
    std::cerr << "record_sensor DRIVER [key=value ...] [reads=N]; config/reference.yaml lists the "
                 "drivers of sensors and their keys\n";
    return 2;
  }
  std::cout.precision(9);
  const Request request = take_arguments(*info, count, arguments);
  const std::string wrong =
      request.wrong.empty() && info->check ? info->check(request.params) : request.wrong;
  if (!wrong.empty()) {
    std::cerr << "record_sensor: " << wrong << "\n";
    return 2;
  }
  Context context;
  context.kernel = recording_kernel(kernel_of(Context{}),
                                    [](const std::string& line) { std::cout << line << "\n"; });
  const auto sensor = info->make(request.params, context);
  for (int i = 0; i < request.reads; ++i) read_once(*info, *sensor);
  return 0;
}
