#!/usr/bin/env python3
"""What a board pays for neapd, and whether that grows: the real daemon over a simulated year and
over minutes of real time, its start and its end; beside it collectd with rrdtool, which only reads
and stores, where that is installed.

    soak.py BUILD [--weeks N] [--seconds N] [--starts N]

Goals (issue 8): 64 KiB of growth in 52 weeks, 12 MiB resident, 0.1 % of a core, 80 MB a day to the
card; 100 ms from exec to safe outputs, 1 s to READY, 50 ms from SIGTERM to outputs off. Figures are
told, not judged. The demo has the simulated tent in neapd's own process: a real one costs less.
"""
import json
import os
import shutil
import socket
import subprocess
import sys
import tempfile
import time

from rig import ROOT, Daemon, read, wait_for, write

DEMO = os.path.join(ROOT, "config/demo.yaml")
WARM_UP = 0.1  # of a simulated run: after it nothing may grow
VALUES = 16    # that collectd reads each second


def option(name, default):
    return int(sys.argv[sys.argv.index(name) + 1]) if name in sys.argv else default


def memory(pid):
    """Resident KiB: all, and what is the process's own."""
    fields = dict(line.split(":", 1) for line in read(f"/proc/{pid}/status").splitlines())
    return [int(fields[name].split()[0]) for name in ("VmRSS", "RssAnon")]


def cpu_s(pid):
    return sum(int(read(f"/proc/{pid}/task/{task}/schedstat").split()[0])
               for task in os.listdir(f"/proc/{pid}/task")) / 1e9


def written(pid):
    """Bytes given to write calls, and bytes of pages that go to the disk."""
    fields = dict(line.split(": ") for line in read(f"/proc/{pid}/io").splitlines())
    return int(fields["wchar"]), int(fields["write_bytes"])


def descriptors(pid):
    return len(os.listdir(f"/proc/{pid}/fd"))


def simulated(build, weeks):
    with tempfile.TemporaryDirectory() as directory:
        journal = os.path.join(directory, "journal.db")
        process = subprocess.Popen(
            [os.path.join(build, "neapd"), "--virtual", "--until", f"{weeks * 7}d",
             "--confirm-stages", "--quiet", "--progress", "--settings", DEMO, "--state-dir",
             directory, "--journal", journal],
            stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True)
        began = time.monotonic()
        seen = []  # (seconds simulated, KiB of its own, descriptors, threads)
        for line in process.stderr:
            if not line.startswith("{"):
                continue
            try:
                seen.append((json.loads(line), memory(process.pid)[1], descriptors(process.pid),
                             len(os.listdir(f"/proc/{process.pid}/task"))))
            except (FileNotFoundError, KeyError):
                break  # it has ended
        process.wait()
        took = time.monotonic() - began
        warm = seen[int(len(seen) * WARM_UP):]
        first, last = warm[0], warm[-1]
        # Batches of readings come and go: compared is the least of each half of what is left.
        half = len(warm) // 2
        growth = min(row[1] for row in warm[half:]) - min(row[1] for row in warm[:half])
        print(f"simulated {weeks} weeks in {took:.0f} s: {growth} KiB of growth after the first "
              f"{WARM_UP:.0%} (own memory {first[1]} KiB then, {last[1]} at the end, "
              f"{max(row[1] for row in warm)} at most; {len(warm)} looks), descriptors "
              f"{min(r[2] for r in warm)} to {max(r[2] for r in warm)}, threads "
              f"{min(r[3] for r in warm)} to {max(r[3] for r in warm)}, journal "
              f"{os.path.getsize(journal) / 1e6:.1f} MB")


def row(name, pid, seconds):
    cpu, (asked, pages) = cpu_s(pid), written(pid)
    time.sleep(seconds)
    share = (cpu_s(pid) - cpu) / seconds * 100
    asked_now, pages_now = written(pid)
    day = 86400 / seconds / 1e6
    resident, own = memory(pid)
    print(f"{name:34} {resident / 1024:6.1f} {own / 1024:6.1f} {share:7.3f} {descriptors(pid):5} "
          f"{(asked_now - asked) * day:9.1f} {(pages_now - pages) * day:9.1f}")


def real(build, seconds):
    print(f"{'over ' + str(seconds) + ' s':34} {'RSS':>6} {'own':>6} {'% core':>7} {'files':>5} "
          f"{'MB/day':>9} {'to card':>9}")
    with tempfile.TemporaryDirectory() as directory:
        daemon = Daemon(build, directory, DEMO).wait_for_socket()
        points = len(wait_for(daemon.status, 30, "no status")["readings"])
        time.sleep(65)  # the first minute's batch of readings is on its way
        row(f"neapd, the demo, {points} points, 1 Hz", daemon.process.pid, seconds)
        daemon.stop()
    collectd(seconds)


