// Reading and writing the one-value files of the kernel (sysfs attributes). They lie in ways that a
// driver must know, all seen on Debian kernels 6.1 and 6.12:
//   - a failed conversion may read as nothing at all, with success: empty is never a value;
//   - the same attribute is "23500" on one kernel and "23500.000000000" on the next;
//   - the number in hwmon3 or gpiochip0 changes from boot to boot: match by name and device path.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <string_view>

#include "daemon/core/reading.h"

namespace neap::drivers::sysfs {

struct Attribute {
  std::optional<std::string> text;  // without the newline at its end; never empty
  Fault fault = Fault::none;        // why there is no text
};

// Reads one attribute of at most 128 bytes. The kernel's error as drivers/bus/errors.h has it; an
// empty read is no_answer; a longer text is corrupt: no attribute we read is that long.
Attribute read_attribute(const std::filesystem::path& path);

// Overwrites a file that exists; never creates one. The kernel's error as drivers/bus/errors.h has
// it; no_answer when the device refuses the value.
Fault write_attribute(const std::filesystem::path& path, std::string_view text);

// The whole text as one finite decimal number, as "-3500" or "23500.000000000". No exponent, no
// plus sign, no spaces, no hexadecimal: none of them is something the kernel prints.
std::optional<double> parse_decimal(std::string_view text);

}  // namespace neap::drivers::sysfs
