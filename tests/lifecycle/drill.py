#!/usr/bin/env python3
"""The restore drill of deploy/keeping.md with the real programs, and power cuts in its middle.

    drill.py BUILD

A tent runs, a leak latches, a backup is taken while neapd runs; the card dies (its folder goes),
the backup is restored, neapd starts on it. Then `neap restore` and `neap backup` are killed at each
of their renames, removals and syncs by strace, which is needed for that part, and a full disk is
tried, which needs root: each is skipped by name where it cannot be, and exit
code 77 then says that not all was tried.
"""
import json
import os
import shutil
import sqlite3
import subprocess
import sys
import tempfile

sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "bench"))
from rig import ROOT, Daemon, read, wait_for, write  # noqa: E402

BUILD = os.path.abspath(sys.argv[1])
BROKEN = []
SKIPPED = 77  # as CMakeLists.txt says it
UNTRIED = []


def expect(true, what):
    if not true:
        BROKEN.append(what)
        print(f"BROKEN: {what}", flush=True)


class Tent:
    """One board's files, and neap and neapd on them."""

    def __init__(self, directory):
        self.directory = directory
        self.state = os.path.join(directory, "lib")
        self.settings = os.path.join(directory, "etc", "tent.yaml")
        self.journal = os.path.join(self.state, "journal.db")
        self.pump = os.path.join(directory, "pump")
        os.makedirs(self.state)
        os.makedirs(os.path.dirname(self.settings))
        write(self.pump, "0")

    def configure(self):
        with open(os.path.join(ROOT, "config/demo.yaml"), encoding="utf-8") as file:
            text = file.read()
        for piece, by in [
                ("  pump:\n    driver: simulated\n",
                 f"  pump:\n    driver: level_file\n    with: {{path: {self.pump}}}\n"),
                ("  drain_path: through_pump\n",
                 "  drain_path: through_pump\n  water_proven: by_hand\n")]:
            assert piece in text, piece
            text = text.replace(piece, by)
        write(self.settings, text)

    def command(self, words):
        return [os.path.join(BUILD, "neap"), *words, "--settings", self.settings, "--state-dir",
                self.state, "--journal", self.journal, "--socket",
                os.path.join(self.directory, "neap.sock")]

    def neap(self, *words):
        done = subprocess.run(self.command(words), capture_output=True, text=True, timeout=60)
        return done.returncode, done.stdout, done.stderr

    def start(self):
        daemon = Daemon(BUILD, self.directory, self.settings, self.state).wait_for_socket()
        return daemon

    def start_code(self):
        """Exit code of a neapd that does not stay."""
        return subprocess.run(
            [os.path.join(BUILD, "neapd"), "--settings", self.settings, "--state-dir", self.state,
             "--journal", self.journal, "--socket", os.path.join(self.directory, "neap.sock")],
            capture_output=True, timeout=30).returncode


def events(journal):
    with sqlite3.connect(f"file:{journal}?mode=ro", uri=True) as db:
        return db.execute("SELECT number, tick, kind, reason FROM event ORDER BY number").fetchall()


def status(daemon):
    """Asked until it is answered: neapd turns away who asks more than twenty times a second."""
    return wait_for(daemon.status, 30, "no status")


def latches(daemon):
    return {row["latch"] for row in status(daemon)["latches"]}


def live(tent):
    """Runs until a leak has latched; the backup that was taken meanwhile."""
    tent.configure()
    daemon = tent.start()
    expect(daemon.ask("fault", fault="leak", on=True, severity=1.0), "the leak was not granted")
    wait_for(lambda: "leak" in latches(daemon), 30, "the leak did not latch")
    code, out, err = tent.neap("backup", os.path.join(tent.directory, "kept"), "--json")
    expect(code == 0, f"backup beside a running neapd: {err}")
    expect(tent.neap("measure", "ph=5.9")[0] == 0, "a measurement after the backup")
    daemon.stop()
    return json.loads(out)["backup"]


def drill(directory):
    tent = Tent(os.path.join(directory, "old"))
    backup = live(tent)
    known = events(os.path.join(backup, "journal.db"))
    expect(len(known) > 5, "the backup has events")
    report = subprocess.run([os.path.join(BUILD, "neap"), "report", "--journal",
                             os.path.join(backup, "journal.db")], capture_output=True, text=True)
    # The card is dead: a new one, with the pump's line as the board left it.
    new = Tent(os.path.join(directory, "new"))
    code, out, err = new.neap("restore", backup)
    expect(code == 0, f"restore: {err}")
    expect(new.neap("report")[1] == report.stdout and report.returncode == 0,
           "the report is not the same before the start")
    expect(read(new.settings) == read(tent.settings), "the settings are not the same")
    daemon = new.start()
    expect(latches(daemon) == {"leak", "state"}, f"latches {latches(daemon)}")
    expect(status(daemon)["budget"]["day_s"] > 3600, "the day's pump time is not spent")
    expect(not daemon.ask("flood", action="start"), "a flood was granted")
    now = events(new.journal)
    expect(now[:len(known)] == known, "events of before are missing or changed")
    expect([row[0] for row in now] == list(range(1, len(now) + 1)), "numbers have a hole")
    expect(all(a[1] <= b[1] for a, b in zip(now, now[1:])), "ticks go back")
    expect(not os.path.exists(os.path.join(new.state, "restored")), "the mark stays")
    expect(read(new.pump) == "0" or read(new.pump) == "", "the pump runs")
    daemon.stop()
    print(f"restore drill: {len(known)} events, report, settings and latches there again")
    return tent, backup


