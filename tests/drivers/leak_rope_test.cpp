// A leak rope by its resistance: Ohm's law in the divider, and what each band means.
#include "drivers/sensors/leak_rope.h"

#include <gtest/gtest.h>

#include "daemon/core/points.h"
#include "tests/drivers/fake_kernel.h"

namespace neap::drivers {
namespace {

using test::whole_read;

constexpr double kSupply = 3300;
constexpr double kSeries = 100'000;

class LeakRopeTest : public testing::Test {
 protected:
  LeakRopeTest() {
    kernel->files["bus/iio/devices/iio:device0/name"] = "ads1115";
    kernel->files["bus/iio/devices/iio:device0/in_voltage0_scale"] = "1";
    context.kernel = kernel;
  }
  static Params params() {
    Params all;
    all.set("chip", "ads1115");
    all.set("input", "voltage0");
    all.set("end_of_line", "100000");
    all.set("series", "100000");
    return all;
  }
  Delivery at_millivolt(const std::string& text) {
    kernel->files["bus/iio/devices/iio:device0/in_voltage0_raw"] = text;
    return whole_read(*kLeakRope.make(params(), context))[0];
  }
  // What the divider gives with `water` ohm beside the resistor at the end.
  Delivery with_water(double water) {
    const double rope = 1 / (1 / 100'000.0 + 1 / water);
    return at_millivolt(std::to_string(kSupply * rope / (kSeries + rope)));
  }

  Context context;
  std::shared_ptr<test::FakeKernel> kernel = std::make_shared<test::FakeKernel>();
};

void expect(const Delivery& said, Contact contact, Fault fault = Fault::none) {
  EXPECT_EQ(said.value, static_cast<double>(contact));
  EXPECT_EQ(said.fault, fault);
}

TEST_F(LeakRopeTest, IsDryWhileOnlyTheResistorAtItsEndIsSeen) {
  expect(at_millivolt("1650"), Contact::clear);
  expect(with_water(2e6), Contact::clear);
}

TEST_F(LeakRopeTest, IsDampThenWetAsWaterBridgesItsWires) {
  expect(with_water(200'000), Contact::damp);  // 67 % of the resistor
  expect(with_water(70'000), Contact::damp);   // 41 %
  expect(with_water(60'000), Contact::set);    // 37.5 %
  expect(with_water(2'000), Contact::set);
}

TEST_F(LeakRopeTest, StrongNutrientSolutionIsStillWater) { expect(with_water(250), Contact::set); }

TEST_F(LeakRopeTest, ABrokenWireIsNoDryFloor) {
  for (const char* text : {"3300", "3299", "3305", "2100", "4096"})
    expect(at_millivolt(text), Contact::faulty, Fault::open_wire);
  expect(at_millivolt("32767"), Contact::faulty, Fault::open_wire);  // a converter at its stop
}

TEST_F(LeakRopeTest, WiresThatTouchAreAFault) {
  for (const char* text : {"0", "-3", "5"})
    expect(at_millivolt(text), Contact::faulty, Fault::short_wire);
}

TEST_F(LeakRopeTest, NoVoltageIsDryButThoseAroundTheResistors) {
  int clear = 0;
  for (int millivolt = -50; millivolt <= 3400; ++millivolt) {
    const Delivery said = at_millivolt(std::to_string(millivolt));
    if (said.value != static_cast<double>(Contact::clear)) continue;
    ++clear;
    EXPECT_GE(millivolt, 1466);  // 80 kOhm
    EXPECT_LE(millivolt, 1980);  // 150 kOhm
  }
  EXPECT_NEAR(clear, 1980 - 1466, 2);
}

TEST_F(LeakRopeTest, AConverterThatSaysNothingIsNoDryFloor) {
  const Delivery silent = at_millivolt("");
  EXPECT_FALSE(silent.value);
  EXPECT_EQ(silent.fault, Fault::no_answer);
  EXPECT_EQ(at_millivolt("garbage").fault, Fault::corrupt);
}

TEST_F(LeakRopeTest, SettingsAreToldWhatIsWrong) {
  EXPECT_EQ(kLeakRope.check(params()), "");
  Params swapped = params();
  swapped.set("wet_below", "90");
  EXPECT_NE(kLeakRope.check(swapped).find("must rise"), std::string::npos);
  Params blind = params();  // an open wire lies at 2475 mV: read as 2048 mV it would be dry
  blind.set("end_of_line", "200000");
  EXPECT_NE(kLeakRope.check(blind).find("begins at 2475 mV"), std::string::npos);
  blind.set("range", "4096");
  EXPECT_EQ(kLeakRope.check(blind), "");
  Params distance = params();
  distance.set("input", "distance");
  EXPECT_NE(kLeakRope.check(distance).find("must be a voltage"), std::string::npos);
}

}  // namespace
}  // namespace neap::drivers
