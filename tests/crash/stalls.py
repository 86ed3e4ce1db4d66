#!/usr/bin/env python3
"""Stops the real neapd in mid-flood with SIGSTOP and lets it go on; then its journal's thread alone.

    stalls.py BUILD

While it is stopped its watchdog is not fed and its pump's line keeps its level: nothing in this
process can help that, the supervisor must. When it goes on after more than a lease the line is safe
before anything is decided; after less it simply goes on.

A journal that stands still (a card that takes its time) stops nothing: the watchdog is fed, a person
is answered, the pump stops when its time is over, and what happened meanwhile is in the journal after.
"""
import concurrent.futures
import contextlib
import ctypes
import os
import select
import signal
import socket
import sqlite3
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


PTRACE_DETACH, PTRACE_SEIZE, PTRACE_INTERRUPT = 17, 0x4206, 0x4207
WAIT_ALL = 0x40000000  # __WALL: threads too


@contextlib.contextmanager
def standing_still(pid, name):
    """Holds the thread of that name, and no other, while the block runs."""
    threads = [tid for tid in os.listdir(f"/proc/{pid}/task") if read(f"/proc/{pid}/task/{tid}/comm") == name]
    if len(threads) != 1:
        sys.exit(f"neapd has {len(threads)} threads called {name}")
    tid = int(threads[0])
    libc = ctypes.CDLL(None, use_errno=True)

    def trace(request):
        if libc.ptrace(request, tid, None, None) != 0:
            sys.exit(f"ptrace {request:#x}: {os.strerror(ctypes.get_errno())}")

    trace(PTRACE_SEIZE)
    trace(PTRACE_INTERRUPT)
    os.waitpid(tid, WAIT_ALL)
    try:
        yield
    finally:
        trace(PTRACE_DETACH)


def stall_journal(build, seconds, held_s):
    """What was wrong, if anything."""
    with tempfile.TemporaryDirectory(prefix="neap-stalls-") as directory:
        write(f"{directory}/pump", "0")
        write(f"{directory}/tent.yaml", settings(directory))
        watchdog = Watchdog(f"{directory}/notify")
        daemon = Daemon(build, directory, f"{directory}/tent.yaml", f"{directory}/state",
                        {"NOTIFY_SOCKET": f"{directory}/notify"}).wait_for_socket(30)
        wait_for(lambda: daemon.ask("hold", output="pump", level=1000, for_s=held_s)
                 or read(f"{directory}/pump") == "1", 30, "the pump is not granted")
        wait_for(lambda: read(f"{directory}/pump") == "1", 30, "the pump does not start")
        began = time.monotonic()
        with standing_still(daemon.process.pid, "journal"):
            wait_for(lambda: read(f"{directory}/pump") == "0", held_s + 3, "the pump does not stop in time")
            stopped = time.monotonic() - began
            asked = time.monotonic()
            if not daemon.status():
                return "nobody answers while the journal stands"
            answered = time.monotonic() - asked
            if not watchdog.fed(FEEDS_WITHIN_S):
                return "the watchdog is not fed while the journal stands"
            time.sleep(max(0.0, seconds - (time.monotonic() - began)))
        daemon.stop()
        with contextlib.closing(sqlite3.connect(f"file:{daemon.journal}?mode=ro", uri=True)) as journal:
            stops = journal.execute("SELECT count(*) FROM v_actuations JOIN event USING (number) "
                                    "WHERE v_actuations.output = 'pump' AND event.level = 0").fetchone()[0]
            losses = journal.execute("SELECT count(*) FROM loss").fetchone()[0]
        if stops == 0 or losses != 0:
            return f"the journal has {stops} stops of the pump, and {losses} losses"
        print(f"stalls: journal's thread held for {seconds} s with the pump running: it stopped after "
              f"{stopped:.1f} s of {held_s}, status answered in {1000 * answered:.0f} ms, watchdog fed, "
              f"nothing lost", flush=True)
    return None


def main():
    build = os.path.abspath(sys.argv[1])
    cases = ((1, False), (5, True), (15, True))
    with concurrent.futures.ThreadPoolExecutor(len(cases)) as pool:
        found = list(pool.map(lambda case: stall(build, *case), cases))
    if what := stall_journal(build, 15, 6):
        sys.exit(f"stalls: journal: {what}")
    wrong = [f"stalls: {case[0]} s: {what}" for case, what in zip(cases, found) if what]
    if wrong:
        sys.exit("\n".join(wrong))


if __name__ == "__main__":
    main()
