// What a person tells on its way to the daemon, or into its spool while it is down.
#pragma once

#include <nlohmann/json.hpp>
#include <string>

#include "daemon/client/measures.h"
#include "daemon/client/session.h"

namespace neap::client {

// The id under which something is taken in once, however often it is handed in.
std::string new_spool_id(std::int64_t now_unix_ms);

// The wall time of "07:30", "yesterday 19:10", 2026-06-01T19:10 or 2026-06-01, which is noon or, of
// today, now. A Failure when it is none of these, or in the future.
std::int64_t past_moment(const Session& session, const std::string& text);

// Writes what a verb takes to STATE_DIR/spool/SPOOL_ID.json, durable and renamed into place, so
// that the daemon never sees half of it. The path; a Failure when it cannot be done.
std::string spool_entry(const std::string& state_dir, const nlohmann::json& asked);

// Whether it is UTF-8, as all that is kept must be.
bool is_text(const std::string& typed);

// To the daemon by `verb`, or into its spool: true when the daemon has it, with its answer in
// `result`, else where it waits. `asked` has a spool_id. A Failure of kind usage when a text of it
// is no UTF-8.
bool hand_in(const Session& session, std::string_view verb, const nlohmann::json& asked,
             nlohmann::json& result);
bool hand_in_measured(const Session& session, const Measured& measured, const std::string& note,
                      nlohmann::json& result);

// What the daemon has of `measured`, by its answer `result`: each beside its probe, and a warning
// where water is away that will change them.
std::string noted_text(const nlohmann::json& result, const Measured& measured);

// "No daemon runs. Kept in PATH; ..." of what hand_in() left in the spool.
std::string kept_text(const nlohmann::json& result);

}  // namespace neap::client
