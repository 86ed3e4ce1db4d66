"""A sensor program: one good mode and the ways in which programs go wrong."""
import os
import signal
import time

import stage


def greet(request):
    role = "output" if stage.mode == "wrong_role" else "sensor"
    stage.say(seq=request["seq"], ok=stage.mode != "refuses", role=role, about="a test probe")


def read_good(seq):
    stage.say(seq=seq, values={"temperature": 23.4, "humidity": None, "ph": -0.5e1})


def read_garbage(seq):
    stage.say_text("temperature is about 23\n")


def read_array(seq):
    stage.say_text("[1, 2, 3]\n")


def read_values(text):
    return lambda seq: stage.say_text('{"seq": %d, "values": {"temperature": %s}}\n' % (seq, text))


def read_huge(seq):
    stage.say_text('{"seq": %d, "values": {}, "about": "%s"}\n' % (seq, "x" * 5000))


def read_endless(seq):
    stage.say_text("x" * 9000)


def read_flood(seq):
    stage.say_text('{"about": "news"}\n' * 65)


busy_lines = iter((62, 63, 64))


def read_busy(seq):
    stage.say_text('{"about": "news"}\n' * next(busy_lines))
    read_good(seq)


def read_drip(seq):
    """A flood in two halves; the second waits until the test has seen the first taken in."""
    stage.say_text('{"about": "news"}\n' * 40 + '{"edge": true}\n')
    with open(os.path.join(stage.folder, "go"), encoding="utf-8") as go:
        go.read()
    stage.say_text('{"about": "news"}\n' * 40)
    read_good(seq)


def read_future(seq):
    stage.say(seq=seq + 1, values={"temperature": 1.0})


def read_twice(seq):
    stage.say(seq=seq, values={"temperature": 20.0})
    stage.say(seq=seq, values={"temperature": 30.0})


asked_before = []


def read_late(seq):
    """Answers each question only when the next one comes: its time is not known any more."""
    for earlier in asked_before:
        stage.say(seq=earlier, values={"temperature": 99.0})
    asked_before[:] = [seq]


def read_deaf(seq):
    """Closes its input and lives on."""
    read_good(seq)
    os.close(0)
    stage.tick()
    while True:
        time.sleep(3600)


def read_dying(seq):
    # Both ends are closed before the tick: the kernel closes them in no certain order at exit.
    os.close(0)
    os.close(1)
    stage.tick()
    os._exit(0)


def read_last_words(seq):
    read_good(seq)
    read_dying(seq)


def read_edge(seq):
    stage.say(edge=True)
    stage.say(seq=seq, values={"contact": 1})


READS = {
    "good": read_good,
    "edge": read_edge,
    "garbage": read_garbage,
    "array": read_array,
    "nan": read_values("NaN"),
    "overflow": read_values("1e999"),
    "string": read_values('"23.4"'),
    "truth": read_values("true"),
    "huge": read_huge,
    "endless": read_endless,
    "flood": read_flood,
    "busy": read_busy,
    "drip": read_drip,
    "future": read_future,
    "twice": read_twice,
    "late": read_late,
    "deaf": read_deaf,
    "dies": read_dying,
    "last_words": read_last_words,
    "typo": lambda seq: stage.say(seq=seq, values={"temprature": 23.4}),
    "no_values": lambda seq: stage.say(seq=seq, ok=True),
    "nothing_now": lambda seq: stage.say(seq=seq, ok=False),
    "silent": lambda seq: None,
    "stubborn": lambda seq: None,
    "family": lambda seq: None,
    "environment": read_good,
    "refuses": read_good,
    "wrong_role": read_good,
    "unasked": read_good,
}


def ignored_signals():
    return [
        number.name
        for number in signal.Signals
        if signal.getsignal(number) == signal.SIG_IGN
    ]


def prepare():
    if stage.mode in ("stubborn", "family"):
        for number in (signal.SIGTERM, signal.SIGINT, signal.SIGHUP):
            signal.signal(number, signal.SIG_IGN)
    if stage.mode == "family" and os.fork() == 0:
        while True:
            time.sleep(3600)
    if stage.mode == "environment":
        for name in sorted(os.environ):
            stage.note("environment", f"{name}={os.environ[name]}\n")
        stage.note("folder", os.getcwd())
        stage.note("leads_its_group", str(os.getpgrp() == os.getpid()))
        stage.note("descriptors", " ".join(stage.descriptors_at_start))
        stage.note("ignored", " ".join(ignored_signals()))
        stage.note("blocked", str(signal.pthread_sigmask(signal.SIG_BLOCK, [])))


def main():
    prepare()
    for request in stage.requests():
        if request["op"] == "hello":
            if stage.mode != "unasked":
                greet(request)
            if stage.mode == "edge":
                stage.say_text('{"edge": true}\n' * 3)
                stage.tick()
        elif request["op"] == "read":
            READS[stage.mode](request["seq"])
            stage.tick()
        elif request["op"] == "bye":
            stage.note("bye", "x")
    if stage.mode == "stubborn":
        while True:
            time.sleep(3600)


main()
