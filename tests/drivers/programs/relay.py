"""An output program: FOLDER/line is its line, as a pin would be."""
import os
import sys
import time

import stage

PROVES = stage.mode not in ("ignores_eof", "silent_at_eof", "runs_on")


def line():
    with open(os.path.join(stage.folder, "line"), encoding="utf-8") as file:
        return int(file.read())


def drive(level):
    with open(os.path.join(stage.folder, "line"), "w", encoding="utf-8") as file:
        file.write(str(level))


def answer_write(request):
    level = request["level"]
    if stage.mode == "stuck" and level == 1000:
        stage.say(seq=request["seq"], ok=True, level=0)
    elif stage.mode == "cannot":
        stage.say(seq=request["seq"], ok=False)
    elif stage.mode == "mute":
        drive(level)
    elif stage.mode == "garbage":
        stage.say_text("done\n")
    elif stage.mode == "flood":
        stage.say_text('{"about": "news"}\n' * 65)
        stage.say(seq=request["seq"], ok=True, level=level)
    elif stage.mode == "wild":
        stage.say(seq=request["seq"], ok=True, level=1001)
    else:
        done = round(level / 100) * 100 if stage.mode == "steps" else level
        drive(done)
        stage.say(edge=True)  # meaningless for an output, and no harm
        stage.say(seq=request["seq"], ok=True, level=done)


def at_end_of_input():
    if stage.mode == "ignores_eof":
        drive(0)
        stage.say(eof=True, level=0)
        while True:
            time.sleep(3600)
    if stage.mode == "runs_on":
        stage.say(eof=True, level=1000)
    if PROVES:
        drive(0)
        stage.say(eof=True, level=0)


def main():
    for request in stage.requests():
        if request["op"] == "hello":
            stage.note("outputs", request["output"] + "\n")
            stage.say(seq=request["seq"], ok=True, role="output",
                      safe_on_eof=stage.mode != "undeclared")
        elif request["op"] == "write":
            answer_write(request)
        elif request["op"] == "read":
            stage.say(seq=request["seq"], ok=True, level=line())
    try:
        at_end_of_input()
    except BrokenPipeError:
        sys.exit(1)


main()
