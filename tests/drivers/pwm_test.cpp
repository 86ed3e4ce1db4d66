#include "drivers/outputs/pwm.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <map>

#include "drivers/bus/kernel.h"

namespace neap::drivers {
namespace {

using testing::ElementsAre;
using testing::HasSubstr;

// PWM chips that refuse as the kernel's do (seen in a guest on Debian 6.1): a duty before there is
// a period, a period under the duty, enabling without a period, a polarity while enabled, and a
// second export are not taken.
class FakePwm final : public Kernel {
 public:
  struct Channel {
    bool exported = false;
    std::int64_t period = 0;
    std::int64_t duty = 0;
    bool enabled = false;
    std::string polarity = "normal";
  };
  std::map<std::string, std::string> chips{{"pwmchip3", "devices/platform/1f00098000.pwm/pwm/x"}};
  std::map<std::string, Channel> channels;  // "pwmchip3/pwm0"
  std::vector<std::string> writes;          // "duty_cycle 100", in order
  std::string deny;                         // an attribute that may not be written

  sysfs::Attribute read(const std::string& path) override {
    const auto [channel, attribute] = find(path);
    if (channel == nullptr) return {std::nullopt, Fault::absent};
    if (attribute == "period") return {std::to_string(channel->period), Fault::none};
    if (attribute == "duty_cycle") return {std::to_string(channel->duty), Fault::none};
    if (attribute == "enable") return {channel->enabled ? "1" : "0", Fault::none};
    return {channel->polarity, Fault::none};
  }
  Fault write(const std::string& path, std::string_view text) override {
    if (path.ends_with("/export")) {
      const std::string chip = path.substr(10, path.size() - 10 - 7);
      const auto channel = channels.find(chip + "/pwm" + std::string{text});
      if (channel == channels.end()) return Fault::absent;
      if (channel->second.exported) return Fault::taken;
      channel->second.exported = true;
      writes.push_back("export " + std::string{text});
      return Fault::none;
    }
    const auto [channel, attribute] = find(path);
    if (channel == nullptr) return Fault::absent;
    if (attribute == deny) return Fault::denied;
    const Fault fault = set(*channel, attribute, std::string{text});
    if (fault == Fault::none) writes.push_back(attribute + " " + std::string{text});
    return fault;
  }
  std::vector<std::string> list(const std::string&) override {
    std::vector<std::string> names;
    for (const auto& [name, path] : chips) names.push_back(name);
    return names;
  }
  std::optional<std::string> resolve(const std::string& path) override {
    const auto chip = chips.find(path.substr(path.rfind('/') + 1));
    return chip == chips.end() ? std::nullopt : std::optional(chip->second);
  }
  Fault transfer(const std::string&, std::uint8_t, std::span<const std::uint8_t>,
                 std::span<std::uint8_t>) override {
    return Fault::absent;
  }

 private:
  std::pair<Channel*, std::string> find(const std::string& path) {
    const std::size_t end = path.rfind('/');
    const auto channel = channels.find(path.substr(10, end - 10));  // after "class/pwm/"
    if (channel == channels.end() || !channel->second.exported) return {nullptr, ""};
    return {&channel->second, path.substr(end + 1)};
  }
  static Fault set(Channel& channel, const std::string& attribute, const std::string& text) {
    if (attribute == "polarity") {
      if (channel.enabled) return Fault::taken;
      channel.polarity = text;
      return Fault::none;
    }
    const std::int64_t number = std::stoll(text);
    if (attribute == "period" && (number <= 0 || number < channel.duty)) return Fault::no_answer;
    if (attribute == "duty_cycle" && number > channel.period) return Fault::no_answer;
    if (attribute == "duty_cycle" && channel.period == 0) return Fault::no_answer;
    if (attribute == "enable" && channel.period == 0) return Fault::no_answer;
    if (attribute == "period") channel.period = number;
    if (attribute == "duty_cycle") channel.duty = number;
    if (attribute == "enable") channel.enabled = number != 0;
    return Fault::none;
  }
};

class PwmTest : public testing::Test {
 protected:
  PwmTest() {
    context_.kernel = kernel_;
    kernel_->channels["pwmchip3/pwm2"] = {};
  }
  std::unique_ptr<OutputDriver> make(
      std::initializer_list<std::pair<const char*, const char*>> more = {},
      const OutputDriverInfo& driver = kPwmFan) {
    Params given;
    given.set("chip", "1f00098000.pwm");
    given.set("channel", "2");
    for (const auto& [name, value] : more) given.set(name, value);
    return driver.make(given, Output::exhaust_fan, context_);
  }
  FakePwm::Channel& channel() { return kernel_->channels["pwmchip3/pwm2"]; }

