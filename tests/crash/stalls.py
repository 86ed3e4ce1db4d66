#!/usr/bin/env python3
"""Stops the real neapd in mid-flood with SIGSTOP and lets it go on.

    stalls.py BUILD

While it is stopped its watchdog is not fed and its pump's line keeps its level: nothing in this
process can help that, the supervisor must. When it goes on after more than a lease the line is safe
before anything is decided; after less it simply goes on.
"""
import concurrent.futures
import os
import select
import signal
import socket
import sys
import tempfile
import time

sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "bench"))
from kills import settings  # noqa: E402
from rig import Daemon, read, wait_for, write  # noqa: E402

SAFE_WITHIN_S = 1.0  # of going on; the machine may be busy
FEEDS_WITHIN_S = 5.0


class Watchdog:
    def __init__(self, path):
        self.socket = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self.socket.bind(path)
        self.socket.setblocking(False)

    def fed(self, within_s):
        """Whether it is fed before so much time has passed."""
        end = time.monotonic() + within_s
        while (left := end - time.monotonic()) > 0:
            if select.select([self.socket], [], [], left)[0] and b"WATCHDOG=1" in self.socket.recv(99):
                return True
        return False

    def empty(self):
        while select.select([self.socket], [], [], 0)[0]:
            self.socket.recv(99)


def stall(build, seconds, expect_safe):
    """What was wrong, if anything."""
    with tempfile.TemporaryDirectory(prefix="neap-stalls-") as directory:
        write(f"{directory}/pump", "0")
        write(f"{directory}/tent.yaml", settings(directory))
        watchdog = Watchdog(f"{directory}/notify")
        daemon = Daemon(build, directory, f"{directory}/tent.yaml", f"{directory}/state",
                        {"NOTIFY_SOCKET": f"{directory}/notify"}).wait_for_socket(30)
        wait_for(lambda: daemon.ask("hold", output="pump", level=1000, for_s=60)
                 or read(f"{directory}/pump") == "1", 30, "the pump is not granted")
        wait_for(lambda: read(f"{directory}/pump") == "1", 30, "the pump does not start")
        time.sleep(1.5)
        daemon.send(signal.SIGSTOP)
        time.sleep(0.2)
        watchdog.empty()
        if watchdog.fed(seconds - 0.2):
            return "the watchdog was fed by a stopped process"
        began = time.monotonic()
        daemon.send(signal.SIGCONT)
        stopped = None
        while time.monotonic() - began < 3 and stopped is None:
            if read(f"{directory}/pump") == "0":
                stopped = time.monotonic() - began
        if expect_safe and (stopped is None or stopped > SAFE_WITHIN_S):
            return f"the line is not safe after it went on ({stopped})"
        if not expect_safe and stopped is not None:
            return "a standstill shorter than a lease stopped the pump"
        if not watchdog.fed(FEEDS_WITHIN_S):
            return "the watchdog is not fed again"
        daemon.stop()
        print(f"stalls: stopped for {seconds} s with the pump running: watchdog not fed; "
              + (f"line safe {1000 * stopped:.0f} ms after it went on" if stopped is not None
                 else "it went on"), flush=True)
    return None


def main():
    build = os.path.abspath(sys.argv[1])
    cases = ((1, False), (5, True), (15, True))
    with concurrent.futures.ThreadPoolExecutor(len(cases)) as pool:
        found = list(pool.map(lambda case: stall(build, *case), cases))
    wrong = [f"stalls: {case[0]} s: {what}" for case, what in zip(cases, found) if what]
    if wrong:
        sys.exit("\n".join(wrong))


if __name__ == "__main__":
    main()
