// What a scan leaves in the journal: readings as they were judged, derived points, events, and the
// clock map. Analog points are noted with every sample, contacts when they change and every 5 min,
// the clock when it stepped, changed its quality or offset, and every 6 h.
#pragma once

#include "daemon/core/scan.h"
#include "daemon/journal/journal.h"
#include "daemon/shell/trace.h"

namespace neap::shell {

// What the event is about where its own numbers do not say it (journal::EventEntry::name): the
// stage as the settings name it, or what one of `requests` asked for. Empty otherwise.
std::string name_of(const Event& event, const Plan& plan, const Requests& requests);

class Notes {
 public:
  static constexpr Millis kContactsAnyway = minutes{5};
  static constexpr Millis kClockAnyway = hours{6};
  // The views interpolate between clock notes; this much error is invisible in them.
  static constexpr Millis kClockStep{500};

  explicit Notes(journal::Writer& journal) : journal_(journal) {}

  void scanned(const Plan& plan, const State& state, const Inputs& inputs, const Outcome& outcome,
               Instant now);
  std::uint64_t trace_hash() const { return trace_.hash(); }

 private:
  struct Noted {
    std::uint32_t count = 0;
    std::optional<double> value;
    Fault fault = Fault::none;
    Instant at{};
    bool any = false;
  };
  void readings(const Plan& plan, const State& state, const Inputs& inputs);
  void derived(const Outcome& outcome);
  void commands(const OutputImage& outputs, Instant now);
  void clock(const WallTime& wall, Instant now);
  void put(Instant taken, Point point, std::optional<double> value, Quality quality, Fault fault);

  journal::Writer& journal_;
  Trace trace_;
  PerPoint<Noted> noted_;
  PerOutput<std::optional<Permille>> levels_;
  WallTime clock_noted_{};
  Instant clock_noted_at_{};
  bool clock_known_ = false;
};

}  // namespace neap::shell
