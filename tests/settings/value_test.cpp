// What scalars mean. Conversion factors are exact by definition: NIST Special Publication 811
// (2008), appendix B: gallon (US) 3.785412 L, foot 0.3048 m, cubic foot 0.02831685 m3; degree
// Fahrenheit t/C = (t/F - 32)/1.8.
#include "daemon/settings/value.h"

#include <gtest/gtest.h>

namespace neap::settings {
namespace {

std::variant<Value, Complaint> read(Kind kind, const std::string& text, bool quoted = false) {
  Node node;
  node.kind = NodeKind::scalar;
  node.text = text;
  node.quoted = quoted;
  return read_value("it", node, {kind, std::nullopt, std::nullopt, "slow fast", ""});
}

double number(Kind kind, const std::string& text) {
  const auto result = read(kind, text);
  const auto* value = std::get_if<Value>(&result);
  EXPECT_NE(value, nullptr) << text << ": " << std::get<Complaint>(result).message;
  return value == nullptr ? -12345 : value->number;
}

std::string complaint(Kind kind, const std::string& text) {
  const auto result = read(kind, text);
  const auto* bad = std::get_if<Complaint>(&result);
  return bad == nullptr ? "accepted" : bad->message + " | " + bad->remedy;
}

TEST(Quantity, is_converted_to_its_base_unit) {
  EXPECT_DOUBLE_EQ(number(Kind::duration, "90 s"), 90);
  EXPECT_DOUBLE_EQ(number(Kind::duration, "1.5 min"), 90);
  EXPECT_DOUBLE_EQ(number(Kind::duration, "2 h"), 7200);
  EXPECT_DOUBLE_EQ(number(Kind::duration, "3 d"), 259200);
  EXPECT_NEAR(number(Kind::temperature, "76 F"), 24.4444444444, 1e-9);
  EXPECT_NEAR(number(Kind::temperature, "-40 F"), -40, 1e-9);
  EXPECT_NEAR(number(Kind::temperature_difference, "-1.8 F"), -1, 1e-12);
  EXPECT_NEAR(number(Kind::volume, "18 gal"), 68.137412, 1e-6);
  EXPECT_NEAR(number(Kind::flow, "10 L/min"), 600, 1e-9);
  EXPECT_NEAR(number(Kind::air_flow, "100 cfm"), 169.901082, 1e-5);
  EXPECT_NEAR(number(Kind::space, "40 ft3"), 1.13267386, 1e-7);
  EXPECT_NEAR(number(Kind::height, "1000 ft"), 304.8, 1e-9);
  EXPECT_DOUBLE_EQ(number(Kind::percent, "40 %"), 40);
  EXPECT_DOUBLE_EQ(number(Kind::percent, "40%"), 40);
}

TEST(Quantity, without_a_unit_is_told_which_to_write) {
  EXPECT_EQ(complaint(Kind::volume, "28"),
            "it is 28; must be a number in L or gal | write the unit: \"28 L\" or \"28 gal\"");
}

TEST(Quantity, in_a_near_spelling_is_told_the_right_one) {
  EXPECT_EQ(complaint(Kind::duration, "5 mins"),
            "it is 5 mins; must be a number in s, min, h or d | write \"5 min\"");
  EXPECT_EQ(complaint(Kind::temperature, "24.5 °C"),
            "it is 24.5 °C; must be a number in C or F | write \"24.5 C\"");
  EXPECT_EQ(complaint(Kind::duration, "5 m"),
            "it is 5 m; must be a number in s, min, h or d | write \"5 min\"");
}

TEST(Decimal, is_plain_or_refused) {
  for (const char* text : {"0", "5", "-5", "1.5", "0.05", "-0.5", "123456789012.5"})
    EXPECT_TRUE(std::holds_alternative<double>(read_decimal(text))) << text;
  for (const char* text : {"",      "-",   "+5",   ".5",    "5.",  "1e5",   "1E5",
                           "0x10",  "010", "-010", "1_000", "1,5", ".nan",  ".inf",
                           "-.inf", "nan", "inf",  "1 000", "5-",  "1.2.3", "1234567890123456789",
                           "--5",   "٣"})
    EXPECT_FALSE(std::holds_alternative<double>(read_decimal(text))) << text;
}

TEST(Level, is_a_word_or_a_percentage) {
  EXPECT_DOUBLE_EQ(number(Kind::level, "running"), 1000);
  EXPECT_DOUBLE_EQ(number(Kind::level, "stopped"), 0);
  EXPECT_DOUBLE_EQ(number(Kind::level, "12.5 %"), 125);
  EXPECT_NE(complaint(Kind::level, "12.34 %"), "accepted");
}

TEST(Level, never_takes_a_bare_switch) {
  for (const char* text : {"on", "On", "yes", "y", "true"})
    EXPECT_NE(complaint(Kind::level, text).find("write \"it: running\""), std::string::npos)
        << text;
  for (const char* text : {"off", "OFF", "no", "n", "false"})
    EXPECT_NE(complaint(Kind::level, text).find("write \"it: stopped\""), std::string::npos)
        << text;
}

TEST(Truth, is_true_or_false_alone) {
  for (const char* text : {"True", "TRUE", "yes", "on", "1", "y", "False", "no", "off", "0", "~"})
    EXPECT_NE(complaint(Kind::truth, text), "accepted") << text;
  EXPECT_TRUE(std::holds_alternative<Complaint>(read(Kind::truth, "true", true)))
      << "in quotes it is text";
  EXPECT_TRUE(std::get<Value>(read(Kind::truth, "true")).truth());
  EXPECT_FALSE(std::get<Value>(read(Kind::truth, "false")).truth());
}

TEST(Clock, is_two_digits_colon_two_digits) {
  EXPECT_DOUBLE_EQ(number(Kind::clock, "06:00"), 21600);
  EXPECT_DOUBLE_EQ(number(Kind::clock, "23:59"), 86340);
  EXPECT_DOUBLE_EQ(number(Kind::clock, "00:00"), 0);
  for (const char* text : {"6:00", "24:00", "06:60", "0600", "06:00:00", "6 am", "+6:00", "-1:00"})
    EXPECT_NE(complaint(Kind::clock, text), "accepted") << text;
}

TEST(Date, is_counted_in_days_since_1970) {
  EXPECT_DOUBLE_EQ(number(Kind::date, "2000-01-01"), 10957);  // 30 years and 7 leap days
  EXPECT_DOUBLE_EQ(number(Kind::date, "2026-03-02"), 20514);  // 20515 would be the 3rd
  EXPECT_DOUBLE_EQ(number(Kind::date, "2028-02-29") + 1, number(Kind::date, "2028-03-01"));
  for (const char* text : {"2026-02-29", "2026-13-01", "2026-3-2", "02.03.2026", "1999-12-31"})
    EXPECT_NE(complaint(Kind::date, text), "accepted") << text;
}

TEST(Band, has_a_low_and_a_high_end) {
  const auto value = std::get<Value>(read(Kind::vpd_band, "0.5..0.9 kPa"));
  EXPECT_DOUBLE_EQ(value.number, 0.5);
  EXPECT_DOUBLE_EQ(value.high, 0.9);
  const auto fahrenheit = std::get<Value>(read(Kind::temperature_band, "50..86 F"));
  EXPECT_NEAR(fahrenheit.number, 10, 1e-9);
  EXPECT_NEAR(fahrenheit.high, 30, 1e-9);
  EXPECT_DOUBLE_EQ(std::get<Value>(read(Kind::temperature_band, "-5..20 C")).number, -5);
  for (const char* text : {"0.5 kPa", "0.5..0.9", "0.9..0.5 kPa", "0.5..0.5 kPa", "0.5...0.9 kPa",
                           "0.5-0.9 kPa", "..0.9 kPa", "0.5.. kPa", "0.5 kPa..0.9 kPa"})
    EXPECT_NE(complaint(Kind::vpd_band, text), "accepted") << text;
}

TEST(Choice, tells_the_nearest_word) {
  EXPECT_EQ(complaint(Kind::choice, "fsat"),
            "it is fsat; must be slow or fast | did you mean \"fast\"?");
  EXPECT_EQ(std::get<Value>(read(Kind::choice, "fast")).index, 1U);
}

TEST(Text, that_readers_take_for_a_truth_value_wants_quotes) {
  EXPECT_NE(complaint(Kind::text, "no"), "accepted");
  EXPECT_TRUE(std::holds_alternative<Value>(read(Kind::text, "no", true)));
  EXPECT_NE(complaint(Kind::text, std::string(129, 'x')), "accepted");
}

TEST(Bounds, are_kept_at_both_ends) {
  const Rule rule{Kind::duration, 30.0, 1800.0, "", "why"};
  Node node;
  node.kind = NodeKind::scalar;
  for (const char* text : {"30 s", "30 min", "0.5 h"}) {
    node.text = text;
    EXPECT_TRUE(std::holds_alternative<Value>(read_value("it", node, rule))) << text;
  }
  for (const char* text : {"29 s", "1801 s", "-30 s"}) {
    node.text = text;
    EXPECT_TRUE(std::holds_alternative<Complaint>(read_value("it", node, rule))) << text;
  }
}

TEST(Format, writes_what_reads_back) {
  EXPECT_EQ(format(Kind::duration, 1200), "20 min");
  EXPECT_EQ(format(Kind::duration, 90), "90 s");
  EXPECT_EQ(format(Kind::duration, 0), "0 s");
  EXPECT_EQ(format(Kind::level, 125), "12.5 %");
  EXPECT_EQ(format(Kind::clock, 21600), "06:00");
  EXPECT_EQ(format_number(0.1), "0.1");
  EXPECT_EQ(format_number(4294967295.0), "4294967295");
}

TEST(Nearest, explains_a_slip_and_nothing_else) {
  EXPECT_EQ(nearest("fill_limt", {"fill_limit", "soak_limit"}), "fill_limit");
  EXPECT_EQ(nearest("fill_lmiit", {"fill_limit", "soak_limit"}), "fill_limit");
  EXPECT_EQ(nearest("colour", {"fill_limit", "soak_limit"}), "");
}

}  // namespace
}  // namespace neap::settings
