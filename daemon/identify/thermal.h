// How fast the tent's air warms and cools: its heat balance around light edges.
//
//   C dT/dt = H - (rho Q cp + UA) (T - Troom) + dehumidifier's heat - heat of the mist's
//   evaporation
//
// H is one number before an edge and another after it; UA = 25 W/K is kept (tent_model.h): from
// light steps alone it comes out twice too large, because much of the lamp's heat goes to walls and
// water first.
#pragma once

#include <optional>

#include "daemon/identify/balance.h"

namespace neap::identify {

struct Capacity {
  double wh_per_k = 0;
  double spread = 0;  // standard deviation
  int edges = 0;      // that it was found from
  int degrees = 1;
};

// `flow` is the air flow in m3/h at a step's fan level and warmth over the room, as identified.
using FlowAt = std::function<double(double level, double warmer_k)>;

// None with fewer than two light edges that have half an hour of readings to each side.
std::optional<Capacity> heat_capacity(const Record& record, const neap::Beliefs& labels,
                                      const FlowAt& flow);

}  // namespace neap::identify
