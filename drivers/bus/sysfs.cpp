#include "drivers/bus/sysfs.h"

#include <fcntl.h>
#include <unistd.h>

#include <array>
#include <charconv>
#include <cmath>
#include <system_error>

#include "drivers/bus/descriptor.h"
#include "drivers/bus/errors.h"

namespace neap::drivers::sysfs {
namespace {

constexpr std::size_t kLongestAttribute = 128;

// O_NONBLOCK changes nothing for an attribute; it keeps a pipe that stands at the path by mistake
// from holding the strand for ever.
constexpr int kFlags = O_CLOEXEC | O_NOCTTY | O_NONBLOCK;

}  // namespace

Attribute read_attribute(const std::filesystem::path& path) {
  const Descriptor file{::open(path.c_str(), O_RDONLY | kFlags)};
  if (!file) return {std::nullopt, fault_of(errno)};

  // One byte more than allowed, so that a text which is too long shows itself.
  std::array<char, kLongestAttribute + 1> buffer{};
  std::size_t size = 0;
  while (size < buffer.size()) {
    const ssize_t got = ::read(file.get(), buffer.data() + size, buffer.size() - size);
    if (got < 0) return {std::nullopt, fault_of(errno)};
    if (got == 0) break;
    size += static_cast<std::size_t>(got);
  }
  if (size > kLongestAttribute) return {std::nullopt, Fault::corrupt};

  std::string_view text{buffer.data(), size};
  if (text.ends_with('\n')) text.remove_suffix(1);
  if (text.empty()) return {std::nullopt, Fault::no_answer};
  return {std::string{text}, Fault::none};
}

Fault write_attribute(const std::filesystem::path& path, std::string_view text) {
  const Descriptor file{::open(path.c_str(), O_WRONLY | O_TRUNC | kFlags)};
  if (!file) return fault_of(errno);
  // One write call: the kernel takes each call as one whole value.
  const ssize_t put = ::write(file.get(), text.data(), text.size());
  if (put < 0) return fault_of(errno);
  return put == static_cast<ssize_t>(text.size()) ? Fault::none : Fault::no_answer;
}

std::optional<double> parse_decimal(std::string_view text) {
  double value = 0;
  const char* end = text.data() + text.size();
  const auto [stop, error] = std::from_chars(text.data(), end, value, std::chars_format::fixed);
  if (error != std::errc{} || stop != end || !std::isfinite(value)) return std::nullopt;
  return value;
}

}  // namespace neap::drivers::sysfs
