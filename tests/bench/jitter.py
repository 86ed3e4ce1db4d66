#!/usr/bin/env python3
"""Measures when scans end, with every bus well and while one hangs: the real neapd, as root.

    jitter.py BUILD [--tents N] [--hung SECONDS]

Scans are due at whole seconds and tell WATCHDOG=1 at their end; here that is read, and how much
later than the most punctual one of its tent each of them came. The bus that hangs is a real wait in
the kernel (state D): the canopy probe's file in /sys, which in a mount namespace of our own lies on
a tmpfs, is opened under fanotify, and nobody gives the permission. Another probe stays well. N tents
side by side (default 17) make a thousand scans of a minute, so that a 99.9th part means something.
"""
import ctypes
import math
import os
import select
import socket
import sys
import tempfile
import time

from rig import Daemon, wait_for, write

HWMON = "/sys/class/hwmon"
FAN_CLASS_CONTENT, FAN_CLOEXEC, FAN_MARK_ADD, FAN_OPEN_PERM, AT_FDCWD = 4, 1, 1, 0x10000, -100
SENSOR = ("  {name}: {{driver: hwmon, every: 2 s, with: {{chip: {name}_chip}}, "
          "points: {{temperature: {name}.temperature, humidity: {name}.humidity}}}}\n")
SETTINGS = """neap: 1
name: bench
mode: control
time_zone: Etc/UTC
tent:
  volume: 1 m3
table:
  drain_path: through_pump
  tray_capacity: 40 L
  flood_volume: 20 L
  reservoir_capacity: 60 L
  reservoir_minimum: 10 L
  pump_flow: 600 L/h
  fill_limit: 6 min
programme:
  start: 2026-01-01
  stages:
    - {{name: fallow, fallow: true}}
outputs:
  exhaust_fan: {{driver: level_file, with: {{path: {dir}/fan}}}}
sensors:
{sensors}end: true
"""


class HungFile:
    """Whoever opens `path` waits, until this is let go of."""

    def __init__(self, path):
        libc = ctypes.CDLL(None, use_errno=True)
        self.group = libc.fanotify_init(FAN_CLASS_CONTENT | FAN_CLOEXEC, os.O_RDONLY)
        done = self.group >= 0 and libc.fanotify_mark(
            self.group, FAN_MARK_ADD, ctypes.c_uint64(FAN_OPEN_PERM), AT_FDCWD, path.encode()) == 0
        if not done:
            sys.exit(f"jitter.py: fanotify: {os.strerror(ctypes.get_errno())}")

    def let_go(self):
        os.close(self.group)


class Tent:
    def __init__(self, build, directory):
        os.mkdir(directory)
        self.notify = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self.notify.bind(f"{directory}/notify")
        write(f"{directory}/fan", "0")
        sensors = "".join(SENSOR.format(name=name) for name in ("canopy", "room"))
        write(f"{directory}/bench.yaml", SETTINGS.format(dir=directory, sensors=sensors))
        self.daemon = Daemon(build, directory, f"{directory}/bench.yaml",
                             environment={"NOTIFY_SOCKET": f"{directory}/notify"})
        self.ends = []

    def reads(self, point):
        status = self.daemon.status()
        values = {row["point"]: row["value"] for row in status["readings"]} if status else {}
        return values.get(point) is not None


def make_chips():
    for name in ("canopy", "room"):
        os.makedirs(f"{HWMON}/{name}")
        for attribute, text in (("name", f"{name}_chip"), ("temp1_input", "23500"),
                                ("humidity1_input", "61250")):
            write(f"{HWMON}/{name}/{attribute}", text + "\n")


def watch(tents, seconds):
    """The scans' ends within so long; those of the first 2 s, which questions brought about, not."""
    by_socket = {tent.notify: tent for tent in tents}
    for tent in tents:
        tent.ends = []
    began = time.monotonic()
    while time.monotonic() < began + 2 + seconds:
        for each in select.select(list(by_socket), [], [], 0.2)[0]:
            told = each.recv(256)
            now = time.monotonic()
            if b"WATCHDOG=1" in told and now > began + 2:
                by_socket[each].ends.append(now * 1000)


def report(name, tents):
    late = []
    for tent in tents:
        phases = [at - 1000 * round((at - tent.ends[0]) / 1000) for at in tent.ends]
        late += [phase - min(phases) for phase in phases]
    late.sort()
    p50, p99, p999 = (late[math.ceil(part * len(late)) - 1] for part in (0.5, 0.99, 0.999))
    print(f"scan jitter, {name}: {len(tents)} tents, {len(late)} scans, load {os.getloadavg()[0]:.1f} "
          f"on {os.cpu_count()} cores: p50 {p50:.1f} ms, p99 {p99:.1f} ms, p99.9 {p999:.1f} ms, "
          f"worst {late[-1]:.1f} ms; goal p99.9 50 ms", flush=True)


def option(name, default):
    return int(sys.argv[sys.argv.index(name) + 1]) if name in sys.argv else default


def main():
    build, hung_s = os.path.abspath(sys.argv[1]), option("--hung", 60)
    if "--in-namespace" not in sys.argv:
        own = ["unshare", "--mount", "--propagation", "private", sys.executable]
        os.execvp(own[0], own + sys.argv + ["--in-namespace"])
    if os.system("mount -t tmpfs bench /sys/class") != 0:
        sys.exit("jitter.py: needs root, for a /sys/class of its own")
    make_chips()
    with tempfile.TemporaryDirectory() as directory:
        tents = [Tent(build, f"{directory}/{i}") for i in range(option("--tents", 17))]
        for tent in tents:
            wait_for(lambda t=tent: t.reads("canopy.temperature") and t.reads("room.temperature"), 30,
                     "a probe is not read")
        watch(tents, hung_s)
        report("every bus well", tents)
        hung = HungFile(f"{HWMON}/canopy/temp1_input")
        watch(tents, hung_s)
        report(f"one bus hung for {hung_s} s", tents)
        lost = sum(not tent.reads("canopy.temperature") for tent in tents)
        kept = sum(tent.reads("room.temperature") for tent in tents)
        print(f"of {len(tents)} tents {lost} lost the probe on the hung bus, "
              f"{kept} read the other one", flush=True)
        hung.let_go()
        for tent in tents:
            tent.daemon.stop()


main()
