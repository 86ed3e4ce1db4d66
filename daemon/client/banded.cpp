#include "daemon/client/banded.h"

#include <algorithm>
#include <optional>

#include "daemon/client/stages.h"
#include "daemon/core/limits.h"
#include "daemon/core/programme.h"
#include "daemon/settings/settings.h"

namespace neap::client {
namespace {

constexpr int kMostRows = 2'000'000;
constexpr std::int64_t kHeldFor = limits::kBadAfter.count();
constexpr std::int64_t kStep = Millis{hours{24}}.count();

void each_banded_by(journal::Reader& reader, const Plan& plan, std::int64_t from, std::int64_t to,
                    const std::function<void(const BandedReading&)>& take) {
  Stages stages(reader, plan, from, to);
  const Point point = plan.climate.band_of == BandOf::leaf ? Point::leaf_vpd : Point::canopy_vpd;
  each_held(reader, point, from, to, [&](const journal::ReadingRow& row, Millis stood) {
    if (!row.at.unix_ms) return;
    const CivilTime civil = civil_of({*row.at.unix_ms, row.at.utc_offset_s, TimeQuality::synced});
    const StagePlan& stage = stages.at(row.at.tick);
    take({row, stood, band_at(stage, civil), !stage.fallow && is_light(stage, civil)});
  });
}

}  // namespace

double BandedReading::beyond() const {
  return *row.value < band.low.value ? *row.value - band.low.value
                                     : std::max(*row.value - band.high.value, 0.0);
}

void each_held(journal::Reader& reader, Point point, std::int64_t from, std::int64_t to,
               const std::function<void(const journal::ReadingRow&, Millis)>& take) {
  std::optional<journal::ReadingRow> last;
  const auto until = [&](std::int64_t next) {
    if (!last || !last->value || last->quality == Quality::bad) return;
    const std::int64_t begin = std::max(last->at.tick, from);
    const std::int64_t end = std::min({next, last->at.tick + kHeldFor, to});
    if (end > begin) take(*last, Millis{end - begin});
  };
  // A day at a time: a whole grow in one question would be cut short by the reader's time-box.
  for (std::int64_t begin = from - kHeldFor; begin <= to; begin += kStep)
    for (const journal::ReadingRow& row :
         reader.readings(point, {begin, std::min(begin + kStep - 1, to)}, 0, kMostRows)) {
      until(row.at.tick);
      last = row;
    }
  until(to);
}

void each_banded(journal::Reader& reader, const Plan& plan, std::int64_t from, std::int64_t to,
                 const std::function<void(const BandedReading&)>& take) {
  const auto revisions = reader.settings_texts(from, to);
  std::int64_t at = from;
  const Plan* in_force = &plan;
  settings::LoadResult read;
  for (const auto& revision : revisions) {
    if (revision.from > at) each_banded_by(reader, *in_force, at, revision.from, take);
    at = std::max(at, revision.from);
    read = settings::load_text(revision.text);
    in_force = read.loaded ? &read.loaded->plan : &plan;
  }
  if (to > at) each_banded_by(reader, *in_force, at, to, take);
}

}  // namespace neap::client
