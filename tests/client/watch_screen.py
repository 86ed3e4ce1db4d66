#!/usr/bin/env python3
"""Goal: `neap watch` on a real terminal: painted whole at each size, in UTF-8 and ASCII, across
resizes and the death of neapd, and the terminal is as before when it ends. Method: neapd on the
demo, neap in tmux, the screen as tmux has it, looked at until it is right or a deadline is over.

    watch_screen.py BUILD
"""
import atexit
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time

sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "bench"))
from rig import ROOT, Daemon, read, wait_for  # noqa: E402

SIZES = [(42, 20), (80, 24), (132, 43)]
SKIPPED = 77  # as CMakeLists.txt says it
PATIENCE = 20  # s; a machine that does other things too


class Pane:
    """neap watch in a tmux of its own."""
    made = 0

    def __init__(self, build, daemon, directory, size, locale, variables=""):
        Pane.made += 1
        self.socket = os.path.join(directory, f"tmux{Pane.made}")  # an old one may still go
        self.directory = directory
        self.size = size
        for name in ("before", "after", "code"):
            if os.path.exists(os.path.join(directory, name)):
                os.unlink(os.path.join(directory, name))
        script = (f"cd {directory}; echo stood here before; stty -g > before; "
                  f"env LC_ALL={locale} {variables} {build}/neap watch --socket {daemon.socket} "
                  f"--journal {daemon.journal}; echo $? > code.new; stty -g > after; "
                  "mv code.new code; read line")
        atexit.register(subprocess.run, ["tmux", "-S", self.socket, "kill-server"],
                        stderr=subprocess.DEVNULL, check=False)
        self.tmux("new-session", "-d", "-x", str(size[0]), "-y", str(size[1]), script)

    def tmux(self, *words):
        return subprocess.run(["tmux", "-u", "-S", self.socket, "-f", "/dev/null", *words],
                              check=True, capture_output=True, text=True, encoding="utf-8",
                              env={**os.environ, "LC_ALL": "C.UTF-8"}).stdout

    def screen(self):
        return self.tmux("capture-pane", "-p").split("\n")[:self.size[1]]

    def wait(self, *words):
        """Until all of `words` stand on the screen; it, then."""
        end = time.monotonic() + PATIENCE
        while True:
            lines = self.screen()
            if all(word in "\n".join(lines) for word in words):
                return lines
            if time.monotonic() > end:
                sys.exit(f"{self.size}: not all of {words} on\n" + "\n".join(lines))
            time.sleep(0.02)

    def press(self, *keys):
        self.tmux("send-keys", *keys)

    def resize(self, columns, rows):
        self.size = (columns, rows)
        self.tmux("resize-window", "-x", str(columns), "-y", str(rows))

    def neap(self):
        """The process."""
        shell = self.tmux("list-panes", "-F", "#{pane_pid}").strip()
        return int(read(f"/proc/{shell}/task/{shell}/children").split()[0])

    def expect_ended(self):
        code = os.path.join(self.directory, "code")
        wait_for(lambda: os.path.exists(code), PATIENCE, f"{self.size}: neap watch did not end")
        check(read(code) == "0", f"exit code {read(code)}")
        before, after = (read(os.path.join(self.directory, name)) for name in ("before", "after"))
        check(before == after, f"the terminal was\n{before}\nand is\n{after}")
        lines = self.wait("stood here before")
        check("q quit" not in "\n".join(lines), "neap's screen was left behind")
        self.close()

    def close(self):
        self.tmux("kill-server")


def check(right, what):
    if not right:
        sys.exit(f"watch_screen: {what}")


def expect_whole(pane, lines, ascii_only):
    columns, rows = pane.size
    check(len(lines) == rows and "q quit" in lines[-1],
          f"{pane.size}: the last line is not the keys:\n" + "\n".join(lines))
    check(all(len(line) <= columns for line in lines), f"{pane.size}: too wide")
    text = "\n".join(lines)
    check(text.isascii() == ascii_only,
          f"{pane.size}: {'more than' if ascii_only else 'only'} ASCII:\n{text}")
    check("\ufffd" not in text, f"{pane.size}: characters are broken:\n{text}")


