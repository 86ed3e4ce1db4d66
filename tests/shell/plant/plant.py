#!/usr/bin/env python3
"""A small tent that owes nothing to neap: a plant in lockstep (schema/program-driver.md).

Well-mixed air of one temperature and one vapour density, one tray, one reservoir. Saturation by the
Magnus formula with the coefficients of Alduchov and Eskridge (1996); all other figures are choices
for a tent of 1.5 m3 in a cellar. It misbehaves on request:
    plant.py [die|late|garbage|sequence|mute SECONDS]
"""
import json
import math
import sys
import time

VOLUME = 1.5            # m3
LEAK = 9.0              # m3/h through seams
FAN = 140.0             # m3/h at full level
HEAT_CAPACITY = 9000.0  # J/K of air, leaves and cloth together
WALLS = 11.0            # W/K
LIGHT = 110.0           # W, all of it ends as heat
DRYER = 120.0           # g/h at 60 % and more; 170 W
MISTER = 180.0          # g/h
PUMP = 600.0            # L/h
DRAIN = 260.0           # L/h back through the resting pump
RIM = 27.0              # L in the tray at the float
LATENT = 2450.0         # J/g


def saturation(t):  # hPa
    return 6.1094 * math.exp(17.625 * t / (t + 243.04))


def density(t, rh):  # g/m3 from C and %
    return 216.7 * rh / 100 * saturation(t) / (t + 273.15)


def humidity(t, rho):  # % from C and g/m3
    return min(100.0, 100 * rho * (t + 273.15) / (216.7 * saturation(t)))


class Tent:
    def __init__(self, t_ms, local_time):
        self.t_ms = t_ms
        clock = local_time.split("T")[1].split(":")
        self.second = int(clock[0]) * 3600 + int(clock[1]) * 60
        self.temperature, self.vapour = 19.0, density(19.0, 62)
        self.reservoir, self.tray, self.wet = 52.0, 0.0, 0.0
        self.level = {}

    def room(self):
        swing = math.sin(2 * math.pi * (self.second - 9 * 3600) / 86400)
        return 18.5 + 1.5 * swing, 68.0 - 4 * swing

    def on(self, output):
        return self.level.get(output, 0) / 1000

    def step(self):  # one second
        room_t, room_rh = self.room()
        air = LEAK + FAN * self.on("exhaust_fan")
        rh = humidity(self.temperature, self.vapour)
        vpd = (1 - rh / 100) * saturation(self.temperature) / 10  # kPa
        leaves = (18 + 62 * self.on("light")) * vpd / 0.9  # g/h
        medium = 130 * self.wet * vpd
        dried = DRYER * self.on("dehumidifier") * max(0.0, min(1.0, (rh - 25) / 35))
        mist = MISTER * self.on("humidifier")
        vapour = leaves + medium + mist - dried
        self.vapour += (vapour + air * (density(room_t, room_rh) - self.vapour)) / VOLUME / 3600
        watts = (LIGHT * self.on("light") + 170 * self.on("dehumidifier")
                 - LATENT * (leaves + medium + mist) / 3600
                 + LATENT * dried / 3600
                 + (WALLS + 0.335 * air) * (room_t - self.temperature))
        self.temperature += watts / HEAT_CAPACITY
        if self.on("pump"):
            moved = min(PUMP / 3600, self.reservoir, RIM + 0.2 - self.tray)
        else:
            moved = -min(DRAIN / 3600, self.tray)
        self.reservoir, self.tray = self.reservoir - moved, self.tray + moved
        self.wet = 1.0 if self.tray > 2 else self.wet * (1 - 1 / 1500)
        self.second = (self.second + 1) % 86400
        if self.second == 19 * 3600:
            self.reservoir = max(self.reservoir, 52.0)  # somebody tops up

    def advance(self, t_ms):
        while self.t_ms + 1000 <= t_ms:
            self.t_ms += 1000
            self.step()

    def read(self, part):
        room_t, room_rh = self.room()
        return {
            "canopy": lambda: {"temperature": round(self.temperature, 2),
                               "humidity": round(humidity(self.temperature, self.vapour), 2)},
            "room": lambda: {"temperature": round(room_t, 2), "humidity": round(room_rh, 2)},
            "reservoir": lambda: {"level": round(self.reservoir, 2)},
            "leak_floor": lambda: {"contact": 0},
            "tray_full": lambda: {"contact": 1 if self.tray >= RIM else 0},
        }[part]()


def say(message):
    sys.stdout.write(json.dumps(message) + "\n")
    sys.stdout.flush()


def misbehave(how, seq):
    if how == "die":
        sys.exit(1)
    if how == "late":
        time.sleep(600)
    if how == "garbage":
        sys.stdout.write("warm and damp\n")
        sys.stdout.flush()
    if how == "sequence":
        say({"seq": seq - 1, "values": {}})
    if how == "mute":
        say({"seq": seq})


def main():
    how, after_s = (sys.argv[1], float(sys.argv[2])) if len(sys.argv) > 2 else (None, 0)
    tent = None
    for line in sys.stdin:
        request = json.loads(line)
        seq, operation = request["seq"], request["op"]
        if operation == "bye":
            break
        if operation == "hello":
            tent = Tent(request["t_ms"], request["local_time"])
            began = request["t_ms"]
            say({"seq": seq, "ok": True, "role": "plant", "about": "a tent of 1.5 m3"})
            continue
        if how and request["t_ms"] >= began + 1000 * after_s and "part" in request:
            misbehave(how, seq)
            continue
        tent.advance(request["t_ms"])
        if operation == "write":
            tent.level[request["output"]] = request["level"]
        if "output" in request:
            say({"seq": seq, "ok": True, "level": tent.level.get(request["output"], 0)})
        else:
            say({"seq": seq, "values": tent.read(request["part"])})


main()
