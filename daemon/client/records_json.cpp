#include "daemon/client/records_json.h"

namespace neap::client {

using nlohmann::json;

namespace {

json maybe(const std::optional<double>& value) { return value ? json(*value) : json(nullptr); }
json maybe(bool known, double value) { return known ? json(value) : json(nullptr); }

json slot_json(const SlotId& slot) {
  if (slot.number == 0) return nullptr;
  return {{"date", words::civil_date(slot.date)}, {"number", slot.number}};
}

}  // namespace

double as_seconds(Millis d) { return static_cast<double>(d.count()) / 1000; }

json stamp_json(const journal::Stamp& stamp) {
  json out = {{"tick", stamp.tick}};
  if (!stamp.unix_ms) return out;
  out["unix_ms"] = *stamp.unix_ms;
  out["utc_offset_s"] = stamp.utc_offset_s;
  out["local"] = words::local_time(*stamp.unix_ms, stamp.utc_offset_s);
  return out;
}

json because_json(const Because& because, const words::Style& style) {
  return {{"reason", info(because.reason).key},
          {"args", because.args},
          {"text", words::sentence(because, style)}};
}

json event_json(const journal::EventRow& row, const words::Style& style) {
  json out = {{"number", row.number},
              {"at", stamp_json(row.at)},
              {"kind", words::name(row.event.kind)},
              {"because", because_json(row.event.because, style)},
              {"text", words::sentence(row.event, style, row.name)}};
  if (!row.name.empty()) out["name"] = row.name;
  return out;
}

json reading_json(const journal::ReadingRow& row) {
  json out = {{"at", stamp_json(row.at)},
              {"point", info(row.point).name},
              {"unit", info(row.point).unit},
              {"value", maybe(row.value)},
              {"quality", words::name(row.quality)}};
  if (!row.value) out["fault"] = words::name(row.fault);
  return out;
}

json summary_json(const journal::PointSummary& summary) {
  json out = {{"point", info(summary.point).name},
              {"unit", info(summary.point).unit},
              {"count", summary.count},
              {"missing", summary.missing},
              {"lowest", maybe(summary.lowest)},
              {"mean", maybe(summary.mean)},
              {"highest", maybe(summary.highest)},
              {"latest", maybe(summary.latest)},
              {"latest_at", nullptr}};
  if (summary.latest) out["latest_at"] = stamp_json(summary.latest_at);
  return out;
}

json cycle_json(const journal::CycleEntry& cycle) {
  const CycleRow& row = cycle.row;
  return {{"started", stamp_json(cycle.started)},
          {"slot", slot_json(row.slot)},
          {"origin", words::name(row.origin)},
          {"outcome", words::name(row.outcome)},
          {"fill_s", as_seconds(row.fill)},
          {"soak_s", as_seconds(row.soak)},
          {"drain_s", as_seconds(row.drain)},
          {"pump_on_s", as_seconds(row.pump_on)},
          {"litres_out", maybe(row.litres_known, row.litres_out)},
          {"litres_back", maybe(row.litres_known, row.litres_back)},
          {"vpd_before_kpa", maybe(row.dip_known, row.vpd_before_kpa)},
          {"vpd_lowest_kpa", maybe(row.dip_known, row.vpd_lowest_kpa)},
          {"recovery_s", maybe(row.recovered, as_seconds(row.recovery))}};
}

json tally_json(const DayTally& tally) {
  return {{"date", words::civil_date(tally.date)},
          {"began_tick", tally.began_tick},
          {"day_known_s", as_seconds(tally.day_known)},
          {"day_in_band_s", as_seconds(tally.day_in_band)},
          {"night_known_s", as_seconds(tally.night_known)},
          {"night_in_band_s", as_seconds(tally.night_in_band)},
          {"below_s", as_seconds(tally.below)},
          {"above_s", as_seconds(tally.above)},
          {"kpa_h_out", tally.kpa_h_out},
          {"humid_s", as_seconds(tally.humid)},
          {"floods_planned", tally.floods_planned},
          {"floods_started", tally.floods_started},
          {"floods_complete", tally.floods_complete},
          {"litres_out", tally.litres_out},
          {"litres_back", tally.litres_back},
          {"pump_on_s", as_seconds(tally.pump_on)},
          {"dehumidifier_on_s", as_seconds(tally.dehumidifier_on)},
          {"dehumidifier_starts", tally.dehumidifier_starts},
          {"humidifier_on_s", as_seconds(tally.humidifier_on)},
          {"fan_hours", tally.fan_hours},
          {"fan_moves", tally.fan_moves},
          {"vpd_lowest_kpa", maybe(tally.any_vpd, tally.vpd_lowest)},
          {"vpd_highest_kpa", maybe(tally.any_vpd, tally.vpd_highest)}};
}

json alarm_json(const journal::AlarmSpan& span, const words::Style& style) {
  json out = {{"alarm", info(span.alarm).name},
              {"title", info(span.alarm).title},
              {"priority", words::name(info(span.alarm).priority)},
              {"raised", stamp_json(span.raised)},
              {"cleared", nullptr},
              {"acknowledged", span.acknowledged},
              {"because", because_json(span.because, style)}};
  if (span.cleared) out["cleared"] = stamp_json(*span.cleared);
  return out;
}

json measurement_json(const journal::MeasurementRow& row) {
  return {{"number", row.number},
          {"taken", stamp_json(row.taken)},
          {"quantity", row.quantity},
          {"value", row.value},
          {"note", row.note},
          {"photo", row.photo},
          {"first_value", row.first_value ? json(*row.first_value) : json(nullptr)},
          {"withdrawn", row.withdrawn},
          {"reason", row.reason},
          {"id", row.id}};
}

std::string stamp_text(const journal::Stamp& stamp) {
  if (!stamp.unix_ms) return "tick " + std::to_string(stamp.tick);
  return words::local_time(*stamp.unix_ms, stamp.utc_offset_s);
}

std::string minute_text(const journal::Stamp& stamp) {
  const std::string text = stamp_text(stamp);
  return stamp.unix_ms ? text.substr(0, text.size() - 3) : text;
}

}  // namespace neap::client
