// What reading sixteen points costs in CPU, through the drivers and the calls of the kernel: four
// hwmon chips, two of industrial I/O, four 1-Wire probes. The files stand below a folder of this
// machine, shaped as /sys; a conversion's own time is the chip's and is not in it. The aim is 3 ms.
#include <time.h>

#include <algorithm>
#include <array>
#include <cstdio>
#include <memory>
#include <vector>

#include "drivers/driver.h"
#include "drivers/sensors/hwmon.h"
#include "drivers/sensors/iio.h"
#include "drivers/sensors/one_wire.h"
#include "tests/drivers/temporary_folder.h"

namespace {

namespace fs = std::filesystem;
using namespace neap::drivers;

constexpr int kCycles = 200;
constexpr std::size_t kPoints = 16;

struct Machine {
  neap::test::TemporaryFolder sys;
  std::vector<std::unique_ptr<Sensor>> sensors;

  void link(const std::string& folder, const std::string& name, const std::string& device) {
    fs::create_directories(sys / folder);
    fs::create_directory_symlink(sys / device, sys / (folder + "/" + name));
  }
  void add(const SensorInfo& info, const Params& params) {
    Context context;
    context.sysfs_root = sys.path().string();
    sensors.push_back(info.make(params, context));
  }
  void add_chip(const SensorInfo& info, const std::string& chip, const std::string& device) {
    Params params;
    params.set("chip", chip);
    params.set("device", device);
    add(info, params);
  }

  Machine() {
    for (int i = 0; i < 4; ++i) {
      const std::string address = "1-004" + std::to_string(i);
      const std::string name = "hwmon" + std::to_string(i);
      const std::string device = "devices/i2c-1/" + address + "/hwmon/" + name;
      sys.write(device + "/name", "sht4x\n");
      sys.write(device + "/temp1_input", "23498\n");
      sys.write(device + "/humidity1_input", "61249\n");
      link("class/hwmon", name, device);
      add_chip(kHwmon, "sht4x", address);
    }
    for (int i = 0; i < 2; ++i) {
      const std::string address = "1-007" + std::to_string(6 + i);
      const std::string name = "iio:device" + std::to_string(i);
      const std::string device = "devices/i2c-1/" + address + "/" + name;
      sys.write(device + "/name", "bme280\n");
      sys.write(device + "/in_temp_input", "23500.000000000\n");
      sys.write(device + "/in_humidityrelative_input", "61255.859375000\n");
      link("bus/iio/devices", name, device);
      add_chip(kIio, "bme280", address);
    }
    Params probes;
    const std::array<const char*, 4> keys{"id", "id_2", "id_3", "id_4"};
    for (std::size_t i = 0; i < keys.size(); ++i) {
      const std::string id = "28-00000000000" + std::to_string(i);
      const std::string device = "devices/w1_bus_master1/" + id;
      sys.write(device + "/temperature", "18062\n");
      sys.write(device + "/features", "1\n");
      sys.write("devices/w1_bus_master1/therm_bulk_read", "0\n");
      link("bus/w1/devices", id, device);
      probes.set(keys[i], id);
    }
    add(kOneWire, probes);
  }
};

double cpu_ms() {
  timespec now{};
  ::clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &now);
  return static_cast<double>(now.tv_sec) * 1e3 + static_cast<double>(now.tv_nsec) / 1e6;
}

std::size_t values_of_a_cycle(Machine& machine) {
  std::size_t values = 0;
  for (const auto& sensor : machine.sensors) {
    Deliveries out;
    if (sensor->begin().fault != neap::Fault::none) continue;
    sensor->finish(out);
    for (const Delivery& delivery : out) values += delivery.value ? 1 : 0;
  }
  return values;
}

}  // namespace

int main() {
  Machine machine;
  std::vector<double> cycles;
  for (int i = 0; i < kCycles; ++i) {
    const double before = cpu_ms();
    if (values_of_a_cycle(machine) != kPoints) {
      std::fputs("poll_bench: not every point had a value\n", stderr);
      return 1;
    }
    cycles.push_back(cpu_ms() - before);
  }
  std::sort(cycles.begin(), cycles.end());
  std::printf("a poll of %zu points: CPU p50 %.2f ms, p99 %.2f ms, most %.2f ms of %d\n", kPoints,
              cycles[kCycles / 2], cycles[kCycles * 99 / 100], cycles.back(), kCycles);
  return 0;
}
