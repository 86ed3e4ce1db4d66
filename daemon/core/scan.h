// The scan: freeze the inputs, decide once, let one place write outputs. Reads like a table of
// contents; each line is a part with a header of its own.
//
// scan() is pure: the same plan, state, inputs and instant give the same outcome. It allocates
// nothing, knows no text, no file, no clock. It does not depend on its step: scanning each second
// and scanning at `next_wake` (or when an input arrives) grant the same commands at the same
// instants. Scans are made at whole seconds of tick, or at once when a contact changed.
#pragma once

#include "daemon/core/climate.h"
#include "daemon/core/event.h"
#include "daemon/core/image.h"
#include "daemon/core/plan.h"
#include "daemon/core/request.h"
#include "daemon/core/state.h"

namespace neap {

struct Inputs {
  PerPoint<Sample> samples;
  WallTime wall;
  Requests requests;
  HandNotes hands;
  bool outputs_proven = false;              // the gate wrote and proved the safe levels since start
  PerOutput<std::optional<Driven>> driven;  // none: nobody drives it, or nobody tells
  bool pump_waits = false;  // the pump's granted start waits until its debit is on the card
  bool unsaved = false;     // what is kept could not be written to the card
  bool safe_mode = false;   // crash loop, or a start without a disk that can be written
  bool journal_trouble = false;
  bool journal_log_grows = false;         // another program keeps the journal's log from shrinking
  bool output_trouble = false;            // a driver failed to write or prove
  Output troubled_output = Output::pump;  // what moves water before any other
};

struct Derived {  // of this scan, for the journal
  Point point;
  Reading<double> reading;
};

struct Outcome {
  OutputImage outputs;
  Events events;
  FixedVector<Derived, 8> derived;
  Demands demands;  // what the parts asked for, before guards, dwells and budgets
  Instant next_wake{};
  bool keep = false;      // Kept changed in a way worth a write to the state file
  bool distrust = false;  // safe mode, please: a part of the daemon does what it must not
};

void scan(const Plan& plan, const ClimateLaw& law, State& state, const Inputs& inputs, Instant now,
          Outcome& out);

// A fresh state for `plan`, with what was kept (or not) from before. Unknown dwells count as just
// stopped at `now`; a cycle under way is closed as interrupted by the first scan. What has changed
// hands since is told by it.
State start_state(const Plan& plan, const Kept* kept, Instant now);

// The plan changed under a running state (reload): what no longer fits is dropped, nothing moves.
// The outputs are the same ones in the same hands: the shell asks for a restart for others.
void adopt_plan(const Plan& before, const Plan& after, State& state, Instant now);

}  // namespace neap
