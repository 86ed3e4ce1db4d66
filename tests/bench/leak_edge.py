#!/usr/bin/env python3
"""Measures a leak's edge to the pump's line on the running daemon.

    leak_edge.py BUILD [--edges N] [--stress none|cpu|disk|both]

A program driver tells an edge, and the time is taken until the write that makes the pump's level
file 0, by that file's own time stamp (4 ms fine); N of them (default 200). A latch wants its probe
dry for ten seconds, so ten daemons run side by side, and each gives a dozen edges at most, because
a pump budget rightly refuses more starts in an hour. Stress: two processes a core that never rest;
or one that writes and syncs on the journal's file system without a pause. The drivers' programs
are under the same stress. The level file lies in memory, as a relay's line is on no disk: on the
journal's own a write of it waits for the stress's sync, whatever neapd does.
"""
import concurrent.futures
import contextlib
import os
import random
import statistics
import subprocess
import sys
import tempfile
import time

from rig import ROOT, Daemon, read, wait_for, write

EDGES_A_RUN = 12
SIDE_BY_SIDE = 10
GOAL_MS = 250
DEVICES = "/dev/shm"
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
  soak_limit: 10 min
  drain_limit: 10 min
  min_gap: 10 min
  pump_budget: {{per_flood: 20 min, per_hour: 50 min, per_day: 5 h}}
programme:
  start: 2026-01-01
  stages:
    - {{name: fallow, fallow: true}}
outputs:
  pump: {{driver: level_file, with: {{path: {devices}/pump}}}}
sensors:
{sensors}end: true
"""
SENSOR = ("  {name}: {{driver: program, every: 1 s, with: {{command: [/usr/bin/python3, {contact}, "
          "{devices}/{name}], answer_within_ms: {within}}}, points: {{contact: {point}}}}}\n")
POINTS = {"tray": "tray.full", "reservoir": "reservoir.low", "leak": "leak.floor"}
BUSY = "while True: pass"
SYNCING = """import os, sys
file = os.open(sys.argv[1], os.O_RDWR | os.O_CREAT)
while True:
    os.pwrite(file, bytes(65536), 0)
    os.fsync(file)
"""


@contextlib.contextmanager
def stress(kind, directory):
    jobs = []
    if kind in ("cpu", "both"):
        jobs += [["-c", BUSY]] * (2 * os.cpu_count())
    if kind in ("disk", "both"):
        jobs += [["-c", SYNCING, os.path.join(directory, "stress")]]
    processes = [subprocess.Popen([sys.executable, *job]) for job in jobs]
    try:
        yield
    finally:
        for process in processes:
            process.kill()
            process.wait()


def start_pump(daemon, devices):
    """The last edge may have set the latch; it is reset once its probe has been dry long enough."""
    end = time.monotonic() + 60
    while read(f"{devices}/pump") != "1":
        daemon.ask("reset", latch="leak")
        daemon.ask("hold", output="pump", level=1000, for_s=60)
        if time.monotonic() > end:
            sys.exit(f"leak_edge.py: the pump does not start: {daemon.answer('why', output='pump')}")
        time.sleep(0.25)


def edges_of_one_run(build, count, kind):
    taken = []
    with tempfile.TemporaryDirectory() as directory, \
            tempfile.TemporaryDirectory(dir=DEVICES) as devices:
        contact = os.path.join(ROOT, "tests/bench/contact.py")
        for name, value in (("tray", "0"), ("reservoir", "1"), ("leak", "0")):
            write(f"{devices}/{name}", value)
            os.mkfifo(f"{devices}/{name}.edge")
        write(f"{devices}/pump", "0")
        # The answer is waited for that long, so it is a part of what is measured.
        within = 10 if kind == "none" else 50
        sensors = "".join(SENSOR.format(name=name, contact=contact, devices=devices, point=point,
                                        within=within) for name, point in POINTS.items())
        write(f"{directory}/bench.yaml", SETTINGS.format(devices=devices, sensors=sensors))
        daemon = Daemon(build, directory, f"{directory}/bench.yaml").wait_for_socket(30)
        for _ in range(count):
            start_pump(daemon, devices)
            time.sleep(random.random())  # anywhere between two scans
            write(f"{devices}/leak", "1")
            began = time.time_ns()
            write(f"{devices}/leak.edge", "x\n")
            wait_for(lambda: read(f"{devices}/pump") == "0", 30, "the pump does not stop")
            taken.append(max(os.stat(f"{devices}/pump").st_mtime_ns - began, 0) / 1e6)
            daemon.ask("release", output="pump")
            write(f"{devices}/leak", "0")
            write(f"{devices}/leak.edge", "x\n")
        daemon.stop()
    return taken


def measure(build, edges, kind):
    rigs = [min(EDGES_A_RUN, edges - done) for done in range(0, edges, EDGES_A_RUN)]
    taken = []
    with tempfile.TemporaryDirectory() as directory, stress(kind, directory), \
            concurrent.futures.ThreadPoolExecutor(SIDE_BY_SIDE) as pool:
        for run in pool.map(lambda count: edges_of_one_run(build, count, kind), rigs):
            taken += run
    taken.sort()
    late = sum(ms > GOAL_MS for ms in taken)
    print(f"leak edge to pump line, {len(taken)} edges, stress {kind}: "
          f"p50 {statistics.median(taken):.1f} ms, p99 {taken[int(len(taken) * 0.99) - 1]:.1f} ms, "
          f"max {taken[-1]:.1f} ms; goal {GOAL_MS} ms, later {late}", flush=True)


def option(name, default):
    return sys.argv[sys.argv.index(name) + 1] if name in sys.argv else default


if __name__ == "__main__":
    measure(os.path.abspath(sys.argv[1]), int(option("--edges", 200)), option("--stress", "none"))
