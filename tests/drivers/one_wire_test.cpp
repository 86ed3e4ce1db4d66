// DS18B20 probes as the kernel shows them. What its files say was seen on Linux 6.1 with a modelled
// DS2482 and two probes, and read in its source.
#include "drivers/sensors/one_wire.h"

#include <gtest/gtest.h>

#include "tests/drivers/fake_kernel.h"

namespace neap::drivers {
namespace {

using test::whole_read;
using Writes = std::vector<std::pair<std::string, std::string>>;

const std::string kSolution = "28-0000000a1b2c";
const std::string kRoom = "28-0000000d4e5f";
const std::string kBulk = "devices/w1_bus_master1/therm_bulk_read";

class OneWireTest : public testing::Test {
 protected:
  void plug_in(const std::string& id, const std::string& temperature,
               const std::string& master = "w1_bus_master1") {
    kernel->links["bus/w1/devices/" + id] = "devices/" + master + "/" + id;
    kernel->files["bus/w1/devices/" + id + "/temperature"] = temperature;
    kernel->files["bus/w1/devices/" + id + "/features"] = "0";
    kernel->files["devices/" + master + "/therm_bulk_read"] = "0";
  }
  std::unique_ptr<Sensor> open(const std::string& first, const std::string& second = "") {
    Params params;
    params.set("id", first);
    if (!second.empty()) params.set("id_2", second);
    Context context;
    context.kernel = kernel;
    return kOneWire.make(params, context);
  }
  Delivery first_said(const std::string& temperature) {
    plug_in(kSolution, temperature);
    return whole_read(*open(kSolution))[0];
  }

