"""The ways in which tests/mutations/run breaks the core. `old` must stand in the file exactly once."""
from dataclasses import dataclass


@dataclass(frozen=True)
class Mutation:
    name: str
    why: str   # what the mutant gets wrong
    file: str
    old: str
    new: str
    test: str  # of core_tests, as --gtest_filter takes it


INTERLOCK = "daemon/core/interlock.cpp"
FLOOD = "daemon/core/flood.cpp"
STEP_TEST = "daemon/core/step_test.cpp"
EVERY_TRIP = "InterlockBattery.EveryTripForcesItsOutputsSafeUnderAnyDemand"


def trip(name, condition):
    """One trip of the pump that never holds."""
    return Mutation(name, f"the pump is not tripped by {condition}", INTERLOCK,
                    "[](auto& in) { return in." + condition + "; }",
                    "[](auto& in) { return in." + condition + " && false; }", EVERY_TRIP)


MUTATIONS = [
    Mutation("trip_leak", "a wet probe does not trip the pump", INTERLOCK,
             "kPumpRules{\n    Rule{Effect::trip, Reason::leak_wet, "
             "[](auto& in) { return in.leak == LeakSeen::wet; }},",
             "kPumpRules{\n    Rule{Effect::trip, Reason::leak_wet, "
             "[](auto& in) { return in.leak == LeakSeen::wet && false; }},", EVERY_TRIP),
    Mutation("trip_overflow", "the overflow float neither trips nor latches", INTERLOCK,
             "set(state, Latch::tray_overflow, in.tray_high == FloatSeen::set);", "",
             "InterlockBattery.EachLatchIsSetByItsOwnCauseAndNoOther"),
    trip("trip_reservoir_low", "reservoir == LevelSeen::low"),
    trip("trip_reservoir_unknown", "reservoir == LevelSeen::unknown && !in.timed"),
    trip("trip_service", "service"),
    trip("trip_run_expired", "run_expired"),
    trip("trip_budget_cycle", "budget_cycle_spent"),
    trip("trip_budget_hour", "budget_hour_spent"),
    trip("trip_budget_day", "budget_day_spent"),
    Mutation("trip_becomes_inhibit", "the leak stops new floods and not the one under way",
             INTERLOCK,
             "kPumpRules{\n    Rule{Effect::trip, Reason::leak_wet,",
             "kPumpRules{\n    Rule{Effect::inhibit, Reason::leak_wet,",
             "ScanStories.AWetProbeStopsThePumpInTheScanThatSeesItAndLatches"),
    Mutation("leak_not_latched", "a leak that dries lets the pump start again", INTERLOCK,
             "set(state, Latch::leak, in.leak_confirmed);", "",
             "ScanStories.AResetIsRefusedWhileWetAndGrantedWhenDryAndAckAloneClearsNothing"),
    Mutation("reset_while_wet", "`reset` asks for no proof", INTERLOCK,
             "if (!cause_is_over(in, latch)) return", "if (!cause_is_over(in, latch) && false) return",
             "InterlockReset.LeakAndLostWaterAskForAProbeThatIsProvenDry"),
    Mutation("ack_clears_latch", "`ack` clears every latch", "daemon/core/operator.cpp",
             "void take_ack(State& state, const Request& request) {",
             "void take_ack(State& state, const Request& request) {\n  state.kept.kernel = {};",
             "ScanMemory.AcknowledgingADryLeakLeavesItsLatch"),
    Mutation("latch_lost_at_restart", "latches do not outlive a restart", "daemon/core/scan.cpp",
             "forfeit_run(state.kept.budget);",
             "forfeit_run(state.kept.budget);\n  state.kept.kernel = {};",
             "ScanStories.ALatchSurvivesARestart"),
    Mutation("fill_limit_lost", "a fill without proof goes on", FLOOD,
             "if (elapsed >= proof::fill_limit(table_, learnt_, in_)) return fill_ran_out();",
             "if (elapsed < Millis{0}) return fill_ran_out();",
             "FloodLostWater.AReservoirThatFellWithoutFillingTheTrayIsALeakAtTheLimit"),
    Mutation("lost_water_unnoticed", "more than the tray can hold may leave the reservoir",
             "daemon/core/flood_proof.cpp", "return fell && *fell > most;",
             "return fell && *fell > 1000 * most;",
             "FloodLostWater.MoreThanTheTrayCanHoldStopsThePumpBeforeTheLimit"),
    Mutation("soak_without_limit", "the roots' limit does not bound the soak",
             "daemon/core/flood_proof.cpp",
             "std::min({in.soak, table.soak_limit, Millis{limits::kSoakCeiling}})", "in.soak",
             "FloodCycle.*"),
    Mutation("drain_limit_lost", "a tray that stays full is never told", FLOOD,
             "state_.drain_expired = how == proof::Drained::no;", "state_.drain_expired = false;",
             "ScanStories.ABlockedDrainLatchesAndWithholdsTheNextFlood"),
    Mutation("no_gap_between_floods", "min_gap is not kept", FLOOD,
             "if (resting && refused.reason", "if (false && resting && refused.reason", "Flood*"),
    Mutation("leaf_vpd_sign", "the leaf's deficit has the wrong sign",
             "daemon/core/psychrometrics.cpp", "Kilopascal{e0(leaf) - ea_of(air, rh)}",
             "Kilopascal{ea_of(air, rh) - e0(leaf)}",
             "Psychrometrics.AColderLeafHasLessDeficitAndAWarmerOneMore"),
    Mutation("law_sign", "the fan dries a dry tent", "daemon/core/two_position_law.cpp",
             "memo.drying_wanted = memo.vpd < (", "memo.drying_wanted = memo.vpd > (",
             "TwoPosition.FanGoesUpUnderTheLowThresholdAndStaysUntilTheMiddle"),
    Mutation("budget_not_debited", "a run costs nothing until it ends", "daemon/core/budget.cpp",
             "budget.hour_ms[bucket(hour_of(now))] += run.count();", "",
             "ScanStories.APumpBudgetDebitedBeforeACrashStaysSpent"),
    Mutation("budget_credited_whole", "a run that ends costs nothing", "daemon/core/budget.cpp",
             "-= run.ms - used;", "-= run.ms;",
             "ScanStories.TheDailyBudgetFreesItselfAfterADayAndNotBefore"),
    Mutation("dwell_in_seconds", "milliseconds are taken for seconds: the dwell is a thousandth",
             "daemon/core/dwell.cpp",
             "if (dwell.changed_known && now < dwell.changed + (start ? plan.min_off : plan.min_on))",
             "if (dwell.changed_known &&\n      now < dwell.changed + (start ? plan.min_off : "
             "plan.min_on) / 1000)",
             "ScanStories.ACompressorKeepsItsDwellAcrossARestart"),
    Mutation("slot_fired_twice", "a slot that was used is due again", "daemon/core/schedule.cpp",
             "if (start.origin == FloodOrigin::slot) {\n    set_used(state.kept, start.slot);",
             "if (start.origin == FloodOrigin::slot) {",
             "ScanStories.ADayOfTheProgrammeFloodsFourTimesAndDrainsEachTime"),
    Mutation("slots_of_the_past_fire", "a clock that goes back repeats floods",
             "daemon/core/schedule.cpp",
             "return date > kept.slots_date ? 0 : ~std::uint64_t{0};", "return 0;",
             "ScanMemory.AWallClockThatGoesBackByDaysRepeatsNoFlood"),
    Mutation("stale_accepted", "the last value counts for ever", "daemon/core/watch.cpp",
             "if (age >= plan.bad_after)", "if (false)",
             "ScanStories.WithoutACanopyReadingTheFanFallsBackAndTheDehumidifierStops"),
    Mutation("unproven_outputs_drive", "outputs move before their safe levels are proven",
             INTERLOCK, "if (!in.outputs_proven || !in.first_inputs_seen) {", "if (false) {",
             "ScanStories.NothingLeavesItsSafeStateBeforeOutputsAreProvenAndInputsSeen"),
    Mutation("hold_without_end", "an operator's hold never expires", "daemon/core/operator.cpp",
             "if (!hold.active || now < hold.until) continue;",
             "if (true || !hold.active || now < hold.until) continue;",
             "ScanStories.AHoldExpiresByItself"),
    Mutation("step_test_under_alarm", "a step test goes on while an alarm stands", STEP_TEST,
             "row.priority > Priority::advisory && stands", "false && stands",
             "StepTestStories.WhateverComesToSpeakAgainstItEndsItWithThatReason"),
    Mutation("step_test_cut_off_untold", "a restart swallows a step test", STEP_TEST,
             "if (!state.kept.step_test) return;", "return;",
             "StepTestStories.AfterARestartTheTestIsOverAndSaysSo"),
    Mutation("roots_silent", "a crop that wilts behind a latch is nobody's alarm",
             "daemon/core/conditions.cpp", "want && roots_time_over(plan, state)", "false",
             "RootsStories.AWithheldFloodTellsItsDeadlineAndEscalatesByHalfAndByWhole"),
    Mutation("roots_by_night_as_by_day", "the dark costs the roots as much as the light",
             "daemon/core/roots.cpp", "vpd_part(kpa) * kDarkPart / kWhole", "vpd_part(kpa)",
             "RootsStories.DryAirUsesTheTimeUpFasterAndTheNightSlower"),
    Mutation("roots_stop_with_the_power", "an outage costs the roots nothing",
             "daemon/core/roots.cpp", ".count() * kDarkPart;", ".count() * 0;",
             "RootsStories.TheClockSurvivesARestartAndCountsTheOutageByTheWallClock"),
    Mutation("cut_slot_untold", "a slot cut off by a trip counts as watered", "daemon/core/asks.cpp",
             "state.kept.flood_missed = true;", "state.kept.flood_missed = false;",
             "RootsStories.ASlotCutOff*"),
    Mutation("hold_eats_slots", "a pump held stopped spends the slots of its time",
             "daemon/core/scan.cpp", "!inputs.safe_mode && !held_off;", "!inputs.safe_mode;",
             "LostFloods.APumpHeldStoppedWithholdsTheSlotAloudAndEatsNone"),
    Mutation("future_page_kept", "a clock that jumped ahead once withholds floods until then",
             "daemon/core/schedule.cpp", "if (ahead <= kWildDays && !jumped) return;",
             "if (ahead <= kWildDays || (ahead < 0 && jumped)) return;",
             "LostFloods.AClockThatJumpsAheadByDaysAndComesBackWithholdsNothing"),
    Mutation("gap_counted", "the hour that summer time leaves out makes floods late",
             "daemon/core/schedule.cpp", "if (!stepped) note_gap(state, wall);",
             "if (false && !stepped) note_gap(state, wall);",
             "LostFloods.ASlotInTheHourThatSummerTimeLeavesOutIsOnTime"),
    Mutation("early_full_believed", "a float that hangs makes a whole flood of a litre", FLOOD,
             "if (full != proof::Full::credible && !lasts) return;\n  state_.float_doubtful = full "
             "== proof::Full::against_the_level;",
             "if (full != proof::Full::credible && false && !lasts) return;\n"
             "  state_.float_doubtful = false;",
             "LostFloods.AFloatThatHangsEarlyStopsThePumpAndIsNotBelieved"),
    Mutation("siphon_unseen", "what leaves the reservoir under a standing pump is not looked at",
             "daemon/core/flood_still.cpp", "return *before - level;", "return std::nullopt;",
             "LostFloods.WaterThatLeavesTheReservoirWhileThePumpStandsLatches"),
    Mutation("timed_past_two_blind_sensors", "floods by time need nothing that vouches for them",
             "daemon/core/conditions.cpp", "if (tray_blind == reservoir_blind) return false;",
             "if (!tray_blind && !reservoir_blind) return false;",
             "BlindPolicy.TimedNeverPassesAWetOrSilentProbeNorTwoBlindSensors"),
]
