// The protocol of schema/program-driver.md, line by line.
#include <gtest/gtest.h>

#include "drivers/program/messages.h"

namespace neap::drivers::program {
namespace {

constexpr Stamp kStamp{7, 4294967000};

TEST(ProgramMessages, HelloToASensorNamesTheProtocolAndEveryChannel) {
  EXPECT_EQ(hello_to_sensor(kStamp),
            R"({"neap":1,"seq":7,"t_ms":4294967000,"op":"hello","channels":["temperature",)"
            R"("humidity","level","ph","ec","light","contact"]})");
}

TEST(ProgramMessages, HelloToAnOutputNamesTheOutput) {
  EXPECT_EQ(hello_to_output(kStamp, Output::exhaust_fan),
            R"({"neap":1,"seq":7,"t_ms":4294967000,"op":"hello","output":"exhaust_fan"})");
}

TEST(ProgramMessages, RequestsCarryNumberAndTick) {
  EXPECT_EQ(read_request(kStamp), R"({"seq":7,"t_ms":4294967000,"op":"read"})");
  EXPECT_EQ(write_request(kStamp, Permille{420}),
            R"({"seq":7,"t_ms":4294967000,"op":"write","level":420})");
  EXPECT_EQ(bye_request(kStamp), R"({"seq":7,"t_ms":4294967000,"op":"bye"})");
}

TEST(ProgramMessages, LeaveTheTickOutWhereNobodyKeepsOne) {
  EXPECT_EQ(read_request({7, std::nullopt}), R"({"seq":7,"op":"read"})");
}

TEST(ProgramMessages, ReadAGreeting) {
  const auto answer = parse_answer(
      R"({"seq":1,"ok":true,"role":"output","about":"relay","safe_on_eof":true,"simulated":false})");
  ASSERT_TRUE(answer);
  EXPECT_EQ(answer->seq, 1);
  EXPECT_TRUE(answer->ok);
  EXPECT_EQ(answer->role, Role::output);
  EXPECT_TRUE(answer->safe_on_eof);
  EXPECT_FALSE(answer->level);
  EXPECT_FALSE(answer->values);
}

TEST(ProgramMessages, ReadValuesByChannelAndLeaveTheRestWithoutAnswer) {
  const auto answer = parse_answer(R"({"seq":2,"values":{"humidity":-1.5e1,"ph":null,"level":0}})");
  ASSERT_TRUE(answer && answer->values);
  for (std::size_t i = 0; i < kChannels.size(); ++i) {
    const ChannelValue& channel = (*answer->values)[i];
    if (kChannels[i].name == "humidity") {
      EXPECT_EQ(channel.value, -15.0);
    } else if (kChannels[i].name == "level") {
      EXPECT_EQ(channel.value, 0.0) << "zero is a value";
    } else {
      EXPECT_FALSE(channel.value);
      EXPECT_EQ(channel.fault, Fault::no_answer);
    }
  }
}

TEST(ProgramMessages, AValueThatIsNoNumberSpoilsItsChannelOnly) {
  for (const char* text : {"\"23.4\"", "true", "[1]", "{}"}) {
    const auto answer = parse_answer(
        std::string{R"({"seq":2,"values":{"humidity":50,"temperature":)"} + text + "}}");
    ASSERT_TRUE(answer && answer->values) << text;
    EXPECT_FALSE((*answer->values)[0].value) << text;
    EXPECT_EQ((*answer->values)[0].fault, Fault::corrupt) << text;
    EXPECT_EQ((*answer->values)[1].value, 50.0) << text;
  }
}

TEST(ProgramMessages, RefuseALineThatIsNoMessageOfTheProtocol) {
  for (const char* line : {
           "",
           " ",
           "23.4",
           "null",
           "[]",
           "\"ok\"",
           "{",
           "{}{}",
           "{} x",
           "{\"seq\":1,}",
           R"({"seq":2,"values":{"temperature":NaN}})",
           R"({"seq":2,"values":{"temperature":1e999}})",
           R"({"seq":2,"values":{"temprature":1}})",
           R"({"seq":2,"values":[23.4]})",
           R"({"seq":2,"values":null})",
           R"({"seq":"2"})",
           R"({"seq":2.0})",
           R"({"seq":null})",
           R"({"seq":1,"role":"pump"})",
           R"({"seq":1,"ok":1})",
           R"({"edge":"true"})",
           R"({"seq":3,"level":1001})",
           R"({"seq":3,"level":-1})",
           R"({"seq":3,"level":0.5})",
           R"({"seq":3,"level":"1000"})",
           R"({"seq":1,"safe_on_eof":"yes"})",
           "{\"seq\":2,\"about\":\"\xff\"}",
       }) {
    EXPECT_FALSE(parse_answer(line)) << line;
  }
}

TEST(ProgramMessages, RefuseNestingOfAnyDepthWithoutHarm) {
  EXPECT_FALSE(parse_answer(std::string(4000, '[')));
  EXPECT_FALSE(parse_answer(std::string(2000, '[') + std::string(2000, ']')));
}

TEST(ProgramMessages, LetAProgramSayMoreThanNeapKnows) {
  const auto answer = parse_answer(R"({"seq":2,"firmware":"1.2","values":{"ph":5.9}})");
  ASSERT_TRUE(answer && answer->values);
  EXPECT_EQ(answer->seq, 2);
}

}  // namespace
}  // namespace neap::drivers::program
