// The walk of `neap commission`, part by part. Private to commission*.cpp.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/client/commission.h"
#include "daemon/core/instant.h"
#include "daemon/core/outputs.h"
#include "daemon/core/points.h"

namespace neap::client {

struct ContactTest;

class Walk {
 public:
  Walk(Questions& questions, const AskDaemon& ask, const AtTheTent& tent,
       const std::vector<std::string>& only)
      : questions_(questions), ask_(ask), tent_(tent), only_(only) {}

  Commissioned all();

 private:
  // --- what is asked of neapd ---
  void look();
  void refuse_what_cannot_be() const;
  std::vector<std::string> water_latches() const;
  bool wanted(std::string_view name) const;
  bool fitted(Output output) const;  // and in neap's hand
  bool another_has(std::string_view output) const;
  std::optional<double> value_of(Point point) const;
  std::optional<bool> is_set(Point point) const;
  bool has_point(Point point) const;
  bool asked_for(ProofTest test) const;
  bool passed_at_neapd(ProofTest test) const;
  std::optional<int> driven(Output output);
  bool try_ask(std::string_view verb, const nlohmann::json& args);
  bool hold(Output output, int percent, int seconds);
  void release(Output output);
  void end_what_runs();
  void stop_flood();

  void finding(std::string_view part, bool passed, std::string remark = {});
  void pass(ProofTest test);

  // --- the parts, in the order of the walk ---
  void caution();
  void contacts();  // probes and floats before the pump that they guard against
  void contact(const ContactTest& row);
  bool comes_to(const ContactTest& row, bool set, std::string_view what);
  void reset_latches();
  void tank();
  std::optional<TankPair> tank_pair(double litres);
  void outputs();
  void pump();
  bool dead_man();
  void bucket();
  std::optional<double> bucket_run_s(const nlohmann::json& before);
  void second_contact();
  void drain_valve();
  void appliance(const OutputInfo& row);
  void fan_least();
  bool parts_failed() const;
  void flood();
  bool watched();
  void flood_ended();
  void record();

  Questions& questions_;
  const AskDaemon& ask_;
  const AtTheTent& tent_;
  const std::vector<std::string>& only_;
  nlohmann::json status_;
  std::optional<Output> held_;
  bool flooding_ = false;
  Commissioned done_;
};

}  // namespace neap::client
