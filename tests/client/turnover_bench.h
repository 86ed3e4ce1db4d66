// A tent of a few lines, before which `neap turnover` is walked with scripted answers.
#pragma once

#include <string>
#include <vector>

#include "daemon/client/turnover.h"
#include "tests/client/support.h"

namespace neap::client::testing {

constexpr std::int64_t kMinuteMs = 60'000;

// A tent in which every flood takes ten minutes, and a person needs five for an answer.
class TurnoverBench {
 public:
  TurnoverBench() {
    tent.fallow_stage = "fallow";
    tent.reservoir_l = 50;
    tent.settings = {200, 5, hours{1}, 2};
    tent.now_unix_ms = [this] { return now; };
    tent.clock = [](std::int64_t ms) {
      return "noon and " + std::to_string((ms - kNoonUnixMs) / kMinuteMs) + " min";
    };
    tent.tell = [this](std::string_view step, std::string_view mark, std::optional<double> figure,
                       const std::string& says) {
      now += 1000;
      journal::DiaryRow row;
      row.happened.unix_ms = now;
      row.kind = "turnover";
      row.subject = step;
      row.mark = mark;
      row.says = says;
      row.figure = figure;
      diary.push_back(row);
      if (step != kBleachFlood && step != kRinseFlood && step != "dose")
        told.push_back(std::string(step) + " " + std::string(mark));
    };
    tent.end_grow = [this] { grow_ended = true; };
    tent.archive = [](const std::string& path) { return "copied to " + path; };
    tent.floods = [this](std::int64_t since) {
      std::vector<FloodSpan> found;
      for (const FloodSpan& span : floods)
        if (span.from_unix_ms >= since) found.push_back(span);
      return found;
    };
    tent.measured = [this](std::string_view, std::int64_t since) { return measured_at >= since; };
  }

  json answer(std::string_view verb, const json& args) {
    asked.emplace_back(verb, args);
    if (verb == "stage" && stage_refused) throw Failure(kExitNoDaemon, "no daemon", "");
    if (verb == "stage") stage = args["name"];
    if (verb == "flood" && args["action"] == "stop" && stop_refused)
      throw Failure(kExitRefused, "no flood runs", "");
    if (verb == "flood" && args["action"] == "start" && too_soon) {
      now += too_soon_for_min * kMinuteMs;
      too_soon = false;
      throw Failure(kExitRefused, "too soon after the last flood", "wait");
    }
    if (verb == "flood" && args["action"] == "start") {
      floods.push_back({now, now + 10 * kMinuteMs});
      now += (10 + pause_min) * kMinuteMs;
    }
    if (verb == "calibrations")
      return {{"calibrations", json::array({{{"probe", "ph"},
                                             {"fitted", true},
                                             {"in_force", {{"at_unix_ms", calibrated_at}}}}})}};
    return {{"stage", {{"name", stage}}},
            {"flood", {{"phase", phase}, {"since_s", 600}}},
            {"proofs",
             proofs_asked
                 ? json::array({{{"test", "pump"}, {"passed", true}, {"at_unix_ms", proven_at}}})
                 : json::array()}};
  }

  // What was said; a Failure's words last.
  std::string run(const std::string& typed) {
    std::istringstream in(typed);
    std::ostringstream out;
    Questions questions(in, out, true, "go on later");
    const AskDaemon ask = [this](std::string_view verb, const json& args) {
      return answer(verb, args);
    };
    try {
      turn_over(questions, ask, tent, turnover_of(diary));
    } catch (const Failure& failure) {
      out << failure.what() << "; " << failure.remedy();
    }
    return out.str();
  }
  int count(const std::string& verb, const std::string& action) const {
    int n = 0;
    for (const auto& [name, args] : asked) n += name == verb && args.value("action", "") == action;
    return n;
  }

  TurnoverTent tent;
  std::int64_t now = kNoonUnixMs;
  std::int64_t pause_min = 5;  // after a flood, until the next
  std::string stage = "fruiting";
  std::string phase = "rest";
  std::int64_t calibrated_at = kNoonUnixMs + 999 * kMinuteMs;
  std::int64_t proven_at = calibrated_at;
  std::int64_t measured_at = calibrated_at;
  bool grow_ended = false;
  bool proofs_asked = true;
  bool stop_refused = false;
  bool stage_refused = false;
  bool too_soon = false;
  std::int64_t too_soon_for_min = 30;
  std::vector<FloodSpan> floods;
  std::vector<journal::DiaryRow> diary;
  std::vector<std::string> told;
  std::vector<std::pair<std::string, json>> asked;
};

inline std::string times_of(const std::string& text, int times) {
  std::string all;
  for (int i = 0; i < times; ++i) all += text;
  return all;
}
// ready for the flood, and drained well
inline const std::string kFlood = "yes\ndrained\n";
// fallow, the archive's name, emptied; strength and litres as offered
inline const std::string kUntilBleach = "yes\n\nyes\n\n\n";

}  // namespace neap::client::testing
