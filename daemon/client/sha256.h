// SHA-256 (FIPS 180-4) by libmd, so that a backup can be checked by `sha256sum -c` on any machine.
#pragma once

#include <sha2.h>

#include <string>
#include <string_view>

namespace neap::client {

class Sha256 {
 public:
  Sha256() { ::SHA256Init(&sum_); }
  void take(std::string_view bytes);
  // Of all that was taken, as 64 small hexadecimal digits. Ends it.
  std::string digest();

 private:
  SHA2_CTX sum_{};
};

}  // namespace neap::client
