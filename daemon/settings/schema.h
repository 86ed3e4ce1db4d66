// Every key of the settings, once: kind, bounds, default, reason and where it goes. The loader, the
// reference (config/reference.yaml) and the editors' schema (schema/settings.schema.json) are made
// from these tables; adding a key is adding a row.
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string_view>

#include "daemon/settings/draft.h"
#include "daemon/settings/value.h"

namespace neap::settings {

enum class Need : std::uint8_t {
  required,   // must stand in the file; `text` is an example
  defaulted,  // `text` is the default
  optional,   // may be absent, and absence means something; `text` is an example
};

struct Bounds {
  double low = 0;
  double high = 0;
};

struct Section;
struct Key {
  std::string_view name;
  Kind kind = Kind::text;
  Need need = Need::required;
  std::string_view text;
  std::optional<Bounds> bounds;  // in the kind's base unit
  std::string_view choices;      // "a b c", in the order of their enum
  std::string_view why;          // one sentence, no full stop: what it is, why that default
  void (*set)(Draft&, const Value&) = nullptr;
  const Section* section = nullptr;

  Rule rule() const {
    Rule rule{kind, std::nullopt, std::nullopt, choices, why};
    if (bounds) rule.low = bounds->low, rule.high = bounds->high;
    return rule;
  }
};

struct Section {
  std::string_view name;  // for messages: "table"
  std::span<const Key> keys;
  void (*begin)(Draft&, std::string_view name) = nullptr;  // name: of a group in section_names
  void (*end)(Draft&) = nullptr;
  std::string_view instead;  // a word accepted in place of the group: none
};

const Section& root_section();

// Shorthand for rows.
using Set = void (*)(Draft&, const Value&);
constexpr Key required(std::string_view name, Kind kind, std::string_view example,
                       std::optional<Bounds> bounds, Set set, std::string_view why) {
  return {name, kind, Need::required, example, bounds, {}, why, set, nullptr};
}
constexpr Key defaulted(std::string_view name, Kind kind, std::string_view fallback,
                        std::optional<Bounds> bounds, Set set, std::string_view why) {
  return {name, kind, Need::defaulted, fallback, bounds, {}, why, set, nullptr};
}
constexpr Key optional(std::string_view name, Kind kind, std::string_view example,
                       std::optional<Bounds> bounds, Set set, std::string_view why) {
  return {name, kind, Need::optional, example, bounds, {}, why, set, nullptr};
}
constexpr Key choice(std::string_view name, Need need, std::string_view text,
                     std::string_view choices, Set set, std::string_view why) {
  return {name, Kind::choice, need, text, std::nullopt, choices, why, set, nullptr};
}
constexpr Key group(std::string_view name, Kind kind, Need need, const Section& section,
                    std::string_view why) {
  return {name, kind, need, {}, std::nullopt, {}, why, nullptr, &section};
}

// The parts of the root, each in a file of its own.
extern const Section kTentSection;
extern const Section kTableSection;
extern const Section kBuildSection;
extern const Section kSolutionSection;
extern const Section kCareSection;
extern const Section kTurnoverSection;
extern const Section kTellingSection;
extern const Section kWaterSection;
extern const Section kClimateSection;
extern const Section kProgrammeSection;
extern const Section kOutputSection;
extern const Section kSensorSection;
extern const Section kCalibrationSection;
extern const Section kSimulationSection;

}  // namespace neap::settings
