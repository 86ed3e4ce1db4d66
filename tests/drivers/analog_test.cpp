// Curves, and what converters read made into pH, EC and litres.
#include "drivers/sensors/analog.h"

#include <gtest/gtest.h>

#include "drivers/sensors/curve.h"
#include "tests/drivers/fake_kernel.h"

namespace neap::drivers {
namespace {

using test::whole_read;
using Words = std::vector<std::string>;

Curve curve(const Words& words) { return std::get<Curve>(Curve::parse(words, "mV", "pH")); }
std::string complaint(const Words& words) {
  const auto result = Curve::parse(words, "mV", "pH");
  const auto* text = std::get_if<std::string>(&result);
  return text != nullptr ? *text : std::string{};
}

TEST(CurveTest, IsTheLineBetweenTwoPairsAndGoesOnBeyondThem) {
  const Curve line = curve({"1500 mV = 7 pH", "1680 mV = 4 pH"});
  EXPECT_DOUBLE_EQ(line.at(1500), 7);
  EXPECT_DOUBLE_EQ(line.at(1680), 4);
  EXPECT_DOUBLE_EQ(line.at(1590), 5.5);
  EXPECT_DOUBLE_EQ(line.at(1320), 10);
  EXPECT_DOUBLE_EQ(line.at(1740), 3);
}

TEST(CurveTest, TakesThePairsInAnyOrderAndBendsAtEach) {
  const Curve bent = curve({"200 mV=4pH", "0 mV = 0 pH", "100mV = 1 pH"});
  EXPECT_DOUBLE_EQ(bent.at(50), 0.5);
  EXPECT_DOUBLE_EQ(bent.at(100), 1);
  EXPECT_DOUBLE_EQ(bent.at(150), 2.5);
  EXPECT_DOUBLE_EQ(bent.at(300), 7);
  EXPECT_DOUBLE_EQ(bent.first().reading, 0);
  EXPECT_DOUBLE_EQ(bent.last().reading, 200);
}

TEST(CurveTest, SaysWhatIsWrongWithItsPairs) {
  EXPECT_EQ(complaint({"1500 mV = 7 pH", "1680 mV = 4 pH"}), "");
  EXPECT_NE(complaint({"1500 mV = 7 pH"}).find("at least two"), std::string::npos);
  EXPECT_NE(complaint({}).find("at least two"), std::string::npos);
  EXPECT_NE(complaint({"1500 mV = 7 pH", "1500 mV = 4 pH"}).find("twice"), std::string::npos);
  EXPECT_NE(complaint({"1 mV = 7 pH", "2 mV = 4 pH", "3 mV = 5 pH"}).find("only rise"),
            std::string::npos);
  EXPECT_NE(complaint({"1 mV = 7 pH", "2 mV = 7 pH"}).find("only rise"), std::string::npos);
  for (const char* word : {"1500 = 7", "1500 V = 7 pH", "1500 mV: 7 pH", "mV = pH", "",
                           "1500 mV = 7 pH = 8 pH", "1e3 mV = 7 pH", "nan mV = 7 pH"})
    EXPECT_NE(complaint({word, "1680 mV = 4 pH"}).find("must be a reading and its value"),
              std::string::npos)
        << word;
}

class AnalogTest : public testing::Test {
 protected:
  AnalogTest() {
    kernel->files["bus/iio/devices/iio:device0/name"] = "ads1015";
    read_as("0");
  }
  void read_as(const std::string& millivolt) {
    kernel->files["bus/iio/devices/iio:device0/in_voltage0_raw"] = millivolt;
    kernel->files["bus/iio/devices/iio:device0/in_voltage0_scale"] = "1";
  }
  static Params with(const Words& pairs, const std::string& input = "voltage0") {
    Params params;
    params.set("chip", "ads1115");
    params.set("input", input);
    params.set_words("curve", pairs);
    return params;
  }
  Delivery said(const SensorInfo& info, const Words& pairs) {
    Context context;
    context.kernel = kernel;
    return whole_read(*info.make(with(pairs), context))[0];
  }

