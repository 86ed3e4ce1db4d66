// The schema's tables made into what people and editors read. Both texts are committed
// (config/reference.yaml, schema/settings.schema.json); a test keeps them equal to these.
#pragma once

#include <string>

namespace neap::settings {

// Every key with its default, bounds and reason, and every driver, fault and parameter of the
// simulated tent. It loads.
std::string reference_yaml();

// JSON Schema, draft 7, for editors: kinds, words and units. Bounds and rules between keys are the
// loader's alone.
std::string json_schema();

}  // namespace neap::settings
