#!/usr/bin/env python3
"""Measures `neap watch`: its share of a core and the bytes it sends, at 80x24 and 132x43.

    watch.py BUILD [--seconds 60] [--days 42]

neapd runs the demo; the journal is of so many simulated days, so that reading it costs what it costs
in the midst of a grow.
"""
import fcntl
import os
import pty
import select
import signal
import struct
import subprocess
import sys
import tempfile
import termios
import time

import leak_edge
from rig import ROOT, Daemon, read

SIZES = [(80, 24), (132, 43)]
PROMISED = 2.0  # % of a core


def start(build, daemon, journal, columns, rows):
    """neap watch on a terminal of its own: its process id and the terminal's other end."""
    pid, terminal = pty.fork()
    if pid == 0:
        fcntl.ioctl(0, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))
        os.execve(os.path.join(build, "neap"),
                  ["neap", "watch", "--socket", daemon.socket, "--journal", journal],
                  {**os.environ, "TERM": "xterm-256color", "LC_ALL": "C.UTF-8"})
    return pid, terminal


def cpu(pid):
    fields = read(f"/proc/{pid}/stat").rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def drain(terminals, seconds):
    """What came of each of them in that time, in bytes."""
    came = {terminal: 0 for terminal in terminals}
    end = time.monotonic() + seconds
    while (left := end - time.monotonic()) > 0:
        for terminal in select.select(terminals, [], [], left)[0]:
            came[terminal] += len(os.read(terminal, 65536))
    return came


def main():
    build = os.path.abspath(sys.argv[1])
    seconds = int(leak_edge.option("--seconds", 60))
    days = str(leak_edge.option("--days", 42))
    demo = os.path.join(ROOT, "config/demo.yaml")
    with tempfile.TemporaryDirectory() as directory:
        journal = os.path.join(directory, "grow.db")
        subprocess.run([os.path.join(build, "neap"), "simulate", demo, "--days", days, "--quiet",
                        "--confirm-stages", "--journal", journal],
                       check=True, stdout=subprocess.DEVNULL)
        daemon = Daemon(build, directory, demo).wait_for_socket()
        watches = [start(build, daemon, journal, *size) for size in SIZES]
        terminals = [terminal for _, terminal in watches]
        first = drain(terminals, 3)
        begun = [cpu(pid) for pid, _ in watches]
        came = drain(terminals, seconds)
        for (columns, rows), (pid, terminal), before in zip(SIZES, watches, begun):
            share = (cpu(pid) - before) / seconds * 100
            print(f"neap watch, {columns}x{rows}: {share:.2f} % of a core over {seconds} s with a "
                  f"journal of {days} d (promised: {PROMISED:.0f} %), {before:.2f} s in the first "
                  f"3 s; sent {first[terminal]} bytes for the first screen, then "
                  f"{came[terminal] / seconds:.0f} a second")
            os.kill(pid, signal.SIGTERM)
            os.waitpid(pid, 0)
        daemon.stop()


main()
