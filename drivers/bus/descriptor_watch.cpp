#include "drivers/bus/descriptor_watch.h"

#include <poll.h>
#include <sys/eventfd.h>

#include <array>

namespace neap::drivers {
namespace {

void wait_for(int stop, int descriptor, const std::function<bool()>& ready) {
  while (true) {
    std::array<pollfd, 2> waits{pollfd{descriptor, POLLIN, 0}, pollfd{stop, POLLIN, 0}};
    ::poll(waits.data(), waits.size(), -1);
    if (waits[1].revents != 0) return;
    if (waits[0].revents != 0 && !ready()) return;
  }
}

}  // namespace

std::unique_ptr<DescriptorWatch> DescriptorWatch::start(int descriptor,
                                                        std::function<bool()> ready) {
  Descriptor stop{::eventfd(0, EFD_CLOEXEC)};
  if (!stop) return nullptr;
  return std::unique_ptr<DescriptorWatch>(
      new DescriptorWatch(std::move(stop), descriptor, std::move(ready)));
}

DescriptorWatch::DescriptorWatch(Descriptor stop, int descriptor, std::function<bool()> ready)
    : stop_(std::move(stop)), thread_([at = stop_.get(), descriptor, ready = std::move(ready)] {
        wait_for(at, descriptor, ready);
      }) {}

DescriptorWatch::~DescriptorWatch() {
  ::eventfd_write(stop_.get(), 1);
  thread_.join();
}

}  // namespace neap::drivers
