#include "daemon/client/away.h"

#include <algorithm>
#include <cmath>

#include "daemon/solution/water_balance.h"
#include "daemon/words/figures.h"

namespace neap::client {
namespace {

// Half as much again as the record says: weather turns, and plants grow (common practice, no
// source).
constexpr double kReserve = 1.5;
constexpr Millis kDrips{static_cast<std::int64_t>(solution::kDripHours * 3'600'000)};

struct Judge {
  const AwayFacts& facts;
  AwayVerdict verdict;

  void say(Grade grade, std::string text) {
    verdict.go = verdict.go && grade != Grade::no;
    verdict.points.push_back({grade, std::move(text)});
  }

  void water() {
    if (facts.flood)
      return say(Grade::no,
                 "a flood is under way, and its water comes back: ask again when it has drained");
    if (facts.drips)
      return say(Grade::no,
                 "the tray of the last flood still drips, and the level does not have that water "
                 "yet: ask again " +
                     words::duration(kDrips) + " after it drained");
    if (!facts.loss_l_per_day || !facts.level_l)
      return say(Grade::no,
                 "what the tent drinks is not known: a level sensor and two days with floods say "
                 "it; else have somebody look every second day");
    const double drunk = *facts.loss_l_per_day * facts.days * kReserve;
    const double wanted = drunk + facts.needed_l;
    const std::string sum = words::decimals(*facts.loss_l_per_day, 1) + " L a day, " +
                            words::decimals(drunk, 0) + " L with half as much again";
    if (wanted > facts.capacity_l)
      return say(Grade::no, "the reservoir is too small for it: " + sum + ", and " +
                                words::decimals(facts.needed_l, 0) + " L must be left of " +
                                words::decimals(facts.capacity_l, 0) +
                                " L; have somebody top up after " +
                                words::decimals(std::floor((facts.capacity_l - facts.needed_l) /
                                                           (*facts.loss_l_per_day * kReserve)),
                                                0) +
                                " days");
    if (wanted > *facts.level_l)
      return say(Grade::task, "top up to " + words::decimals(std::ceil(wanted), 0) + " L (" + sum +
                                  "): " + words::decimals(std::ceil(wanted - *facts.level_l), 0) +
                                  " L more");
    say(Grade::good, "water: " + words::decimals(*facts.level_l, 0) + " L for " + sum);
  }

  void salt() {
    if (facts.flood || facts.drips || !facts.ec || !facts.level_l || !facts.loss_l_per_day) return;
    const double lost = *facts.loss_l_per_day * facts.days;
    if (lost >= *facts.level_l) return;
    const double then = *facts.ec * *facts.level_l / (*facts.level_l - lost);
    const std::string sum = "EC " + words::decimals(*facts.ec, 2) + " mS/cm becomes at most " +
                            words::decimals(then, 2);
    if (facts.ec_most && then > *facts.ec_most)
      return say(Grade::task, sum + ", over the band's " + words::decimals(*facts.ec_most, 2) +
                                  ": top up with plain water before you go");
    say(Grade::good, sum);
  }

  void stage() {
    if (!facts.stage_days || *facts.stage_days > facts.days) return;
    say(Grade::task, "the stage's days are over in " + std::to_string(*facts.stage_days) +
                         " days; it goes on until you confirm the next one");
  }

  void bucket() {
    if (!facts.condensed_l_per_day) return;
    say(Grade::task, "the dehumidifier condenses up to " +
                         words::decimals(*facts.condensed_l_per_day, 1) +
                         " L a day: lead its water away by a hose, a full bucket stops it");
  }

  void due() {
    for (const Due& one : facts.due) {
      if (one.in_days > facts.days) continue;
      say(Grade::task,
          one.what + (one.in_days <= 0
                          ? " is due now"
                          : " falls due in " + words::decimals(one.in_days, 0) + " days"));
    }
  }
};

}  // namespace

AwayVerdict judge_away(const AwayFacts& facts) {
  Judge judge{facts, {}};
  for (const std::string& one : facts.stands) judge.say(Grade::no, one);
  judge.water();
  judge.salt();
  judge.stage();
  judge.bucket();
  judge.due();
  judge.say(Grade::task,
            "neap sends no messages: somebody must look at `neap`, or at the tent, while you are "
            "gone");
  return judge.verdict;
}

}  // namespace neap::client
