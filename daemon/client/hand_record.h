// Hand measurements as the journal has them, beside what a fitted probe showed at that time.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/client/session.h"
#include "daemon/core/hand.h"

namespace neap::client {

struct HandRecord {
  journal::MeasurementRow row;
  std::optional<double> probe;  // of the fitted probe, nearest in time
  bool in_flood = false;        // taken while water was under way
};

// A probe's reading this near in time stands beside a hand measurement (common practice, no
// source: a solution changes little in ten minutes without a flood).
constexpr Millis kBesideWithin = minutes{10};

// The newest `most` of the span, oldest first.
std::vector<HandRecord> hand_records(journal::Reader& reader, const journal::Span& span,
                                     std::size_t most, bool withdrawn_too);

// Measurements told in one go have one time, and come by their names. What was poured in the same
// go as a pH or an EC came before it: these are what came of it. `rows` by time.
std::vector<journal::MeasurementRow> pours_first(std::vector<journal::MeasurementRow> rows);

// "6.05: 0.15 over the hand" (probe minus hand).
std::string drift_text(Hand hand, double by_hand, double probe);
// "2026-06-01 19:10", or its tick.
std::string minute_of(const journal::Stamp& stamp);

// Whether the reservoir lacks water that comes back, by the phase's name in `status`.
bool water_away(std::string_view phase);

int list_measurements(const Session& session);

}  // namespace neap::client
