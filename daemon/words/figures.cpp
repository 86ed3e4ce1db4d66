#include "daemon/words/figures.h"

#include <array>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <cstdlib>

namespace neap::words {
namespace {

// What a contact says, in the words of what it watches.
struct ContactWords {
  Point point;
  std::string_view clear;
  std::string_view set;
};
constexpr std::array kContactWords{
    ContactWords{Point::reservoir_low, "low", "enough"},
    ContactWords{Point::tray_full, "not reached", "reached"},
    ContactWords{Point::tray_high, "not reached", "reached"},
    ContactWords{Point::tray_wet, "dry", "wet"},
    ContactWords{Point::leak_floor, "dry", "wet"},
    ContactWords{Point::leak_rack, "dry", "wet"},
    ContactWords{Point::leak_reservoir, "dry", "wet"},
    ContactWords{Point::pump_running, "stopped", "running"},
    ContactWords{Point::bucket_full, "not full", "full"},
    ContactWords{Point::board_undervoltage, "enough", "low"},
    ContactWords{Point::air_pump_running, "stopped", "running"},
    ContactWords{Point::button_pressed, "released", "pressed"},
    ContactWords{Point::pump_auto, "off or in hand", "automatic"},
};

// How finely a unit is shown: a digit the instrument can answer for, not the journal's quantum.
struct UnitDigits {
  std::string_view unit;
  int digits;
};
constexpr std::array kUnitDigits{
    UnitDigits{"%", 0},  UnitDigits{"kPa", 2},  UnitDigits{"mS/cm", 2},
    UnitDigits{"pH", 2}, UnitDigits{"g/m3", 1}, UnitDigits{"lx", 0},
};

int digits_of(std::string_view unit) {
  for (const auto& row : kUnitDigits)
    if (row.unit == unit) return row.digits;
  return 2;
}

std::string quantity(double v, int digits, std::string_view unit) {
  if (!std::isfinite(v)) return decimals(v, digits);  // what is no number has no unit either
  return decimals(v, digits) + " " + std::string{unit};
}

std::string contact(Point point, double v) {
  if (v == static_cast<double>(Contact::damp)) return std::string{name(Contact::damp)};
  if (v == static_cast<double>(Contact::faulty)) return std::string{name(Contact::faulty)};
  for (const auto& row : kContactWords) {
    if (row.point != point) continue;
    if (v == static_cast<double>(Contact::clear)) return std::string{row.clear};
    if (v == static_cast<double>(Contact::set)) return std::string{row.set};
  }
  return "unknown";
}

template <class... Args>
std::string formatted(const char* format, Args... args) {
  std::array<char, 64> text{};
  const int length = std::snprintf(text.data(), text.size(), format, args...);
  if (length < 0) return {};
  return {text.data(), std::min(static_cast<std::size_t>(length), text.size() - 1)};
}

}  // namespace

std::string decimals(double v, int digits) {
  if (!std::isfinite(v)) return "no number";
  std::string text = formatted("%.*f", digits, v);
  // A rounded negative is zero: "-0.0" would ask a person what the sign means.
  if (text.find_first_not_of("-0.") == std::string::npos && text.front() == '-') text.erase(0, 1);
  return text;
}

std::string temperature(double celsius, const Style& style) {
  if (style.metric) return quantity(celsius, 1, "C");
  return quantity(celsius * 1.8 + 32, 1, "F");
}

std::string temperature_difference(double kelvin, const Style& style) {
  if (style.metric) return quantity(kelvin, 1, "K");
  return quantity(kelvin * 1.8, 1, "F");
}

std::string volume(double litres, const Style& style) {
  if (style.metric) return quantity(litres, 1, "L");
  return quantity(litres / kLitresPerGallon, 1, "gal");
}

std::string volume_difference(double a, double b, const Style& style) {
  // Rounded by the same printf as volume(), whose ties no other arithmetic is sure to break alike.
  const auto shown = [&](double litres) {
    const double v = style.metric ? litres : litres / kLitresPerGallon;
    return std::isfinite(v) ? std::strtod(decimals(v, 1).c_str(), nullptr) : v;
  };
  return quantity(shown(a) - shown(b), 1, style.metric ? "L" : "gal");
}

std::string value(Point point, double v, const Style& style) {
  const PointInfo& row = info(point);
  if (row.kind == PointKind::contact) return contact(point, v);
  if (row.unit == "C") return temperature(v, style);
  if (row.unit == "L") return volume(v, style);
  if (row.unit == "pH") return "pH " + decimals(v, digits_of(row.unit));
  return quantity(v, digits_of(row.unit), row.unit);
}

std::string level(Output output, Permille level) {
  const OutputInfo& row = info(output);
  if (level <= kStopped) return std::string{row.stopped_word};
  if (level >= kRunning || !row.may_be_variable) return std::string{row.running_word};
  return decimals(level.value / 10.0, level.value % 10 == 0 ? 0 : 1) + " %";
}

std::string duration(Millis d) {
  if (d < Millis{0}) return "-" + duration(-d);
  const long long total = (d.count() + 500) / 1000;
  const long long days = total / 86400;
  const long long whole_hours = total / 3600 % 24;
  const long long whole_minutes = total / 60 % 60;
  const long long whole_seconds = total % 60;
  // The two largest parts are enough to act on; a second part of zero is left out.
  const auto two = [](long long large, const char* unit, long long small, const char* small_unit) {
    if (small == 0) return formatted("%lld %s", large, unit);
    return formatted("%lld %s %02lld %s", large, unit, small, small_unit);
  };
  if (days > 0) return two(days, "d", whole_hours, "h");
  if (whole_hours > 0) return two(whole_hours, "h", whole_minutes, "min");
  if (whole_minutes > 0) return two(whole_minutes, "min", whole_seconds, "s");
  return formatted("%lld s", whole_seconds);
}

std::string clock_time(std::int32_t second_of_day) {
  return formatted("%02d:%02d", second_of_day / 3600, second_of_day / 60 % 60);
}

std::string civil_date(std::int32_t days_since_1970) {
  const std::chrono::year_month_day date{std::chrono::sys_days{std::chrono::days{days_since_1970}}};
  return formatted("%04d-%02u-%02u", static_cast<int>(date.year()),
                   static_cast<unsigned>(date.month()), static_cast<unsigned>(date.day()));
}

std::string local_time(std::int64_t unix_ms, std::int32_t utc_offset_s) {
  const CivilTime civil = civil_of({unix_ms, utc_offset_s, TimeQuality::synced});
  return civil_date(civil.date) + " " + clock_time(civil.second_of_day) +
         formatted(":%02d", civil.second_of_day % 60);
}

}  // namespace neap::words
