// GPIO chips as the character device describes them, by the second version of its interface.
#include <fcntl.h>
#include <linux/gpio.h>
#include <sys/ioctl.h>

#include <cerrno>
#include <cstring>

#include "drivers/bus/descriptor.h"
#include "drivers/bus/survey.h"

namespace neap::drivers {
namespace {

// The kernel's texts are 32 bytes and end in a NUL, unless they are as long as that.
template <std::size_t N>
std::string text_of(const char (&field)[N]) {
  return std::string(field, ::strnlen(field, N));
}

}  // namespace

GpioChip read_gpio_chip(const std::string& path) {
  GpioChip chip;
  const Descriptor fd(::open(path.c_str(), O_RDONLY | O_CLOEXEC));
  if (fd.get() < 0) {
    chip.error = std::strerror(errno);
    return chip;
  }
  gpiochip_info about{};
  if (::ioctl(fd.get(), GPIO_GET_CHIPINFO_IOCTL, &about) != 0) {
    chip.error = std::strerror(errno);
    return chip;
  }
  chip.label = text_of(about.label);
  for (std::uint32_t offset = 0; offset < about.lines; ++offset) {
    gpio_v2_line_info line{};
    line.offset = offset;
    if (::ioctl(fd.get(), GPIO_V2_GET_LINEINFO_IOCTL, &line) != 0) {
      chip.error = std::strerror(errno);
      return chip;
    }
    chip.lines.push_back({static_cast<int>(offset), text_of(line.name), text_of(line.consumer),
                          (line.flags & GPIO_V2_LINE_FLAG_USED) != 0,
                          (line.flags & GPIO_V2_LINE_FLAG_OUTPUT) != 0});
  }
  return chip;
}

}  // namespace neap::drivers