def pages(pane, ascii_only):
    lines = pane.wait("[1 now]", "box-room", "VPD", "Reservoir", "Flood: [fill]", "pump", "Next:")
    expect_whole(pane, lines, ascii_only)
    pane.press("Tab")
    expect_whole(pane, pane.wait("[2 curves]", "air VPD: least"), ascii_only)
    pane.press("3")
    pane.wait("[3 alarms]", "o alarms.")
    pane.press("Right")
    pane.wait("[4 events]", "flood phase fill")
    pane.press("1")
    pane.wait("[1 now]")


def resizes(pane):
    for columns, rows in SIZES:
        pane.resize(columns, rows)
        wait_for(lambda: "q quit" in pane.screen()[-1] and "box-room" in pane.screen()[0], PATIENCE,
                 f"not painted again at {columns}x{rows}")
    pane.resize(30, 8)
    pane.wait("This screen is 30x8,", "42x20")
    pane.resize(80, 24)
    pane.wait("[1 now]")


def dies_and_comes_back(pane, build, directory, daemon, settings):
    daemon.kill()
    pane.wait("neapd does not run: no answer since", "What the journal knew last", "Reservoir")
    daemon = Daemon(build, directory, settings).wait_for_socket()
    wait_for(lambda: "does not run" not in "\n".join(pane.screen()), PATIENCE,
             "neapd answers, and the screen does not say so")
    return daemon


def vpd_of(daemon):
    status = daemon.status() or {"readings": []}
    return any(each["point"] == "canopy.vpd" and each["value"] for each in status["readings"])


def stands_still(pane, daemon):
    """A key is heard while neapd hangs, and what comes again is not held by a full queue."""
    daemon.send(signal.SIGSTOP)
    pane.wait("neapd gives no answer since", "did not answer in time")
    pane.press("4")
    pane.wait("[4 events]")
    daemon.send(signal.SIGCONT)
    wait_for(lambda: "no answer" not in "\n".join(pane.screen()), PATIENCE, "still silent")
    pane.press("1")


def goes_with_its_terminal(pane):
    neap = pane.neap()
    pane.close()
    wait_for(lambda: not os.path.exists(f"/proc/{neap}"), PATIENCE, "neap outlives its terminal")


def is_told_without_a_terminal(build, daemon):
    told = subprocess.run([f"{build}/neap", "watch", "--socket", daemon.socket], text=True,
                          stdin=subprocess.DEVNULL, capture_output=True, check=False)
    check(told.returncode == 2 and "no terminal" in told.stderr, f"without a terminal: {told}")


def unknown_terminal(build, daemon, directory, name):
    pane = Pane(build, daemon, directory, (80, 24), "C", f"TERM={name}")
    pane.wait(f'TERM is "{name}"', "neap status")
    pane.close()


def main():
    if shutil.which("tmux") is None:
        print("watch_screen: no tmux here")
        sys.exit(SKIPPED)
    build = os.path.abspath(sys.argv[1])
    settings = os.path.join(ROOT, "config/demo.yaml")
    with tempfile.TemporaryDirectory() as directory:
        daemon = Daemon(build, directory, settings).wait_for_socket()
        wait_for(lambda: vpd_of(daemon), PATIENCE, "no reading of VPD")
        daemon.stop()  # what was read is in the journal then, and not within a minute
        daemon = Daemon(build, directory, settings).wait_for_socket()
        daemon.ask("stage", name="leafing")
        wait_for(lambda: daemon.ask("flood", action="start"), PATIENCE, "no flood")
        for size in SIZES:
            for locale in ("C.UTF-8", "C"):
                pane = Pane(build, daemon, directory, size, locale)
                pages(pane, locale == "C")
                pane.press("q")
                pane.expect_ended()
        pane = Pane(build, daemon, directory, (80, 24), "xx_YY.UTF-8")  # which is not installed
        resizes(pane)
        expect_whole(pane, pane.wait("[1 now]"), False)
        daemon = dies_and_comes_back(pane, build, directory, daemon, settings)
        stands_still(pane, daemon)
        for number in (signal.SIGTERM, signal.SIGHUP, signal.SIGINT):
            os.kill(pane.neap(), number)
            pane.expect_ended()
            pane = Pane(build, daemon, directory, (80, 24), "C.UTF-8")
            pane.wait("[1 now]")
        goes_with_its_terminal(pane)
        is_told_without_a_terminal(build, daemon)
        for name in ("dumb", "no-such"):
            unknown_terminal(build, daemon, directory, name)
        daemon.stop()
    print("watch_screen: ok")


main()
