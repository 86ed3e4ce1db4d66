#include "daemon/client/sha256.h"

namespace neap::client {

void Sha256::take(std::string_view bytes) {
  ::SHA256Update(&sum_, reinterpret_cast<const std::uint8_t*>(bytes.data()), bytes.size());
}

std::string Sha256::digest() {
  char digits[SHA256_DIGEST_STRING_LENGTH];
  return ::SHA256End(&sum_, digits);
}

}  // namespace neap::client