  std::shared_ptr<FakePwm> kernel_ = std::make_shared<FakePwm>();
  Context context_;
};

TEST_F(PwmTest, AFreshChannelIsExportedAndSetInTheKernelsOrder) {
  EXPECT_EQ(make()->write(Permille{300}), Fault::none);
  EXPECT_THAT(kernel_->writes,
              ElementsAre("export 2", "period 40000", "duty_cycle 12000", "enable 1"));
}

TEST_F(PwmTest, AChannelThatStandsRightGetsItsDutyAlone) {
  const auto fan = make();
  EXPECT_EQ(fan->write(Permille{300}), Fault::none);
  kernel_->writes.clear();
  EXPECT_EQ(fan->write(kRunning), Fault::none);
  EXPECT_THAT(kernel_->writes, ElementsAre("duty_cycle 40000"));
}

TEST_F(PwmTest, AShorterPeriodComesAfterADutyThatFitsIt) {
  channel() = {true, 1'000'000, 900'000, true, "normal"};
  EXPECT_EQ(make()->write(Permille{500}), Fault::none);
  EXPECT_THAT(kernel_->writes, ElementsAre("duty_cycle 20000", "period 40000", "duty_cycle 20000"));
}

TEST_F(PwmTest, APolarityOfSomebodyElseIsTurnedBackWhileDisabled) {
  channel() = {true, 40'000, 10'000, true, "inversed"};
  EXPECT_EQ(make()->write(Permille{500}), Fault::none);
  EXPECT_THAT(kernel_->writes,
              ElementsAre("enable 0", "polarity normal", "duty_cycle 20000", "enable 1"));
}

TEST_F(PwmTest, StaysEnabledAtLevelNone) {
  EXPECT_EQ(make()->write(kStopped), Fault::none);
  EXPECT_TRUE(channel().enabled);
  EXPECT_EQ(channel().duty, 0);
}

TEST_F(PwmTest, AnInvertedDriveIsFullAtDutyNone) {
  const auto fan = make({{"inverted", "true"}});
  EXPECT_EQ(fan->write(kRunning), Fault::none);
  EXPECT_EQ(channel().duty, 0);
  EXPECT_EQ(fan->write(Permille{250}), Fault::none);
  EXPECT_EQ(channel().duty, 30'000);
  EXPECT_EQ(fan->read_back(), Permille{250});
  EXPECT_EQ(fan->write(kStopped), Fault::none);
  EXPECT_EQ(channel().duty, 40'000);
}

TEST_F(PwmTest, LevelsButNoneAreSpreadFromTheLowestDuty) {
  const auto fan = make({{"lowest", "20"}});
  EXPECT_EQ(fan->write(Permille{1}), Fault::none);
  EXPECT_EQ(channel().duty, 8'032);  // 8000 + 32000 / 1000
  EXPECT_EQ(fan->write(Permille{500}), Fault::none);
  EXPECT_EQ(channel().duty, 24'000);
  EXPECT_EQ(fan->write(kStopped), Fault::none);
  EXPECT_EQ(channel().duty, 0);
}

TEST_F(PwmTest, ReadsBackEveryLevelThatItWrote) {
  for (const char* lowest : {"0", "30"})
    for (const char* inverted : {"false", "true"}) {
      const auto fan = make({{"lowest", lowest}, {"inverted", inverted}});
      for (int level = 0; level <= 1000; ++level) {
        ASSERT_EQ(fan->write(Permille{level}), Fault::none);
        ASSERT_EQ(fan->read_back(), Permille{level}) << lowest << " " << inverted;
      }
    }
}

TEST_F(PwmTest, DoesNotReadALevelOutOfAStateThatIsNotItsOwn) {
  const auto fan = make();
  ASSERT_EQ(fan->write(Permille{500}), Fault::none);
  const FakePwm::Channel sound = channel();
  for (auto& [what, wrong] : std::map<std::string, FakePwm::Channel>{
           {"disabled", {true, 40'000, 20'000, false, "normal"}},
           {"period", {true, 50'000, 20'000, true, "normal"}},
           {"polarity", {true, 40'000, 20'000, true, "inversed"}}}) {
    channel() = wrong;
    EXPECT_EQ(fan->read_back(), std::nullopt) << what;
  }
  channel() = sound;
  EXPECT_EQ(fan->read_back(), Permille{500});
}

TEST_F(PwmTest, ALampsInputHasAPeriodOfItsOwn) {
  EXPECT_EQ(make({}, kPwmLight)->write(Permille{500}), Fault::none);
  EXPECT_EQ(channel().period, 1'000'000);
  EXPECT_EQ(channel().duty, 500'000);
}

TEST_F(PwmTest, NamesWhatIsNotThereAndWhatIs) {
  const auto fan = make({{"chip", "1f0009c000.pwm"}});
  EXPECT_EQ(fan->write(kRunning), Fault::absent);
  EXPECT_EQ(fan->trouble(),
            "no PWM chip has 1f0009c000.pwm in its device path; there are "
            "devices/platform/1f00098000.pwm/pwm/x");
  kernel_->chips.clear();
  EXPECT_EQ(fan->write(kRunning), Fault::absent);
  EXPECT_THAT(fan->trouble(), HasSubstr("there is none at all: load its overlay"));
}

TEST_F(PwmTest, DoesNotGuessBetweenTwoChips) {
  kernel_->chips["pwmchip4"] = "devices/platform/1f00098000.pwm/pwm/y";
  const auto fan = make();
  EXPECT_EQ(fan->write(kRunning), Fault::ambiguous);
  EXPECT_THAT(fan->trouble(), HasSubstr("write more of it in `chip`"));
}

TEST_F(PwmTest, AChannelThatIsNotThereIsNamed) {
  const auto fan = make({{"channel", "7"}});
  EXPECT_NE(fan->write(kRunning), Fault::none);
  EXPECT_THAT(fan->trouble(), HasSubstr("does not export channel 7"));
  EXPECT_EQ(fan->read_back(), std::nullopt);
}

TEST_F(PwmTest, AnAttributeThatIsNotTakenIsNamedWithItsValue) {
  kernel_->deny = "duty_cycle";
  const auto fan = make();
  EXPECT_EQ(fan->write(kRunning), Fault::denied);
  EXPECT_THAT(fan->trouble(), HasSubstr("/sys/class/pwm/pwmchip3/pwm2/duty_cycle does not take "
                                        "40000"));
}

}  // namespace
}  // namespace neap::drivers
