#!/usr/bin/env python3
"""A contact for the live bench: says 0 or 1 as its file says, and tells an edge when it changes.

    contact.py FILE    FILE holds 0 or 1; a write to the FIFO FILE.edge asks for an early reading
"""
import json
import sys
import threading


def watch(path):
    while True:
        with open(path + ".edge", encoding="ascii") as fifo:
            for _ in fifo:
                print('{"edge":true}', flush=True)


path = sys.argv[1]
for line in sys.stdin:
    request = json.loads(line)
    answer = {"seq": request["seq"]}
    if request["op"] == "hello":
        answer.update(ok=True, role="sensor", about="bench contact", simulated=True)
        threading.Thread(target=watch, args=(path,), daemon=True).start()
    elif request["op"] == "read":
        with open(path, encoding="ascii") as file:
            answer["values"] = {"contact": int(file.read())}
    else:
        continue
    print(json.dumps(answer), flush=True)
