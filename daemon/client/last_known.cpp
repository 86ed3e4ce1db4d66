#include "daemon/client/last_known.h"

#include <array>

#include "daemon/client/ahead.h"
#include "daemon/client/records_json.h"
#include "daemon/core/programme.h"
#include "daemon/settings/settings.h"

namespace neap::client {
namespace {

using nlohmann::json;

constexpr std::int64_t kRecent = Millis{minutes{10}}.count();  // before the journal's end
constexpr int kEnough = 1000;

json readings_of(journal::Reader& reader, std::int64_t last, const words::Style& style) {
  json list = json::array();
  for (const journal::PointSummary& row : reader.summaries({last - kRecent, last})) {
    json item = {{"point", info(row.point).name},
                 {"title", info(row.point).title},
                 {"unit", info(row.point).unit},
                 {"quality", words::name(row.latest ? Quality::uncertain : Quality::bad)}};
    if (row.latest) {
      item["value"] = *row.latest;
      item["age_ms"] = last - row.latest_at.tick;
      item["text"] = words::value(row.point, *row.latest, style);
    } else {
      item["value"] = nullptr;
      item["fault"] = "no value in the last 10 min";
    }
    list.push_back(item);
  }
  return list;
}

json latches_of(journal::Reader& reader) {
  std::array<bool, kLatchCount> set{};
  for (const journal::EventRow& row :
       reader.events({}, {EventKind::latch_set, EventKind::latch_reset}, kEnough))
    set.at(static_cast<std::size_t>(row.event.latch)) = row.event.kind == EventKind::latch_set;
  json list = json::array();
  for (const LatchInfo& row : kLatches)
    if (set[static_cast<std::size_t>(row.latch)])
      list.push_back({{"latch", row.name}, {"title", row.title}});
  return list;
}

json alarms_of(journal::Reader& reader, std::int64_t last, const words::Style& style) {
  json list = json::array();
  for (const journal::AlarmSpan& span : reader.alarms({last, last})) {
    if (span.cleared) continue;
    const AlarmInfo& row = info(span.alarm);
    list.push_back({{"alarm", row.name},
                    {"title", row.title},
                    {"state", words::name(span.acknowledged ? AlarmState::acknowledged
                                                            : AlarmState::unacknowledged)},
                    {"priority", words::name(row.priority)},
                    {"since_s", as_seconds(Millis{last - span.raised.tick})},
                    {"remedy", row.remedy},
                    {"reason", because_json(span.because, style)}});
  }
  return list;
}

void add_programme(journal::Reader& reader, const Plan& plan, const journal::Stamp& last,
                   json& out) {
  const CivilTime civil = civil_of({*last.unix_ms, last.utc_offset_s, TimeQuality::synced});
  const StageNow now = stage_in_journal(reader, plan.programme, civil.date);
  const StagePlan& stage = plan.programme.stages[static_cast<std::size_t>(now.index)];
  const StageAdvice advice = advise_stage(plan.programme, now.index, now.entered_date, civil.date);
  const Band band = band_at(stage, civil);
  out["stage"] = {{"name", stage.name},
                  {"index", now.index},
                  {"day", advice.day},
                  {"days", stage.days},
                  {"due", advice.due}};
  out["day"] = !stage.fallow && is_light(stage, civil);
  out["targets"] = {{"band_of", plan.climate.band_of == BandOf::leaf ? "leaf" : "air"},
                    {"low_kpa", band.low.value},
                    {"high_kpa", band.high.value},
                    {"air_lowest_c", stage.air_lowest.value},
                    {"air_highest_c", stage.air_highest.value},
                    {"humidity_ceiling", stage.humidity_ceiling.value}};
}

}  // namespace

json last_known_status(journal::Reader* reader, const std::string& why) {
  json out = {{"name", "neap"},
              {"stopped", {{"why", why}, {"last", nullptr}}},
              {"advice", {"Start neapd; if it ends, its log says why"}}};
  const auto last = reader == nullptr ? std::nullopt : reader->last_tick();
  if (!last) return out;
  const journal::Stamp stamp = reader->stamp(*last);
  const auto settings = settings::load_text(reader->settings_in_force());
  const words::Style style{!settings.loaded || settings.loaded->plan.metric};
  out["stopped"]["last"] = minute_text(stamp);
  out["readings"] = readings_of(*reader, *last, style);
  out["latches"] = latches_of(*reader);
  out["alarms"] = alarms_of(*reader, *last, style);
  for (const json& alarm : out["alarms"])
    out["advice"].push_back(alarm["title"].get<std::string>() + ": " +
                            alarm["remedy"].get<std::string>());
  if (!settings.loaded) return out;
  out["name"] = settings.loaded->plan.name;
  out["display"] = style.metric ? "metric" : "us";
  if (stamp.unix_ms) add_programme(*reader, settings.loaded->plan, stamp, out);
  return out;
}

}  // namespace neap::client
