#include "drivers/program/messages.h"

#include <cmath>
#include <nlohmann/json.hpp>

namespace neap::drivers::program {
namespace {

using Json = nlohmann::json;
using OrderedJson = nlohmann::ordered_json;  // lines that people read keep their order

constexpr int kProtocol = 1;

OrderedJson request(const Stamp& stamp, const char* operation) {
  OrderedJson json;
  json["seq"] = stamp.seq;
  if (stamp.t_ms) json["t_ms"] = *stamp.t_ms;
  json["op"] = operation;
  return json;
}

OrderedJson hello(const Stamp& stamp) {
  OrderedJson json{{"neap", kProtocol}};
  json.update(request(stamp, "hello"));
  return json;
}

// The fields of an answer: each reads its own key, where it is present, into the answer. False: the
// value has the wrong type or is out of range.
struct Field {
  const char* key;
  bool (*read)(const Json& value, Answer& answer);
};

bool read_truth(const Json& value, bool& truth) {
  if (!value.is_boolean()) return false;
  truth = value.get<bool>();
  return true;
}

bool read_seq(const Json& value, Answer& answer) {
  if (!value.is_number_integer()) return false;
  answer.seq = value.get<std::int64_t>();
  return true;
}

bool read_role(const Json& value, Answer& answer) {
  if (value == "sensor") answer.role = Role::sensor;
  if (value == "output") answer.role = Role::output;
  if (value == "plant") answer.role = Role::plant;
  return answer.role.has_value();
}

bool read_level(const Json& value, Answer& answer) {
  if (!value.is_number_integer()) return false;
  const auto level = value.get<std::int64_t>();
  if (level < kStopped.value || level > kRunning.value) return false;
  answer.level = Permille{static_cast<int>(level)};
  return true;
}

ChannelValue read_value(const Json& value) {
  if (value.is_null()) return {};
  if (!value.is_number()) return {std::nullopt, Fault::corrupt};
  return {value.get<double>(), Fault::none};  // JSON has no NaN, and the parser refuses 1e999
}

bool read_values(const Json& value, Answer& answer) {
  if (!value.is_object()) return false;
  ChannelValues values{};
  for (const auto& [name, number] : value.items()) {
    std::size_t channel = 0;
    while (channel < kChannels.size() && kChannels[channel].name != name) ++channel;
    if (channel == kChannels.size()) return false;
    values[channel] = read_value(number);
  }
  answer.values = values;
  return true;
}

constexpr std::array kFields{
    Field{"seq", read_seq},
    Field{"edge", [](const Json& v, Answer& a) { return read_truth(v, a.edge); }},
    Field{"eof", [](const Json& v, Answer& a) { return read_truth(v, a.at_eof); }},
    Field{"ok", [](const Json& v, Answer& a) { return read_truth(v, a.ok); }},
    Field{"role", read_role},
    Field{"safe_on_eof", [](const Json& v, Answer& a) { return read_truth(v, a.safe_on_eof); }},
    Field{"level", read_level},
    Field{"values", read_values},
};

}  // namespace

std::string hello_to_sensor(const Stamp& stamp) {
  OrderedJson json = hello(stamp);
  for (const ChannelSpec& channel : kChannels) json["channels"].push_back(channel.name);
  return json.dump();
}

std::string hello_to_output(const Stamp& stamp, Output output) {
  OrderedJson json = hello(stamp);
  json["output"] = info(output).name;
  return json.dump();
}

std::string read_request(const Stamp& stamp) { return request(stamp, "read").dump(); }

std::string write_request(const Stamp& stamp, Permille level) {
  OrderedJson json = request(stamp, "write");
  json["level"] = level.value;
  return json.dump();
}

std::string hello_to_plant(const Stamp& stamp, const std::string& local_time) {
  OrderedJson json = hello(stamp);
  json["lockstep"] = true;
  json["local_time"] = local_time;
  for (const ChannelSpec& channel : kChannels) json["channels"].push_back(channel.name);
  return json.dump();
}

std::string read_request(const Stamp& stamp, const std::string& part) {
  OrderedJson json = request(stamp, "read");
  json["part"] = part;
  return json.dump();
}

std::string write_request(const Stamp& stamp, Output output, Permille level) {
  OrderedJson json = request(stamp, "write");
  json["output"] = info(output).name;
  json["level"] = level.value;
  return json.dump();
}

std::string read_back_request(const Stamp& stamp, Output output) {
  OrderedJson json = request(stamp, "read");
  json["output"] = info(output).name;
  return json.dump();
}

std::string bye_request(const Stamp& stamp) { return request(stamp, "bye").dump(); }

std::optional<Answer> parse_answer(std::string_view line) {
  const Json json = Json::parse(line, nullptr, false);
  if (!json.is_object()) return std::nullopt;
  Answer answer;
  for (const Field& field : kFields) {
    const auto found = json.find(field.key);
    if (found != json.end() && !field.read(*found, answer)) return std::nullopt;
  }
  return answer;
}

}  // namespace neap::drivers::program
