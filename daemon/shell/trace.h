// The trace hash: two runs that decided alike have the same number. It covers every change of a
// granted level (tick, output, level, reason) and every reading of an
// analog or derived point, and every change of a contact, in whole quanta.
#pragma once

#include <cmath>
#include <cstdint>
#include <optional>
#include <string_view>

#include "daemon/core/image.h"
#include "daemon/core/points.h"
#include "daemon/core/reading.h"
#include "daemon/shell/files.h"

namespace neap::shell {

class Trace {
 public:
  void command(Instant now, Output output, const Command& command) {
    add(tick_ms(now));
    add(static_cast<std::int64_t>(output));
    add(command.level.value);
    add(static_cast<std::int64_t>(command.because.reason));
  }
  void reading(Instant taken, Point point, std::optional<double> value, Fault fault) {
    add(tick_ms(taken));
    add(static_cast<std::int64_t>(point));
    add(value ? std::llround(*value / info(point).quantum) : 0);
    add(value ? 0 : 1 + static_cast<std::int64_t>(fault));
  }
  std::uint64_t hash() const { return hash_; }

 private:
  void add(std::int64_t number) {
    char bytes[8];
    for (int i = 0; i < 8; ++i) bytes[i] = static_cast<char>(number >> (8 * i));
    hash_ = fnv1a({bytes, sizeof bytes}, hash_);
  }
  std::uint64_t hash_ = 0xcbf29ce484222325ULL;
};

}  // namespace neap::shell
