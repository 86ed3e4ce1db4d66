// Which stage of the programme was in force when, from the journal.
#pragma once

#include <cstddef>
#include <cstdint>
#include <vector>

#include "daemon/core/plan.h"
#include "daemon/journal/reader.h"

namespace neap::client {

class Stages {  // asked at rising ticks
 public:
  Stages(journal::Reader& reader, const Plan& plan, std::int64_t from, std::int64_t to);
  const StagePlan& at(std::int64_t tick);

 private:
  const Plan& plan_;
  std::vector<journal::EventRow> changes_;
  std::size_t next_ = 0;
  int index_ = 0;
};

// The stage that the newest entry of the journal found in force.
const StagePlan& stage_now(journal::Reader& reader, const Plan& plan);

}  // namespace neap::client
