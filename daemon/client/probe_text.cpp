// A survey as text of 80 columns, and as JSON.
#include "daemon/client/probe.h"
#include "daemon/words/words.h"

namespace neap::client {
namespace {

using nlohmann::json;
using words::printable;

std::string_view word(Advice::Weight weight) {
  switch (weight) {
    case Advice::Weight::good:
      return "good";
    case Advice::Weight::note:
      return "note";
    case Advice::Weight::warning:
      return "warning";
  }
  return "note";
}

Tone tone(Advice::Weight weight) {
  switch (weight) {
    case Advice::Weight::good:
      return Tone::good;
    case Advice::Weight::note:
      return Tone::quiet;
    case Advice::Weight::warning:
      return Tone::warning;
  }
  return Tone::plain;
}

json devices_json(const std::vector<drivers::NamedDevice>& all) {
  json list = json::array();
  for (const auto& one : all)
    list.push_back(
        {{"path", one.path}, {"name", one.name}, {"device", one.device}, {"usable", one.usable}});
  return list;
}

json chips_json(const std::vector<drivers::GpioChip>& chips) {
  json list = json::array();
  for (const auto& chip : chips) {
    json lines = json::array();
    for (const auto& line : chip.lines)
      lines.push_back({{"offset", line.offset},
                       {"name", line.name},
                       {"consumer", line.consumer},
                       {"held", line.held},
                       {"output", line.output}});
    list.push_back(
        {{"path", chip.path}, {"label", chip.label}, {"lines", lines}, {"error", chip.error}});
  }
  return list;
}

template <class T>
json or_null(const std::optional<T>& value) {
  return value ? json(*value) : json(nullptr);
}

// "17 GPIO17 (output, neapd)" of the lines that somebody holds; the free ones by number alone.
std::string held_lines(const drivers::GpioChip& chip) {
  std::string text;
  for (const auto& line : chip.lines) {
    if (!line.held) continue;
    text += (text.empty() ? "held: " : ", ") + std::to_string(line.offset);
    if (!line.name.empty()) text += " " + printable(line.name);
    text += std::string(" (") + (line.output ? "output" : "input") + " of " +
            (line.consumer.empty() ? "the kernel" : printable(line.consumer)) + ")";
  }
  return text.empty() ? std::string("none is held") : text;
}

void add_devices(Table& table, std::string_view kind,
                 const std::vector<drivers::NamedDevice>& all) {
  for (const auto& one : all)
    table.add({kind, printable(one.path),
               printable(one.name) + (one.device.empty() || one.device == one.name
                                          ? std::string()
                                          : " at " + printable(one.device))});
}

std::string found_text(const drivers::Survey& survey, const Look& look) {
  Table table({Table::Side::left, Table::Side::left, Table::Side::left});
  for (const auto& chip : survey.gpio_chips)
    table.add({"gpio", printable(chip.path),
               chip.error.empty()
                   ? printable(chip.label) + ", " + std::to_string(chip.lines.size()) + " lines; " +
                         held_lines(chip)
                   : printable(chip.error)});
  add_devices(table, "i2c bus", survey.i2c_buses);
  add_devices(table, "i2c chip", survey.i2c_devices);
  add_devices(table, "hwmon", survey.hwmon);
  add_devices(table, "iio", survey.iio);
  add_devices(table, "1-wire", survey.one_wire);
  add_devices(table, "pwm", survey.pwm_chips);
  for (const auto& dog : survey.watchdogs)
    table.add({"watchdog", printable(dog.path), printable(dog.identity)});
  return table.empty() ? std::string("No chip, bus or watchdog is here.\n")
                       : table.text(look, kPageWidth);
}

std::string parts_text(const std::vector<NamedPart>& parts, const Look& look) {
  if (parts.empty()) return {};
  Table table({Table::Side::left, Table::Side::left, Table::Side::left});
  for (const NamedPart& part : parts) {
    table.add({printable(part.entry),
               part.present ? Cell("there", Tone::good) : Cell("missing", Tone::warning),
               printable(part.what)});
    if (!part.present) table.add({"", "", "-> " + printable(part.remedy)});
  }
  return "\nParts that the settings name:\n" + table.text(look, kPageWidth, 2);
}

}  // namespace

json probe_json(const drivers::Survey& survey, const std::vector<Advice>& advice,
                const std::vector<NamedPart>& parts) {
  json dogs = json::array();
  for (const auto& dog : survey.watchdogs)
    dogs.push_back({{"path", dog.path},
                    {"identity", dog.identity},
                    {"timeout_s", or_null(dog.timeout_s)},
                    {"armed", or_null(dog.armed)}});
  json told = json::array();
  for (const Advice& one : advice)
    told.push_back({{"weight", word(one.weight)}, {"text", one.text}, {"remedy", one.remedy}});
  json named = json::array();
  for (const NamedPart& part : parts)
    named.push_back({{"entry", part.entry},
                     {"what", part.what},
                     {"present", part.present},
                     {"remedy", part.present ? "" : part.remedy}});
  return {{"board", survey.board},
          {"kernel", survey.kernel},
          {"gpio", chips_json(survey.gpio_chips)},
          {"i2c_buses", devices_json(survey.i2c_buses)},
          {"i2c_devices", devices_json(survey.i2c_devices)},
          {"hwmon", devices_json(survey.hwmon)},
          {"iio", devices_json(survey.iio)},
          {"one_wire", devices_json(survey.one_wire)},
          {"pwm", devices_json(survey.pwm_chips)},
          {"watchdogs", dogs},
          {"gpio_persists", or_null(survey.gpio_persists)},
          {"undervoltage", or_null(survey.undervoltage)},
          {"time_synchronised", or_null(survey.time_synchronised)},
          {"advice", told},
          {"parts", named}};
}

std::string render_probe(const drivers::Survey& survey, const std::vector<Advice>& advice,
                         const std::vector<NamedPart>& parts, const Look& look) {
  const std::string board = survey.board.empty() ? std::string("unknown board") : survey.board;
  std::string text =
      wrapped(printable(board) + ", kernel " + printable(survey.kernel), kPageWidth) + "\n";
  text += found_text(survey, look) + parts_text(parts, look);
  Table table({Table::Side::left, Table::Side::left});
  for (const Advice& one : advice) {
    table.add({Cell(std::string(word(one.weight)), tone(one.weight)), printable(one.text)});
    if (!one.remedy.empty()) table.add({"", "-> " + printable(one.remedy)});
  }
  return text + "\nWhat it means:\n" + table.text(look, kPageWidth, 2);
}

}  // namespace neap::client
