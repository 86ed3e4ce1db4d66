// What an operator may ask of the core. Requests reach a scan through its inputs and are answered
// in the same scan by an event of kind `request` with the same id.
#pragma once

#include <cstdint>

#include "daemon/core/alarm.h"
#include "daemon/core/fixed.h"
#include "daemon/core/instant.h"
#include "daemon/core/interlock.h"
#include "daemon/core/outputs.h"
#include "daemon/core/probe_calibration.h"
#include "daemon/core/proof_tests.h"

namespace neap {

enum class RequestKind : std::uint8_t {
  flood_start = 1,
  flood_stop = 2,
  hold = 3,           // output, level, duration
  release = 4,        // output
  acknowledge = 5,    // alarm, or all
  shelve = 6,         // alarm, duration; interlock alarms cannot be shelved
  reset_latch = 7,    // latch
  service_begin = 8,  // duration
  service_end = 9,
  enter_stage = 10,      // number = index
  step_test_start = 11,  // output
  step_test_stop = 12,
  proof_test = 13,  // proof
  calibrate = 17,   // calibration
};

// The id of what the button at the tent asks for; others count from 1.
constexpr std::uint32_t kButtonRequest = 0;

struct Request {
  RequestKind kind = RequestKind::flood_stop;
  std::uint32_t id = 0;
  Output output = Output::pump;
  Permille level = kStopped;
  Millis duration{};  // 0: the default, within the output's own limit
  Alarm alarm = Alarm::leak;
  bool all = false;
  Latch latch = Latch::leak;
  ProofTest proof = ProofTest::pump;
  std::int32_t number = 0;
  ProbeFit fit{};
};
using Requests = FixedVector<Request, 16>;

}  // namespace neap
