#include "daemon/core/device_doubt.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>

#include "daemon/core/tent_observer.h"
#include "daemon/core/venting.h"

namespace neap {
namespace {

constexpr double kFull = 12;          // a score that makes a doubt stand
constexpr double kOver = 6;           // under it a doubt that stood is over
constexpr double kSuspicious = 1;     // above it the reference waits
constexpr double kIndependent = 300;  // s: residuals nearer in time are one
constexpr double kQuickest = 600;     // s to a full score
constexpr double kFollows = 300;      // s: device and observer together
constexpr double kWeakest = 2;        // |s| in sigmas: less gives no evidence for a doubt
constexpr Millis kSettledAfter = minutes{30};
constexpr double kReference = 2 * 3600;          // s
constexpr double kReferenceUnderWay = 6 * 3600;  // s, while a device works
constexpr double kReferenceKnown = 45 * 60;      // s
constexpr double kLongestGap = 300;              // s
constexpr int kSameLight = 50;                   // permille
constexpr double kLightSeenFor = 120;            // s
constexpr double kWet = 0.5;                     // of a flooded medium: a quarter of an hour
// Walls and fixture take up and give back water where the air is damp; a wet probe says the same.
constexpr PercentRh kSaturated{85};
// Sigma: a floor, and parts of the reference, of a flood's vapour and of what devices do.
constexpr double kVapourNoise = 10;  // g/h
constexpr double kHeatNoise = 15;    // W
constexpr double kReferencePart = 0.2;
constexpr double kFloodPart = 0.6;
constexpr double kDevicePart = 0.25;

// A doubt grows while the air shows more than half of its signature, and once it stands shrinks
// under these parts. A label may be wrong by half: a dehumidifier that works may leave half of its
// label's effect missing, and one that is welded may show but half of it.
constexpr double kBegins = 0.5;
constexpr std::array<double, kDoubtCount> kEnds{
    0.3,   // fan_dead
    0.5,   // dehumidifier_dead
    0.25,  // dehumidifier_welded
    0.5,   // humidifier_dry
    0.3,   // light_stuck_on
};

struct Pair {
  double vapour = 0;  // g/h
  double heat = 0;    // W
};

struct Evidence {
  Pair day, night;                        // reference, vapour at 1 kPa
  double day_s = 0, night_s = 0;          // it has been learnt for so long
  double light = 0;                       // permille, that of the day's
  double day_dried = 0, night_dried = 0;  // part of that time in which the dehumidifier ran
  double dries = 0;                       // part of the last minutes in which it was told to run
  double mists = 0;
  double vents_kg_per_h = 0;  // of the last minutes, over leakage
  std::array<double, kDoubtCount> score{};
  Doubts doubts;
  Instant weighed{};
  Instant lit{};        // the light was last seen at `light` by day
  Instant unsettled{};  // latest change after which residuals mean nothing for a while
};

// --- memory
// -----------------------------------------------------------------------------------------

constexpr std::array kNumbers{&Evidence::day_dried, &Evidence::night_dried,   &Evidence::day_s,
                              &Evidence::night_s,   &Evidence::light,         &Evidence::dries,
                              &Evidence::mists,     &Evidence::vents_kg_per_h};
constexpr std::size_t kPairsAt = kDoubtNumbersAt;
constexpr std::size_t kNumbersAt = kPairsAt + 4;
constexpr std::size_t kScoresAt = kNumbersAt + kNumbers.size();
static_assert(kScoresAt + kDoubtCount <= kDoubtNumbersAt + kDoubtNumbers);
constexpr std::size_t kStandingTick = kDoubtTicksAt;
constexpr std::size_t kWeighedTick = kDoubtTicksAt + 1;
constexpr std::size_t kUnsettledTick = kDoubtTicksAt + 2;
constexpr std::size_t kLitTick = kDoubtTicksAt + 3;

Evidence load(const LawMemory& memory) {
  Evidence e;
  e.day = {memory.numbers[kPairsAt], memory.numbers[kPairsAt + 1]};
  e.night = {memory.numbers[kPairsAt + 2], memory.numbers[kPairsAt + 3]};
  for (std::size_t i = 0; i < kNumbers.size(); ++i) e.*kNumbers[i] = memory.numbers[kNumbersAt + i];
  for (std::size_t i = 0; i < kDoubtCount; ++i) e.score[i] = memory.numbers[kScoresAt + i];
  e.doubts = standing_doubts(memory);
  e.weighed = instant(Millis{memory.ticks[kWeighedTick]});
  e.unsettled = instant(Millis{memory.ticks[kUnsettledTick]});
  e.lit = instant(Millis{memory.ticks[kLitTick]});
  return e;
}

void store(const Evidence& e, LawMemory& memory) {
  const std::array pairs{e.day.vapour, e.day.heat, e.night.vapour, e.night.heat};
  for (std::size_t i = 0; i < pairs.size(); ++i) memory.numbers[kPairsAt + i] = pairs[i];
  for (std::size_t i = 0; i < kNumbers.size(); ++i) memory.numbers[kNumbersAt + i] = e.*kNumbers[i];
  std::int64_t standing = 0;
  for (std::size_t i = 0; i < kDoubtCount; ++i) {
    memory.numbers[kScoresAt + i] = e.score[i];
    if (e.doubts.standing[i]) standing |= std::int64_t{1} << i;
  }
  memory.ticks[kStandingTick] = standing;
  memory.ticks[kWeighedTick] = tick_ms(e.weighed);
  memory.ticks[kUnsettledTick] = tick_ms(e.unsettled);
  memory.ticks[kLitTick] = tick_ms(e.lit);
}

// --- what is told
// -----------------------------------------------------------------------------------

bool told_to_run(const LegalMove& device) { return device.fitted && device.level != kStopped; }

bool told_dark(const ClimateView& told) { return !told.targets.day && told.light == kStopped; }

bool dries_tent(const ClimateView& view) {
  return view.dehumidifier.fitted && view.beliefs.dehumidifier_place == DehumidifierPlace::tent;
}

double vents_over_leakage(const ClimateView& told, double kelvin_over_room) {
  if (!told.fan.fitted) return 0;
  const auto flow = [&](Permille level) {
    return tent_model::kAirDensity *
           tent_model::air_flow_m3_per_h(told.beliefs, level, kelvin_over_room);
  };
  return flow(told.fan.level) - flow(kStopped);
}

void follow_devices(const ClimateView& told, const TentEstimate& tent, double dt_s, Evidence& e) {
  const double part = 1 - std::exp(-dt_s / kFollows);
  const auto follow = [&](double& value, double now) { value += part * (now - value); };
  follow(e.dries, dries_tent(told) && told_to_run(told.dehumidifier) ? 1 : 0);
  follow(e.mists, told_to_run(told.humidifier) ? 1 : 0);
  follow(e.vents_kg_per_h, vents_over_leakage(told, tent.air.celsius - tent.room.celsius));
}

// --- what each doubt would add to the sources
// -------------------------------------------------------

double answer_at(double vpd_kpa) {
  return std::max(0.2, 1 + tent_model::kAnswerPerKilopascal * (vpd_kpa - 1));
}

using Signatures = std::array<Pair, kDoubtCount>;

Signatures signatures(const ClimateView& told, const TentEstimate& tent, const Evidence& e) {
  Signatures s{};
  const auto of = [&](Doubt doubt) -> Pair& { return s[static_cast<std::size_t>(doubt)]; };
  const double vents = e.vents_kg_per_h;
  of(Doubt::fan_dead) = {
      vents * (tent.air.g_per_kg - tent.room.g_per_kg),
      vents * tent_model::kAirHeat / 3600 * (tent.air.celsius - tent.room.celsius)};
  if (dries_tent(told)) {
    const auto full = tent_model::drying_at(believed(told.beliefs, tent.learnt), tent.air);
    if (told_to_run(told.dehumidifier))
      of(Doubt::dehumidifier_dead) = {e.dries * full.g_per_h, -e.dries * full.heat_w};
    else
      of(Doubt::dehumidifier_welded) = {-(1 - e.dries) * full.g_per_h, (1 - e.dries) * full.heat_w};
  }
  const double mist = e.mists * (told.humidifier.fitted ? told.beliefs.humidifier_g_per_h : 0);
  of(Doubt::humidifier_dry) = {-mist, tent_model::kEvaporationWh * mist};
  if (told_dark(told) && !told.light_lux && e.day_s >= kReferenceKnown && e.light > 0) {
    const double answer = answer_at(tent_model::vpd_kpa(tent.air));
    of(Doubt::light_stuck_on) = {answer * (e.day.vapour - e.night.vapour),
                                 e.day.heat - e.night.heat};
  }
  return s;
}

// --- the weighing
// ------------------------------------------------------------------------------------

struct Balance {
  Pair residual, sigma;
  double along(const Pair& s) const { return dot(residual, s); }
  double square(const Pair& s) const { return dot(s, s); }

