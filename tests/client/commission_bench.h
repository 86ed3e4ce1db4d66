// A tent of a few lines, before which `neap commission` is walked with scripted answers.
#pragma once

#include <algorithm>
#include <optional>
#include <string>
#include <vector>

#include "daemon/client/commission.h"
#include "tests/client/support.h"

namespace neap::client::testing {

// A tent of pump, fan and three contacts. Contacts follow `script`: what each status call finds.
class Bench {
 public:
  std::vector<std::pair<std::string, json>> asked;
  std::string mode = "control";
  bool asks_tests = true;
  std::vector<std::string> refuses;  // "proof pump"
  std::string refuses_because = "request_unknown_target";
  double bucket_run_s = 20;   // that neapd books for a hold of 20 s
  double hour_forgets_s = 0;  // of older runs, while it lasts
  std::vector<std::string> latches;
  int fan_floor = 0;  // per mille, as the settings would have it
  std::string extra_output;
  int extra_level = 1000;
  std::string hand = "neap";
  std::string pump_hand = "neap";
  bool flood_proven = true;
  std::optional<double> level_l;  // of the reservoir, where a sensor is fitted
  bool level_fitted = false;
  AtTheTent tent;
  std::function<bool()> interrupted;
  std::function<void()> on_look;

  json answer(std::string_view verb, const json& args) {
    asked.emplace_back(verb, args);
    if (verb == "hold" && args["output"] == "exhaust_fan")
      fan_ = args["level"] == 0 ? 0 : std::max(fan_floor, args["level"].get<int>());
    const std::string subject = args.value("test", args.value("output", args.value("action", "")));
    const std::string call = std::string(verb) + (subject.empty() ? "" : " " + subject);
    if (std::find(refuses.begin(), refuses.end(), call) != refuses.end())
      throw Failure(kExitRefused, "it is not so", "make it so",
                    {{"reason", {{"reason", refuses_because}}}});
    if (verb == "hold" && args["output"] == "pump" && args["for_s"] == 20.0) {
      hour_s_ += bucket_run_s - hour_forgets_s;
      day_s_ += bucket_run_s;
    }
    return verb == "status" ? status() : json::object();
  }

  Commissioned run(const std::string& typed, const std::vector<std::string>& only = {}) {
    std::istringstream in(typed);
    std::ostringstream out;
    Questions questions(in, out, true, "begin again");
    const AskDaemon ask = [this](std::string_view verb, const json& args) {
      return answer(verb, args);
    };
    tent.last_flood = [this] { return flood_; };
    if (interrupted) questions.end_when(interrupted);
    try {
      const Commissioned done = commission(questions, ask, tent, only);
      said = out.str();
      return done;
    } catch (const CommissionEnded& ended) {
      said = out.str() + ended.what();
      return ended.so_far;
    } catch (const Failure& failure) {
      said = out.str() + failure.what() + "; " + failure.remedy();
      return {};
    }
  }

  int count(const std::string& verb, const std::string& subject = "") const {
    int n = 0;
    for (const auto& [name, args] : asked)
      n += name == verb &&
           (subject.empty() || args.value("test", args.value("output", "")) == subject);
    return n;
  }

  std::string said;
  std::optional<CommissionFigures> flood_ =
      CommissionFigures{150.0, 400.0, 25.0, std::nullopt, std::nullopt};

 private:
  // Each contact is found away at its first look after a question, home at its next.
  json status() {
    ++looks_;
    if (on_look) on_look();
    json proofs = json::array();
    for (const char* test : {"pump", "tray_full", "leak_floor", "reservoir_low", "flood"})
      if (asks_tests)
        proofs.push_back(
            {{"test", test}, {"passed", flood_proven && test == std::string("flood")}});
    const auto reading = [&](const char* point, bool home_is_set) {
      const bool away = looks_ % 3 == 2;  // status at the start, away, home, and the latches'
      return json{{"point", point}, {"value", (away != home_is_set) ? 1.0 : 0.0}};
    };
    json outputs = json::array({{{"output", "pump"}, {"hand", pump_hand}},
                                {{"output", "exhaust_fan"}, {"level", fan_}, {"hand", hand}}});
    if (!extra_output.empty())
      outputs.push_back({{"output", extra_output}, {"level", extra_level}});
    json standing = json::array();
    for (const std::string& latch : latches) standing.push_back({{"latch", latch}});
    json readings = json::array({reading("leak.floor", false), reading("tray.full", false),
                                 reading("reservoir.low", true)});
    if (level_fitted)
      readings.push_back(
          {{"point", "reservoir.level"}, {"value", level_l ? json(*level_l) : json(nullptr)}});
    return {{"mode", mode},
            {"outputs", outputs},
            {"readings", readings},
            {"proofs", proofs},
            {"latches", standing},
            {"flood", {{"phase", "idle"}}},
            {"budget", {{"hour_s", hour_s_}, {"day_s", day_s_}}}};
  }
  int looks_ = 0;
  int fan_ = 0;
  double hour_s_ = 137.3;
  double day_s_ = 1213.7;
};

inline bool passed(const Commissioned& done, const std::string& part) {
  return std::any_of(done.findings.begin(), done.findings.end(),
                     [&](const Finding& one) { return one.part == part && one.passed; });
}

}  // namespace neap::client::testing