  std::shared_ptr<test::FakeKernel> kernel = std::make_shared<test::FakeKernel>();
};

// The slope of a perfect glass electrode at 25 C is 59.16 mV a pH (ln 10 * R * T / F), about 0 mV
// at pH 7.
TEST_F(AnalogTest, APerfectElectrodeReadsByTheNernstSlope) {
  const double slope = 2.302585092994 * 8.314462618 * 298.15 / 96485.33212 * 1000;
  EXPECT_NEAR(slope, 59.16, 0.005);
  const Words pairs{"0 mV = 7 pH", "177.48 mV = 4 pH"};
  read_as(std::to_string((7 - 5.8) * slope));
  EXPECT_NEAR(said(kAnalogPh, pairs).value.value(), 5.8, 0.001);
  read_as(std::to_string((7 - 9.2) * slope));
  EXPECT_NEAR(said(kAnalogPh, pairs).value.value(), 9.2, 0.001);
}

// The two standards that are sold as 1413 and 12880 uS/cm at 25 C (common practice, no source).
TEST_F(AnalogTest, EcGoesThroughItsTwoStandards) {
  const Words pairs{"120 mV = 1.413 mS/cm", "1080 mV = 12.88 mS/cm"};
  read_as("120");
  EXPECT_DOUBLE_EQ(said(kAnalogEc, pairs).value.value(), 1.413);
  read_as("168");
  EXPECT_NEAR(said(kAnalogEc, pairs).value.value(), 1.413 + 0.05 * (12.88 - 1.413), 1e-12);
}

TEST_F(AnalogTest, LitresGoOnATenthBeyondTheTableAndNeverBelowEmpty) {
  const Words tank{"400 mV = 0 L", "1400 mV = 30 L", "2400 mV = 60 L"};
  const auto litres = [&](const char* millivolt) {
    read_as(millivolt);
    return said(kAnalogLevel, tank);
  };
  EXPECT_DOUBLE_EQ(litres("900").value.value(), 15);
  EXPECT_DOUBLE_EQ(litres("390").value.value(), 0) << "noise of an empty tank";
  EXPECT_DOUBLE_EQ(litres("2599").value.value(), 65.97);
  for (const char* torn : {"199", "0", "-5", "2601", "4096"}) {
    EXPECT_FALSE(litres(torn).value) << torn;
    EXPECT_EQ(litres(torn).fault, Fault::out_of_range) << torn;
  }
}

// A table that begins at 15 L must not hide that the water falls on.
TEST_F(AnalogTest, ATableThatDoesNotReachEmptyHidesNoFall) {
  read_as("850");
  EXPECT_DOUBLE_EQ(said(kAnalogLevel, {"900 mV = 15 L", "2400 mV = 60 L"}).value.value(), 13.5);
}

TEST_F(AnalogTest, LitresByTheDistanceToTheWaterFallAsItGrows) {
  kernel->files["bus/iio/devices/iio:device0/in_distance_input"] = "0.15";
  Context context;
  context.kernel = kernel;
  const auto params = with({"0.05 m = 60 L", "0.25 m = 0 L"}, "distance");
  EXPECT_EQ(kAnalogLevel.check(params), "");
  EXPECT_NEAR(whole_read(*kAnalogLevel.make(params, context))[0].value.value(), 30, 1e-12);
}

TEST_F(AnalogTest, AFaultOfTheConverterIsNoLevel) {
  kernel->files["bus/iio/devices/iio:device0/in_voltage0_raw"] = "";
  const Delivery lost = said(kAnalogLevel, {"400 mV = 0 L", "1400 mV = 30 L"});
  EXPECT_FALSE(lost.value);
  EXPECT_EQ(lost.fault, Fault::no_answer);
}

TEST_F(AnalogTest, SettingsAreToldWhatIsWrong) {
  EXPECT_EQ(kAnalogPh.check(with({"0 mV = 7 pH", "177 mV = 4 pH"})), "");
  EXPECT_NE(kAnalogPh.check(with({"0 mV = 7 pH", "177 mV = 40 pH"})).find("beyond what ph can be"),
            std::string::npos);
  EXPECT_NE(kAnalogPh.check(with({"0 mV = 7 pH", "177 mV = 4 L"})).find("177 mV = 4 L"),
            std::string::npos);
  EXPECT_NE(kAnalogPh.check(with({"0 mV = 7 pH", "177 mV = 4 pH"}, "ain0")).find("input is ain0"),
            std::string::npos);
  EXPECT_NE(kAnalogLevel.check(with({"0.05 mV = 60 L", "1 mV = 0 L"}, "distance")).find("0.05 mV"),
            std::string::npos)
      << "the unit is the input's: metres";
}

}  // namespace
}  // namespace neap::drivers
