// Defaults and hard ceilings in one place, each with its reason. Settings are checked against
// these; config/reference.yaml is tested against them. A user's value never passes a ceiling.
#pragma once

#include "daemon/core/instant.h"

namespace neap::limits {

// The longest a pump may ever run without a break, whatever the settings say. A 1000 L/h pump moves
// 333 L in that time, more than any tent tray: soak over the standpipe needs it, nothing else does.
constexpr Millis kPumpRunCeiling = minutes{60};
// Longest time roots may stand under water: common practice 30 min; warm solution loses its oxygen
// in hours (Goto et al. 1996: lettuce unharmed at 2.1 mg/L), so an hour is a ceiling, not advice.
constexpr Millis kSoakCeiling = minutes{60};
constexpr Millis kFillCeiling = minutes{30};
constexpr Millis kDrainCeiling = minutes{120};
constexpr int kFloodsPerHourCeiling = 6;
constexpr Millis kMinGapFloor = minutes{5};

// Leases (D-013): one missed scan is no accident, three are.
constexpr Millis kPumpLease = seconds{3};
constexpr Millis kOutputLease = seconds{30};
constexpr Millis kScanPeriod = seconds{1};
// A quiet scan may sleep at most this long, so that leases of 30 s live under next-wake stepping.
constexpr Millis kLongestSleep = seconds{10};

// Operator holds (D-013): longer than a piece of work, shorter than a forgotten day.
constexpr Millis kHoldFloor = seconds{1};
constexpr Millis kHoldDefault = minutes{30};
constexpr Millis kHoldCeiling = hours{4};

// Age of a reading (D-013): venting renews a tent's air in 30 to 90 s, and old air tells nothing.
constexpr Millis kUncertainAfter = seconds{30};
constexpr Millis kBadAfter = seconds{60};

// Effect of the pump (D-013): hose and pump prime in 10 s; an airlock rises in minutes.
constexpr Millis kNoEffectAfter = seconds{20};
constexpr Millis kRetryGap = minutes{5};
constexpr int kRetries = 2;
// Fill: a pump that lost 30 % of its flow fills 24 % longer (tests/drivers/simulated_water_test).
constexpr double kFillAlarmRatio = 1.25;
constexpr double kFillStopRatio = 2.0;

// Compressor: 3 to 5 min between stop and start is common practice, no source; gentler is free.
constexpr Millis kCompressorMinOn = seconds{300};
constexpr Millis kCompressorMinOff = seconds{300};
constexpr Millis kCompressorMinFloor = seconds{120};
constexpr int kCompressorStartsPerHour = 6;

// Leak (D-013): the first wet edge stops; 2 of 3 samples within this time are no spike: latch.
constexpr Millis kLeakWindow{300};
// A dry probe must stay dry this long before a reset may clear the latch.
constexpr Millis kLeakDryHold = seconds{10};

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

}  // namespace neap::limits
