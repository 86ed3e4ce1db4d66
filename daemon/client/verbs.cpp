#include "daemon/client/verbs.h"

#include <CLI/CLI.hpp>
#include <array>

namespace neap::client {
namespace {

// --- shapes: the words and options of a verb ----------------------------------------------------

void bare(CLI::App&, Arguments&) {}

// The words of a verb: the first by its name, `rest` as help shows what may follow it.
void words(CLI::App& app, Arguments& args, const char* name, const char* rest, const char* about,
           int least) {
  CLI::Option* option = app.add_option(name, args.words, about)->expected(least, 64);
  option->type_name("")->option_text(rest);
  if (least > 0) option->required();
}

void explain(CLI::App& app, Arguments& args) {
  words(app, args, "NAME", "", "alarm, latch, refusal or fault; without: a list", 0);
  app.add_flag("--narrow", args.narrow, "42 columns, for a telephone");
}
void output(CLI::App& app, Arguments& args) {
  words(app, args, "OUTPUT", "", "such as pump, or fan for the exhaust fan", 1);
}
void start_stop(CLI::App& app, Arguments& args) {
  words(app, args, "ACTION", "", "start or stop", 1);
}
void hold(CLI::App& app, Arguments& args) {
  words(app, args, "OUTPUT", "LEVEL [for LENGTH]", "stopped, running, closed, open or 45%; to 4 h",
        1);
}
void alarm(CLI::App& app, Arguments& args) { words(app, args, "ALARM", "", "its name, or all", 1); }
void shelf(CLI::App& app, Arguments& args) {
  words(app, args, "ALARM", "for LENGTH", "8 h at most", 1);
}
void latch(CLI::App& app, Arguments& args) {
  words(app, args, "LATCH", "", "as `neap status` names it", 1);
}
void service(CLI::App& app, Arguments& args) {
  words(app, args, "ACTION", "[for LENGTH]",
        "begin (20 to 60 min), end; topup, change, plants, clean", 1);
}
void stage(CLI::App& app, Arguments& args) {
  words(app, args, "NAME", "", "as the settings name it", 1);
}
void step_test(CLI::App& app, Arguments& args) {
  words(app, args, "OUTPUT", "", "fan (30 min by day), dehumidifier (1 h by night), or stop", 1);
}
void fault(CLI::App& app, Arguments& args) {
  words(app, args, "FAULT", "on|off", "`neap fault` alone lists them", 0);
  app.add_option("--severity", args.severity, "0 to 1, default 1");
}
void measure(CLI::App& app, Arguments& args) {
  words(app, args, "VALUE", "...", "ph=5.9, ec= (mS/cm), level= (L), water= (C); at=07:30", 0);
  app.add_option("--note", args.note, "a remark, up to 256 bytes");
  CLI::Option* correct =
      app.add_option("--correct", args.correct, "NUMBER of a measurement that was told wrongly");
  app.add_option("--withdraw", args.withdraw, "NUMBER of one that is none; say why with --note")
      ->excludes(correct);
}
void file(CLI::App& app, Arguments& args) {
  words(app, args, "FILE", "", "default: the settings in force", 0);
}
void away(CLI::App& app, Arguments& args) { words(app, args, "LENGTH", "", "1d to 60d", 0); }
void calibrate(CLI::App& app, Arguments& args) {
  words(app, args, "PROBE", "STANDARD=SHOWN ...",
        "ph or ec, and what it shows uncorrected in which bottle", 0);
}
void commission(CLI::App& app, Arguments& args) {
  words(app, args, "TEST", "...", "only these, such as pump or leak_floor; default: all", 0);
}
void draft(CLI::App& app, Arguments& args) {
  words(app, args, "FILE", "", "what to write, default tent.yaml", 0);
  app.add_flag("--overwrite", args.overwrite, "write over a file that exists");
}
void probe(CLI::App& app, Arguments& args) {
  words(app, args, "FILE", "", "settings whose parts to look for; default: in force", 0);
  app.add_option("--root", args.root, "look below this folder, such as a mounted card's");
}
void plan(CLI::App& app, Arguments& args) {
  file(app, args);
  app.add_option("--days", args.days, "1 to 60, default 2");
  app.add_option("--from", args.from, "local date or time, default now");
}
// How records are printed, and that more of them are waited for.
void records(CLI::App& app, Arguments& args) {
  app.add_flag("--follow", args.follow, "go on with what comes, until Ctrl-C");
  app.add_flag("--csv", args.csv, "for spreadsheets, R and pandas");
  app.add_flag("--lines", args.lines, "one JSON object a line");
}
void events(CLI::App& app, Arguments& args) {
  app.add_option("--since", args.since, "2h before the newest entry, yesterday, lights-on, a date");
  app.add_option("--until", args.until, "likewise; default the newest entry");
  app.add_option("--kind", args.kind, "such as alarm,flood_ended,actuation,request");
  app.add_option("--about", args.about, "an output, point, alarm or latch, such as pump");
  app.add_option("--limit", args.limit, "the newest so many; default 50, with --since all");
  records(app, args);
}
void readings(CLI::App& app, Arguments& args) {
  words(app, args, "POINT", "...", "such as canopy.vpd room.vpd; without: a table of all", 0);
  app.add_option("--since", args.since, "as of events; default 1h of a point, 24h of all");
  app.add_option("--until", args.until, "as of events; default the newest entry");
  app.add_option("--every", args.every, "means over so long, such as 10m");
  app.add_option("--limit", args.limit, "the newest so many; default 2000, of --csv all");
  records(app, args);
}
void take_out(CLI::App& app, Arguments& args) {
  words(app, args, "FOLDER", "", "that is not there yet", 1);
  app.add_option("--since", args.since, "as of events; default all there is");
  app.add_option("--until", args.until, "as of events; default the newest entry");
}
void backup(CLI::App& app, Arguments& args) {
  words(app, args, "DIR", "", "where backups are kept; default STATE_DIR/backup", 0);
  app.add_option("--keep", args.keep, "remove all but the newest so many, 1 to 1000");
}
void restore(CLI::App& app, Arguments& args) {
  words(app, args, "BACKUP", "", "a folder neap-DATE that `neap backup` made", 1);
  app.add_option("--to", args.to, "into this new folder, beside everything");
  app.add_flag("--over-newer", args.over_newer, "though what is here goes on after the backup");
}
void chart(CLI::App& app, Arguments& args) {
  words(app, args, "POINT", "...", "such as canopy.vpd room.vpd; default the VPD of the band", 0);
  app.add_option("--since", args.since, "as of events; default 24h before the end");
  app.add_option("--until", args.until, "as of events; default the newest entry");
  app.add_option("--svg", args.svg, "draw it into this file too, NAME.svg");
  app.add_flag("--ascii", args.ascii, "for a terminal that shows no UTF-8");
  app.add_flag("--narrow", args.narrow, "42 columns, for a telephone");
}
void report(CLI::App& app, Arguments& args) {
  words(app, args, "SPAN", "", "day, week or grow; default day", 0);
  CLI::Option* day = app.add_option("--day", args.day, "the photoperiod of that lights-on");
  app.add_option("--since", args.since, "as of events; default 1d")->excludes(day);
  app.add_option("--until", args.until, "as of events; default the newest entry")->excludes(day);
  app.add_option("--html", args.html, "write it with curves into this file too, NAME.html");
}
void simulate(CLI::App& app, Arguments& args) {
  file(app, args);
  app.add_option("--days", args.days, "1 to 400, default 1");
  app.add_option("--from", args.from, "local date or time; default the first lights-on");
  app.add_option("--seed", args.seed, "of weather, noise and plant; default the settings'");
  app.add_option("--law", args.law, "climate law; default the settings'");
  app.add_option("--journal", args.keep_journal, "keep the journal in this new file");
  app.add_option("--hands", args.hands, "hand measurements: day 3 08:15 measure ph=5.9");
  app.add_option("--svg", args.svg, "draw the span into this file, NAME.svg");
  app.add_flag("--confirm-stages", args.confirm_stages,
               "a simulated grower confirms each stage on its day");
  app.add_flag("--beside-fixed-fan", args.beside_fixed_fan,
               "run again with the fan at one level, and compare");
  app.add_flag("--speed-report", args.speed_report, "say how fast the run was");
  app.add_flag("--quiet", args.quiet, "no progress bar");
}

void size(CLI::App& app, Arguments& args) {
  file(app, args);
  app.add_option("--of", args.of, "only of dehumidifier, humidifier or fan");
  app.add_option("--room", args.room, "air of the room of a real tent, such as 21C,55%");
  app.add_option("--days", args.days, "1 to 14 for each size, after one to settle; default 2");
  app.add_option("--from", args.from, "local date; default in the longest stage");
  app.add_flag("--quiet", args.quiet, "no progress bar");
}

void water(CLI::App& app, Arguments& args) {
  app.add_option("--to", args.to, "as it was then: 7d before the newest entry, or a date");
  app.add_flag("--narrow", args.narrow, "42 columns, for a telephone");
}

void mix(CLI::App& app, Arguments& args) {
  words(app, args, "WHAT", "FIGURE=...", "fresh, topup or ph; level, ec, ph, to, target", 1);
  app.add_flag("--narrow", args.narrow, "42 columns, for a telephone");
}

void grow(CLI::App& app, Arguments& args) {
  words(app, args, "ACTION", "...", "start, note, harvest, end, list, show, compare, withdraw", 0);
  app.add_flag("--narrow", args.narrow, "42 columns, for a telephone");
}

void care(CLI::App& app, Arguments& args) {
  words(app, args, "ACTION", "PART ...", "done and a PART, or withdraw NUMBER WHY", 0);
  app.add_flag("--narrow", args.narrow, "42 columns, for a telephone");
}
void turnover(CLI::App& app, Arguments& args) {
  words(app, args, "ACTION", "", "list: which steps are done and which were left out", 0);
  app.add_flag("--narrow", args.narrow, "42 columns, for a telephone");
}
void weekly(CLI::App& app, Arguments& args) {
  words(app, args, "ACTION", "", "list: what was seen last", 0);
  app.add_flag("--narrow", args.narrow, "42 columns, for a telephone");
}

void identify(CLI::App& app, Arguments& args) {
  app.add_option("--from", args.from, "7d before the newest entry, or a date; default 7d");
  app.add_option("--to", args.to, "likewise; default the newest entry");
  app.add_flag("--probes-agree", args.probes_agree,
               "canopy and room humidity were compared side by side");
}

void tell(CLI::App& app, Arguments& args) {
  words(app, args, "ACTION", "", "try: start every hook now; run: what the service does", 0);
  app.add_flag("--narrow", args.narrow, "42 columns, for a telephone");
}

constexpr std::array kVerbs{
    Verb{"status", "view", "everything that matters now, on one page", "status\nstatus --json",
         bare, do_status},
    Verb{"watch", "view", "a live screen: air, water, outputs, alarms, curves", "watch", bare,
         do_watch},
    Verb{"why", "view", "why an output is so: who asked, who won, what was refused",
         "why pump\nwhy exhaust_fan", output, do_why},
    Verb{"explain", "-", "what an alarm or refusal means, and what to check",
         "explain\nexplain lost-water\nexplain cause_persists\nexplain exit-3", explain,
         do_explain},
    Verb{"plan", "-", "coming floods, lights and targets",
         "plan\nplan --days 7\nplan config/demo.yaml --from 2026-06-01", plan, do_plan},
    Verb{"events", "-", "what happened, from the journal",
         "events\nevents --since yesterday --kind alarm,latch_set\nevents --about pump --since "
         "lights-on\n"
         "events --follow\nevents --since 2026-06-01 --csv > events.csv",
         events, do_events},
    Verb{"readings", "-", "what was measured, from the journal",
         "readings\nreadings canopy.vpd --since 6h --every 10m\nreadings canopy.vpd room.vpd "
         "--follow\n"
         "readings canopy.vpd room.vpd --since 7d --every 1h --csv > week.csv",
         readings, do_readings},
    Verb{"export", "-", "a span as CSV files with a data dictionary",
         "export july --since 2026-07-01 --until 2026-08-01\nexport grow --since 90d", take_out,
         do_export},
    Verb{"backup", "-", "journal, state and settings into a folder, neapd running",
         "backup\nbackup /mnt/stick --keep 14", backup, do_backup},
    Verb{"restore", "-", "a backup back into its place, while neapd is stopped",
         "restore /mnt/stick/neap-20261127T033000Z\n"
         "restore /mnt/stick/neap-20261127T033000Z --to /tmp/drill",
         restore, do_restore},
    Verb{"chart", "-", "readings as curves with their band, floods and alarms",
         "chart\nchart canopy.vpd room.vpd --since 7d\n"
         "chart solution.ph --since 2026-06-01 --until 2026-06-08 --svg ph.svg",
         chart, do_chart},
    Verb{"report", "-", "a day or more summed up, from the journal",
         "report\nreport --day 2026-06-01\nreport week --html week.html\nreport grow", report,
         do_report},
    Verb{"water", "-", "where the water went: losses, leaks, fill and drain, EC",
         "water\nwater --narrow\nwater --to 2026-06-01", water, do_water},
    Verb{"mix", "-", "what to mix: a fresh reservoir, a top-up, a step of pH",
         "mix fresh to=50 target=1.3\nmix topup to=55 target=1.3\n"
         "mix topup level=38 ec=1.9 to=55 target=1.4\nmix ph target=5.9 --narrow",
         mix, do_mix},
    Verb{"identify", "-", "what the journal says of the tent: air, water, devices",
         "identify\nidentify --from 3d --probes-agree\nidentify --from 2026-06-01 --to 2026-06-08",
         identify, do_identify},
    Verb{"flood", "operate", "start a flood now, or stop the one under way",
         "flood start\nflood stop", start_stop, do_flood},
    Verb{"hold", "operate", "hold an output at a level for a while",
         "hold exhaust_fan 45% for 10m\nhold light stopped for 1h\nhold drain_valve open", hold,
         do_hold},
    Verb{"release", "operate", "end a hold before its time", "release exhaust_fan", output,
         do_release},
    Verb{"alarms", "view", "alarms and what to do about them", "alarms", bare, do_alarms},
    Verb{"ack", "operate", "acknowledge an alarm; it stays until its cause is gone",
         "ack reservoir_low\nack all", alarm, do_ack},
    Verb{"shelve", "operate", "silence an alarm for a while", "shelve spread for 2h", shelf,
         do_shelve},
    Verb{"reset", "operate", "clear a latch, once its cause is gone", "reset leak", latch,
         do_reset},
    Verb{"service", "operate", "declare work at the tent: floods wait, alarms are mute",
         "service begin\nservice begin for 40m\nservice end\nservice change for 50m", service,
         do_service},
    Verb{"stage", "operate", "confirm the next stage, or go to another", "stage fruiting", stage,
         do_stage},
    Verb{"step-test", "operate", "step the fan or the dehumidifier, for identify to weigh",
         "step-test fan\nstep-test dehumidifier\nstep-test stop", step_test, do_step_test},
    Verb{"measure", "operate", "note what you measured by hand; works while neapd is down",
         "measure ph=5.9 ec=1.6\nmeasure level=62 water=20.5 --note \"after top-up\"\n"
         "measure ph=5.9 at=yesterday 19:10 photo=roots.jpg\nmeasure ph_down=3 topup=6\n"
         "measure --correct 41 ph=6.0",
         measure, do_measure},
    Verb{"check-in", "operate", "the numbers of the day, with the last beside each",
         "check-in\ncheck-in < answers", bare, do_check_in},
    Verb{"grow", "operate", "a grow's record: start, notes, harvest, end, comparison",
         "grow\ngrow start june-basil basil plants=12\ngrow note first true leaves\n"
         "grow harvest 840g good the lower shoots\ngrow show\ngrow compare june-basil may-basil",
         grow, do_grow},
    Verb{"care", "operate", "what wears or fills up, and what of it is due",
         "care\ncare done filter\ncare done air_stone the blue one at=yesterday 19:10", care,
         do_care},
    Verb{"weekly", "operate", "the looks of a week, one by one, and what was seen",
         "weekly\nweekly list\nweekly < answers", weekly, do_weekly},
    Verb{"turnover", "operate", "between grows: archive, disinfect, rinse, probes, proofs",
         "turnover\nturnover list\nturnover < answers", turnover, do_turnover},
    Verb{"away", "view", "may the tent be left alone, and what to do first", "away 6d\naway 2w",
         away, do_away},
    Verb{"calibrate", "operate", "a probe by its standards: what it shows in which bottle",
         "calibrate\ncalibrate ph\ncalibrate ph 7=6.91 4=4.05 temperature=21\n"
         "calibrate ph 7=6.91 4=4.05 10=9.80\ncalibrate ec 1413=1.38",
         calibrate, do_calibrate},
    Verb{"tell", "-", "who was told what, and what waits; a trial of each way",
         "tell\ntell try\ntell run", tell, do_tell},
    Verb{"fault", "administer", "make a simulated tent fail",
         "fault list\nfault leak on --severity 0.3\nfault leak off", fault, do_fault},
    Verb{"draft", "-", "ask ten questions and write a first settings file",
         "draft\ndraft tent.yaml\ndraft tent.yaml --overwrite < answers", draft, do_draft},
    Verb{"probe", "-", "which chips, lines and buses are here, and what to set",
         "probe\nprobe tent.yaml\nprobe --json", probe, do_probe},
    Verb{"commission", "operate", "walk through the tests that water needs, part by part",
         "commission\ncommission leak_floor tray_high\ncommission < answers", commission,
         do_commission},
    Verb{"check", "-", "look for problems in a settings file", "check\ncheck config/demo.yaml",
         file, do_check},
    Verb{"apply", "administer", "check settings, show what changes, put them in force",
         "apply\napply /etc/neap/tent.yaml", file, do_apply},
    Verb{"simulate", "-", "simulate a tent on a clock that jumps, and report",
         "simulate config/demo.yaml\nsimulate config/demo.yaml --days 90 --confirm-stages\n"
         "simulate config/demo.yaml --beside-fixed-fan\n"
         "simulate config/demo.yaml --law predictive --svg day.svg",
         simulate, do_simulate},
    Verb{"size", "-", "which dehumidifier, humidifier and fan a tent needs",
         "size config/demo.yaml\nsize config/demo.yaml --of dehumidifier --from 2026-05-01\n"
         "size /etc/neap/tent.yaml --room 21C,55%",
         size, do_size},
    Verb{"version", "-", "which version this is", "version", bare, do_version},
};

}  // namespace

std::span<const Verb> verbs() { return kVerbs; }

}  // namespace neap::client
