// A leak rope or pair of probe wires with a resistor at its far end, read by a converter's input:
//
//   supply --- series --- input --- rope --- ... --- end_of_line --- 0 V
//
// The resistance of the rope is series * V / (supply - V). Water lies beside the end-of-line
// resistor, so it falls from that resistor's value towards nothing; a broken wire takes the
// resistor away, and touching wires are lower than any water. In parts of the end-of-line resistor:
//
//   over open_above         Contact::faulty, Fault::open_wire
//   down to damp_below      Contact::clear
//   down to wet_below       Contact::damp: condensation; it forbids new floods and stops no pump
//   down to short_below     Contact::set: wet
//   under short_below       Contact::faulty, Fault::short_wire
//
// What is safest, where bands meet: a faulty probe stops the pump as a wet one does and only sets
// no latch, so that a mistaken `short` under strong nutrient solution still stops the water. Damp
// is a band of its own because a rope above a cold floor is damp every night, and a leak passes
// through the band within a reading or two on its way to wet. A wet rope with a broken wire behind
// the water says wet.
//
// A converter that cannot read as far up as an open wire lies would call it dry: settings that let
// it are refused (`range`).
//
// The bands are choices without a source; a rope that is tried with a wet cloth (the proof test)
// shows whether they suit it. A contact has no edge here: `every: 1 s` is as blind as it may be.
#pragma once

#include "drivers/driver.h"

namespace neap::drivers {

extern const SensorInfo kLeakRope;

}  // namespace neap::drivers