 private:
  double dot(const Pair& a, const Pair& b) const {
    return a.vapour * b.vapour / (sigma.vapour * sigma.vapour) +
           a.heat * b.heat / (sigma.heat * sigma.heat);
  }
};

Balance balance(const ClimateView& told, const TentEstimate& tent, const Pair& reference,
                const Evidence& e) {
  const double vapour = reference.vapour * answer_at(tent_model::vpd_kpa(tent.air));
  const double flood =
      FloodVapour{tent.splash, tent.wetness}.g_per_h(tent.learnt.flood_peak_g_per_h);
  const auto full = tent_model::drying_at(told.beliefs, tent.air);
  const double mist = e.mists * told.beliefs.humidifier_g_per_h;
  return {{tent.vapour_g_per_h - vapour, tent.heat_w - reference.heat},
          {kVapourNoise + kReferencePart * std::abs(vapour) + kFloodPart * flood +
               kDevicePart * (e.dries * full.g_per_h + mist),
           kHeatNoise + kReferencePart * std::abs(reference.heat) +
               kDevicePart * (e.dries * full.heat_w + tent_model::kEvaporationWh * mist)}};
}

// While the end of a doubt is in question, what is found may be all its doing.
bool in_question(const Evidence& e) {
  for (std::size_t i = 0; i < kDoubtCount; ++i)
    if (e.doubts.standing[i] && e.score[i] < kFull) return true;
  return false;
}

// Scores grow together, so that what explains more gets there first.
void add_evidence(const Balance& found, const Signatures& signature, double dried, double dt_s,
                  Evidence& e) {
  constexpr double kQuick = kFull / kQuickest;
  std::array<double, kDoubtCount> rate{};
  double most = kQuick;
  const bool others_wait = in_question(e);
  for (std::size_t i = 0; i < kDoubtCount; ++i) {
    const bool stands = e.doubts.standing[i];
    const double square = found.square(signature[i]);
    const double along = found.along(signature[i]);
    // A reference learnt while the dehumidifier ran has its label's error in it.
    const double learnt_with =
        i == static_cast<std::size_t>(Doubt::dehumidifier_welded) ? dried / 2 : 0;
    const double part = stands ? 1 - kEnds[i] : -(kBegins + learnt_with);
    rate[i] = (along + part * square) / kIndependent;
    const bool weak = square < kWeakest * kWeakest;
    if (rate[i] > 0 && (weak || (others_wait && !stands))) rate[i] = 0;
    most = std::max(most, rate[i]);
  }
  for (std::size_t i = 0; i < kDoubtCount; ++i) {
    const double grows = rate[i] > 0 ? rate[i] * kQuick / most : std::max(rate[i], -kQuick);
    e.score[i] = std::clamp(e.score[i] + grows * dt_s, 0.0, kFull);
  }
}

// At most one new doubt at a time: the others are weighed anew with it in the model.
void conclude(Instant now, Evidence& e) {
  bool changed = false;
  std::optional<std::size_t> begins;
  for (std::size_t i = 0; i < kDoubtCount; ++i) {
    const double score = e.score[i];
    if (e.doubts.standing[i]) {
      if (score >= kOver) continue;
      e.doubts.standing[i] = false;
      changed = true;
    } else if (score >= kFull) {
      begins = i;
    }
  }
  if (begins) e.doubts.standing[*begins] = true;
  if (!begins && !changed) return;
  e.unsettled = now;
  for (std::size_t i = 0; i < kDoubtCount; ++i)
    if (!e.doubts.standing[i]) e.score[i] = 0;
}

// A light sensor needs no reference and no settled air.
void weigh_light(const ClimateView& told, double dt_s, Evidence& e) {
  if (!told_dark(told) || !told.light_lux) return;
  double& score = e.score[static_cast<std::size_t>(Doubt::light_stuck_on)];
  const double change = kFull / kLightSeenFor * dt_s;
  score = std::clamp(score + (*told.light_lux > kDark ? change : -change), 0.0, kFull);
  conclude(told.now, e);
}

void learn(const TentEstimate& tent, bool day, double dt_s, Evidence& e) {
  for (const double score : e.score)
    if (score >= kSuspicious) return;
  double& seconds = day ? e.day_s : e.night_s;
  Pair& reference = day ? e.day : e.night;
  const bool works = e.dries > 0.1 || e.mists > 0.05;
  const bool known = seconds >= kReferenceKnown;
  seconds = std::min(seconds + dt_s, kReference);
  const double part = dt_s / std::max(dt_s, known && works ? kReferenceUnderWay : seconds);
  double& dried = day ? e.day_dried : e.night_dried;
  dried += part * (e.dries - dried);
  const double vapour = tent.vapour_g_per_h / answer_at(tent_model::vpd_kpa(tent.air));
  reference.vapour += part * (vapour - reference.vapour);
  reference.heat += part * (tent.heat_w - reference.heat);
}

// Whether the light is what the day's reference knows. Another lamp level that lasts is another
// tent by day; a ramp is not.
bool light_as_known(const ClimateView& told, Evidence& e) {
  if (!told.targets.day && told.light) {
    e.lit = told.now;
    return true;
  }
  if (!told.light) {
    // What another hand does with it only a light sensor tells.
    const bool as_planned = told.light_lux && (*told.light_lux > kDark) == told.targets.day;
    if (!as_planned) e.unsettled = told.now;
    return as_planned;
  }
  const bool as_known = std::abs(told.light->value - static_cast<int>(e.light)) <= kSameLight;
  if (as_known) e.lit = told.now;
  if (told.now - e.lit < kSettledAfter) return as_known;
  e.light = told.light->value;
  e.day = {};
  e.day_s = 0;
  return false;
}

}  // namespace

Doubts standing_doubts(const LawMemory& memory) {
  Doubts doubts;
  for (std::size_t i = 0; i < kDoubtCount; ++i)
    doubts.standing[i] = (memory.ticks[kStandingTick] >> i & 1) != 0;
  return doubts;
}

ClimateView as_it_is(const ClimateView& told, const Doubts& doubts) {
  ClimateView view = told;
  const auto without = [](LegalMove& device) {
    device.fitted = false;
    device.level = kStopped;
  };
  if (doubts[Doubt::fan_dead]) without(view.fan);
  if (doubts[Doubt::dehumidifier_dead]) without(view.dehumidifier);
  if (doubts[Doubt::humidifier_dry]) without(view.humidifier);
  if (doubts[Doubt::dehumidifier_welded]) {
    view.dehumidifier.level = kRunning;
    view.dehumidifier.may_stop = false;
    view.dehumidifier.may_stop_at = view.now + hours{24};
    view.humidifier.ceiling = kStopped;
    view.humidifier.may_start = false;
  }
  return view;
}

void weigh_devices(const ClimateView& told, LawMemory& memory) {
  const TentEstimate tent = load_estimate(memory);
  Evidence e = load(memory);
  if (tent.sampled <= e.weighed || !tent.running) {
    if (tent.sampled < e.weighed) e.weighed = tent.sampled;
    return store(e, memory);
  }
  const double dt_s = static_cast<double>((tent.sampled - e.weighed).count()) / 1000;
  e.weighed = tent.sampled;
  if (dt_s <= kLongestGap) {
    follow_devices(told, tent, dt_s, e);
    weigh_light(told, dt_s, e);
    const bool day = told.targets.day;
    const bool settled = light_as_known(told, e) && told.now - tent.edge >= kSettledAfter &&
                         told.now - e.unsettled >= kSettledAfter;
    const bool wet = tent.flooding || tent.wetness > kWet;
    if (settled && !wet && tent.room_seen && *told.canopy.humidity < kSaturated) {
      if ((day ? e.day_s : e.night_s) >= kReferenceKnown) {
        const bool lit = day || e.doubts[Doubt::light_stuck_on];
        add_evidence(balance(told, tent, lit ? e.day : e.night, e), signatures(told, tent, e),
                     lit ? e.day_dried : e.night_dried, dt_s, e);
        conclude(told.now, e);
      }
      learn(tent, day, dt_s, e);
    }
  } else {
    e.unsettled = told.now;
  }
  store(e, memory);
}

void answer_doubts(const ClimateView& told, const Doubts& doubts, ClimateAsk& ask) {
  const Kilopascal vpd = *controlled_vpd(told);
  const Band& band = told.targets.band;
  const bool dries = told_to_run(told.dehumidifier);
  // From one edge of the band to the other, so that starts are few.
  const auto dry_across = [&](Reason why) {
    const bool runs = told.new_sample ? vpd < (dries ? band.high : band.low) : dries;
    ask.dehumidifier = {true, runs ? kRunning : kStopped, because(why)};
    if (runs || dries) ask.humidifier = {true, kStopped, because(why)};
  };
  if (doubts[Doubt::fan_dead]) {
    ask.fan = {true, most_venting(told.fan), because(Reason::doubt_fan_dead)};
    if (dries_tent(told)) dry_across(Reason::doubt_fan_dead);
  }
  if (doubts[Doubt::dehumidifier_dead]) dry_across(Reason::doubt_dehumidifier_dead);
  if (doubts[Doubt::humidifier_dry]) {
    const bool mists = told_to_run(told.humidifier);
    const bool tried = !dries && (told.new_sample ? vpd > (mists ? band.low : band.high) : mists);
    ask.humidifier = {true, tried ? kRunning : kStopped, because(Reason::doubt_humidifier_dry)};
    if (tried || mists) ask.dehumidifier = {true, kStopped, because(Reason::doubt_humidifier_dry)};
  }
  if (doubts[Doubt::dehumidifier_welded]) {
    const Because why = because(Reason::doubt_dehumidifier_welded);
    ask.dehumidifier = {true, kStopped, why};
    ask.humidifier = {true, kStopped, why};
  }
}

void carry_doubts(const LawMemory& from, LawMemory& to) { store(load(from), to); }

}  // namespace neap
