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

// Leases (rulings): one missed scan is no accident, three are.
constexpr Millis kPumpLease = seconds{3};
constexpr Millis kOutputLease = seconds{30};
constexpr Millis kScanPeriod = seconds{1};
// A quiet scan may sleep at most this long, so that leases of 30 s live under next-wake stepping.
constexpr Millis kLongestSleep = seconds{10};

// Operator holds (rulings): 1 s to 4 h, default 30 min.
constexpr Millis kHoldFloor = seconds{1};
constexpr Millis kHoldDefault = minutes{30};
constexpr Millis kHoldCeiling = hours{4};

// Age of a reading (rulings): held as uncertain to 30 s, bad at 60 s, slow sensors three periods.
constexpr Millis kUncertainAfter = seconds{30};
constexpr Millis kBadAfter = seconds{60};

// Effect of the pump: 20 s, two retries 5 min apart (rulings).
constexpr Millis kNoEffectAfter = seconds{20};
constexpr Millis kRetryGap = minutes{5};
constexpr int kRetries = 2;
// Fill (rulings): alarm at +25 % of the learnt time, stop at twice it.
constexpr double kFillAlarmRatio = 1.25;
constexpr double kFillStopRatio = 2.0;

// Compressor defaults (rulings); gentler values are the owner's choice.
constexpr Millis kCompressorMinOn = seconds{300};
constexpr Millis kCompressorMinOff = seconds{300};
constexpr Millis kCompressorMinFloor = seconds{120};
constexpr int kCompressorStartsPerHour = 6;

// Leak: the first wet edge stops, 2 of 3 samples within 300 ms latch (rulings).
constexpr Millis kLeakWindow{300};
// A dry probe must stay dry this long before a reset may clear the latch.
constexpr Millis kLeakDryHold = seconds{10};

// Service at the tent (rulings): 20 to 60 min.
constexpr Millis kServiceFloor = minutes{20};
constexpr Millis kServiceCeiling = minutes{60};

// Settings text (rulings).
constexpr int kSettingsBytes = 64 * 1024;
constexpr int kSettingsDepth = 16;
constexpr int kSettingsNodes = 2000;

// Control socket (rulings and hazards section 6).
constexpr int kFrameBytes = 16 * 1024;
constexpr int kClients = 8;

}  // namespace neap::limits
