// Carrier boards that speak text, over a model of one.
#include "drivers/sensors/text_circuit.h"

#include <gtest/gtest.h>

#include "tests/drivers/fake_kernel.h"

namespace neap::drivers {
namespace {

using test::whole_read;

class Board final : public test::FakeChip {
 public:
  std::string answer;  // state byte first
  std::uint8_t idle = 0;
  std::string command;

  bool written(std::span<const std::uint8_t> bytes) override {
    command.assign(bytes.begin(), bytes.end());
    return true;
  }
  bool read(std::span<std::uint8_t> bytes) override {
    for (std::size_t i = 0; i < bytes.size(); ++i)
      bytes[i] = i < answer.size() ? static_cast<std::uint8_t>(answer[i]) : idle;
    return true;
  }
};

class TextCircuitTest : public testing::Test {
 protected:
  TextCircuitTest() {
    kernel->chips[{"i2c-1", 0x63}] = board;
    kernel->chips[{"i2c-1", 0x64}] = board;
    context.kernel = kernel;
  }
  Delivery said(const SensorInfo& info, const std::string& answer) {
    board->answer = answer;
    return whole_read(*info.make({}, context))[0];
  }
  static std::string success(const std::string& text) { return "\x01" + text + '\0'; }

  Context context;
  std::shared_ptr<Board> board = std::make_shared<Board>();
  std::shared_ptr<test::FakeKernel> kernel = std::make_shared<test::FakeKernel>();
};

TEST_F(TextCircuitTest, AsksForAReadingAndWaitsUntilItIsMeasured) {
  const auto sensor = kTextPh.make({}, context);
  const Started started = sensor->begin();
  EXPECT_EQ(started.fault, Fault::none);
  EXPECT_EQ(started.ready_after, Millis{900});
  EXPECT_EQ(board->command, "R");
}

TEST_F(TextCircuitTest, ReadsPhAsItStands) {
  EXPECT_DOUBLE_EQ(said(kTextPh, success("5.832")).value.value(), 5.832);
  EXPECT_DOUBLE_EQ(said(kTextPh, success("0.000")).value.value(), 0);
}

TEST_F(TextCircuitTest, ReadsMicrosiemensAsMillisiemens) {
  EXPECT_DOUBLE_EQ(said(kTextEc, success("1413")).value.value(), 1.413);
  EXPECT_DOUBLE_EQ(said(kTextEc, success("12880")).value.value(), 12.88);
}

TEST_F(TextCircuitTest, AnIdleBusBehindTheTextIsNothing) {
  board->idle = 0xFF;
  EXPECT_DOUBLE_EQ(said(kTextPh, success("5.832")).value.value(), 5.832);
}

TEST_F(TextCircuitTest, TellsItsStatesApart) {
  const auto fault = [this](const char* answer) { return said(kTextPh, answer).fault; };
  EXPECT_EQ(fault("\x02"), Fault::corrupt);
  EXPECT_EQ(fault("\xFE"), Fault::not_ready);
  EXPECT_EQ(fault("\xFF"), Fault::not_ready);
  EXPECT_EQ(fault("\x03"), Fault::corrupt);
  EXPECT_EQ(fault(""), Fault::corrupt) << "a bus of zeros";
  EXPECT_FALSE(said(kTextPh, "\xFE").value);
}

TEST_F(TextCircuitTest, AnyTextButOneNumberIsDamage) {
  for (const std::string text : {"", "5.8 32", "5,832", "*ER", "pH 5.8", "1413,763,0.71", "nan",
                                 "5.832\r", "5.832 ", "+5.8", "--5", "5.8.3", "\xB5.832"}) {
    const Delivery delivery = said(kTextPh, success(text));
    EXPECT_FALSE(delivery.value) << text;
    EXPECT_EQ(delivery.fault, Fault::corrupt) << text;
  }
}

TEST_F(TextCircuitTest, BytesBehindTheTextAreDamage) {
  EXPECT_EQ(said(kTextPh, success("5.832") + "7").fault, Fault::corrupt);
  EXPECT_EQ(said(kTextPh, success("5.832") + success("6.1")).fault, Fault::corrupt);
}

TEST_F(TextCircuitTest, ATextWithoutItsEndIsDamage) {
  EXPECT_EQ(said(kTextPh, "\x01" + std::string(40, '5')).fault, Fault::corrupt);
}

TEST_F(TextCircuitTest, ABoardThatIsGoneKeepsNoValue) {
  const auto sensor = kTextPh.make({}, context);
  board->answer = success("5.832");
  EXPECT_TRUE(whole_read(*sensor)[0].value);
  kernel->chips.clear();
  const auto out = whole_read(*sensor);
  EXPECT_FALSE(out[0].value);
  EXPECT_EQ(out[0].fault, Fault::no_answer);
}

}  // namespace
}  // namespace neap::drivers
