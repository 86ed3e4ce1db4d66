// Answers of the daemon made into text. Pure: JSON as schema/control.md describes it in, lines out.
//
// The status of a stopped daemon is made from the journal (last_known.h); it has the member
// `stopped` {"why", "last"} and lacks what only a running daemon knows.
#pragma once

#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "daemon/client/look.h"

namespace neap::client {

std::string render_brief(const nlohmann::json& status, const Look& look);  // 42 x 20
std::string render_status(const nlohmann::json& status, const Look& look);
std::string render_why(const nlohmann::json& why, const Look& look);  // 80 columns
std::string render_alarms(const nlohmann::json& alarms, const Look& look);

// Paragraphs of render_status(); empty when there is nothing of the kind.
// Limits of the air, and what holds it back; until when the roots can wait, what a flood by demand
// waits for, how long the pump may still run.
std::string wanted_text(const nlohmann::json& status, const Look& look);
std::string water_limits_text(const nlohmann::json& status, const Look& look);
std::string stage_text(const nlohmann::json& status, const Look& look);
std::string readings_text(const nlohmann::json& status, const Look& look);
// Latches, holds, service, step test.
std::string standing_text(const nlohmann::json& status, const Look& look);
std::string to_do_text(const nlohmann::json& status, const Look& look);  // and care

// Each output as it is now; what is in another hand is not driven, and says what neap would do.
struct OutputRow {
  std::string output, level, because;
};
std::vector<OutputRow> output_rows(const nlohmann::json& status);

// "0.12 kPa above the band's low edge", from the banded VPD and the targets.
struct Margin {
  std::string text;
  Tone tone = Tone::plain;
};
Margin margin_of(const nlohmann::json& status);

// "all is well", or what is not, with the tone of it.
struct Verdict {
  std::string text;
  Tone tone = Tone::plain;
};
Verdict verdict_of(const nlohmann::json& status);

// "observing: nothing is driven", or how many of the outputs are in another hand; empty when neap
// drives them all, and of a stopped daemon, which does not observe either.
std::string hands_text(const nlohmann::json& status);

// "Roots safe until about 19:40; ..."; empty when nothing is known of them.
std::string roots_text(const nlohmann::json& roots);
// What a flood by demand waits for.
std::string demand_text(const nlohmann::json& demand);

// "flood 3 in 1 h 20 min", "flood 3 (withheld)", "lights off in 12 min"; empty when none is known.
std::string next_event_text(const nlohmann::json& status);

// "a room of 50 % humidity or less, or an exhaust fan of 210 m3/h"; empty when nothing is known
// that would bring the band within reach, besides what the diagnosis names.
std::string cures_text(const nlohmann::json& answer);

// Whether the air that the band is about is read; any reading when it is not measured.
enum class Seen { known, not_yet, lost };
Seen air_seen(const nlohmann::json& status);

}  // namespace neap::client
