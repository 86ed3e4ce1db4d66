#!/usr/bin/env python3
"""tent.py ROOT: the settings of the guest: the pump of tests/crash/kills.py on a line of the simulated
board, the fan on its PWM channel."""
import os
import sys

sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "crash"))
import kills  # noqa: E402
from rig import write  # noqa: E402

EDITS = [
    ("    driver: level_file\n    with: {path: /run/line/pump}\n",
     "    driver: gpio_relay\n    with: {chip: relays, line: PUMP, active: high}\n"),
    ("  exhaust_fan:\n    driver: simulated\n",
     "  exhaust_fan:\n    driver: pwm_fan\n    with: {chip: pwm-sim, channel: 1}\n"),
]

text = kills.settings("/run/line")
for piece, by in EDITS:
    if piece not in text:
        sys.exit(f"the settings of kills.py have no {piece!r}")
    text = text.replace(piece, by)
write(sys.argv[1] + "/etc/neap/tent.yaml", text)
