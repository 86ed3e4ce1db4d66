// What the kernel's error numbers say about a device, for every driver alike.
#pragma once

#include <array>
#include <cerrno>

#include "daemon/core/reading.h"

namespace neap::drivers {

struct ErrorMeaning {
  int error;
  Fault fault;
};
inline constexpr std::array kErrorMeanings{
    ErrorMeaning{ENOENT, Fault::absent},   ErrorMeaning{ENOTDIR, Fault::absent},
    ErrorMeaning{ENODEV, Fault::absent},   ErrorMeaning{EACCES, Fault::denied},
    ErrorMeaning{EPERM, Fault::denied},    ErrorMeaning{EROFS, Fault::denied},
    ErrorMeaning{EBUSY, Fault::taken},     ErrorMeaning{ETIMEDOUT, Fault::hung},
    ErrorMeaning{EBADMSG, Fault::corrupt},
};

// Numbers that tell nothing more are no_answer: ENXIO and EREMOTEIO (an I2C address that does not
// acknowledge: which of the two depends on the adapter), EIO, EAGAIN (lost arbitration).
constexpr Fault fault_of(int error) {
  for (const ErrorMeaning& row : kErrorMeanings)
    if (row.error == error) return row.fault;
  return Fault::no_answer;
}

}  // namespace neap::drivers
