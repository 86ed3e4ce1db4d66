// Taking back what was told to the diary, by the number of its entry. The journal keeps both; what
// was taken back counts no longer.
#pragma once

#include <string>
#include <string_view>

#include "daemon/client/diary.h"

namespace neap::client {

// "entry 18; to take it back: neap grow withdraw 18 WHY", for what tell_diary() has just told.
// `result` is its answer; where that has no number, how it is found.
std::string take_back_text(const nlohmann::json& result, std::string_view kind);

// WORDS of the command line are `withdraw NUMBER [of=WHAT] WHY`. `of` is what may be taken back
// where they do not say: "grow", "care", "look" or "turnover". A Failure for an entry of another.
int withdraw_entry(const Session& session, const std::vector<journal::DiaryRow>& diary,
                   std::string_view of);

}  // namespace neap::client
