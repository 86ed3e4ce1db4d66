"""A Debian tree booted by systemd-nspawn, seen from outside: its units by systemctl, neapd by its
socket, the pump's line by its file. Both sides have one monotonic clock."""
import glob
import os
import signal
import subprocess
import sys
import threading
import time

sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "bench"))
from rig import Client, wait_for, write  # noqa: E402


class Machine(Client):
    def __init__(self, root, console):
        self.root = root
        # Without the variable it hangs on a host whose control groups are of both versions.
        self.nspawn = subprocess.Popen(
            ["systemd-nspawn", "--register=no", "--keep-unit", "--private-network", "--quiet",
             # A container may not ask whether the clock is synchronised, a machine may.
             "--system-call-filter=adjtimex clock_adjtime", "-D", root, "-b", "--console=pipe"],
            env={**os.environ, "SYSTEMD_NSPAWN_UNIFIED_HIERARCHY": "1"}, stdin=subprocess.DEVNULL,
            stdout=open(console, "wb"), stderr=subprocess.STDOUT)
        self.leader = wait_for(self.find_leader, 20, "nspawn starts nothing")
        super().__init__(f"/proc/{self.leader}/root/run/neap/neap.sock")
        wait_for(lambda: self.run("systemctl", "is-system-running", check=False).strip()
                 in ("running", "degraded"), 60, "the tree does not boot")

    def find_leader(self):
        """Its first process: the child of nspawn that sees itself as 1."""
        for path in glob.glob(f"/proc/{self.nspawn.pid}/task/*/children"):
            for pid in open(path, encoding="utf-8").read().split():
                with open(f"/proc/{pid}/status", encoding="utf-8") as file:
                    if any(line.startswith("NSpid:") and line.split()[-1] == "1" for line in file):
                        return int(pid)
        return None

    def run(self, *words, check=True):
        """What a command says inside; an end other than 0 is an error where `check`."""
        done = subprocess.run(["nsenter", "-t", str(self.leader), "-a", *words], check=False,
                              capture_output=True, text=True, stdin=subprocess.DEVNULL)
        if check and done.returncode != 0:
            sys.exit(f"{' '.join(words)}: {done.stdout}{done.stderr}")
        return done.stdout + done.stderr

    def path(self, inside):
        return f"/proc/{self.leader}/root{inside}"

    def show(self, what, unit="neapd"):
        return self.run("systemctl", "show", "--value", "-p", what, unit).strip()

    def seconds(self, what):
        """A time of systemd's, on the clock of time.monotonic()."""
        return int(self.show(what + "TimestampMonotonic")) / 1e6

    def neapd(self):
        """Its process, as the host counts them."""
        inside = self.show("MainPID")
        for path in glob.glob("/proc/[0-9]*/status"):
            try:
                with open(path, encoding="utf-8") as file:
                    text = file.read()
            except OSError:
                continue
            numbers = next(line for line in text.split("\n") if line.startswith("NSpid:")).split()
            if text.startswith("Name:\tneapd\n") and numbers[-1] == inside and len(numbers) == 3:
                return int(numbers[1])
        return None

    def active(self, newer_than=0.0):
        """When it became active after that time; None while it has not."""
        since = self.seconds("ActiveEnter")
        return since if since > newer_than and self.show("ActiveState") == "active" else None

    def log(self, unit="neapd"):
        return self.run("journalctl", "-u", unit, "-o", "cat", "--no-pager", "-b")

    def close(self):
        if self.nspawn.poll() is None:
            os.kill(self.leader, signal.SIGRTMIN + 4)  # power off, in systemd's words
            try:
                self.nspawn.wait(20)
            except subprocess.TimeoutExpired:
                self.nspawn.kill()
                self.nspawn.wait()


class Line:
    """The pump's line, looked at each millisecond; knows when it changed."""

    def __init__(self, path):
        self.path = path
        self.changes = []  # (when, level)
        self.over = False
        self.thread = threading.Thread(target=self.look, daemon=True)
        self.thread.start()

    def look(self):
        while not self.over:
            try:
                with open(self.path, encoding="utf-8") as file:
                    level = file.read().strip()
            except OSError:
                return  # the machine is off
            if level and (not self.changes or self.changes[-1][1] != level):
                self.changes.append((time.monotonic(), level))
            time.sleep(0.001)

    def runs(self):
        return bool(self.changes) and self.changes[-1][1] == "1"

    def stopped_after(self, when, seconds, why):
        """When it was stopped after that time."""
        return wait_for(lambda: next((at for at, level in self.changes
                                      if at > when and level == "0"), None), seconds, why)

    def leave_running(self):
        write(self.path, "1")
        wait_for(self.runs, 2, "the line cannot be set")
