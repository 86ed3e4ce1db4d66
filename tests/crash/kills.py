#!/usr/bin/env python3
"""Kills the real neapd again and again, and judges what it does when it is started again.

    kills.py BUILD [--kills N] [--side-by-side N] [--seed N]

One life: a folder with state, journal and the pump's line, a level file that keeps its level whoever
dies. In it neapd is started, made to run the pump by a slot, a flood by hand or a hold, and killed:
half of the times within a second of the pump's start, else anywhere from the exec on. After every
second kill it is stopped properly, or a crash loop would put it into safe mode, where no pump runs.

After each start:
  - the line is safe before anything is answered, and stays so until something is asked for
  - the budget knows of all the time that the line was seen running
  - every event that was read before the kill, or answered for a second before it, is there; their
    numbers have no hole; none has changed
  - no slot has flooded twice
"""
import concurrent.futures
import datetime
import os
import random
import sqlite3
import subprocess
import sys
import tempfile
import threading
import time

sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "bench"))
from rig import ROOT, Daemon, read, wait_for, write  # noqa: E402

KILLS_A_LIFE = 16  # its pump's budget of an hour is spent by then
DURABLE_WITHIN_S = 1.0
BY_SLOT, CATCH_UP, BY_HAND = 0, 1, 2  # FloodOrigin
REQUEST = 12  # EventKind


def settings(directory):
    """The demo with a pump that is seen from outside, and a slot that is due this minute."""
    with open(os.path.join(ROOT, "config/demo.yaml"), encoding="utf-8") as file:
        text = file.read()
    now = datetime.datetime.now(datetime.timezone.utc)
    begin = now - datetime.timedelta(hours=1)
    edits = [
        ("      reservoir_low: reservoir.low\n", ""),
        ("  pump:\n    driver: simulated\n",
         f"  pump:\n    driver: level_file\n    with: {{path: {directory}/pump}}\n"),
        ("  drain_path: through_pump\n", "  drain_path: through_pump\n  water_proven: by_hand\n"),
        ("time_zone: Europe/Brussels", "time_zone: Etc/UTC"),
        ("  start: 2026-03-02\n", f"  start: {now.date() - datetime.timedelta(days=1)}\n"),
        ('lights_on: "06:00"', f'lights_on: "{begin:%H:%M}"'),
        ("floods: {spread: 3, first_after: 45 min, last_before: 150 min, soak: 5 min, depth: 15 L}",
         f'floods: {{at: ["{now:%H:%M}"], soak: 1 min}}'),
        ('  quiet_hours: {from: "22:30", to: "06:30"}\n', ""),
        ("floods_per_hour: 2", "floods_per_hour: 6"),
        # A killed run is debited whole: small ones, so that a life has a dozen.
        ("fill_limit: 6 min", "fill_limit: 4 min"),
        ("per_flood: 25 min", "per_flood: 5 min"),
        ("per_hour: 40 min", "per_hour: 60 min"),
        ("per_day: 3 h", "per_day: 6 h"),
        ("soak: 8 min", "soak: 1 min"),
        ("soak: 10 min", "soak: 1 min"),
    ]
    for piece, by in edits:
        if piece not in text:
            sys.exit(f"config/demo.yaml has no {piece!r}")
        text = text.replace(piece, by)
    return text


def opened(path):
    """A connection to the journal; None while its writer has not made its tables yet."""
    journal = None
    try:
        journal = sqlite3.connect(f"file:{path}?mode=ro", uri=True, timeout=10)
        journal.execute("SELECT 1 FROM event").fetchone()
        return journal
    except sqlite3.OperationalError:
        if journal:
            journal.close()
        return None


class Line:
    """Looks at the pump's line and adds up the time it runs."""

    def __init__(self, path):
        self.path = path
        self.ran_s = 0.0
        self.over = False
        self.thread = threading.Thread(target=self.look, daemon=True)
        self.thread.start()

    def running(self):
        return read(self.path) == "1"

    def look(self):
        before = time.monotonic()
        while not self.over:
            time.sleep(0.01)
            now = time.monotonic()
            if self.running():
                self.ran_s += now - before
            before = now


