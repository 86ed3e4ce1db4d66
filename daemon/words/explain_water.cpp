// Alarms of the water: floods, floor, reservoir, pump, roots, solution.
#include <array>

#include "daemon/words/explain.h"

namespace neap::words {
namespace {

constexpr std::array kRows{
    AlarmExplanation{
        Alarm::leak,
        {"A leak probe is wet, or was wet and nobody has reset the latch. The pump stops in the "
         "scan that sees the first wet edge; two of three samples within 0.3 s latch it, and then "
         "no water moves until a person resets it.",
         "the tray ran over, or the hose came off; a fitting of the reservoir or the drain drips; "
         "a plant was watered by hand beside the tray; condensation ran down to the probe",
         "see with `neap status` that the probe says dry"}},
    AlarmExplanation{
        Alarm::tray_overflow,
        {"The float above the standpipe's rim was lifted: water came in faster than the standpipe "
         "passes. The pump stops at once and the drain valve opens.",
         "the standpipe's screen is clogged by roots or medium; the standpipe is too narrow for "
         "the pump (`neap check` works it out); the float is stuck up or upside down",
         "see that the water falls below the float by itself"}},
    AlarmExplanation{
        Alarm::lost_water,
        {"While the pump ran the reservoir fell as it should, and the tray's float did not rise in "
         "time. Water may be on the floor; neap does not try again.",
         "the hose slipped off or split; the tray's float sticks or its plug is out; the tray's "
         "drain stands open; the pump delivers far less than the settings say (table.pump_flow)",
         "compare the litres of `neap report` with what the tray can hold"}},
    AlarmExplanation{
        Alarm::fill_failed,
        {"The tray was not proven full within the fill limit, and the retries are spent. The pump "
         "stopped at the limit, and no flood starts until the latch is reset; a reset also forgets "
         "the fill time that neap had learnt.",
         "the pump's filter or the hose is clogged; the reservoir is too low for the pump; the "
         "tray's float sticks; table.fill_limit is too short for this pump and tray",
         "time one fill by hand with `neap flood start`; `neap water` shows how fill times moved"}},
    AlarmExplanation{
        Alarm::slow_drain,
        {"The tray was not empty within the drain limit. Floods stop, because the next one would "
         "come on top of what stands there, and roots under water suffocate.",
         "roots or medium in the screen of the drain; a drain valve that did not open; a kinked "
         "drain hose; the float that should fall sticks",
         "lift the screen and see the water run; `neap water` shows how drain times moved"}},
    AlarmExplanation{Alarm::pump_no_effect,
                     {"The pump was driven for its first seconds and neither level nor float "
                      "moved. neap stops it, and tries twice more, five minutes apart.",
                      "the pump has no power, or its plug or fuse is out; air stands in the pump "
                      "or the hose; the filter is clogged; the relay does not close",
                      "listen at the pump while you hold it running; `neap why pump` says whether "
                      "neap drives it"}},
    AlarmExplanation{
        Alarm::fill_slow,
        {"Fills take a quarter longer than what neap learnt of this tray. Floods go on, up to "
         "twice the learnt time.",
         "the pump's filter or impeller clogs; the hose is kinked or grows biofilm; the reservoir "
         "stands lower than it used to",
         "`neap water` shows fill times over weeks; `neap care done filter` after cleaning"}},
    AlarmExplanation{Alarm::reservoir_low,
                     {"The reservoir is at its minimum. No flood starts that would take it lower, "
                      "and a pump that runs stops.",
                      "plants and vapour took the water; a slow leak (`neap water` looks for one); "
                      "the level's sensor is off or its float sticks"}},
    AlarmExplanation{
        Alarm::pump_budget,
        {"The pump has run as long as table.pump_budget permits in an hour or in 24 h. It counts "
         "by the board's own tick, across restarts, whoever asked or pumped.",
         "floods by hand on top of the programme's; fills that take longer than they used to; a "
         "timer or a switch at the pump runs it; a budget that is smaller than the programme needs",
         "`neap status` shows the time used and the limit; `neap report` the pump's time of a "
         "day"}},
    AlarmExplanation{Alarm::leak_probe_fault,
                     {"A leak probe does not answer, or its wire is broken. What cannot be read "
                      "counts as wet: no water moves, but nothing is latched.",
                      "its plug came loose; its cable was cut or crushed; the driver's address "
                      "changed; the bus it hangs on is hung"}},
    AlarmExplanation{
        Alarm::leak_damp,
        {"A probe reads between dry and wet. A flood under way goes on; no new one starts.",
         "condensation on a cold floor; drops from plants or from service; a drip that has just "
         "begun",
         "look under the tray and along the hose with a dry cloth"}},
    AlarmExplanation{
        Alarm::float_fault,
        {"A float of tray or reservoir cannot be read, or says something that another sense "
         "contradicts. An unknown overflow float stops the pump; an unknown full float forbids a "
         "start, unless table.blind_sensor lets floods go by time.",
         "its plug or wire is loose; the float is stuck by scale, roots or its own guide; it is "
         "mounted upside down",
         "move the float by hand and see it change in `neap status`"}},
    AlarmExplanation{Alarm::flood_withheld,
                     {"A flood is due and something forbids it. It starts by itself when the cause "
                      "goes within its grace; else it is counted as missed.",
                      "service or quiet hours; a latch nobody has reset; the reservoir is low; a "
                      "probe that cannot be read; a part not yet commissioned",
                      "`neap` and `neap plan` name the cause"}},
    AlarmExplanation{
        Alarm::flood_missed,
        {"The grace of a planned flood ran out before it could begin. One that was missed a short "
         "while ago is made up for, once (catch_up_within); the roots' clock says how long they "
         "can wait.",
         "what withheld it (see flood-withheld); the board was off; the clock was not known",
         "`neap events --kind flood_skipped` names each one and its cause"}},
    AlarmExplanation{Alarm::roots_thirsty,
                     {"No flood has filled the tray for half of the time that the roots can wait, "
                      "which neap works out of medium, light and the air's dryness.",
                      "floods withheld or missed; fills that do not reach the medium; a medium set "
                      "in table that holds less water than the real one",
                      "`neap status` shows until when they are safe"}},
    AlarmExplanation{Alarm::roots_dry,
                     {"The whole time that the roots can wait is over. This is the only alarm of "
                      "the programme that calls at any hour.",
                      "the cause of the floods withheld before it, unattended for hours; a power "
                      "cut; a pump that fails silently",
                      "feel the medium: neap does not measure it"}},
    AlarmExplanation{
        Alarm::pump_welded,
        {"The pump's proof shows that it runs on after neap told it to stop, or one of its two "
         "contacts did not break the current. Everything that neap could do to stop it is done; a "
         "hand must do the rest.",
         "the relay's contact is welded by the motor's inrush; the proof's sensor hangs; the pump "
         "is fed from somewhere else",
         "size the new contact for the motor's inrush, and fit a second one (pump_series)"}},
    AlarmExplanation{Alarm::pump_in_hand,
                     {"The proof contradicts what neap tells the pump: it runs untold, or stands "
                      "though it is driven.",
                      "the switch at the pump is in hand; its plug is out or its fuse is gone; the "
                      "sensor of the proof (current, flow) fails",
                      "`neap why pump` shows what neap tells it"}},
    AlarmExplanation{
        Alarm::pump_off_auto,
        {"The contact of the pump's own switch (pump.auto) says that it is not in automatic, or "
         "cannot be read. Floods wait, and what a hand pumps is counted.",
         "somebody watered by hand and left the switch; the switch's contact or its wire is "
         "loose"}},
    AlarmExplanation{
        Alarm::not_ours_to_stop,
        {"Water is where it should not be and the pump is in another hand, which neap only "
         "observes: it can tell, and nothing else.",
         "the timer or the person who runs the pump does not see the leak",
         "then see the alarm that stands beside this one: leak, overflow or lost-water"}},
    AlarmExplanation{
        Alarm::slow_leak,
        {"Between floods, with the pump at rest, the level falls faster than the air can take it. "
         "It takes hours to days of standing water to be sure of a small one.",
         "a weeping fitting or tank; water siphons back through the hose into the tray; a probe "
         "that drifts with its temperature; somebody draws water",
         "`neap water` gives litres a day and how sure it is"}},
    AlarmExplanation{Alarm::contact_chatters,
                     {"A float or probe changes more than ten times a minute. Each dangerous edge "
                      "acts; the safe ones are believed only after they held.",
                      "waves or bubbles at the float; a loose plug; a cable beside a motor's; a "
                      "reed at the edge of its magnet"}},
    AlarmExplanation{
        Alarm::unproven,
        {"The programme's floods wait, because a part of the water has not been seen to work as it "
         "is wired today. Another driver or address in the settings asks for its test again.",
         "a new tent; settings that move a part to another pin; a state file that was lost",
         "`neap status` lists each test with its date"}},
    AlarmExplanation{Alarm::proof_due,
                     {"A part was last tested longer ago than the settings want. Floods go on.",
                      "a month went by"}},
    AlarmExplanation{Alarm::request_denied,
                     {"The interlocks denied a request for the pump that no part of neapd should "
                      "have made. Nothing was driven.",
                      "a fault of the program; memory that is broken",
                      "`neap events --since 1h` shows what came before"}},
    AlarmExplanation{
        Alarm::state_lost,
        {"Both copies of the state file were unreadable or older than the journal: what the pump "
         "has run and which latches stood is not known, so floods stay off.",
         "a backup was restored; the card failed or was pulled; the state directory was deleted or "
         "changed by hand; a first start over an old journal",
         "`neap events` of the last day tells which latches stood"}},
    AlarmExplanation{
        Alarm::state_unsaved,
        {"What must survive a crash cannot be written: the pump's time is debited before each "
         "start, so no flood starts.",
         "the disk is full; the card went read-only; the state directory belongs to another user"}},
    AlarmExplanation{
        Alarm::ph_off_band,
        {"The pH, by its probe or by the last hand measurement of three days, is out of the "
         "stage's band.",
         "plants take up ions unevenly; a top-up of hard water; the probe drifts or is dirty; "
         "solution that was mixed otherwise than reckoned",
         "`neap mix ph` reckons the step; `neap measure` shows the last figures beside the probe"}},
    AlarmExplanation{Alarm::ph_far_off,
                     {"The pH is so far out that roots take up little or are harmed.",
                      "a dose too many; a probe that is dry, cracked or out of calibration; a "
                      "reservoir nearly empty, where every drop counts",
                      "rinse the probe and hold it in a standard before you dose"}},
    AlarmExplanation{
        Alarm::ec_off_band,
        {"The conductivity, by its probe or the last hand measurement, is out of the stage's band.",
         "water went and salts stayed, or the other way round; a top-up that was not reckoned; a "
         "probe that drifts or is coated",
         "`neap water` shows EC times litres: whether salt or water is missing"}},
    AlarmExplanation{Alarm::ec_far_off,
                     {"The conductivity is so far out that roots dry out in water or starve.",
                      "stock dosed twice; a refill with plain water; a probe out of the water",
                      "see that the probe hangs in the solution and no bubble sits in it"}},
    AlarmExplanation{
        Alarm::water_off_band,
        {"The solution is warmer or colder than the stage's band.",
         "the room; a pump or an air pump that warms the water; a reservoir in the lamp's light; a "
         "heater or chiller that fails",
         "`neap why water_heater` and `neap why water_chiller` say what keeps them off"}},
    AlarmExplanation{
        Alarm::water_far_off,
        {"The solution is far out of its band.",
         "a heat wave or a cold floor; a heater that stays on; a chiller that ices or has no air",
         "see that the air pump runs: warm water has little oxygen to lose"}},
    AlarmExplanation{Alarm::water_too_hot,
                     {"The water is above water.hottest. The heater is off whoever asks, under a "
                      "hand's hold too.",
                      "a heater's relay or thermostat that is welded; the lamp or the room heats "
                      "the reservoir; a probe that lies on the heater"}},
    AlarmExplanation{Alarm::level_off_band,
                     {"The reservoir's level is out of the stage's band; floods still go while it "
                      "is above its minimum.",
                      "plants drank; a slow leak; a top-up that was too much; water siphoned back "
                      "from the tray"}},
    AlarmExplanation{
        Alarm::hand_check_due,
        {"The stage has targets for the solution, no probe speaks of one of them, and nobody has "
         "measured for longer than the settings say.",
         "the day's check was left out; a probe fell silent, so that a hand must step in"}},
    AlarmExplanation{
        Alarm::calibration_due,
        {"A probe of pH or EC was last calibrated longer ago than the settings want, or never.",
         "weeks went by; another probe or address voids the calibration; the state file was lost"}},
    AlarmExplanation{Alarm::change_due,
                     {"The solution is as old as the settings let it become.",
                      "days went by; a change was made and not told (`neap service change`)"}},
};

}  // namespace

std::span<const AlarmExplanation> explained_water_alarms() { return kRows; }

}  // namespace neap::words
