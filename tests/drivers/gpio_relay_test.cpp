#include "drivers/outputs/gpio_relay.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/drivers/fake_gpio.h"

namespace neap::drivers {
namespace {

using testing::ElementsAre;
using testing::HasSubstr;

class GpioRelayTest : public testing::Test {
 protected:
  GpioRelayTest() {
    auto& board = kernel_.add("gpiochip4", "pinctrl-board", 32);
    for (std::uint32_t offset = 0; offset < 32; ++offset)
      board.lines[offset].name = "GPIO" + std::to_string(offset);
  }
  static Params at(const std::string& line, const std::string& active = "low") {
    Params given;
    given.set("chip", "pinctrl-board");
    given.set("line", line);
    given.set("active", active);
    return given;
  }
  std::unique_ptr<OutputDriver> make(Output output, const Params& params) {
    return kGpioRelay.make(params, output, context_);
  }
  test::FakeLine& line(std::uint32_t offset) { return kernel_.chip("gpiochip4").lines[offset]; }

  Context context_;
  test::FakeGpio kernel_{context_};
};

TEST_F(GpioRelayTest, DrivesTheActiveLevelWhileItsOutputIsRunning) {
  const auto low = make(Output::pump, at("GPIO17"));
  const auto high = make(Output::light, at("GPIO22", "high"));
  EXPECT_EQ(low->write(kRunning), Fault::none);
  EXPECT_EQ(high->write(kRunning), Fault::none);
  EXPECT_FALSE(line(17).high);
  EXPECT_TRUE(line(22).high);
  EXPECT_EQ(low->write(kStopped), Fault::none);
  EXPECT_EQ(high->write(kStopped), Fault::none);
  EXPECT_TRUE(line(17).high);
  EXPECT_FALSE(line(22).high);
}

TEST_F(GpioRelayTest, AllRelaysOfAChipLeaveTheBootsPullInOneRequest) {
  const auto pump = make(Output::pump, at("GPIO17"));
  const auto light = make(Output::light, at("22", "high"));
  const auto air = make(Output::air_pump, at("GPIO23", "high"));
  EXPECT_EQ(kernel_.requests(), 0) << "making a driver touches no hardware";
  EXPECT_EQ(pump->write(kStopped), Fault::none);
  EXPECT_EQ(kernel_.requests(), 1);
  EXPECT_THAT(line(17).driven, ElementsAre(true, true)) << "stopped, active low, from the request";
  EXPECT_THAT(line(22).driven, ElementsAre(false)) << "stopped, before its own first write";
  EXPECT_THAT(line(23).driven, ElementsAre(true)) << "the air pump's safe level is running";
  EXPECT_EQ(light->write(kRunning), Fault::none);
  EXPECT_EQ(kernel_.requests(), 1);
}

TEST_F(GpioRelayTest, ThePumpsFirstLevelIsStoppedEvenWhenItIsFirstAskedToRun) {
  const auto pump = make(Output::pump, at("GPIO17", "high"));
  EXPECT_EQ(pump->write(kRunning), Fault::none);
  EXPECT_THAT(line(17).driven, ElementsAre(false, true));
}

TEST_F(GpioRelayTest, ReadsBackWhatTheLineReallyDoes) {
  const auto pump = make(Output::pump, at("GPIO17"));
  EXPECT_EQ(pump->read_back(), std::nullopt) << "never written: not ours";
  EXPECT_EQ(pump->write(kRunning), Fault::none);
  EXPECT_EQ(pump->read_back(), kRunning);
  line(17).high = true;  // something pulls it up against us
  EXPECT_EQ(pump->read_back(), kStopped);
}

TEST_F(GpioRelayTest, RefusesALevelBetween) {
  const auto pump = make(Output::pump, at("GPIO17"));
  EXPECT_EQ(pump->write(Permille{500}), Fault::out_of_range);
  EXPECT_EQ(kernel_.requests(), 0);
}

TEST_F(GpioRelayTest, ALineThatAnotherHoldsIsNamedWithItsHolderAndKeepsNobodyElse) {
  line(22).consumer = "other-program";
  const auto pump = make(Output::pump, at("GPIO17"));
  const auto light = make(Output::light, at("GPIO22"));
  EXPECT_EQ(pump->write(kStopped), Fault::none);
  EXPECT_EQ(pump->read_back(), kStopped);
  EXPECT_EQ(light->write(kStopped), Fault::taken);
  EXPECT_EQ(light->trouble(),
            "gpio:pinctrl-board:GPIO22 is held by \"other-program\"; stop that program or overlay, "
            "or choose another line");
  EXPECT_EQ(pump->trouble(), "");
  line(22).consumer.clear();
  EXPECT_EQ(light->write(kStopped), Fault::none) << "as soon as it is let go of";
  EXPECT_EQ(light->trouble(), "");
}

TEST_F(GpioRelayTest, TwoOutputsOnOneLineByNameAndNumberAreSeenAtTheChip) {
  const auto pump = make(Output::pump, at("GPIO17"));
  const auto light = make(Output::light, at("17"));
  EXPECT_EQ(pump->write(kStopped), Fault::none);
  EXPECT_NE(light->write(kRunning), Fault::none);
  EXPECT_THAT(light->trouble(), HasSubstr("are one line"));
  EXPECT_TRUE(line(17).high) << "the pump stays stopped";
}

TEST_F(GpioRelayTest, AChipThatGoesIsToldAndComesBackWithEveryLineSafe) {
  const auto pump = make(Output::pump, at("GPIO17", "high"));
  const auto light = make(Output::light, at("GPIO22", "high"));
  EXPECT_EQ(pump->write(kRunning), Fault::none);
  EXPECT_EQ(light->write(kRunning), Fault::none);
  kernel_.remove("gpiochip4");
  EXPECT_EQ(light->read_back(), std::nullopt);
  EXPECT_THAT(light->trouble(), HasSubstr("No such device"));
  EXPECT_EQ(pump->read_back(), std::nullopt) << "its line went with the chip";
  EXPECT_NE(light->write(kRunning), Fault::none);
  EXPECT_THAT(light->trouble(), HasSubstr("GPIO chip pinctrl-board is not there"));

  auto& board = kernel_.add("gpiochip7", "pinctrl-board", 32);
  board.lines[17].name = "GPIO17";
  board.lines[22].name = "GPIO22";
  EXPECT_EQ(light->write(kRunning), Fault::none);
  EXPECT_THAT(board.lines[17].driven, ElementsAre(false)) << "no pump runs that nobody asked for";
  EXPECT_EQ(pump->read_back(), kStopped);
}

TEST_F(GpioRelayTest, AnErrorThatIsNotTheChipsEndLetsGoOfNoLine) {
  const auto pump = make(Output::pump, at("GPIO17", "high"));
  EXPECT_EQ(pump->write(kRunning), Fault::none);
  kernel_.chip("gpiochip4").refuse_values = EIO;  // an I2C expander whose bus is disturbed
  EXPECT_NE(pump->write(kStopped), Fault::none);
  EXPECT_THAT(pump->trouble(), HasSubstr("cannot be driven"));
  kernel_.chip("gpiochip4").refuse_values = 0;
  EXPECT_EQ(pump->write(kStopped), Fault::none);
  EXPECT_EQ(kernel_.requests(), 1);
}

TEST_F(GpioRelayTest, LinesGoWithTheirDriversAndMayBeHadAgain) {
  auto pump = make(Output::pump, at("GPIO17"));
  EXPECT_EQ(pump->write(kStopped), Fault::none);
  auto again = make(Output::pump, at("GPIO17", "high"));
  EXPECT_NE(again->write(kStopped), Fault::none) << "the old driver still has it";
  pump.reset();
  EXPECT_EQ(again->write(kStopped), Fault::none);
  EXPECT_FALSE(line(17).high);
}

struct Refused {
  const char* what;
  const char* chip;
  const char* line;
  const char* says;
  Fault fault = Fault::absent;
};
class GpioPlaceTest : public GpioRelayTest, public testing::WithParamInterface<Refused> {};

TEST_P(GpioPlaceTest, IsRefusedWithRuleAndRemedy) {
  kernel_.add("gpiochip0", "twin", 8, "i2c-1/1-0020");
  kernel_.add("gpiochip1", "twin", 8, "i2c-1/1-0021").lines[3].name = "K1";
  kernel_.chip("gpiochip1").lines[5].name = "K1";
  Params given = at(GetParam().line);
  const std::string chip = GetParam().chip;
  given.set("chip", chip.substr(0, chip.find(' ')));
  if (chip.find(' ') != std::string::npos) given.set("device", chip.substr(chip.find(' ') + 1));
  const auto relay = make(Output::light, given);
  EXPECT_EQ(relay->write(kStopped), GetParam().fault);
  EXPECT_THAT(relay->trouble(), HasSubstr(GetParam().says));
}

INSTANTIATE_TEST_SUITE_P(
    Places, GpioPlaceTest,
    testing::Values(
        Refused{"chip", "pinctrl-bord", "1",
                "GPIO chip pinctrl-bord is not there; there are twin (gpiochip0), twin (gpiochip1),"
                " pinctrl-board (gpiochip4); correct `chip` or `device`, or the board's boot "
                "configuration"},
        Refused{"twins", "twin", "1",
                "is there more than once: gpiochip0 and gpiochip1; name a part of its device path",
                Fault::ambiguous},
        Refused{"device", "twin 1-002", "1", "GPIO chip twin (1-002) is not there"},
        Refused{"offset", "pinctrl-board", "32", "has lines 0 to 31; 32 is none of them"},
        Refused{"name", "pinctrl-board", "GPIO99", "has no line GPIO99; correct `line`"},
        Refused{"two", "twin 1-0021", "K1", "has two lines K1, 3 and 5; write the number",
                Fault::ambiguous}),
    [](const auto& row) { return std::string(row.param.what); });

TEST_F(GpioRelayTest, TwinsAreToldApartByTheirDevicePath) {
  kernel_.add("gpiochip0", "twin", 8, "i2c-1/1-0020");
  auto& second = kernel_.add("gpiochip1", "twin", 8, "i2c-1/1-0021");
  Params given = at("3", "high");
  given.set("chip", "twin");
  given.set("device", "1-0021");
  EXPECT_EQ(make(Output::light, given)->write(kRunning), Fault::none);
  EXPECT_THAT(second.lines[3].driven, ElementsAre(false, true));
}

TEST_F(GpioRelayTest, AChipThatMayNotBeOpenedNamesTheGroup) {
  kernel_.deny("gpiochip4");
  const auto pump = make(Output::pump, at("GPIO17"));
  EXPECT_EQ(pump->write(kStopped), Fault::denied);
  EXPECT_THAT(pump->trouble(), HasSubstr("/dev/gpiochip4; add its user to the group"));
}

}  // namespace
}  // namespace neap::drivers
