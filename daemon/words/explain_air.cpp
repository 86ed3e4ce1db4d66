// Alarms of the air, its devices, the board, the clock and the programme.
#include <array>

#include "daemon/words/explain.h"

namespace neap::words {
namespace {

constexpr std::array kRows{
    AlarmExplanation{Alarm::canopy_lost,
                     {"Temperature or humidity at the canopy cannot be read, or is not believed. "
                      "The fan goes to its fallback level, dehumidifier and humidifier stop.",
                      "its plug or cable; the probe is wet and stuck at 100 %; the bus hangs; two "
                      "programs ask the same chip",
                      "`neap status` names the fault; `neap explain FAULT` explains it"}},
    AlarmExplanation{
        Alarm::room_lost,
        {"The room's air cannot be read. Venting goes on, judged by what it does to the canopy.",
         "its plug or cable; the same bus as a probe that hangs it"}},
    AlarmExplanation{
        Alarm::over_temperature,
        {"The canopy is warmer than the limit in force, for a minute. Venting is raised; the lamp "
         "is dimmed and at last switched off by tent.shed_light_above.",
         "a hot room; the exhaust fan stands or its filter is clogged; the lamp hangs too low; the "
         "dehumidifier's own heat",
         "compare the room's temperature: venting cannot cool below it"}},
    AlarmExplanation{
        Alarm::under_temperature,
        {"The canopy is colder than the limit in force. neap vents no more than it must.",
         "a cold room at night; a fan whose level does not fall; a tent that stands on a cold "
         "floor"}},
    AlarmExplanation{
        Alarm::humidity_high,
        {"Relative humidity has stood over its ceiling for 20 minutes: mould has its weather.",
         "the fan moves too little air; the room is as humid; the dehumidifier is off, full or too "
         "small; plants were watered or misted",
         "`neap why exhaust_fan` says what binds it; `neap size` what would do"}},
    AlarmExplanation{Alarm::vpd_out_of_band,
                     {"VPD has been out of its band for long and some limit binds: a device at its "
                      "end, a temperature, a ceiling.",
                      "the room's air is too warm, too dry or too humid for venting alone; a "
                      "device is missing, too small or fails; a band no tent in this room can hold",
                      "`neap size` tries sizes of devices on the simulated tent"}},
    AlarmExplanation{Alarm::bucket_full,
                     {"The dehumidifier's bucket says full, and it is kept off.",
                      "the bucket is full; its float sticks; it does not sit right"}},
    AlarmExplanation{Alarm::condensation,
                     {"The air's dew point is close under the temperature of the coldest surface: "
                      "drops form there, then on leaves.",
                      "the lamp went off and walls cool; the room is cold; the fan moves too "
                      "little; a flood has just wetted the medium"}},
    AlarmExplanation{
        Alarm::spread,
        {"Two canopy probes have long shown air that differs more than their errors do.",
         "the circulation fan stands or is blocked; leaves too dense; one probe in the lamp's "
         "light or in a draught",
         "hold both probes side by side: if they still differ it is the probes"}},
    AlarmExplanation{
        Alarm::probes_disagree,
        {"Two probes of the canopy contradict each other. What they show apart is told as the "
         "alarm spread; this one is kept for journals that have it.",
         "one of them drifts, is wet or dirty; one was moved; one hangs in the light"}},
    AlarmExplanation{Alarm::fan_dead,
                     {"The air does as if the exhaust fan moved far less than told, however it is "
                      "driven. The climate goes on with what is left.",
                      "the fan stands; its filter or duct is blocked; its speed wire is off; the "
                      "canopy's or the room's probe is off, so that the air is misread"}},
    AlarmExplanation{Alarm::fan_stands,
                     {"The fan's tachometer counts no turns though it is driven. The climate goes "
                      "on without it.",
                      "the rotor is blocked; its supply is off; the tachometer's wire is loose"}},
    AlarmExplanation{Alarm::dehumidifier_dead,
                     {"It is told to run and the air does not become drier.",
                      "it has no power, or its own switch is off; its bucket is full; its coil is "
                      "iced; its own hygrostat cuts it off"}},
    AlarmExplanation{
        Alarm::dehumidifier_welded,
        {"It is told to stop and the air goes on becoming drier. The humidifier stays off, so that "
         "they do not work against each other.",
         "its relay is welded; it is plugged in past the relay; the room became much drier"}},
    AlarmExplanation{Alarm::humidifier_dry,
                     {"It is told to run and no mist shows in the air.",
                      "its tank is empty; its disc is scaled; its plug or switch is off"}},
    AlarmExplanation{Alarm::light_stuck_on,
                     {"The light is told to be dark and the tent is lit or warmed as by day. "
                      "Plants count the dark hours.",
                      "its relay is welded; its dimmer does not go to zero; a second timer runs "
                      "it; the tent stands open in a lit room"}},
    AlarmExplanation{Alarm::light_out,
                     {"The light is told to be on and its sensor sees the dark.",
                      "the lamp, its driver or its fuse failed; its plug is out; a relay that does "
                      "not close; a leaf or dust over the sensor"}},
    AlarmExplanation{Alarm::air_pump_stands,
                     {"It is driven and its proof says that it stands. The roots' oxygen lasts for "
                      "the time that is told.",
                      "its plug or diaphragm; a blocked air stone; the proof's sensor"}},
    AlarmExplanation{
        Alarm::sensor_lost,
        {"A fitted sensor other than canopy and room has had no usable value for two minutes.",
         "its plug or cable; its supply; a wrong address; a bus that hangs",
         "`neap status` names its fault; `neap probe` shows what the board sees"}},
    AlarmExplanation{
        Alarm::rail_helps_not,
        {"neap took the sensors' supply away for a moment, twice, and they are silent still.",
         "a broken cable or a dead chip holds the bus; the supply itself fails; the relay of the "
         "supply does not switch",
         "unplug sensors one by one until the others answer"}},
    AlarmExplanation{Alarm::switching_noise,
                     {"Readings fail within two seconds of a load that switches, again and again. "
                      "What fails at once is read anew, so little is lost yet.",
                      "sensor cables along mains cables; a motor or relay without a snubber; one "
                      "supply for loads and sensors; no common earth"}},
    AlarmExplanation{Alarm::supply_low,
                     {"The board itself says that its supply is too low, or was within a minute. A "
                      "pump that runs goes on; none starts.",
                      "a weak power supply or a thin cable; many loads on the board's supply"}},
    AlarmExplanation{
        Alarm::supply_sags,
        {"The board's supply sagged at a start of the pump, four times in a day or more.",
         "pump and board share a supply; a supply at its limit; a cable too thin for the inrush"}},
    AlarmExplanation{Alarm::output_fault,
                     {"A level could not be written, or was read back otherwise. Where it moves "
                      "water, no flood starts.",
                      "the driver's path or line is wrong; another program holds the line; neapd "
                      "has no right to it; the board or bus hangs",
                      "`neap probe` looks for each part of the settings"}},
    AlarmExplanation{Alarm::button_stuck,
                     {"The button at the tent has been pressed for half a minute or more.",
                      "it is jammed or something leans on it; its wire is shorted; it is wired the "
                      "other way round"}},
    AlarmExplanation{
        Alarm::time_unknown,
        {"The board does not know the time of day, or its clock is days behind what was already "
         "done. Limits and budgets go by the tick and hold; the schedule waits.",
         "no network since the start; no battery-backed clock; a time server that is not reached; "
         "a clock set wrong by hand"}},
    AlarmExplanation{Alarm::journal_trouble,
                     {"The journal takes no writes, or its log grows because another program keeps "
                      "an old view open. Entries wait in memory; control goes on.",
                      "the disk is full; the card fails; a forgotten sqlite3 session; the file "
                      "belongs to another user"}},
    AlarmExplanation{Alarm::service_overdue,
                     {"A declared service ran past its time. Floods stay held, because a person "
                      "may be in the tray.",
                      "nobody said `neap service end`"}},
    AlarmExplanation{Alarm::stage_due,
                     {"The stage has lasted the days that the settings give it. It goes on until a "
                      "person enters the next.",
                      "the plants grew as planned; they are late, and the stage rightly goes on"}},
    AlarmExplanation{Alarm::stage_coming,
                     {"The stage's days are nearly over.", "the plants grow as planned"}},
};

}  // namespace

std::span<const AlarmExplanation> explained_air_alarms() { return kRows; }

}  // namespace neap::words
