// Waits for a descriptor on a thread of its own, for drivers with edges. The thread ends with the
// watch, which must go before the descriptor does.
#pragma once

#include <functional>
#include <memory>
#include <thread>

#include "drivers/bus/descriptor.h"

namespace neap::drivers {

class DescriptorWatch {
 public:
  // Calls `ready` each time that `descriptor` has something to read or is broken, until it returns
  // false. Null when the kernel gives no means to stop the thread again: then none is started.
  static std::unique_ptr<DescriptorWatch> start(int descriptor, std::function<bool()> ready);
  ~DescriptorWatch();
  DescriptorWatch(const DescriptorWatch&) = delete;
  DescriptorWatch& operator=(const DescriptorWatch&) = delete;

 private:
  DescriptorWatch(Descriptor stop, int descriptor, std::function<bool()> ready);

  Descriptor stop_;
  std::thread thread_;
};

}  // namespace neap::drivers
