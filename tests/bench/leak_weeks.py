#!/usr/bin/env python3
"""Leaks found through the whole daemon: settings, tent, core, journal, `neap water`.

    leak_weeks.py BUILD [--weeks N]

N weeks (default 10) are lived through twice, each with its own seed: once with a leak of 100 mL/h
that begins on the fourth day, at another hour each week, and once without one. Conditions: the
simulated tent of config/grow.yaml, three floods a day, level read every ten seconds and journalled
by the minute, nothing learnt before the week. A leak counts as found when `neap water` flagged it
within 48 h of its beginning; anything flagged before it, or in a week without one, is a false
alarm. Ends with 1 where fewer than nine of ten were found, or over one false alarm was raised.
"""
import json
import os
import subprocess
import sys
import tempfile

ROOT = os.path.dirname(os.path.dirname(os.path.dirname(os.path.abspath(__file__))))
HOUR_MS = 3_600_000
FIRST_HOUR, FOUND_WITHIN_H = 72, 48
SEVERITY = 0.5  # of reservoir_seeps: 10 mL/h * 100^0.5 (drivers/simulated/plant.cpp)


def settings(leak_at_h):
    with open(os.path.join(ROOT, "config", "grow.yaml"), encoding="utf-8") as file:
        text = file.read()
    head = text[:text.index("  faults:\n")]
    fault = "" if leak_at_h is None else (
        f"  faults:\n    - {{fault: reservoir_seeps, at: {leak_at_h} h, severity: {SEVERITY}}}\n")
    return head + fault + "\nend: true\n"


def live(build, folder, seed, leak_at_h):
    """Hours from the beginning at which something was flagged, with the rate that was told."""
    path = os.path.join(folder, "week.yaml")
    journal = os.path.join(folder, f"{seed}-{leak_at_h}.db")
    with open(path, "w", encoding="utf-8") as file:
        file.write(settings(leak_at_h))
    neap = os.path.join(build, "neap")
    subprocess.run([neap, "simulate", path, "--days", "7", "--seed", str(seed), "--quiet",
                    "--journal", journal], check=True, stdout=subprocess.DEVNULL)
    told = json.loads(subprocess.run([neap, "water", "--journal", journal, "--settings", path,
                                      "--json"], check=True, capture_output=True).stdout)
    first = told["from"]["tick"]
    os.remove(journal)
    return [((leak["flagged"]["tick"] - first) / HOUR_MS, leak["l_per_h"])
            for leak in told["leaks"]]


def main():
    words = sys.argv[1:]
    build = words[0]
    weeks = int(words[2]) if words[1:2] == ["--weeks"] else 10
    found, false = [], 0
    with tempfile.TemporaryDirectory() as folder:
        for week in range(weeks):
            seed, leak_at_h = 101 + week, FIRST_HOUR + 5 * week % 24
            flags = live(build, folder, seed, leak_at_h)
            false += sum(at < leak_at_h for at, _ in flags)
            after = [(at - leak_at_h, rate) for at, rate in flags if at >= leak_at_h]
            dry = live(build, folder, seed, None)
            false += len(dry)
            line = "not found" if not after else (
                f"found after {after[0][0]:4.1f} h as {after[0][1] * 1000:3.0f} mL/h")
            print(f"week {week + 1:2}, seed {seed}: leak at {leak_at_h} h {line}; without a leak: "
                  + (f"{len(dry)} flagged" if dry else "quiet"), flush=True)
            if after and after[0][0] <= FOUND_WITHIN_H:
                found.append(after[0][0])
    print(f"100 mL/h found within {FOUND_WITHIN_H} h in {len(found)} of {weeks} weeks, "
          f"{false} false alarms in {weeks} weeks with and {weeks} without a leak")
    return 0 if len(found) >= 0.9 * weeks and false <= 1 else 1


if __name__ == "__main__":
    sys.exit(main())
