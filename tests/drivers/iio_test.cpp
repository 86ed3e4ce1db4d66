// Industrial I/O as the kernel shows it. The figures of the chips were read from the kernel's own
// drivers in a guest (Linux 6.1 and 6.12) over modelled chips.
#include "drivers/sensors/iio.h"

#include <gtest/gtest.h>

#include "drivers/bus/iio.h"
#include "tests/drivers/fake_kernel.h"

namespace neap::drivers {
namespace {

using test::whole_read;
using Files = std::vector<std::pair<std::string, std::string>>;

class IioTest : public testing::Test {
 protected:
  void plug_in(int number, const std::string& chip, const Files& files,
               const std::string& device = "1-0076") {
    const std::string name = "iio:device" + std::to_string(number);
    const std::string folder = "bus/iio/devices/" + name;
    kernel->files[folder + "/name"] = chip;
    kernel->links[folder] = "devices/platform/i2c-1/" + device + "/" + name;
    for (const auto& [file, text] : files) kernel->files[folder + "/" + file] = text;
  }
  Params params_for(const std::string& chip, const std::string& device = "") {
    Params params;
    params.set("chip", chip);
    if (!device.empty()) params.set("device", device);
    context.kernel = kernel;
    return params;
  }
  std::unique_ptr<Sensor> open(const std::string& chip, const std::string& device = "") {
    return kIio.make(params_for(chip, device), context);
  }
  iio::Value input(const std::string& chip, const std::string& channel) {
    iio::Device device(params_for(chip), context);
    device.find();
    return device.read(channel);
  }

