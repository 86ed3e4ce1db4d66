// The schema's tables made into what people and editors read. Both texts are committed
// (config/reference.yaml, schema/settings.schema.json); a test keeps them equal to these.
#pragma once

#include <span>
#include <string>

#include "daemon/settings/quantity.h"
#include "drivers/driver.h"

namespace neap::settings {

struct Key;

// "default 6 min; a duration with its unit, 30 s to 30 min"
std::string rule_of(const Key& key);
// "default 68, 68 to 70"
std::string rule_of(const drivers::ParamSpec& param);
// What a key is and why, as a sentence.
std::string sentence_of(const Key& key);
// The kinds that are written with a unit, as "a duration with its unit: s, min, h or d".
std::vector<std::string> unit_lines();

// Every key with its default, bounds and reason, and every driver, fault and parameter of the
// simulated tent. It loads.
std::string reference_yaml();

// JSON Schema, draft 7, for editors: kinds, words and units. Bounds and rules between keys are the
// loader's alone.
std::string json_schema();

}  // namespace neap::settings
