#include "daemon/client/banded.h"

#include <algorithm>

#include "daemon/client/stages.h"
#include "daemon/core/limits.h"
#include "daemon/core/programme.h"
#include "daemon/settings/settings.h"

namespace neap::client {
namespace {

constexpr int kMostRows = 2'000'000;
constexpr std::int64_t kHeldFor = limits::kBadAfter.count();

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
  const auto rows = reader.readings(point, {from - kHeldFor, to}, 0, kMostRows);
  for (std::size_t i = 0; i < rows.size(); ++i) {
    if (!rows[i].value || rows[i].quality == Quality::bad) continue;
    const std::int64_t next = i + 1 < rows.size() ? rows[i + 1].at.tick : to;
    const std::int64_t begin = std::max(rows[i].at.tick, from);
    const std::int64_t end = std::min({next, rows[i].at.tick + kHeldFor, to});
    if (end > begin) take(rows[i], Millis{end - begin});
  }
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
