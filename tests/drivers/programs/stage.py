"""What every program of these tests does around its own part.

argv: MODE FOLDER. The FIFO FOLDER/alive is held open for writing as long as the program or a child
of it lives, so the test sees its end as a hang-up; each tick() writes one byte into it, after which
everything said before is in the pipe to neap.
"""
import json
import os
import sys

mode, folder = sys.argv[1], sys.argv[2]
descriptors_at_start = [
    fd
    for fd in os.listdir("/proc/self/fd")
    if os.path.exists(f"/proc/self/fd/{fd}") and int(fd) > 2
]
alive = os.open(os.path.join(folder, "alive"), os.O_WRONLY)


def note(name, text):
    with open(os.path.join(folder, name), "a", encoding="utf-8") as file:
        file.write(text)


def tick():
    os.write(alive, b".")


def say_text(text):
    sys.stdout.write(text)
    sys.stdout.flush()


def say(**message):
    say_text(json.dumps(message) + "\n")


def requests():
    for line in sys.stdin:
        note("heard", line)
        yield json.loads(line)


note("starts", "x")
with open(os.path.join(folder, "pid"), "w", encoding="utf-8") as file:
    file.write(str(os.getpid()))
