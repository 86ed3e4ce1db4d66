#!/usr/bin/env python3
"""neapd on a machine of its own, whose plug is pulled: plugs.py DIR PULLS [SEED]

DIR is what tests/boot/disk made. First a boot that needs a kernel of its own: devices under the
sandbox, limits, the board's watchdog, steps of the clock. Then boots that end by SIGKILL to QEMU at a
drawn moment, some of them before neapd is ready: what the guest had not written is gone. After each,
the file system is repaired as at a boot, and the journal is judged:
  - it opens and is whole; the events' numbers have no hole
  - every measurement that the guest's `neap` had said was taken down is there, of all boots
  - the state was not lost, and at the next boot the pump's line is low before anything is asked for
"""
import os
import random
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
import threading
import time

from units import Table

SEED = 1
BOOT_LIMIT_S = 120


class Guest:
    """A boot in QEMU; what it says on its serial line, with when it said so."""

    def __init__(self, folder, words, writable):
        self.began = time.monotonic()
        snapshot = "off" if writable else "on"
        self.qemu = subprocess.Popen(
            ["qemu-system-x86_64", "-accel", "tcg,thread=multi", "-M", "q35", "-cpu", "max", "-m",
             "512", "-smp", "2", "-nodefaults", "-no-user-config", "-display", "none", "-serial",
             "stdio", "-monitor", "none", "-no-reboot", "-device", "i6300esb", "-drive",
             f"file={folder}/root.img,format=raw,if=virtio,snapshot=on", "-drive",
             f"file={folder}/data.img,format=raw,if=virtio,snapshot={snapshot}", "-kernel",
             f"{folder}/kernel", "-initrd", f"{folder}/initrd", "-append",
             f"console=ttyS0 panic=-1 quiet mitigations=off systemd.unit=trial.target "
             f"systemd.show_status=0 {words}"],
            stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
        self.said = []  # (when, what, value)
        self.raw = []
        self.reader = threading.Thread(target=self.read, daemon=True)
        self.reader.start()

    def read(self):
        for line in self.qemu.stdout:
            text = line.decode("utf-8", "replace").strip()
            self.raw.append(text)
            if text.startswith("T "):
                self.said.append((time.monotonic(), *(text[2:].split(" ", 1) + [""])[:2]))

    def values(self, what):
        return [value for _, said, value in list(self.said) if said == what]

    def wait(self, done, seconds):
        """True when it was `done` in time; QEMU's end is one too."""
        while self.qemu.poll() is None and time.monotonic() - self.began < seconds:
            if done():
                return True
            time.sleep(0.02)
        return done()

    def pull(self):
        self.qemu.send_signal(signal.SIGKILL)
        self.qemu.wait()
        self.reader.join()


def whole(folder, table):
    guest = Guest(folder, "trial=whole", writable=False)
    guest.wait(lambda: guest.values("end"), 3 * BOOT_LIMIT_S)
    guest.wait(lambda: False, time.monotonic() - guest.began + 15)  # it powers off
    off = guest.qemu.poll() is not None
    guest.pull()

    def one(what):
        return (guest.values(what) or ["nothing"])[0]

    table.row("first line of the pump", one("pump"), one("pump") == "0")
    table.row("a relay on a GPIO line, in the sandbox", one("relay"), one("relay") == "1")
    table.row("a fan on a PWM channel, in the sandbox", one("fan"), one("fan") == "1 40000")
    table.row("memory limit of the group", one("memory"), one("memory") == str(128 << 20))
    table.row("limit of its tasks", one("tasks"), one("tasks") == "64")
    table.row("resident memory, KiB", one("rss"), one("rss").isdigit())
    table.row("the board's watchdog, s", one("watchdog"), one("watchdog") == "active 14")
    table.row("neapd has nothing to say of it", "", one("watchdog_warned") == "0")
    table.row("clock a day on, two days back: pump, restarts", one("stepped"),
              one("stepped") == "1 0")
    table.row("kill -9: line that outlives it low after, 0.1 s", one("killed"),
              one("killed").isdigit() and int(one("killed")) < 100)
    table.row("memory full: its program ends, neapd restarts", one("memory_full"),
              one("memory_full") == "137 0")
    table.row("and it powers off", "", bool(guest.values("end")) and off)
    if table.wrong:
        print("\n".join(guest.raw[-60:]))


class Record:
    """The data disk after a pull, repaired and read."""

    def __init__(self, folder):
        with tempfile.TemporaryDirectory(dir=folder) as copy:
            image = f"{copy}/data.img"
            shutil.copy(f"{folder}/data.img", image)
            code = subprocess.run(["e2fsck", "-fp", image], capture_output=True,
                                  check=False).returncode
            self.repaired = code in (0, 1)
            subprocess.run(["debugfs", "-R", f"rdump / {copy}", image], capture_output=True,
                           check=True)
            self.known = os.path.exists(f"{copy}/journal.db")
            self.sound, self.notes, self.events, self.lost = "ok", set(), [], 0
            if not self.known:
                return
            with sqlite3.connect(f"{copy}/journal.db") as journal:
                self.sound = journal.execute("PRAGMA integrity_check").fetchone()[0]
                self.notes = {row[0] for row in journal.execute(
                    "SELECT note FROM v_measurements WHERE note IS NOT NULL")}
                self.events = [row[0] for row in journal.execute(
                    "SELECT number FROM event ORDER BY number")]
                self.lost = journal.execute("SELECT count(*) FROM loss").fetchone()[0]
            journal.close()


def pull_plugs(folder, pulls, seed, table):
    draw = random.Random(seed)
    acked, wrong, ready = set(), [], []
    early = 0
    for number in range(1, pulls + 1):
        guest = Guest(folder, f"trial=pulls boot={number}", writable=True)
        if number > 1 and draw.random() < 0.2:  # while it starts
            early += 1
            guest.wait(lambda: False, draw.uniform(2, 15))
        else:
            if not guest.wait(lambda: guest.values("ack"), BOOT_LIMIT_S):
                wrong.append(f"pull {number}: nothing was taken down in {BOOT_LIMIT_S} s")
                print("\n".join(guest.raw[-40:]))
            guest.wait(lambda: False, time.monotonic() - guest.began + draw.uniform(0, 8))
        guest.pull()
        ready += [int(value) / 1e6 for value in guest.values("ready")]
        first = guest.values("pump")[:1]
        if first and first != ["0"]:
            wrong.append(f"pull {number}: the pump's line was {first} at the boot")
        acked.update(guest.values("ack"))
        record = Record(folder)
        missing = acked - record.notes
        if missing:
            wrong.append(f"pull {number}: {len(missing)} that were taken down are not there: "
                         f"{sorted(missing)[:3]}")
        if record.sound != "ok" or record.lost or not record.repaired:
            wrong.append(f"pull {number}: integrity {record.sound}, {record.lost} losses told, "
                         f"file system repaired: {record.repaired}")
        if record.events != list(range(1, len(record.events) + 1)):
            wrong.append(f"pull {number}: the events' numbers have a hole")
    for line in wrong:
        print(line)
    table.row(f"{pulls} pulls of the plug, {early} of them during the start", "", not wrong)
    table.row("measurements taken down, all of them kept", str(len(acked)), not wrong and acked)
    if ready:
        table.row("exec to READY, emulated: most", f"{max(ready):.1f} s", True)


def main():
    folder, pulls = sys.argv[1], int(sys.argv[2])
    table = Table()
    whole(folder, table)
    pull_plugs(folder, pulls, int(sys.argv[3]) if len(sys.argv) > 3 else SEED, table)
    sys.exit(1 if table.wrong else 0)


if __name__ == "__main__":
    main()