class Life:
    def __init__(self, build, seed):
        self.build = build
        self.seed = seed
        self.draw = random.Random(seed)
        self.killed = 0
        self.near_switch = 0
        self.starts = 0
        self.rows = {}  # events that were seen: number -> row
        self.granted = []  # when requests were granted, since the last start
        self.floods_granted = 0
        self.durable = 0  # of all granted, those that must be in the journal
        self.broken = []
        self.safe_after = []  # seconds from exec to a safe line, where it was left running

    def wrong(self, what):
        self.broken.append(f"kills: seed {self.seed}, kill {self.killed}: {what}")

    def live(self):
        with tempfile.TemporaryDirectory(prefix="neap-kills-") as directory:
            self.directory = directory
            write(f"{directory}/pump", "0")
            write(f"{directory}/tent.yaml", settings(directory))
            self.line = Line(f"{directory}/pump")
            try:
                while self.killed < KILLS_A_LIFE:
                    for _ in range(2):
                        self.start_and_kill()
                    self.start_and_stop()
            finally:
                self.line.over = True
                self.line.thread.join()
        return self

    def start(self):
        left_running = self.line.running()
        self.starts += 1
        daemon = Daemon(self.build, self.directory, f"{self.directory}/tent.yaml",
                        state_dir=f"{self.directory}/state")
        if left_running:
            wait_for(lambda: not self.line.running(), 30, "the line is not made safe")
            self.safe_after.append(time.monotonic() - daemon.started)
        return daemon

    def wait_until_answering(self, daemon):
        """Status after the first scan; the line must have been safe all the while."""
        daemon.wait_for_socket(30)
        return wait_for(daemon.status, 30, "no status")

    def start_and_kill(self):
        daemon = self.start()
        if self.draw.random() < 0.5:
            time.sleep(self.draw.uniform(0, 1.5))  # from the exec on
        else:
            self.judge(daemon, self.wait_until_answering(daemon))
            if self.run_the_pump(daemon):
                time.sleep(self.draw.uniform(0, 1))
                self.near_switch += 1
        daemon.kill()
        self.killed += 1
        due = time.monotonic() - DURABLE_WITHIN_S
        self.durable += sum(when < due for when in self.granted)
        self.granted = []
        if self.draw.random() < 0.3:  # what systemd does when a service has died
            code = subprocess.run([os.path.join(self.build, "neap-outputs-safe"),
                                   f"{self.directory}/state"], check=False,
                                  capture_output=True).returncode
            known = os.path.exists(f"{self.directory}/state/outputs.a")
            if known and (code != 0 or self.line.running()):
                self.wrong(f"neap-outputs-safe ends with {code}, the line running: "
                           f"{self.line.running()}")

    def start_and_stop(self):
        daemon = self.start()
        self.judge(daemon, self.wait_until_answering(daemon))
        code = daemon.stop()
        if code != 0 or self.line.running():
            self.wrong(f"stopped with {code}, the line running: {self.line.running()}")

    def run_the_pump(self, daemon):
        """Asks for a flood or a hold until one is granted; readings may not be there yet."""
        hold = {"output": "pump", "level": 1000, "for_s": self.draw.randint(5, 40)}
        flood = {"action": "start"}
        how = [("flood", flood), ("hold", hold)] if self.draw.random() < 0.5 else [("hold", hold)]
        end = time.monotonic() + 2.5
        while time.monotonic() < end and not self.line.running():
            for verb, args in how:
                if daemon.ask(verb, **args):
                    self.granted.append(time.monotonic())
                    self.floods_granted += verb == "flood"
                    break
            time.sleep(0.3)
        return self.line.running()

    def judge(self, daemon, status):
        if status["budget"]["day_s"] < self.line.ran_s - 0.1:
            self.wrong(f"the line ran {self.line.ran_s:.1f} s, the budget knows of "
                       f"{status['budget']['day_s']:.1f} s")
        if any(latch["latch"] == "state" for latch in status["latches"]):
            self.wrong("the state is lost")
        self.judge_journal(daemon)

    def judge_journal(self, daemon):
        journal = wait_for(lambda: opened(daemon.journal), 30, "no journal")
        try:
            found = {row[0]: row[1:] for row in journal.execute(
                "SELECT number, tick, kind, reason, request, name FROM event")}
            twice = journal.execute(
                "SELECT slot_date, slot_number, count(*) FROM cycle WHERE origin IN (?, ?) "
                "GROUP BY slot_date, slot_number, origin HAVING count(*) > 1",
                (BY_SLOT, CATCH_UP)).fetchall()
            by_hand = journal.execute("SELECT count(*) FROM cycle WHERE origin = ?",
                                      (BY_HAND,)).fetchone()[0]
            granted = journal.execute("SELECT count(*) FROM event WHERE kind = ? AND accepted",
                                      (REQUEST,)).fetchone()[0]
            sound = journal.execute("PRAGMA quick_check").fetchone()[0]
            losses = journal.execute("SELECT count(*) FROM loss").fetchone()[0]
        finally:
            journal.close()
        if sorted(found) != list(range(1, len(found) + 1)):
            self.wrong("the events' numbers have a hole")
        for number, row in self.rows.items():
            if found.get(number) != row:
                self.wrong(f"event {number} was {row} and is {found.get(number)}")
        if twice:
            self.wrong(f"a slot flooded twice: {twice}")
        if by_hand > self.floods_granted:
            self.wrong(f"{by_hand} floods by hand, and {self.floods_granted} were asked for")
        if granted < self.durable:
            self.wrong(f"of {self.durable} granted requests the journal knows {granted}")
        if sound != "ok" or losses:
            self.wrong(f"quick_check says {sound}; {losses} losses told")
        self.rows = found


def option(name, default):
    return int(sys.argv[sys.argv.index(name) + 1]) if name in sys.argv else default


def main():
    build = os.path.abspath(sys.argv[1])
    wanted = option("--kills", 500)
    seed = option("--seed", 1)
    began = time.monotonic()
    seeds = range(seed, seed - (-wanted // KILLS_A_LIFE))
    with concurrent.futures.ThreadPoolExecutor(option("--side-by-side", 12)) as pool:
        lives = list(pool.map(lambda one: Life(build, one).live(), seeds))
    broken = [line for life in lives for line in life.broken]
    safe = sorted(s for life in lives for s in life.safe_after)
    for line in broken[:40]:
        print(line)
    print(f"kills: {sum(life.killed for life in lives)} in {time.monotonic() - began:.0f} s, "
          f"{sum(life.near_switch for life in lives)} within a second of the pump's start, "
          f"{sum(life.starts for life in lives)} starts; line left running {len(safe)} times, safe "
          f"{1000 * safe[len(safe) // 2] if safe else 0:.0f} ms after the exec (p50), "
          f"{1000 * safe[-1] if safe else 0:.0f} ms (max); {len(broken)} broken promises")
    sys.exit(1 if broken else 0)


if __name__ == "__main__":
    main()