def untried(what):
    UNTRIED.append(what)
    print(f"skipped: {what}", flush=True)


def strace(tent, words, calls, at):
    """Runs neap, killed at its `at`th call of these; true when it was."""
    done = subprocess.run(["strace", "-f", "-qq", "-o", "/dev/null", "-e", f"trace={calls}", "-e",
                           f"inject={calls}:signal=KILL:when={at}", *tent.command(words)],
                          capture_output=True, timeout=60)
    return done.returncode != 0


def cut_restores(tent, backup, directory):
    before = events(tent.journal)
    known = events(os.path.join(backup, "journal.db"))
    cuts = half = 0
    for calls in ["rename", "unlink,unlinkat", "fsync"]:
        at = 0
        while True:
            at += 1
            place = os.path.join(directory, f"cut-{calls[0]}{at}")
            shutil.copytree(tent.directory, place)
            cut = Tent.__new__(Tent)
            cut.directory, cut.state = place, os.path.join(place, "lib")
            cut.settings, cut.journal = tent.settings, os.path.join(place, "lib", "journal.db")
            killed = strace(cut, ["restore", backup, "--over-newer"], calls, at)
            name = f"{calls} {at}"
            if os.path.exists(os.path.join(cut.state, "restoring")):
                half += 1
                expect(cut.start_code() == 4, f"{name}: neapd ran on a half restored state")
                code, _, err = cut.neap("restore", backup)
                expect(code == 0, f"{name}: the same again: {err}")
            else:
                whole = events(cut.journal)
                expect(whole in (before, known), f"{name}: neither the old nor the new journal")
                expect((whole == known) <= os.path.exists(os.path.join(cut.state, "restored")),
                       f"{name}: restored without its mark")
                if whole == before:
                    code, _, err = cut.neap("restore", backup, "--over-newer")
                    expect(code == 0, f"{name}: again: {err}")
            expect(events(cut.journal) == known, f"{name}: the journal is not the backup's")
            aside = os.path.join(cut.state, "before-restore")
            expect(events(os.path.join(aside, "journal.db")) == before,
                   f"{name}: the journal before is not whole")
            expect(os.path.join(aside, "state") in read(os.path.join(cut.state, "restored")),
                   f"{name}: latches of before are not looked for")
            expect(os.path.getsize(os.path.join(aside, "state")) == 128 * 1024,
                   f"{name}: the state before is gone")
            shutil.rmtree(place)
            if not killed:
                break
            cuts += 1
    print(f"restore cut off at {cuts} calls, {half} of them half done: ended by the same again")


def cut_backups(tent, directory):
    cuts = 0
    for calls in ["rename", "fsync", "syncfs", "mkdir"]:
        at = 0
        while True:
            at += 1
            kept = os.path.join(directory, f"kept-{calls}{at}")
            os.mkdir(kept)
            killed = strace(tent, ["backup", kept], calls, at)
            for name in os.listdir(kept):
                if name.startswith("neap-"):
                    done = subprocess.run(["sha256sum", "--quiet", "-c", "SHA256SUMS"],
                                          cwd=os.path.join(kept, name), capture_output=True)
                    expect(done.returncode == 0, f"{calls} {at}: half a backup under its name")
            code, _, err = tent.neap("backup", kept)
            expect(code == 0, f"{calls} {at}: the next backup: {err}")
            expect(not [n for n in os.listdir(kept) if n.startswith(".")],
                   f"{calls} {at}: leftovers")
            shutil.rmtree(kept)
            if not killed:
                break
            cuts += 1
    print(f"backup cut off at {cuts} calls: whole or not there, and the next one is")


def full_disk(tent, backup, directory):
    disk = os.path.join(directory, "disk")
    os.mkdir(disk)
    if shutil.which("mount") is None:
        return untried("a full disk (no mount)")
    if subprocess.run(["mount", "-t", "tmpfs", "-o", "size=300k", "none", disk],
                      capture_output=True).returncode != 0:
        return untried("a full disk (mounting a tmpfs is not permitted)")
    try:
        code, _, err = tent.neap("backup", disk)
        expect(code == 5 and "free; a backup needs" in err, f"backup to a full disk: {code} {err}")
        expect(os.listdir(disk) == [], "a full disk keeps half a backup")
        full = Tent(os.path.join(disk, "tent"))
        code, _, err = full.neap("restore", backup)
        expect(code == 5 and "free" in err, f"restore to a full disk: {code} {err}")
        expect(os.listdir(full.state) == [], "a full disk keeps half a restore")
    finally:
        subprocess.run(["umount", disk], check=True)
    print("full disk: refused with the room that is needed, and nothing left")


def main():
    with tempfile.TemporaryDirectory() as directory:
        tent, backup = drill(directory)
        if shutil.which("strace"):
            cut_restores(tent, backup, directory)
            cut_backups(tent, directory)
        else:
            untried("cuts in restore and backup (no strace)")
        full_disk(tent, backup, directory)
    sys.exit(1 if BROKEN else SKIPPED if UNTRIED else 0)


main()