  Context context;
  std::shared_ptr<test::FakeKernel> kernel = std::make_shared<test::FakeKernel>();
};

TEST_F(IioTest, ReadsAFinishedValueOfEitherKernel) {
  plug_in(0, "bme280", {{"in_temp_input", "23500"}, {"in_humidityrelative_input", "61255"}});
  auto out = whole_read(*open("bme280"));
  EXPECT_DOUBLE_EQ(out[0].value.value(), 23.5);
  EXPECT_DOUBLE_EQ(out[1].value.value(), 61.255);
  plug_in(0, "bme280",
          {{"in_temp_input", "23500.000000000"}, {"in_humidityrelative_input", "61255.859375000"}});
  out = whole_read(*open("bme280"));
  EXPECT_DOUBLE_EQ(out[0].value.value(), 23.5);
  EXPECT_DOUBLE_EQ(out[1].value.value(), 61.255859375);
}

TEST_F(IioTest, ReadsAnInfraredThermometersObjectByTheOffsetAndScaleOfItsType) {
  // mlx90614: offset -13657.5 and scale 20 in milli-C; a raw 14657.5 is 20 C by its data sheet
  // (0.02 K each, 0 K at 0).
  plug_in(0, "mlx90614",
          {{"in_temp_object_raw", "14707"},
           {"in_temp_ambient_raw", "14600"},
           {"in_temp_offset", "-13657.500000"},
           {"in_temp_scale", "20"}});
  const auto out = whole_read(*open("mlx90614"));
  EXPECT_NEAR(out[2].value.value(), 14707 * 0.02 - 273.15, 1e-9);
  EXPECT_EQ(out[0].fault, Fault::absent) << "it has no channel of that name";
}

TEST_F(IioTest, ReadsAConverterUnderEitherOfItsNames) {
  const Files files{{"in_voltage0_raw", "19752"}, {"in_voltage0_scale", "0.062500000"}};
  for (const char* kernels : {"ads1015", "ads1115"}) {
    plug_in(0, kernels, files, "1-0048");
    for (const char* settings : {"ads1015", "ads1115"})
      EXPECT_DOUBLE_EQ(input(settings, "voltage0").value.value(), 1234.5) << kernels << settings;
  }
  EXPECT_EQ(input("ads1118", "voltage0").fault, Fault::absent);
}

TEST_F(IioTest, TakesTheScaleOfTheChannelBeforeThatOfItsType) {
  plug_in(0, "adc", {{"in_voltage0_raw", "73"}, {"in_voltage_scale", "2"}});
  EXPECT_DOUBLE_EQ(input("adc", "voltage0").value.value(), 146);
  plug_in(0, "adc", {{"in_voltage0_scale", "3"}});
  EXPECT_DOUBLE_EQ(input("adc", "voltage0").value.value(), 219);
}

TEST_F(IioTest, AddsTheOffsetBeforeItScales) {
  // iio_simple_dummy of the kernel.
  plug_in(
      0, "dummy",
      {{"in_voltage0_raw", "73"}, {"in_voltage0_offset", "7"}, {"in_voltage0_scale", "0.001333"}});
  EXPECT_DOUBLE_EQ(input("dummy", "voltage0").value.value(), 80 * 0.001333);
}

TEST_F(IioTest, ReadsADifferenceOfTwoInputs) {
  plug_in(0, "adc",
          {{"in_voltage0-voltage1_raw", "-3200"}, {"in_voltage-voltage_scale", "0.0625"}});
  EXPECT_DOUBLE_EQ(input("adc", "voltage0-voltage1").value.value(), -200);
}

TEST_F(IioTest, ARawNumberWithoutAScaleIsNoValue) {
  plug_in(0, "adc", {{"in_voltage0_raw", "73"}});
  EXPECT_EQ(input("adc", "voltage0").fault, Fault::absent);
}

TEST_F(IioTest, AConverterAtItsStopHasNoValue) {
  for (const char* raw : {"32767", "-32768"}) {
    plug_in(0, "adc", {{"in_voltage0_raw", raw}, {"in_voltage0_scale", "0.0625"}});
    EXPECT_FALSE(input("adc", "voltage0").value) << raw;
    EXPECT_EQ(input("adc", "voltage0").fault, Fault::out_of_range) << raw;
  }
  plug_in(0, "adc", {{"in_voltage0_raw", "32766"}, {"in_voltage0_scale", "0.0625"}});
  EXPECT_TRUE(input("adc", "voltage0").value);
}

TEST_F(IioTest, ADamagedPartSpoilsTheValue) {
  for (const char* file : {"in_voltage0_raw", "in_voltage0_scale", "in_voltage0_offset"})
    for (const auto& [text, fault] :
         {std::pair{"garbage", Fault::corrupt}, {"", Fault::no_answer}}) {
      plug_in(0, "adc",
              {{"in_voltage0_raw", "73"}, {"in_voltage0_offset", "7"}, {"in_voltage0_scale", "2"}});
      plug_in(0, "adc", {{file, text}});
      EXPECT_EQ(input("adc", "voltage0").fault, fault) << file << " " << text;
      EXPECT_FALSE(input("adc", "voltage0").value);
    }
}

TEST_F(IioTest, AFinishedValueThatFailsIsNotMadeUpFromTheRawOne) {
  plug_in(0, "adc",
          {{"in_voltage0_input", ""}, {"in_voltage0_raw", "73"}, {"in_voltage0_scale", "2"}});
  EXPECT_EQ(input("adc", "voltage0").fault, Fault::no_answer);
}

TEST_F(IioTest, DoesNotGuessBetweenTwins) {
  plug_in(0, "bme280", {{"in_temp_input", "20000"}}, "1-0076");
  plug_in(1, "bme280", {{"in_temp_input", "30000"}}, "1-0077");
  EXPECT_EQ(open("bme280")->begin().fault, Fault::ambiguous);
  EXPECT_DOUBLE_EQ(whole_read(*open("bme280", "1-0077"))[0].value.value(), 30);
}

TEST_F(IioTest, ALostChipKeepsNoValue) {
  plug_in(0, "bme280", {{"in_temp_input", "20000"}});
  const auto sensor = open("bme280");
  EXPECT_TRUE(whole_read(*sensor)[0].value);
  kernel->files.clear();
  for (const Delivery& delivery : whole_read(*sensor)) {
    EXPECT_FALSE(delivery.value);
    EXPECT_EQ(delivery.fault, Fault::absent);
  }
}

TEST(IioUnits, AreThoseOfTheKernelsInterface) {
  EXPECT_EQ(iio::unit_of("voltage0"), "mV");
  EXPECT_EQ(iio::unit_of("voltage0-voltage1"), "mV");
  EXPECT_EQ(iio::unit_of("distance"), "m");
  EXPECT_EQ(iio::unit_of("pressure"), "kPa");
  EXPECT_EQ(iio::unit_of("current3"), "mA");
  for (const char* other : {"", "volt", "voltage0_raw", "voltage0-", "voltage-voltage1", "../x",
                            "voltage0-current1", "temp"})
    EXPECT_EQ(iio::unit_of(other), std::nullopt) << other;
}

}  // namespace
}  // namespace neap::drivers