  std::shared_ptr<test::FakeKernel> kernel = std::make_shared<test::FakeKernel>();
};

TEST_F(OneWireTest, ReadsThousandthsOfBothKernels) {
  EXPECT_DOUBLE_EQ(first_said("18062").value.value(), 18.062);
  EXPECT_DOUBLE_EQ(first_said("-3500").value.value(), -3.5);
  EXPECT_DOUBLE_EQ(first_said("18062.000000000").value.value(), 18.062);
  EXPECT_DOUBLE_EQ(first_said("0").value.value(), 0);
}

// Table 1 of the data sheet DS18B20, as the kernel prints its sixteenths.
TEST_F(OneWireTest, ReadsTheTableOfTheDataSheet) {
  for (const auto& [text, celsius] :
       std::vector<std::pair<std::string, double>>{{"125000", 125},
                                                   {"25062", 25.0625},
                                                   {"10125", 10.125},
                                                   {"500", 0.5},
                                                   {"-500", -0.5},
                                                   {"-10125", -10.125},
                                                   {"-25062", -25.0625},
                                                   {"-55000", -55}})
    EXPECT_NEAR(first_said(text).value.value(), celsius, 0.0006) << text;
}

TEST_F(OneWireTest, TakesThePowerOnValueForNoMeasurement) {
  for (const char* text : {"85000", "85000.000000000"}) {
    const Delivery said = first_said(text);
    EXPECT_FALSE(said.value);
    EXPECT_EQ(said.fault, Fault::power_on_value);
  }
  EXPECT_TRUE(first_said("84937").value) << "a sixteenth of a degree beside it is a measurement";
}

TEST_F(OneWireTest, TakesAConversionCutShortForDamage) {
  EXPECT_EQ(first_said("127937").fault, Fault::corrupt);
}

TEST_F(OneWireTest, RefusesWhatTheChipCannotMeasure) {
  for (const char* text : {"125063", "-55063", "-127000", "999999"}) {
    const Delivery said = first_said(text);
    EXPECT_FALSE(said.value) << text;
    EXPECT_EQ(said.fault, Fault::out_of_range) << text;
  }
}

TEST_F(OneWireTest, AnEmptyReadIsNoAnswerAndGarbageIsDamage) {
  EXPECT_EQ(first_said("").fault, Fault::no_answer);
  for (const char* text : {"nan", "18,062", "1e3", "0x10", "18062 18062"})
    EXPECT_EQ(first_said(text).fault, Fault::corrupt) << text;
}

TEST_F(OneWireTest, LetsAllProbesOfAMasterConvertTogetherBeforeTheyAreRead) {
  plug_in(kSolution, "18062");
  plug_in(kRoom, "21000");
  const auto sensor = open(kSolution, kRoom);
  EXPECT_EQ(sensor->begin().fault, Fault::none);
  const auto triggers = std::count(kernel->written.begin(), kernel->written.end(),
                                   Writes::value_type{kBulk, "trigger\n"});
  EXPECT_EQ(triggers, 1) << "one wait for both";
  EXPECT_EQ(kernel->written.back().first, kBulk) << "after the features were set";
  Deliveries out;
  sensor->finish(out);
  EXPECT_DOUBLE_EQ(out[0].value.value(), 18.062);
  EXPECT_DOUBLE_EQ(out[1].value.value(), 21);
}

TEST_F(OneWireTest, AsksEachMasterByItself) {
  plug_in(kSolution, "18062");
  plug_in(kRoom, "21000", "w1_bus_master2");
  open(kSolution, kRoom)->begin();
  EXPECT_NE(std::find(kernel->written.begin(), kernel->written.end(),
                      Writes::value_type{"devices/w1_bus_master2/therm_bulk_read", "trigger\n"}),
            kernel->written.end());
}

TEST_F(OneWireTest, ReadsWithoutTheRightToStartAConversion) {
  plug_in(kSolution, "18062");
  kernel->write_faults[kBulk] = Fault::denied;
  kernel->write_faults["bus/w1/devices/" + kSolution + "/features"] = Fault::denied;
  EXPECT_DOUBLE_EQ(whole_read(*open(kSolution))[0].value.value(), 18.062);
  kernel->files.erase(kBulk);
  EXPECT_DOUBLE_EQ(whole_read(*open(kSolution))[0].value.value(), 18.062);
}

TEST_F(OneWireTest, AsksTheKernelToRefuseThePowerOnValueAndLeavesItsOtherFeatures) {
  plug_in(kSolution, "18062");
  const std::string features = "bus/w1/devices/" + kSolution + "/features";
  const auto written = [&](const std::string& before) {
    kernel->files[features] = before;
    kernel->written.clear();
    open(kSolution)->begin();
    std::string said;
    for (const auto& [path, text] : kernel->written)
      if (path == features) said = text;
    return said;
  };
  EXPECT_EQ(written("0"), "1\n");
  EXPECT_EQ(written("2"), "3\n");
  EXPECT_EQ(written("1"), "") << "it is set already";
  EXPECT_EQ(written("3"), "");
}

TEST_F(OneWireTest, AProbeThatIsNotThereIsAbsentAndAnotherInItsPlaceIsNotTakenForIt) {
  plug_in(kRoom, "21000");
  const auto sensor = open(kSolution);
  EXPECT_EQ(sensor->begin().fault, Fault::absent);
  Deliveries out;
  sensor->finish(out);
  EXPECT_EQ(out[0].fault, Fault::absent);
}

TEST_F(OneWireTest, OneProbeLostLeavesTheOther) {
  plug_in(kRoom, "21000");
  const auto out = whole_read(*open(kSolution, kRoom));
  EXPECT_EQ(out[0].fault, Fault::absent);
  EXPECT_DOUBLE_EQ(out[1].value.value(), 21);
  EXPECT_EQ(out[2].fault, Fault::not_fitted);
}

TEST_F(OneWireTest, SaysWhatIsWrongWithAnId) {
  const auto wrong = [](const char* id, const char* second) {
    Params params;
    params.set("id", id);
    if (second != nullptr) params.set("id_2", second);
    return kOneWire.check(params);
  };
  EXPECT_EQ(wrong("28-0000000a1b2c", "28-0000000d4e5f"), "");
  for (const char* id : {"28-0000000A1B2C", "28-0000000a1b2", "0000000a1b2c", "28_0000000a1b2c",
                         "../../../etc/pa", "28-0000000a1b2c0"})
    EXPECT_NE(wrong(id, nullptr).find(id), std::string::npos) << id;
  EXPECT_NE(wrong("28-0000000a1b2c", "28-0000000a1b2c").find("each probe once"), std::string::npos);
}

}  // namespace
}  // namespace neap::drivers
