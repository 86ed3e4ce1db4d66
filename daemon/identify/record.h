// What is known of a tent's past, on one grid of time: what the probes said and what neap's outputs
// were told, without a journal, a clock or a daemon.
#pragma once

#include <cstddef>
#include <optional>
#include <vector>

namespace neap::identify {

constexpr double kStepSeconds = 10;
constexpr double kStepHours = kStepSeconds / 3600;

struct Probe {
  double celsius = 0;
  double percent = 0;  // relative humidity, calibrated as the settings have it
};

// Readings are of a step's beginning, levels its means.
struct Step {
  std::optional<Probe> canopy;
  std::optional<Probe> room;
  std::optional<double> level_l;  // reservoir
  double fan = 0;                 // exhaust fan, 0..1
  double light = 0;               // 0..1
  double dehumidifier = 0;        // part of the step that it runs
  double humidifier = 0;          // likewise
  bool water_moves = false;       // a flood fills, soaks or drains
  bool disturbed = false;         // a person works at the tent: service
};

// A flood of the record, by steps. Only a complete one leaves the medium full.
struct Flood {
  std::size_t began = 0;
  std::size_t drained = 0;
  bool complete = false;
};

// A step test of the record (daemon/core/step_test.h), steps [from, to), whole or cut short.
struct Test {
  std::size_t from = 0;
  std::size_t to = 0;
  bool of_fan = false;  // else of the dehumidifier
};

struct Record {
  std::vector<Step> steps;
  std::vector<Flood> floods;  // in order of time
  std::vector<Test> tests;    // likewise
};

inline double hours_of(const Record& record) {
  return static_cast<double>(record.steps.size()) * kStepHours;
}

}  // namespace neap::identify
