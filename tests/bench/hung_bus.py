#!/usr/bin/env python3
"""Measures how late scans come while one bus hangs, on the running daemon.

    hung_bus.py BUILD [--daemons N] [--seconds S]

A sensor's program stands still in the middle of a reading and answers nothing any more, nor does
the one started in its place, which is what a strand sees of a bus that hangs; a light sensor is
read each second, and each of its readings makes a scan. neapd feeds its watchdog after each whole
scan, so the bench is that watchdog: NOTIFY_SOCKET is its own, and a message's time of receipt, by
the kernel's stamp, is the scan's. How late a scan is counts from the earliest phase of its daemon in
a second. N
daemons (default 20) run side by side for S seconds (default 60), so that a thousandth is a scan.
"""
import os
import socket
import statistics
import struct
import sys
import tempfile
import threading
import time

import leak_edge
from rig import Daemon, write

SO_TIMESTAMPNS = 35  # asm-generic/socket.h
GOAL_MS = 50
POINTS = leak_edge.POINTS | {"light": "light.level"}


class Watchdog:
    """Collects when the daemon says that a scan ran to its end."""

    def __init__(self, path):
        self.at = []
        self.socket = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self.socket.setsockopt(socket.SOL_SOCKET, SO_TIMESTAMPNS, 1)
        self.socket.bind(path)
        threading.Thread(target=self.listen, daemon=True).start()

    def listen(self):
        while True:
            text, extra, _, _ = self.socket.recvmsg(256, 256)
            if b"WATCHDOG=1" not in text:
                continue
            for _, kind, data in extra:
                if kind == SO_TIMESTAMPNS:
                    seconds, ns = struct.unpack("qq", data)
                    self.at.append(seconds + ns / 1e9)


def late_ms(stamps):
    phases = [stamp % 1 for stamp in stamps]
    first = min(phases)
    return [(phase - first) * 1000 for phase in phases]


def start(build, directory):
    for name, value in (("tray", "0"), ("reservoir", "1"), ("leak", "0"), ("light", "7")):
        write(f"{directory}/{name}", value)
        os.mkfifo(f"{directory}/{name}.edge")
    write(f"{directory}/pump", "0")
    leak_edge.write_settings(directory, POINTS, 1000, {"light": "light"})
    watchdog = Watchdog(f"{directory}/notify")
    daemon = Daemon(build, directory, f"{directory}/bench.yaml",
                    environment={"NOTIFY_SOCKET": f"{directory}/notify"})
    return daemon.wait_for_socket(60), watchdog


def measure(build, daemons, seconds):
    with tempfile.TemporaryDirectory() as folder:
        running = []
        for number in range(daemons):
            directory = os.path.join(folder, str(number))
            os.mkdir(directory)
            running.append((*start(build, directory), f"{directory}/tray"))
        time.sleep(5)
        for _, _, tray in running:
            os.unlink(tray)
            os.mkfifo(tray)  # nobody ever writes to it: its reader stands still
        began = time.time()
        time.sleep(seconds)
        late = []
        for daemon, watchdog, _ in running:
            late += late_ms([at for at in watchdog.at if at >= began])
        for daemon, _, _ in running:
            daemon.stop()
    late.sort()
    if len(late) < 0.5 * daemons * seconds:
        sys.exit(f"hung_bus.py: only {len(late)} scans in {seconds} s of {daemons} daemons")
    p999 = late[min(len(late) - 1, int(len(late) * 0.999))]
    print(f"a bus that hangs for {seconds} s: {len(late)} scans of {daemons} daemons, late by "
          f"p50 {statistics.median(late):.1f} ms, p99 {late[int(len(late) * 0.99)]:.1f} ms, "
          f"p99.9 {p999:.1f} ms, max {late[-1]:.1f} ms (goal: p99.9 {GOAL_MS} ms)")


if __name__ == "__main__":
    measure(os.path.abspath(sys.argv[1]), int(leak_edge.option("--daemons", 20)),
            int(leak_edge.option("--seconds", 60)))
