// Answers of `status` in the states that a person meets, for the tests of its text.
#pragma once

#include <nlohmann/json.hpp>

namespace neap::client::testing {

inline nlohmann::json all_well() {
  return nlohmann::json::parse(R"({
    "name": "box-room", "mode": "control", "unix_ms": 1780315200000, "utc_offset_s": 7200,
    "time_quality": "synchronised", "display": "metric", "safe_mode": false,
    "verdict": {"ok": true, "text": "all is well"},
    "stage": {"name": "flowering", "index": 2, "day": 12, "days": 21, "due": false},
    "day": true,
    "targets": {"band_of": "air", "low_kpa": 0.7, "high_kpa": 1.1, "air_lowest_c": 10,
                "air_highest_c": 28, "humidity_ceiling": 85},
    "readings": [
      {"point": "canopy.temperature", "value": 24.1, "unit": "C", "quality": "good",
       "age_ms": 3100, "text": "24.1 C"},
      {"point": "room.temperature", "value": null, "unit": "C", "quality": "bad",
       "fault": "no answer"},
      {"point": "reservoir.level", "value": 41.2, "unit": "L", "quality": "good",
       "age_ms": 100, "text": "41.2 L"},
      {"point": "canopy.vpd", "value": 0.82, "unit": "kPa", "quality": "good", "age_ms": 3100,
       "text": "0.82 kPa"}],
    "outputs": [
      {"output": "pump", "level": 0, "word": "stopped",
       "reason": {"reason": "flood_idle", "text": "no flood under way"}},
      {"output": "exhaust_fan", "level": 450, "word": "45 %",
       "reason": {"reason": "vpd_low_in_band",
                  "text": "VPD 0.82 kPa, low in the band 0.70 to 1.10, which is a long reason"}}],
    "flood": {"phase": "idle", "since_s": null,
              "next": {"date": "2026-06-01", "number": 3, "in_s": 4800, "start_second": 55200,
                       "moved": true}},
    "next_event": {"text": "flood 3", "in_s": 4800}, "advice": [], "alarms": [], "latches": [],
    "holds": [], "service": null,
    "budget": {"hour_s": 0, "hour_limit_s": 2400, "day_s": 1260, "day_limit_s": 10800},
    "binding": "nothing", "diagnosis": {"reason": "none", "text": "no reason"}})");
}

inline nlohmann::json flood_running() {
  nlohmann::json status = all_well();
  status["flood"]["phase"] = "soak";
  status["flood"]["since_s"] = 125.4;
  return status;
}

inline nlohmann::json leak_latched() {
  nlohmann::json status = all_well();
  status["verdict"] = {{"ok", false}, {"text", "water on the floor"}};
  status["latches"] = {{{"latch", "leak"}, {"title", "leak"}}};
  status["advice"] = {
      "leak: dry the floor, find where it came from, dry the probe, then `neap reset leak`; the "
      "pump stays stopped until then",
      "flood withheld: `neap why pump` says what has to change first"};
  status["alarms"] = {{{"alarm", "leak"},
                       {"title", "leak"},
                       {"state", "unacknowledged"},
                       {"priority", "high"},
                       {"since_s", 65},
                       {"remedy", "dry the floor"},
                       {"reason", {{"text", "leak probe on the floor is wet"}}}}};
  status["next_event"] = nullptr;
  return status;
}

inline nlohmann::json sensor_lost() {
  nlohmann::json status = all_well();
  status["verdict"] = {{"ok", false}, {"text", "canopy sensor lost"}};
  status["readings"][3] = {
      {"point", "canopy.vpd"}, {"value", nullptr}, {"quality", "bad"}, {"fault", "too old"}};
  status["advice"] = {"canopy sensor lost: look at its cable; the fan runs at its fall-back"};
  return status;
}

inline nlohmann::json infeasible() {
  nlohmann::json status = all_well();
  status["verdict"] = {
      {"ok", true},
      {"text", "venting alone cannot dry the canopy: it reaches 0.62 kPa VPD of 0.70"}};
  status["readings"][3]["value"] = 0.62;
  status["binding"] = "too_humid";
  status["diagnosis"]["text"] =
      "venting alone cannot dry the canopy: it reaches 0.62 kPa VPD of 0.70";
  return status;
}

inline nlohmann::json daemon_down() {
  nlohmann::json status = all_well();
  for (const char* live : {"verdict", "outputs", "flood", "next_event", "budget", "unix_ms"})
    status.erase(live);
  status["stopped"] = {{"why", "no daemon at /run/neap/neap.sock: Connection refused"},
                       {"last", "2026-06-01 13:58"}};
  status["advice"] = {"Start neapd; if it ends, its log says why"};
  return status;
}

}  // namespace neap::client::testing
