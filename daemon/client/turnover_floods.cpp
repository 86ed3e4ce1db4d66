// The floods of a turnover: each by the operator's own request, watched to its end.
#include "daemon/client/failure.h"
#include "daemon/client/turnover_walk.h"
#include "daemon/core/flood.h"
#include "daemon/words/figures.h"
#include "daemon/words/words.h"

namespace neap::client {
namespace {

using nlohmann::json;

constexpr Millis kStartsWithin = minutes{2};  // from the diary's row to the cycle's

}  // namespace

// A flood by the operator's own request, watched to its end; one that is under way is watched, too.
// False when it was not wanted, or leaked. The diary has it before the pump has.
bool TurnoverWalk::flood(std::string_view row, std::string_view what) {
  be_fallow(status());
  const std::string phase = status().value("flood", json::object()).value("phase", "");
  if (phase != words::name(FloodPhase::idle) && phase != words::name(FloodPhase::rest)) {
    questions_.say("A flood is under way.");
    return watch_flood();
  }
  if (!questions_.yes("You are at the tent, and " + std::string(what) + ". Flood now?"))
    return false;
  note(row, kDone, "");
  return !start_flood() || watch_flood();
}

// False when neapd refused, mostly for table.min_gap: then it is told and waited for.
bool TurnoverWalk::start_flood() {
  try {
    ask_("flood", {{"action", "start"}});
    return true;
  } catch (const Failure& refused) {
    if (refused.code() != kExitRefused) throw;
    questions_.say("  Not yet: " + std::string(refused.what()) + "; " + refused.remedy());
    const json at = status().value("flood", json::object());
    if (at.value("phase", "") == words::name(FloodPhase::rest)) {
      const Millis rested = std::chrono::seconds{at.value("since_s", std::int64_t{0})};
      const Millis left = std::max(tent_.min_gap - rested, Millis{0});
      questions_.say("  A flood may start from " + tent_.clock(tent_.now_unix_ms() + left.count()) +
                     ".");
    }
    questions_.wait_for_enter("  Go on when it is time, or stop:");
    return false;
  }
}

bool TurnoverWalk::watch_flood() {
  while (true) {
    std::string seen;
    try {
      seen = questions_.choose(
          "Has the tray drained? (drained, wait: not yet, leak: water where it should not be, "
          "stop: stops the pump and the walk)",
          {"drained", "wait", "leak", "stop"});
    } catch (const Failure&) {
      stop_flood();  // nobody watches it any more
      throw;
    }
    if (seen == "leak") {
      stop_flood();
      return false;
    }
    const std::string phase = status().value("flood", json::object()).value("phase", "");
    if (seen == "drained" &&
        (phase == words::name(FloodPhase::idle) || phase == words::name(FloodPhase::rest)))
      return true;
    questions_.say("  neapd is at: " + words::printable(phase));
  }
}

// While it drains or rests there is nothing to stop, and neapd says so.
void TurnoverWalk::stop_flood() {
  try {
    ask_("flood", {{"action", "stop"}});
  } catch (const Failure& refused) {
    questions_.say("  " + std::string(refused.what()));
  }
}

// Those that the walk started itself; others may have been of anything.
std::vector<FloodSpan> TurnoverWalk::floods_of(std::string_view row,
                                               std::int64_t since_unix_ms) const {
  std::vector<FloodSpan> own;
  for (const FloodSpan& span : tent_.floods(since_unix_ms))
    for (const journal::DiaryRow& told : record_.steps) {
      const std::int64_t after = span.from_unix_ms - told.happened.unix_ms.value_or(0);
      if (told.subject != row || after < 0 || after > kStartsWithin.count()) continue;
      own.push_back(span);
      break;
    }
  return own;
}

// Those with the dose that was told last; what was flooded with another mix does not count.
std::vector<FloodSpan> TurnoverWalk::bleach_floods() const {
  return floods_of(kBleachFlood, record_.told(kDose)->happened.unix_ms.value_or(0));
}

// The longest time over which no pause between two floods let the tray dry.
Millis TurnoverWalk::wet_for(const std::vector<FloodSpan>& floods) const {
  std::int64_t longest = 0;
  std::int64_t from = 0;
  std::int64_t drained = 0;
  for (const FloodSpan& span : floods) {
    if (longest == 0 || span.from_unix_ms - drained > longest_pause().count())
      from = span.from_unix_ms;
    drained = span.to_unix_ms;
    longest = std::max(longest, drained - from);
  }
  return Millis{longest};
}

}  // namespace neap::client
