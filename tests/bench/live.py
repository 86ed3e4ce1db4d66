#!/usr/bin/env python3
"""Measures the running daemon: idle cost of the demo, and a leak's edge to the pump's line.

    live.py BUILD [--edges N] [--idle SECONDS]

Idle: resident memory and processor time of neapd at 1 Hz with the demo's points. Edge: see
leak_edge.py, of which this is the case without stress.
"""
import os
import sys
import tempfile
import time

import leak_edge
from rig import ROOT, Daemon, read


def idle(build, seconds):
    with tempfile.TemporaryDirectory() as directory:
        daemon = Daemon(build, directory,
                        os.path.join(ROOT, "config/demo.yaml")).wait_for_socket()
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


def main():
    build = os.path.abspath(sys.argv[1])
    idle(build, int(leak_edge.option("--idle", 30)))
    leak_edge.measure(build, int(leak_edge.option("--edges", 200)), "none")


main()
