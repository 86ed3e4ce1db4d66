#include "daemon/core/alarm.h"

#include <algorithm>

namespace neap {

// Delays: what is about water on the floor speaks at once; what air and probes do by themselves
// must last. Muted by service: what a person at the tent disturbs (levels, air, probes lifted out);
// never a leak, heat or a latch. Priorities, delays: common practice, no source.
constinit const std::array<AlarmInfo, kAlarmCount> kAlarms{{
    {Alarm::leak, "leak", "water at a leak probe",
     "find and stop the water, dry the probe, then `neap reset leak`", Priority::high, seconds{0},
     seconds{0}, false},
    {Alarm::tray_overflow, "overflow", "tray reached its overflow float",
     "look at the standpipe and the drain, then `neap reset overflow`", Priority::high, seconds{0},
     seconds{0}, false},
    {Alarm::lost_water, "lost-water", "pumped water did not reach the tray",
     "look for water on the floor, at hose and fittings; if it is dry, check that the tray float "
     "moves freely and what the pump delivers; then `neap reset lost-water`",
     Priority::high, seconds{0}, seconds{0}, false},
    {Alarm::fill_failed, "fill-failed", "tray did not fill within its limit",
     "check the pump, its filter, the hose and the tray float, then `neap reset fill`",
     Priority::high, seconds{0}, seconds{0}, false},
    {Alarm::slow_drain, "slow-drain", "tray did not drain within its limit",
     "clear the standpipe screen and the drain, then `neap reset drain`", Priority::high,
     seconds{0}, seconds{0}, false},
    {Alarm::pump_no_effect, "no-effect", "pump switched on and nothing moved",
     "check that the pump has power, prime it, clear its filter; a flood, or `neap hold pump "
     "running for 1m`, that moves water ends this",
     Priority::high, seconds{0}, seconds{0}, false},
    {Alarm::fill_slow, "fill-slow", "tray fills slower than it used to",
     "clean the pump filter and look for a kinked hose", Priority::low, seconds{0}, seconds{0},
     true},
    {Alarm::reservoir_low, "reservoir-low", "reservoir low",
     "top up the reservoir under `neap service`", Priority::medium, seconds{10}, seconds{10}, true},
    {Alarm::pump_budget, "pump-budget", "pump has used up its run time",
     "find out why it ran so long; floods go on when the budget frees up", Priority::medium,
     seconds{0}, seconds{10}, false},
    {Alarm::leak_probe_fault, "leak-probe", "a leak probe cannot be read",
     "check the probe's plug and wire; floods are withheld until it answers", Priority::high,
     seconds{10}, seconds{10}, false},
    {Alarm::leak_damp, "leak-damp", "a leak probe is damp",
     "wipe the probe dry and look for condensation or a slow drip", Priority::medium, seconds{60},
     seconds{60}, false},
    {Alarm::float_fault, "float-fault", "a float cannot be read or contradicts another",
     "check the float's wire and that it moves freely", Priority::medium, seconds{10}, seconds{10},
     true},
    {Alarm::canopy_lost, "canopy-lost", "no canopy reading",
     "check the canopy sensor's cable; until it is back the fan runs at its safe level",
     Priority::medium, seconds{60}, seconds{10}, true},
    {Alarm::room_lost, "room-lost", "no room reading", "check the room sensor's cable",
     Priority::low, minutes{5}, seconds{10}, true},
    {Alarm::over_temperature, "over-temperature", "canopy too warm",
     "check that the exhaust fan moves air and cool the room", Priority::high, seconds{60},
     minutes{30}, false},
    {Alarm::under_temperature, "under-temperature", "canopy too cold",
     "warm the room and check that the exhaust fan is not stuck on", Priority::medium, minutes{5},
     minutes{30}, true},
    {Alarm::humidity_high, "humidity-high", "humidity over its ceiling for long",
     "check the exhaust fan, its filter and the dehumidifier's bucket; wipe the canopy sensor if "
     "it "
     "is wet",
     Priority::medium, minutes{20}, minutes{5}, true},
    {Alarm::vpd_out_of_band, "vpd-out-of-band", "VPD out of its band for long",
     "see that fan, dehumidifier and humidifier do as told; `neap why` names the limit that binds: "
     "change the band or the equipment",
     Priority::advisory, seconds{0}, minutes{5}, true},
    {Alarm::bucket_full, "bucket-full", "dehumidifier bucket full",
     "empty the bucket and see that the dehumidifier starts again", Priority::medium, seconds{10},
     seconds{10}, true},
    {Alarm::flood_withheld, "flood-withheld", "a flood is being withheld",
     "clear the named cause, or water by hand if the plants cannot wait", Priority::advisory,
     seconds{0}, seconds{0}, true},
    {Alarm::flood_missed, "flood-missed", "a planned flood did not happen",
     "feel the medium and water by hand if it is dry", Priority::medium, seconds{0}, seconds{0},
     true},
    {Alarm::stage_due, "stage-due", "the stage has reached its days",
     "look at the plants and enter the next stage when they are ready", Priority::advisory,
     seconds{0}, seconds{0}, false},
    {Alarm::time_unknown, "time-unknown", "the time of day is not known",
     "connect the network or set the clock; the schedule waits for it", Priority::medium,
     minutes{2}, seconds{0}, false},
    {Alarm::sensor_lost, "sensor-lost", "a fitted sensor cannot be read",
     "check the named sensor's cable and plug", Priority::low, minutes{2}, seconds{10}, true},
    {Alarm::journal_trouble, "journal-trouble", "the journal is in trouble",
     "free space on the disk, replace the card, or close what keeps the journal open; control goes "
     "on without it",
     Priority::medium, seconds{30}, seconds{30}, false},
    {Alarm::service_overdue, "service-overdue", "service has run past its time",
     "close the tent and end the service, or declare it anew; floods stay held", Priority::medium,
     seconds{0}, seconds{0}, false},
    {Alarm::state_lost, "state-lost", "the saved state could not be trusted",
     "look at tray, table and floor and think of what was wrong before; then `neap reset state`",
     Priority::high, seconds{0}, seconds{0}, false},
    {Alarm::probes_disagree, "probes-disagree", "two canopy probes disagree",
     "compare both with a third instrument and replace the one that is off", Priority::low,
     minutes{10}, minutes{2}, true},
    {Alarm::output_fault, "output-fault", "an output cannot be driven or proven",
     "check the named output's driver and wiring; unplug the pump if it runs", Priority::high,
     seconds{0}, seconds{10}, false},
    {Alarm::condensation, "condensation", "condensation is near",
     "check that the exhaust fan turns and its duct is clear; else raise the fan, warm the coldest "
     "wall, or lower the night humidity",
     Priority::low, minutes{10}, minutes{5}, true},
    {Alarm::spread, "spread", "the canopy air is uneven",
     "check the circulation fan and thin leaves around the humid pocket", Priority::advisory,
     minutes{20}, minutes{5}, true},
    // Devices of the climate in doubt: device_doubt.h has waited for its evidence already.
    {Alarm::fan_dead, "fan-dead", "the exhaust fan moves little or no air",
     "see that the exhaust fan turns; clear its filter and duct; if it does move air, hold the "
     "canopy probe beside the room's, one may be off; neap notes within half an hour that air "
     "moves again",
     Priority::high, seconds{0}, minutes{1}, true},
    {Alarm::dehumidifier_dead, "dehumidifier-dead", "the dehumidifier does not dry",
     "check the dehumidifier's plug, bucket, switch and frost; then `neap hold dehumidifier "
     "running "
     "for 20m` shows neap that it works",
     Priority::medium, seconds{0}, minutes{1}, true},
    {Alarm::dehumidifier_welded, "dehumidifier-welded", "the dehumidifier cannot be stopped",
     "pull the dehumidifier's plug and replace its relay, or set it to follow the mains",
     Priority::medium, seconds{0}, minutes{1}, true},
    {Alarm::humidifier_dry, "humidifier-dry", "the humidifier gives no mist",
     "fill the humidifier, check its plug and clean it; then `neap hold humidifier running for "
     "20m` shows neap that it works",
     Priority::medium, seconds{0}, minutes{1}, true},
    {Alarm::light_stuck_on, "light-stuck-on", "the light is on in the dark period",
     "switch the light off by hand and replace its relay or dimmer cable", Priority::medium,
     seconds{0}, minutes{1}, true},
    {Alarm::state_unsaved, "state-unsaved", "the state cannot be saved, and no flood starts",
     "free space on the disk or replace the card, and let neapd's user write in its state "
     "directory (the log of neapd names it); floods go on when it can be written again",
     Priority::high, seconds{0}, seconds{10}, false},
    {Alarm::pump_welded, "pump-welded", "the pump runs and cannot be stopped",
     "unplug the pump now; replace its relay, see that the pump stops when told to, then `neap "
     "reset weld`",
     Priority::high, seconds{0}, seconds{0}, false},
    {Alarm::pump_in_hand, "pump-in-hand", "the pump does not do what it is told",
     "set the switch at the pump to automatic, see that it is plugged in, or unplug it if it runs; "
     "check the sensor of its proof",
     Priority::high, seconds{0}, seconds{10}, true},
    // The ladder above a withheld or missed flood; service at the tent does not water the roots.
    {Alarm::roots_thirsty, "roots-thirsty", "half of the roots' time without water is over",
     "clear what withholds the floods, or water by hand before the time that is told",
     Priority::high, seconds{0}, seconds{0}, false},
    {Alarm::roots_dry, "roots-dry", "the roots have waited too long for water",
     "water by hand now, then clear what withholds the floods; a flood that fills the tray ends "
     "this",
     Priority::critical, seconds{0}, seconds{0}, false},
    {Alarm::supply_low, "supply-low", "the board's supply is low, and no flood starts",
     "nothing, if it passes; if it stays, replace the power supply or its cable",
     Priority::advisory, seconds{0}, seconds{0}, false},
    {Alarm::supply_sags, "supply-sags", "the board's supply sags when the pump starts",
     "give the pump a power supply of its own, or the board a stronger one: a board that reboots "
     "in a flood does not see where the water goes",
     Priority::high, seconds{0}, minutes{1}, false},
    {Alarm::rail_helps_not, "sensor-supply", "sensors stay silent though their supply was cycled",
     "check the plugs and the wires of the sensors that `neap status` shows as lost; neap goes on "
     "trying, each time after twice as long",
     Priority::medium, seconds{0}, minutes{1}, true},
    {Alarm::air_pump_stands, "air-pump", "the air pump stands",
     "check its plug, hose and air stone before the time that is told; a flood by hand brings the "
     "roots air meanwhile",
     Priority::high, seconds{60}, seconds{10}, true},
    {Alarm::slow_leak, "slow-leak", "the reservoir loses water while nothing is pumped",
     "look under the reservoir, at its fittings and along the hose, and wipe a finger along each "
     "joint; mend it under `neap service`: the watch begins anew at its end",
     Priority::high, seconds{0}, seconds{0}, false},
    {Alarm::contact_chatters, "chatters", "a float or probe chatters",
     "see that the named float moves freely and its plug and wire are tight; shield it from "
     "splashing water",
     Priority::advisory, seconds{0}, minutes{10}, true},
    {Alarm::switching_noise, "switching-noise", "sensors fail when loads are switched",
     "lay the sensors' cables apart from the mains, and give the named loads a snubber or another "
     "socket",
     Priority::advisory, seconds{0}, hours{1}, true},
    {Alarm::unproven, "unproven", "not commissioned",
     "walk through `neap commission`; floods wait for it", Priority::medium, seconds{0}, seconds{0},
     true},
    {Alarm::proof_due, "proof-due", "a proof test is due again",
     "test the named part wet with `neap commission`, which shows what is due", Priority::advisory,
     seconds{0}, seconds{0}, true},
    {Alarm::request_denied, "request-denied",
     "a part of neapd asked for the pump against the guards",
     "it was denied; keep the journal and report it: this is a fault of the program. The third "
     "time "
     "in an hour neapd keeps every output safe for half an hour",
     Priority::high, seconds{0}, seconds{0}, false},
    {Alarm::not_ours_to_stop, "not-ours-to-stop", "the pump should stop and is not neap's to stop",
     "pull the plug of the pump, or of the timer that runs it", Priority::critical, seconds{0},
     seconds{0}, false},
    // The solution. A flood stirs the reservoir, so that a probe must say it for long; what is far
    // off cannot wait for the evening.
    {Alarm::ph_off_band, "ph-off-band", "pH is out of its band",
     "measure again by hand, then correct it in small steps with acid or base, half an hour apart",
     Priority::low, minutes{20}, minutes{5}, true},
    {Alarm::ph_far_off, "ph-far-off", "pH is far out of its band",
     "measure by hand; if it is true, correct it in small steps today; if the probe is off, "
     "`neap calibrate ph`",
     Priority::medium, minutes{20}, minutes{5}, true},
    {Alarm::ec_off_band, "ec-off-band", "EC is out of its band",
     "measure again by hand; too high: top up with water; too low: with solution (`neap mix` works "
     "it out)",
     Priority::low, minutes{20}, minutes{5}, true},
    {Alarm::ec_far_off, "ec-far-off", "EC is far out of its band",
     "measure by hand; if it is true, dilute or strengthen it today; if the probe is off, `neap "
     "calibrate ec`",
     Priority::medium, minutes{20}, minutes{5}, true},
    {Alarm::water_off_band, "water-off-band", "the solution's temperature is out of its band",
     "shade the reservoir and lift it off a cold or warm floor; see the room's temperature, and "
     "that a heater or chiller in the water works",
     Priority::low, minutes{20}, minutes{20}, true},
    {Alarm::water_far_off, "water-far-off", "the solution's temperature is far out of its band",
     "cool or warm the reservoir today: warm water holds little oxygen, cold roots take up little",
     Priority::medium, minutes{20}, minutes{20}, true},
    {Alarm::level_off_band, "level-off-band", "the reservoir's level is out of its band",
     "top up under `neap service topup`; too high: look for where the water comes from",
     Priority::low, minutes{20}, minutes{5}, true},
    {Alarm::hand_check_due, "hand-check-due", "the solution waits for its check",
     "measure pH, EC, level and temperature: `neap check-in` asks for them", Priority::low,
     minutes{30}, seconds{0}, true},  // a probe's first word after a start is not missed
    {Alarm::calibration_due, "calibration-due", "a probe waits for its calibration",
     "rinse the probe, hold it in two standards, and tell what it shows uncorrected: `neap "
     "calibrate` alone lists it",
     Priority::low, seconds{0}, seconds{0}, true},
    {Alarm::change_due, "change-due", "the solution is due for a change",
     "change it under `neap service change`", Priority::low, seconds{0}, seconds{0}, true},
    {Alarm::stage_coming, "stage-coming", "the stage will have reached its days",
     "look at the plants, and see that what the next stage needs is there", Priority::advisory,
     seconds{0}, seconds{0}, false},
    {Alarm::pump_off_auto, "pump-off-auto", "the pump's switch is not in automatic",
     "set the switch at the pump to automatic; until then neap neither starts nor stops it, and "
     "water that a hand lets in counts against the pump's run time",
     Priority::medium, seconds{5}, seconds{5}, true},
    {Alarm::fan_stands, "fan-stands", "the exhaust fan is driven and does not turn",
     "see what blocks the exhaust fan, and that it has power; check the tachometer's wire if it "
     "does turn",
     Priority::high, seconds{0}, seconds{10}, true},
    {Alarm::button_stuck, "button-stuck", "the button is pressed for good",
     "free the button at the tent, or check its wire for a short; it does nothing until it is let "
     "go",
     Priority::low, seconds{0}, seconds{0}, false},
    {Alarm::water_too_hot, "water-hot", "the water is hotter than any heater may make it",
     "pull the plug of the water heater: its relay may be welded; see its own thermostat, then "
     "shade the reservoir",
     Priority::high, minutes{2}, minutes{1}, false},
    // A discharge lamp that was hot takes up to a quarter of an hour to strike again (common
    // practice, no source).
    {Alarm::light_out, "light-out", "the light is told to be on and the tent is dark",
     "look at the lamp, its plug, fuse and relay; if it does shine, uncover the light sensor",
     Priority::medium, minutes{15}, minutes{1}, true},
}};

bool wakes_people(Alarm alarm) {
  constexpr std::array kBelowCritical{Alarm::leak, Alarm::tray_overflow, Alarm::lost_water,
                                      Alarm::pump_welded};
  return info(alarm).priority == Priority::critical ||
         std::find(kBelowCritical.begin(), kBelowCritical.end(), alarm) != kBelowCritical.end();
}

namespace {

void note_condition(AlarmRecord& record, const Condition& condition, Instant now) {
  if (condition.active != record.condition) {
    record.condition = condition.active;
    record.condition_since = now;
  }
  if (condition.active) record.because = condition.because;
}

void raise(AlarmRecord& record, Instant now) {
  record.state = AlarmState::unacknowledged;
  record.raised = now;
  ++record.raised_count;
}

// After a shelf or a service: whatever lasts long enough by now is news again.
void resume(AlarmRecord& record, const AlarmInfo& row, Instant now) {
  if (record.condition && now >= record.condition_since + row.on_delay) {
    raise(record, now);
  } else {
    record.state = AlarmState::normal;
  }
}

}  // namespace

bool step_alarm(AlarmRecord& record, const AlarmInfo& row, const Condition& condition, bool service,
                Instant now) {
  const AlarmState before = record.state;
  note_condition(record, condition, now);
  const bool lasts = record.condition && now >= record.condition_since + row.on_delay;
  const bool gone = !record.condition && now >= record.condition_since + row.off_delay;
  const bool muted = service && row.muted_by_service && record.condition;

  switch (record.state) {
    case AlarmState::normal:
    case AlarmState::returned:
      if (muted) {
        record.state = AlarmState::suppressed;
      } else if (lasts) {
        raise(record, now);
      }
      break;
    case AlarmState::unacknowledged:
      if (muted) {
        record.state = AlarmState::suppressed;
      } else if (gone) {
        record.state = AlarmState::returned;
      }
      break;
    case AlarmState::acknowledged:
      if (muted) {
        record.state = AlarmState::suppressed;
      } else if (gone) {
        record.state = AlarmState::normal;
      }
      break;
    case AlarmState::shelved:
      if (now >= record.shelved_until) resume(record, row, now);
      break;
    case AlarmState::suppressed:
      // Stays until the service ends, however the condition flutters meanwhile; its delay then
      // starts anew, so that an opened tent has time to settle.
      if (!service) {
        record.condition_since = now;
        resume(record, row, now);
      }
      break;
  }
  return record.state != before;
}

bool acknowledge(AlarmRecord& record) {
  switch (record.state) {
    case AlarmState::unacknowledged:
      record.state = AlarmState::acknowledged;
      return true;
    case AlarmState::returned:
      record.state = AlarmState::normal;
      return true;
    case AlarmState::normal:
    case AlarmState::acknowledged:
    case AlarmState::shelved:
    case AlarmState::suppressed:
      return false;
  }
  return false;
}

Instant next_alarm_deadline(const AlarmTable& table) {
  Instant next = Instant::max();
  for (std::size_t i = 0; i < kAlarmCount; ++i) {
    const AlarmRecord& record = table[i];
    if (record.at_rest()) continue;
    switch (record.state) {
      case AlarmState::normal:
      case AlarmState::returned:
        if (record.condition) next = std::min(next, record.condition_since + kAlarms[i].on_delay);
        break;
      case AlarmState::unacknowledged:
      case AlarmState::acknowledged:
        if (!record.condition) next = std::min(next, record.condition_since + kAlarms[i].off_delay);
        break;
      case AlarmState::shelved:
        next = std::min(next, record.shelved_until);
        break;
      case AlarmState::suppressed:
        break;  // ends with the service, which has a deadline of its own
    }
  }
  return next;
}

}  // namespace neap
