// A reading: a validated value that may be absent. There is no number that means 'no reading'.
#pragma once

#include <cstdint>
#include <optional>

#include "daemon/core/instant.h"

namespace neap {

enum class Quality : std::uint8_t {
  bad = 0,        // no value may be used
  uncertain = 1,  // held from before, or from one of two disagreeing twins
  good = 2,
};

// Why a driver or the validation has no value. Written in the journal: numbers stay.
enum class Fault : std::uint8_t {
  none = 0,
  not_fitted = 1,      // no sensor is mapped to this point
  never_read = 2,      // fitted, but nothing has arrived since start
  no_answer = 3,       // the device did not answer
  corrupt = 4,         // checksum, framing or text that is no number
  out_of_range = 5,    // outside what is physically possible for the point
  jump = 6,            // changed faster than air or water can
  stale = 7,           // too old
  frozen = 8,          // the same raw value for too long
  power_on_value = 9,  // the device's reset value, not a measurement
  saturated = 10,      // humidity probe wet: flat at 100 %
  erratic = 11,        // too many values refused of late: none is believed until it behaves
  unconfirmed = 12,    // moved far at once: waits for the values after it to agree
  absent = 13,         // the kernel knows no such bus, chip or file
  denied = 14,         // neapd may not open it
  taken = 15,          // another driver or program holds it
  hung = 16,           // the bus did not end a transfer in time
  ambiguous = 17,      // more than one device fits the settings
  not_ready = 18,      // the device answers, but has no value yet
  open_wire = 19,      // the probe's end-of-line resistor is not seen
  short_wire = 20,     // the probe's wires touch
};

// Was nothing heard from the device itself? It may be unplugged; asking it oftener helps nobody.
constexpr bool is_silence(Fault fault) {
  return fault == Fault::no_answer || fault == Fault::absent || fault == Fault::denied ||
         fault == Fault::taken || fault == Fault::hung || fault == Fault::ambiguous;
}

template <class T>
class Reading {
 public:
  constexpr Reading() = default;
  static constexpr Reading of(T value, Quality quality, Instant taken) {
    Reading r;
    r.value_ = value;
    r.quality_ = quality;
    r.taken_ = taken;
    r.fault_ = Fault::none;
    return r;
  }
  static constexpr Reading absent(Fault why) {
    Reading r;
    r.fault_ = why;
    return r;
  }

  constexpr bool usable() const { return value_.has_value() && quality_ != Quality::bad; }
  constexpr explicit operator bool() const { return usable(); }
  constexpr const T& operator*() const { return *value_; }
  constexpr const T* operator->() const { return &*value_; }
  constexpr Quality quality() const { return quality_; }
  constexpr Fault fault() const { return fault_; }
  constexpr Instant taken() const { return taken_; }
  friend constexpr bool operator==(const Reading&, const Reading&) = default;

 private:
  std::optional<T> value_;
  Quality quality_ = Quality::bad;
  Fault fault_ = Fault::never_read;
  Instant taken_{};
};

// What a driver delivered, before the core has judged it: a value, or the reason there is none.
struct Sample {
  std::optional<double> value;
  Fault fault = Fault::never_read;
  Instant taken{};          // when the conversion ended
  std::uint32_t count = 0;  // samples delivered for this point since start; tells a new one apart
};

}  // namespace neap
