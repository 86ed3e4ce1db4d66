#!/usr/bin/env python3
"""neapd under systemd, in a tree that systemd-nspawn boots: units.py ROOT CONSOLE

Starts, stops, kills and starves it, takes its sandbox and its disk away, and looks at the pump's line
from outside. Prints a table of what was seen, and ends with 1 where a line is not what it must be.
"""
import os
import signal
import sys
import time

from machine import Line, Machine, wait_for, write

sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "crash"))
import kills  # noqa: E402

TIMES = 6  # of what has a number to keep
DROP_IN = "/run/systemd/system/neapd.service.d/trial.conf"
STATE = "/var/lib/neap"


def shown(seconds):
    return f"{seconds:.3g} s" if seconds >= 1 else f"{seconds * 1000:.0f} ms"


class Table:
    def __init__(self):
        self.wrong = 0

    def row(self, what, seen, good, most=""):
        self.wrong += not good
        print(f"{'ok  ' if good else 'FAIL'} {what:<56} {seen:>14} {most:>10}", flush=True)

    def time(self, what, seconds, most):
        """The shortest is judged: what else runs on this machine can only add to it."""
        seconds = sorted(seconds)
        limit = f"<= {shown(most)}"
        if len(seconds) == 1:
            return self.row(what, shown(seconds[0]), seconds[0] <= most, limit)
        figures = "/".join(f"{s * 1000:.0f}" for s in (seconds[0], seconds[len(seconds) // 2],
                                                       seconds[-1])) + " ms"
        self.row(what + ", least/median/most", figures, seconds[0] <= most, limit)


class Trial:
    def __init__(self, machine, table):
        self.machine = machine
        self.table = table
        self.line = Line(machine.path("/run/line/pump"))

    def systemctl(self, *words):
        return self.machine.run("systemctl", *words)

    def drop_in(self, text):
        """What one machine might have by `systemctl edit neapd`; none by None."""
        path = self.machine.path(DROP_IN)
        if text is None:
            os.unlink(path)
        else:
            os.makedirs(os.path.dirname(path), exist_ok=True)
            write(path, text)
        self.systemctl("daemon-reload")

    def settle(self):
        """A proper stop and a start, or three crashes would be a crash loop; then the pump's line
        is safe and the first readings are there."""
        self.systemctl("restart", "neapd")
        wait_for(self.machine.status, 20, "neapd does not answer")

    def run_the_pump(self):
        hold = {"output": "pump", "level": 1000, "for_s": 40}
        wait_for(lambda: self.line.runs() or (self.machine.ask("hold", **hold) and time.sleep(0.3)),
                 20, "the pump does not run for a hold")

    def first_boot(self):
        ready = self.machine.seconds("ActiveEnter") - self.machine.seconds("ExecMainStart")
        self.table.time("first boot: exec to READY", [ready], 1)
        self.table.row("nothing else failed", "", "0 loaded" in self.systemctl("--failed"))

    def starts(self):
        """With the unit that comes before neapd out of the way: its own start is meant."""
        self.systemctl("mask", "--runtime", "neap-outputs-safe")
        safe, ready = [], []
        for _ in range(TIMES):
            self.systemctl("stop", "neapd")
            self.line.leave_running()
            before = time.monotonic()
            self.systemctl("start", "neapd")
            exec_at = self.machine.seconds("ExecMainStart")
            safe.append(self.line.stopped_after(before, 10, "not safe at the start") - exec_at)
            ready.append(self.machine.seconds("ActiveEnter") - exec_at)
        self.systemctl("unmask", "--runtime", "neap-outputs-safe")
        self.table.time("start: exec to outputs proven safe", safe, 0.1)
        self.table.time("start: exec to READY", ready, 1)

    def stops(self):
        off = []
        for _ in range(TIMES):
            self.settle()
            self.run_the_pump()
            asked = time.monotonic()
            os.kill(self.machine.neapd(), signal.SIGTERM)
            off.append(self.line.stopped_after(asked, 10, "not off after SIGTERM") - asked)
        wait_for(lambda: self.machine.active(asked), 20, "not back after SIGTERM")
        self.table.time("SIGTERM to outputs off", off, 0.05)

    def killed(self):
        self.settle()
        self.run_the_pump()
        at = time.monotonic()
        os.kill(self.machine.neapd(), signal.SIGKILL)
        safe = self.line.stopped_after(at, 10, "ExecStopPost left the pump running") - at
        active = wait_for(lambda: self.machine.active(at), 20, "not back after kill -9") - at
        self.table.time("kill -9 to outputs off (ExecStopPost)", [safe], 1)
        self.table.time("kill -9 to active again", [active], 5)

    def starved(self):
        self.settle()
        self.run_the_pump()
        at = time.monotonic()
        os.kill(self.machine.neapd(), signal.SIGSTOP)
        safe = self.line.stopped_after(at, 20, "the watchdog did not bite") - at
        active = wait_for(lambda: self.machine.active(at), 20, "not back after the watchdog") - at
        self.table.row("the watchdog is what ended it", "", "watchdog" in self.machine.log().lower())
        self.table.time("stopped process to outputs off (watchdog)", [safe], 12)
        self.table.time("stopped process to active again", [active], 15)

    def without_sandbox(self):
        """As after an update that goes wrong: it shows with the next crash."""
        self.settle()
        self.run_the_pump()
        self.drop_in("[Service]\nReadWritePaths=/nowhere\n")
        at = time.monotonic()
        os.kill(self.machine.neapd(), signal.SIGKILL)
        safe = self.line.stopped_after(at, 20, "no unit of its own made outputs safe") - at
        wait_for(lambda: self.machine.show("ExecMainStatus") == "226", 20, "the sandbox came up")
        self.table.time("kill -9, no sandbox: to outputs off (own unit)", [safe], 5)
        self.drop_in(None)
        active = wait_for(lambda: self.machine.active(at), 20, "not back with its sandbox")
        self.table.row("with the sandbox mended it comes back by itself", "", active is not None)

    def crash_loop(self):
        """More crashes than systemd's own limit takes, one upon another."""
        self.settle()
        for _ in range(7):
            pid = wait_for(self.machine.neapd, 20, "given up after crashes")
            at = time.monotonic()
            os.kill(pid, signal.SIGKILL)
            wait_for(lambda: self.machine.active(at), 20, "given up after crashes")
        status = wait_for(self.machine.status, 20, "no answer after crashes")
        self.table.row("7 crashes in a row: back, in safe mode", "", status["safe_mode"])
        self.table.row("and no pump runs in it", "", not self.machine.ask(
            "hold", output="pump", level=1000, for_s=40) or not self.line.runs())

    def full_disk(self):
        """On a small disk of its own, filled while neapd runs; then it is killed, and starts on it."""
        machine = self.machine
        self.systemctl("stop", "neapd")
        machine.run("mount", "-t", "tmpfs", "-o", "size=64m,mode=750,uid=neap,gid=neap-view",
                    "tmpfs", STATE)
        self.settle()
        self.run_the_pump()
        filled = time.monotonic()
        machine.run("sh", "-c", f"cat /dev/zero >{STATE}/filler", check=False)
        self.line.stopped_after(filled, 60, "the pump runs on beyond its hold")
        wait_for(lambda: "free space on that disk" in machine.log(), 20, "a full disk is not told of")
        self.table.row("disk full: told, and the pump stops in its time", "", True)
        killed = time.monotonic()
        self.line.leave_running()
        os.kill(machine.neapd(), signal.SIGKILL)
        safe = self.line.stopped_after(killed, 10, "not safe on a full disk")
        wait_for(lambda: machine.active(killed), 30, "not back on a full disk")
        self.table.time("killed on a full disk: to outputs off", [safe - killed], 1)
        self.table.row("starts on it and answers", "", wait_for(
            machine.status, 20, "no answer on a full disk") is not None)
        machine.run("rm", f"{STATE}/filler")
        wait_for(lambda: "alarm journal-trouble returned" in machine.log(), 90, "stays troubled")
        self.table.row("with room again it goes on by itself", "", True)
        self.systemctl("stop", "neapd")
        machine.run("umount", STATE)
        self.systemctl("start", "neapd")

    def several(self):
        machine = self.machine
        settings = kills.settings("/run/line").replace("/run/line/pump", "/run/line/north")
        write(machine.root + "/etc/neap/north.yaml", settings)
        for name in ("neapd@.service.d",):
            folder = machine.path(f"/run/systemd/system/{name}")
            os.makedirs(folder, exist_ok=True)
            write(folder + "/line.conf", "[Service]\nReadWritePaths=/run/line\n")
        machine.run("install", "-o", "neap", "/dev/null", "/run/line/north")
        self.systemctl("daemon-reload")
        self.systemctl("start", "neapd@north")
        both = machine.run("neap", "--socket", "/run/neap/north/neap.sock", check=False)
        self.table.row("a second tent beside it: neapd@north", "", "box-room" in both)
        self.systemctl("stop", "neapd@north")

    def sandboxed(self):
        """What neapd asks the kernel for and systemd's group of calls does not hold."""
        self.drop_in("[Service]\nExecStartPost=/usr/bin/busybox adjtimex -q\n")
        self.settle()
        asked = "Operation not permitted" not in self.machine.log().split("Stopped")[-1]
        self.table.row("sandbox: the clock can be asked whether it is synced", "", asked)
        self.drop_in(None)
        for unit in ("neapd.service", "neapd@north.service"):
            score = self.machine.run("systemd-analyze", "security", "--threshold=10", "--no-pager",
                                     unit, check=False).split("level for")[-1]
            number = float(score.split(":")[1].split()[0])
            self.table.row(f"security of {unit}", f"{number}", number <= 1.0, "<= 1.0")
        units = [f"/usr/lib/systemd/system/{unit}" for unit in (
            "neapd.service", "neapd@north.service", "neap-outputs-safe.service",
            "neap-outputs-safe@north.service")]
        said = self.machine.run("systemd-analyze", "verify", "--man=no", "--recursive-errors=yes",
                                *units, check=False)
        self.table.row("systemd-analyze verify has nothing to say", "", "neap" not in said)
        if "neap" in said:
            print(said)


def main():
    root, console = sys.argv[1:3]
    write(root + "/etc/neap/tent.yaml", kills.settings("/run/line"))
    began = time.monotonic()
    machine = Machine(root, console)
    table = Table()
    table.row("boot of the tree", f"{time.monotonic() - began:.1f} s", True)
    try:
        wait_for(machine.active, 30, "neapd does not become active")
        trial = Trial(machine, table)
        for part in (trial.first_boot, trial.sandboxed, trial.starts, trial.stops, trial.killed,
                     trial.starved, trial.without_sandbox, trial.full_disk, trial.several,
                     trial.crash_loop):
            part()
    except BaseException:
        print(machine.log()[-3000:])
        raise
    finally:
        machine.close()
    sys.exit(1 if table.wrong else 0)


if __name__ == "__main__":
    main()