def collectd(seconds):
    program = shutil.which("collectd") or "/usr/sbin/collectd"
    if not os.path.exists("/usr/lib/collectd/rrdtool.so") or not os.path.exists(program):
        return print("skipped: collectd (apt install collectd-core librrd8)")
    with tempfile.TemporaryDirectory() as directory:
        tables = ""
        for number in range(VALUES):
            path = os.path.join(directory, f"in{number}")
            write(path, f"{20000 + number}\n")
            tables += (f'<Table "{path}">\nInstance "v{number}"\nSeparator " "\n<Result>\n'
                       f'Type gauge\nInstancePrefix "v"\nValuesFrom 0\n</Result>\n</Table>\n')
        write(os.path.join(directory, "conf"),
              f'BaseDir "{directory}"\nPIDFile "{directory}/pid"\nInterval 1\n'
              f'LoadPlugin table\nLoadPlugin rrdtool\n<Plugin table>\n{tables}</Plugin>\n'
              f'<Plugin rrdtool>\nDataDir "{directory}/rrd"\nCacheTimeout 120\nCacheFlush 900\n'
              f'</Plugin>\n')
        process = subprocess.Popen([program, "-f", "-C", os.path.join(directory, "conf")],
                                   stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        try:
            made = os.path.join(directory, "rrd")

            def all_made():
                return sum(len(files) for _, _, files in os.walk(made)) >= VALUES

            wait_for(lambda: process.poll() is not None or all_made() or time.sleep(1), 400,
                     "collectd wrote nothing")
            time.sleep(30)  # making its files is not what a day costs
            row(f"collectd, rrdtool, {VALUES} values, 1 Hz", process.pid, seconds)
        finally:
            process.terminate()
            process.wait(30)


def settings(directory):
    text = read(DEMO)
    for piece, by in [
            ("  pump:\n    driver: simulated\n",
             f"  pump:\n    driver: level_file\n    with: {{path: {directory}/pump}}\n"),
            ("  drain_path: through_pump\n",
             "  drain_path: through_pump\n  water_proven: by_hand\n")]:
        if piece not in text:
            sys.exit(f"config/demo.yaml has no {piece!r}")
        text = text.replace(piece, by)
    path = os.path.join(directory, "settings.yaml")
    write(path, text + "\n")
    return path


def one_life(build):
    """SIGTERM in mid-flood to a safe line and to the end; then, with the line left on, start to a
    safe line and to READY: in ms."""
    with tempfile.TemporaryDirectory() as directory:
        path, pump = settings(directory), os.path.join(directory, "pump")
        write(pump, "0")

        def since(begin, what):
            wait_for(what, 30, "in vain")
            return (time.monotonic() - begin) * 1000

        daemon = Daemon(build, directory, path).wait_for_socket()
        wait_for(lambda: daemon.ask("flood", action="start") or time.sleep(0.1), 30, "no flood")
        wait_for(lambda: read(pump) == "1", 30, "the pump does not run")
        begin = time.monotonic()
        daemon.process.terminate()
        off = since(begin, lambda: read(pump) == "0")
        daemon.process.wait(30)
        end = (time.monotonic() - begin) * 1000
        write(pump, "1")
        with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as notify:
            notify.bind(os.path.join(directory, "notify"))
            daemon = Daemon(build, directory, path,
                            environment={"NOTIFY_SOCKET": os.path.join(directory, "notify")})
            safe = since(daemon.started, lambda: read(pump) == "0")
            notify.settimeout(30)
            while b"READY=1" not in notify.recv(4096):
                pass
            ready = (time.monotonic() - daemon.started) * 1000
            daemon.stop()
        return safe, ready, off, end


def lives(build, count):
    figures = list(zip(*(one_life(build) for _ in range(count))))
    for name, values in zip(["exec to a safe pump line", "exec to READY", "SIGTERM to a safe line",
                             "SIGTERM to the end"], figures):
        values = sorted(values)
        middle = values[len(values) // 2]
        print(f"{name:26} {middle:7.1f} ms p50 {values[-1]:7.1f} ms max of {count}")


def main():
    build = os.path.abspath(sys.argv[1])
    lives(build, option("--starts", 20))
    real(build, option("--seconds", 180))
    simulated(build, option("--weeks", 52))


main()
