#include "drivers/bus/iio.h"

#include <array>

namespace neap::drivers::iio {
namespace {

struct TypeUnit {
  std::string_view type;
  std::string_view unit;
};
constexpr std::array kTypes{
    TypeUnit{"voltage", "mV"}, TypeUnit{"current", "mA"},   TypeUnit{"resistance", "ohm"},
    TypeUnit{"distance", "m"}, TypeUnit{"pressure", "kPa"},
};

// Chips that the kernel calls by another name from one version to the next.
struct Alias {
  std::string_view one;
  std::string_view other;
};
constexpr std::array kAliases{Alias{"ads1015", "ads1115"}};  // Linux 6.1 calls both ads1015

constexpr double kTop = 32767;  // the ends of sixteen bits
constexpr double kBottom = -32768;

constexpr std::string_view kDigits = "0123456789";

// voltage0 is of the type voltage, voltage0-voltage1 of voltage-voltage, temp_object of temp.
std::string shared_name(std::string_view channel) {
  std::string shared;
  for (const char c : channel.substr(0, channel.find('_')))
    if (kDigits.find(c) == kDigits.npos) shared += c;
  return shared;
}

// Letters and digits, or two such with a dash between them.
bool is_input(std::string_view channel, std::string_view type) {
  if (!channel.starts_with(type)) return false;
  const std::string_view number = channel.substr(type.size());
  const std::size_t dash = number.find('-');
  const std::string_view first = number.substr(0, dash);
  if (first.find_first_not_of(kDigits) != first.npos) return false;
  if (dash == number.npos) return true;
  const std::string_view second = number.substr(dash + 1);
  return !first.empty() && second.size() > type.size() && second.starts_with(type) &&
         second.find_first_not_of(kDigits, type.size()) == second.npos;
}

}  // namespace

std::vector<std::string_view> names_of(std::string_view chip) {
  for (const Alias& row : kAliases)
    if (chip == row.one || chip == row.other) return {row.one, row.other};
  return {chip};
}

std::optional<std::string_view> unit_of(std::string_view channel) {
  for (const TypeUnit& row : kTypes)
    if (is_input(channel, row.type)) return row.unit;
  return std::nullopt;
}

Device::Device(const Params& params, const Context& context)
    : kernel_(kernel_of(context)), chip_(params.text("chip")), device_(params.text("device")) {}

Fault Device::find() {
  found_ = find_device(*kernel_, "bus/iio/devices", names_of(chip_), device_);
  return found_.fault;
}

Value Device::attribute(const std::string& channel, std::string_view what) const {
  const auto said = kernel_->read(found_.path + "/in_" + channel + "_" + std::string{what});
  if (!said.text) return {std::nullopt, said.fault};
  const auto number = sysfs::parse_decimal(*said.text);
  return {number, number ? Fault::none : Fault::corrupt};
}

Value Device::own_or_shared(const std::string& channel, std::string_view what) const {
  const std::string shared = shared_name(channel);
  const std::string type = shared.substr(0, shared.find('-'));
  Value value = attribute(channel, what);
  if (value.fault == Fault::absent && shared != channel) value = attribute(shared, what);
  if (value.fault == Fault::absent && type != shared) value = attribute(type, what);
  return value;
}

Value Device::read(const std::string& channel) const {
  if (found_.fault != Fault::none) return {std::nullopt, found_.fault};
  const Value finished = attribute(channel, "input");
  if (finished.fault != Fault::absent) return finished;
  const Value raw = attribute(channel, "raw");
  if (!raw.value) return raw;
  if (*raw.value == kTop || *raw.value == kBottom) return {std::nullopt, Fault::out_of_range};
  const Value scale = own_or_shared(channel, "scale");
  if (!scale.value) return scale;
  const Value offset = own_or_shared(channel, "offset");
  if (!offset.value && offset.fault != Fault::absent) return offset;
  return {(*raw.value + offset.value.value_or(0)) * *scale.value, Fault::none};
}

std::string strand(const Params& params) { return "iio:" + params.text("chip"); }

}  // namespace neap::drivers::iio
