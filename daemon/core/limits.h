// Defaults and hard ceilings in one place, each with its reason. Settings are checked against
// these; config/reference.yaml is tested against them. A user's value never passes a ceiling.
#pragma once

#include "daemon/core/instant.h"
#include "daemon/core/outputs.h"

namespace neap::limits {

// The longest a pump may ever run without a break, whatever the settings say. A 1000 L/h pump moves
// 333 L in that time, more than any tent tray: soak over the standpipe needs it, nothing else does.
constexpr Millis kPumpRunCeiling = minutes{60};
// Longest time roots may stand under water: common practice 30 min; warm solution loses its oxygen
// in hours (Goto et al. 1996: lettuce unharmed at 2.1 mg/L), so an hour is a ceiling, not advice.
constexpr Millis kSoakCeiling = minutes{60};
// The longest a fill may take, whatever the settings say: the weakest pump worth buying, 100 L/h,
// fills a tray of 48 L in 29 min, and a burst hose that no sensor sees is stopped at last (common
// practice, no source).
constexpr Millis kFillCeiling = minutes{30};
// A tray that has not emptied in two hours is blocked, not slow: 60 L through a 6 mm weep hole
// from 100 mm of depth (Torricelli, coefficient 0.6) drain in 84 min. Longer than this it would
// also pass the hour that roots may stand under water, twice over.
constexpr Millis kDrainCeiling = minutes{120};
// One flood in ten minutes: what floods more often never drains. With its retries it also stays
// about within the runs that the exact hourly budget remembers (kBudgetRuns; more are withheld).
constexpr int kFloodsPerHourCeiling = 6;
// Shorter than this the water of the last flood is still on its way back, and its balance, the next
// flood's proof, would be wrong (common practice, no source).
constexpr Millis kMinGapFloor = minutes{5};

// Leases (D-013): one missed scan is no accident, three are.
constexpr Millis kPumpLease = seconds{3};
constexpr Millis kOutputLease = seconds{30};
constexpr Millis lease_of(Output output) {
  return is_pump_contact(output) ? kPumpLease : kOutputLease;
}
constexpr Millis kScanPeriod = seconds{1};
// A quiet scan may sleep at most this long, so that leases of 30 s live under next-wake stepping.
constexpr Millis kLongestSleep = seconds{10};

// Operator holds (D-013): longer than a piece of work, shorter than a forgotten day.
constexpr Millis kHoldFloor = seconds{1};
constexpr Millis kHoldDefault = minutes{30};
constexpr Millis kHoldCeiling = hours{4};
// An alarm is shelved for a shift or a night at most: what is silenced longer is forgotten (common
// practice, no source; that shelving must end by itself is ISA-18.2, from memory).
constexpr Millis kShelveCeiling = hours{8};

// Age of a reading (D-013): venting renews a tent's air in 30 to 140 s; older air tells nothing.
constexpr Millis kUncertainAfter = seconds{30};
constexpr Millis kBadAfter = seconds{60};

// What stops the pump must be news: leak probes and floats are read this often at least, and count
// as silent, which stops the pump, from this age on. A pump of 600 L/h moves 1.7 L in the former
// and 10 L in the latter (common practice, no source).
constexpr Millis kWaterContactEvery = seconds{10};
constexpr Millis kWaterContactAge = seconds{60};
// The proof of a pump with two contacts: a stop has 4 s to see whether the one that it tries breaks
// the current (core/pump_contacts.h).
constexpr Millis kContactProofEvery = seconds{1};

// A wild probe (loose plug, wet board) gives values of which some happen to lie near the last good
// one. A refused value is worth as much doubt as four good ones make up for, so that a probe of
// which more than one value in five is refused ends up suspended however the good ones fall; two at
// once suspend. It is believed again when no doubt is left; the bound keeps a long storm from
// costing more than 16 good values (common practice, no source; tests/core/watch_test.cpp).
constexpr int kDoubtPerRefusal = 4;
constexpr int kDoubtSuspends = 8;
constexpr int kDoubtMost = 16;
// Values agree when they differ by at most this part of the point's largest believable change in a
// minute: 1.5 K and 7.5 % for air, many times a probe's noise and more than an opened tent does
// between two samples; where the period is longer, by its own part of a minute. What moves further
// at once must say so this often in a row (common practice, no source).
constexpr double kAgreePart = 0.25;
constexpr int kAgreeingValues = 3;

// Effect of the pump (D-013): hose and pump prime in 10 s; an airlock rises in minutes.
constexpr Millis kNoEffectAfter = seconds{20};
constexpr Millis kRetryGap = minutes{5};
constexpr int kRetries = 2;
// Fill: a pump that lost 30 % of its flow fills 24 % longer (tests/drivers/simulated_water_test).
constexpr double kFillAlarmRatio = 1.25;
constexpr double kFillStopRatio = 2.0;

// The roots' time without a flood, whatever medium, light and air say: no medium wilts a crop
// within the hour, and none is trusted for more than three days (common practice, no source).
constexpr Millis kRootsFloor = hours{1};
constexpr Millis kRootsCeiling = hours{72};

// Compressor: 3 to 5 min between stop and start is common practice, no source; gentler is free.
constexpr Millis kCompressorMinOn = seconds{300};
constexpr Millis kCompressorMinOff = seconds{300};
constexpr Millis kCompressorMinFloor = seconds{120};
constexpr int kCompressorStartsPerHour = 6;

// Leak (D-013): the first wet edge stops; 2 of 3 samples within this time are no spike: latch.
constexpr Millis kLeakWindow{300};
// A dry probe must stay dry this long before a reset may clear the latch.
constexpr Millis kLeakDryHold = seconds{10};
// What a contact says towards safety is believed when it has said so this long, towards danger at
// once (hazards W9). Water in a tray or a reservoir sloshes at 0.2 to 1 Hz: whatever sloshes says
// otherwise within 5 s.
constexpr Millis kSafeEdgeHold = seconds{10};
constexpr Millis kTrayEdgeHold = seconds{5};
// Loads that switch disturb what is read just then: a failed or wild reading so soon after is none
// (hazards S9). Errors that come this soon after are counted as coming with the switching.
constexpr Millis kSwitchBlank{300};
constexpr Millis kSwitchEcho = seconds{2};

// Service at the tent (D-013): time for a change of solution, and no night without floods.
constexpr Millis kServiceFloor = minutes{20};
constexpr Millis kServiceCeiling = minutes{60};

// Settings text: config/reference.yaml, with every key explained, has half of these bytes.
constexpr int kSettingsBytes = 64 * 1024;
constexpr int kSettingsDepth = 16;
constexpr int kSettingsNodes = 2000;

// Control socket (D-013): what clients may cost the daemon in memory.
constexpr int kFrameBytes = 16 * 1024;
constexpr int kClients = 8;
// A person types one request a second, a watching screen asks for a few things at once; a client
// that asks more often is broken, and the loop has floods to run (common practice, no source).
constexpr int kRequestsPerSecond = 20;
// A frame is written whole by one call on this machine: what is not here in 2 s is no client of
// ours. Between frames a client may be a person who reads: 10 s, then it connects anew.
constexpr Millis kFrameWait = seconds{2};
constexpr Millis kClientIdle = seconds{10};
// Answers waiting for a client that does not read: 64 frames, less than the daemon itself.
constexpr int kUnreadBytes = 64 * kFrameBytes;

}  // namespace neap::limits
