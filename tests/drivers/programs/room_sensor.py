#!/usr/bin/env python3
"""A sensor for neap: temperature and humidity of a room.

With a file of records it tells one row a reading and begins again at the end:

    room_sensor.py room.csv        columns temperature (C) and humidity (%)

Without one it makes a room up: a slow wave over the day, warmest and driest in the afternoon.
schema/program-driver.md is the protocol. Try it by hand: start it and type {"seq":1,"op":"read"}.
"""
import csv
import itertools
import json
import math
import sys

DAY_MS = 24 * 3600 * 1000


def recorded(path):
    """The rows of a file, over and over. A cell that is empty or no number is no reading."""
    with open(path, newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    if not rows:
        sys.exit(f"{path}: no rows; write a header line with temperature,humidity and rows under it")
    for column in ("temperature", "humidity"):
        if column not in rows[0]:
            sys.exit(f"{path}: no column {column}; the header has {', '.join(rows[0])}")
    for row in itertools.cycle(rows):
        yield {name: number(row[name]) for name in ("temperature", "humidity")}


def number(text):
    try:
        value = float(text)
    except (TypeError, ValueError):
        return None
    return value if math.isfinite(value) else None


def made_up(t_ms):
    phase = 2 * math.pi * (t_ms % DAY_MS) / DAY_MS
    return {
        "temperature": round(20.0 - 2.0 * math.cos(phase), 2),
        "humidity": round(52.0 + 6.0 * math.cos(phase), 2),
    }


def main():
    rows = recorded(sys.argv[1]) if len(sys.argv) > 1 else None
    for line in sys.stdin:  # ends when neap closes it
        request = json.loads(line)
        answer = {"seq": request["seq"]}
        if request["op"] == "hello":
            answer.update(ok=True, role="sensor", about="room air")
        elif request["op"] == "read":
            answer["values"] = next(rows) if rows else made_up(request.get("t_ms", 0))
        else:
            continue
        print(json.dumps(answer), flush=True)


main()
