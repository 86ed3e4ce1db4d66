// Climate: the interface that every law stands behind, and what surrounds a law (limits first, then
// the band, then dwells in the arbiter). A law sees readings, targets, beliefs, its legal moves and
// the known future, and returns demands with a diagnosis. It owns its memory and nothing else.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <optional>

#include "daemon/core/fixed.h"
#include "daemon/core/image.h"
#include "daemon/core/plan.h"
#include "daemon/core/reading.h"

namespace neap {

// What the air is like, derived once a scan.
struct Air {
  Reading<Celsius> temperature;
  Reading<PercentRh> humidity;
  Reading<Celsius> leaf;         // its sensor's, or the air's plus the leaf offset
  Reading<Kilopascal> vpd;       // air VPD
  Reading<Kilopascal> leaf_vpd;  // absent without leaf sensor or offset
  Reading<Celsius> dew_point;
  Reading<GramsPerCubicMetre> vapour_density;
};

struct ClimateTargets {
  Band band;  // of `band_of`
  BandOf band_of = BandOf::air;
  Celsius air_lowest{10};
  Celsius air_highest{30};
  PercentRh humidity_ceiling{90};
  bool day = false;
  bool quiet = false;
  // Where the band goes after the next light edge, and over what time it moves there.
  Band band_by_day;
  Band band_by_night;
  Millis band_ramp{};
};

// A two-position device's or fan's legal moves now.
struct LegalMove {
  bool fitted = false;
  bool variable = false;
  Permille level = kStopped;  // as granted by the last scan
  Permille floor = kStopped;
  Permille ceiling = kRunning;  // quiet hours already applied
  bool may_start = false;       // dwell and start budget permit it
  bool may_stop = false;
  Instant may_start_at{};
  Instant may_stop_at{};
  Millis min_on{};
  Millis min_off{};
};

// What is known of the near future.
struct KnownFuture {
  bool flood_now = false;  // pump running or tray draining
  Instant flood_started{};
  bool flood_coming = false;
  Instant next_flood{};
  bool light_edge_coming = false;
  Instant next_light_edge{};
  bool edge_is_lights_on = false;
  bool fan_ceiling_coming = false;  // quiet hours begin or end, and bind the fan
  Instant fan_ceiling_changes{};
  Permille fan_ceiling_then = kRunning;
};

// What the owner says of the tent. A law may learn better; it keeps that in its memory.
struct Beliefs {
  double tent_m3 = 1.2;
  double fan_m3_per_h = 150;
  double dehumidifier_g_per_h = 146;  // at 26.7 C and 60 %, run up
  double humidifier_g_per_h = 250;
  DehumidifierPlace dehumidifier_place = DehumidifierPlace::tent;
  DehumidifierKind dehumidifier_kind = DehumidifierKind::compressor;
};

// How an owner wants a law to behave. run_climate() takes it from the plan; a caller leaves it
// alone.
struct Tuning {
  double hysteresis = 0.25;  // part of the band's width
  Millis drying_delay = minutes{3};
  Permille fixed_fan_level{400};
};

struct ClimateView {
  Air canopy;
  Air room;
  ClimateTargets targets;
  LegalMove fan;
  LegalMove dehumidifier;
  LegalMove humidifier;
  KnownFuture future;
  Beliefs beliefs;
  Tuning tuning;
  // As granted by the last scan; stopped where none is fitted, none where it is in another hand.
  std::optional<Permille> light = kStopped;
  std::optional<double> light_lux;  // by a sensor in the tent
  bool fan_stands = false;          // by its own tachometer
  Instant now{};
  bool told = true;         // false: what is asked for here reaches no device (another hand's)
  bool new_sample = false;  // the canopy reading is newer than the last decision's
};

// What a device does instead of what it is told, by what the air does (device_doubt.h).
enum class Doubt : std::uint8_t {
  fan_dead = 0,
  dehumidifier_dead = 1,
  dehumidifier_welded = 2,
  humidifier_dry = 3,
  light_stuck_on = 4,
};
constexpr std::size_t kDoubtCount = 5;

struct Doubts {
  std::array<bool, kDoubtCount> standing{};
  bool operator[](Doubt d) const { return standing[static_cast<std::size_t>(d)]; }
  bool& operator[](Doubt d) { return standing[static_cast<std::size_t>(d)]; }
};

enum class Binding : std::uint8_t {  // what keeps the band out of reach
  nothing = 0,
  too_warm = 1,
  too_humid = 2,
  too_dry = 3,
  no_reading = 4,
};

struct Wish {
  bool wanted = false;  // false: no wish, and no demand comes of it
  Permille level = kStopped;
  Because because;
};

using CureList = FixedVector<Because, 4>;

struct ClimateAsk {
  Wish fan;
  Wish dehumidifier;
  Wish humidifier;
  Binding binding = Binding::nothing;
  Because diagnosis;
  CureList cures;  // what else would do, besides what the diagnosis names
  Doubts doubts;
  bool condensing = false;  // the coldest surface is within the margin of the dew point
  Because condensation;     // how near
  Instant decide_again = Instant::max();  // a law with its own rhythm wants a scan then
};

// Memory in plain numbers, so that the state file can keep it. First the law's own slots, which it
// names; then what the observer knows of the tent (tent_observer.h), whatever the law; then
// run_climate()'s: limits in force, and what keeps the band out of reach; last what speaks against
// each device (device_doubt.h).
constexpr std::size_t kLawNumbers = 24;  // numbers[0..23] and ticks[0..3] are the law's
constexpr std::size_t kLawTicks = 4;
constexpr std::size_t kObserverNumbers = 32;
constexpr std::size_t kObserverTicks = 4;
constexpr std::size_t kDoubtNumbers = 20;
constexpr std::size_t kDoubtTicks = 4;
constexpr std::size_t kDoubtNumbersAt = 64;  // a number never moves: they are in state files
constexpr std::size_t kDoubtTicksAt = 12;
struct LawMemory {
  std::uint32_t law = 0;  // which law wrote it; another law starts afresh
  std::array<double, kDoubtNumbersAt + kDoubtNumbers> numbers{};
  std::array<std::int64_t, kDoubtTicksAt + kDoubtTicks> ticks{};
};

class ClimateLaw {
 public:
  virtual ~ClimateLaw() = default;
  virtual std::uint32_t id() const = 0;  // stable, stored in LawMemory::law
  // Called in every scan that has a usable controlled_vpd(). Must not depend on how often: what it
  // measures changes on view.new_sample only, what it waits for is named in decide_again.
  virtual ClimateAsk decide(const ClimateView& view, LawMemory& memory) const = 0;
};

// The coldest surface's temperature over the dew point; none without a canopy reading.
std::optional<Celsius> dew_point_margin(const Air& tent, const Air& room);

// The VPD that the band speaks of: of the air or of the leaf.
const Reading<Kilopascal>& controlled_vpd(const ClimateView& view);

// Leaf minus air VPD where the band is of the leaf, else 0: what a model of the air must add.
double leaf_shift_kpa(const ClimateView& view);

const ClimateLaw& law_of(const ClimatePlan& plan);

// Limits first: over-temperature, dew-point margin and the humidity ceiling override what the law
// wants of fan, dehumidifier and humidifier; without a canopy reading the declared fall-back
// stands. Pushes the resulting demands (precedence loop) for what is fitted. A band out of reach is
// diagnosed, whatever the law (diagnosis.h).
ClimateAsk run_climate(const Plan& plan, const ClimateLaw& law, const ClimateView& view,
                       LawMemory& memory, Demands& demands);

}  // namespace neap
