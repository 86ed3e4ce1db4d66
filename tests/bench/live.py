#!/usr/bin/env python3
"""Measures the running daemon: idle cost of the demo, and a leak's edge to the pump's line.

    live.py BUILD [--edges N] [--idle SECONDS]

Idle: resident memory and processor time of neapd at 1 Hz with the demo's points. Edge: a program
driver tells an edge, and the time until the pump's level file reads 0 is taken; N of them (default
200), in fresh runs of a dozen each, because a pump budget rightly refuses more starts in an hour.
"""
import os
import statistics
import subprocess
import sys
import tempfile
import time

ROOT = os.path.abspath(os.path.join(os.path.dirname(__file__), "..", ".."))
EDGES_A_RUN = 12
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
  pump: {{driver: level_file, with: {{path: {dir}/pump}}}}
sensors:
  tray: {{driver: program, every: 1 s, with: {{command: [/usr/bin/python3, {contact}, {dir}/tray], answer_within_ms: 10}}, points: {{contact: tray.full}}}}
  reservoir: {{driver: program, every: 1 s, with: {{command: [/usr/bin/python3, {contact}, {dir}/reservoir], answer_within_ms: 10}}, points: {{contact: reservoir.low}}}}
  leak: {{driver: program, every: 1 s, with: {{command: [/usr/bin/python3, {contact}, {dir}/leak], answer_within_ms: 10}}, points: {{contact: leak.floor}}}}
end: true
"""


def write(path, text):
    with open(path, "w", encoding="ascii") as file:
        file.write(text)


def read(path):
    with open(path, encoding="ascii") as file:
        return file.read().strip()


def wait_for(what, seconds, why):
    end = time.monotonic() + seconds
    while not what():
        if time.monotonic() > end:
            sys.exit(f"live.py: waited {seconds} s in vain: {why}")
        time.sleep(0.001)


class Daemon:
    def __init__(self, build, directory, settings):
        self.socket = os.path.join(directory, "neap.sock")
        self.neap = os.path.join(build, "neap")
        self.log = open(os.path.join(directory, "log"), "w", encoding="utf-8")
        self.process = subprocess.Popen(
            [os.path.join(build, "neapd"), "--settings", settings, "--state-dir", directory,
             "--journal", os.path.join(directory, "journal.db"), "--socket", self.socket],
            stderr=self.log)
        wait_for(lambda: os.path.exists(self.socket), 10, "no control socket")

    def ask(self, *words):
        return subprocess.run([self.neap, "--socket", self.socket, *words],
                              capture_output=True, check=False).returncode == 0

    def stop(self):
        self.process.terminate()
        self.process.wait(10)
        self.log.close()


def edges_of_one_run(build, count):
    taken = []
    with tempfile.TemporaryDirectory() as directory:
        for name, value in (("tray", "0"), ("reservoir", "1"), ("leak", "0"), ("pump", "0")):
            write(f"{directory}/{name}", value)
            os.mkfifo(f"{directory}/{name}.edge")
        settings = f"{directory}/bench.yaml"
        contact = os.path.join(ROOT, "tests/bench/contact.py")
        write(settings, SETTINGS.format(dir=directory, contact=contact))
        daemon = Daemon(build, directory, settings)
        for _ in range(count):
            wait_for(lambda: daemon.ask("hold", "pump", "running", "for", "60s")
                     and read(f"{directory}/pump") == "1", 20, "the pump does not start")
            write(f"{directory}/leak", "1")
            began = time.perf_counter()
            write(f"{directory}/leak.edge", "x\n")
            while read(f"{directory}/pump") != "0":
                pass
            taken.append((time.perf_counter() - began) * 1000)
            daemon.ask("release", "pump")
            write(f"{directory}/leak", "0")
            write(f"{directory}/leak.edge", "x\n")
            wait_for(lambda: daemon.ask("reset", "leak") or not latched(daemon), 20,
                     "the latch does not clear")
        daemon.stop()
    return taken


def latched(daemon):
    out = subprocess.run([daemon.neap, "--socket", daemon.socket, "--json", "status"],
                         capture_output=True, check=False, text=True).stdout
    return '"latches":[]' not in out.replace(" ", "").replace("\n", "")


def idle(build, seconds):
    with tempfile.TemporaryDirectory() as directory:
        daemon = Daemon(build, directory, os.path.join(ROOT, "config/demo.yaml"))
        pid = daemon.process.pid
        ticks = os.sysconf("SC_CLK_TCK")

        def cpu():
            fields = read(f"/proc/{pid}/stat").rsplit(")", 1)[1].split()
            return (int(fields[11]) + int(fields[12])) / ticks

        time.sleep(3)
        before = cpu()
        time.sleep(seconds)
        share = (cpu() - before) / seconds * 100
        status = dict(line.split(":", 1) for line in read(f"/proc/{pid}/status").splitlines())
        daemon.stop()
    print(f"neapd idle, demo at 1 Hz: {int(status['VmRSS'].split()[0]) / 1024:.1f} MiB resident "
          f"({int(status['RssAnon'].split()[0]) / 1024:.1f} MiB its own), {share:.2f} % of a core "
          f"over {seconds} s")


def option(name, default):
    return int(sys.argv[sys.argv.index(name) + 1]) if name in sys.argv else default


def main():
    build = os.path.abspath(sys.argv[1])
    idle(build, option("--idle", 30))
    wanted = option("--edges", 200)
    taken = []
    while len(taken) < wanted:
        taken += edges_of_one_run(build, min(EDGES_A_RUN, wanted - len(taken)))
    taken.sort()
    print(f"leak edge to pump line, {len(taken)} edges: p50 {statistics.median(taken):.1f} ms, "
          f"p99 {taken[int(len(taken) * 0.99) - 1]:.1f} ms, max {taken[-1]:.1f} ms")


main()
