// Proof tests: what a person has seen work at this very hardware, and when. A pump whose contact
// was wired to the wrong coil, or a float upside down, looks like a sound one until the first
// flood; so the programme's floods wait until each part has been seen to act once, and the tests
// fall due again. The core does not take a person's word alone: a contact must have changed and
// come back, an output must have moved, in the last minutes.
//
// What needs a test is the plan's to say (settings/proofs.cpp): parts with a real driver, where
// neap drives the pump, unless the owner answers for them. A part that is wired or driven otherwise
// than when it was tested is an untested one.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <string_view>

#include "daemon/core/instant.h"
#include "daemon/core/outputs.h"
#include "daemon/core/points.h"
#include "daemon/core/reason.h"

namespace neap {

struct Plan;
struct State;
struct Event;
struct FloodNews;

// Stored in the state file: numbers stay.
enum class ProofTest : std::uint8_t {
  pump = 0,
  drain_valve = 1,
  tray_full = 2,
  tray_high = 3,
  reservoir_low = 4,
  leak_floor = 5,
  leak_rack = 6,
  leak_reservoir = 7,
  flood = 8,  // one flood by hand, filled and drained: the core sees it by itself
};
constexpr std::size_t kProofTestCount = 9;

struct ProofTestInfo {
  ProofTest test;
  std::string_view name;  // in the control protocol, and after `neap commission`
  std::optional<Output> output;
  std::optional<Point> point;
};
inline constexpr std::array<ProofTestInfo, kProofTestCount> kProofTests{{
    {ProofTest::pump, "pump", Output::pump, std::nullopt},
    {ProofTest::drain_valve, "drain_valve", Output::drain_valve, std::nullopt},
    {ProofTest::tray_full, "tray_full", std::nullopt, Point::tray_full},
    {ProofTest::tray_high, "tray_high", std::nullopt, Point::tray_high},
    {ProofTest::reservoir_low, "reservoir_low", std::nullopt, Point::reservoir_low},
    {ProofTest::leak_floor, "leak_floor", std::nullopt, Point::leak_floor},
    {ProofTest::leak_rack, "leak_rack", std::nullopt, Point::leak_rack},
    {ProofTest::leak_reservoir, "leak_reservoir", std::nullopt, Point::leak_reservoir},
    {ProofTest::flood, "flood", std::nullopt, std::nullopt},
}};
constexpr const ProofTestInfo& info(ProofTest t) {
  return kProofTests[static_cast<std::size_t>(t)];
}

// Which tests the plan asks for: by the fingerprint of the part's driver and address.
struct ProofPlan {
  std::array<std::optional<std::uint64_t>, kProofTestCount> hardware{};
  Millis every{};  // due again; the flood proves itself with each flood
  friend bool operator==(const ProofPlan&, const ProofPlan&) = default;
};

struct ProofRecord {
  bool done = false;
  bool dated = false;  // the time of day was known
  std::int64_t at_unix_ms = 0;
  std::uint64_t hardware = 0;
};
using ProofRecords = std::array<ProofRecord, kProofTestCount>;

// A test counts when what it wants to see happened this recently: time to walk from the tent to the
// keyboard (common practice, no source).
constexpr Millis kProofWindow = minutes{10};

bool is_proven(const ProofPlan& plan, const ProofRecords& records, ProofTest test);
// Why the programme's floods wait; nothing when every test was passed. The parts come before the
// flood.
Because unproven(const ProofPlan& plan, const ProofRecords& records);
// The parts are proven: a person may start the flood that is the last test.
bool parts_are_proven(const ProofPlan& plan, const ProofRecords& records);
// Which test is due again, the oldest; nothing when none is, or the time of day is not known.
Because proof_due(const Plan& plan, const State& state);

// Notes a test as passed, or says what was not seen.
Because pass_proof_test(const Plan& plan, State& state, ProofTest test, Instant now);
// What a complete flood has shown: flood_proven; flood_answered_for where no sensor is fitted that
// could see it fill or drain; nothing where one is and saw nothing.
Because judge_flood(const Plan& plan, const FloodNews& news);
// A flood that filled and drained has passed the last test: true when this was news.
bool note_flood_proof(const Plan& plan, State& state);
// What the journal is told of a passed test.
Event proof_event(ProofTest test);
// Tests that were passed before the time of day was known are dated once it is.
void date_proofs(State& state);

}  // namespace neap
