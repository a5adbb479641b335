"""An invented truck and its runs for the dashboard's tests: what it would stand at, to the next sixteenth."""

from datetime import datetime, timedelta

import numpy as np

from tuning.log.store import Log
from tuning.readings import Reading
from tuning.statics import Weight, settle
from tuning.truck import CORNERS, Truck
from tuning.truckfile import read_truck, truck_template

IN, LBF = 0.0254, 4.4482216152605
NAME = "Night shift"
FREE = {"LR": -0.56, "RR": -0.56}  # height of the leaves unloaded, as a datum (m)
TOML = (
    truck_template().replace('LF = "22 in"', 'LF = "24 1/2 in"').replace('RF = "22 in"', 'RF = "24 1/2 in"')
)


def truck(toml: str = TOML) -> Truck:
    """As the file says."""
    return read_truck(toml)


def readings(count: int = 3, toml: str = TOML) -> tuple[Reading, ...]:
    """Runs r1, r2 …, the nuts down a quarter inch each time, the left front first half an inch low."""
    built, found = truck(toml), []
    weight = Weight(2450 * LBF, 2150 * LBF, 25.0)
    for number in range(1, count + 1):
        preload = {"LF": (0.25 + 0.25 * number) * IN, "RF": (0.5 + 0.25 * number) * IN}
        stand = settle(built, weight, preload, FREE)
        for i, corner in enumerate(CORNERS):
            tape = round(stand.heights[corner] / IN * 16 + (-1) ** (number + i) * 0.4) / 16 * IN
            nut = corner in preload
            found.append(
                Reading(
                    run=f"r{number}",
                    taken_at=datetime(2025, 5, 1, 9, 30) + timedelta(days=7 * number),
                    corner=corner,
                    height=tape,
                    load=round(stand.loads[corner] / LBF) * LBF,
                    preload=preload.get(corner),
                    stack=built.corners[corner].stack.name if nut else None,
                )
            )
    return tuple(found)


def fill(path: str, count: int = 3, name: str = NAME, toml: str = TOML) -> Log:
    """A log with that truck in it."""
    log = Log.open(path)
    log.save_truck(name, toml)
    if count:
        log.add_readings(name, readings(count, toml))
    return log


def many_readings(count: int) -> tuple[Reading, ...]:
    """Runs r1, r2 … of years: weight and nuts never twice the same, tape and scale as they are."""
    built, random, found = truck(), np.random.default_rng(5), []
    for number in range(1, count + 1):
        front, rear, couple = random.normal([2450, 2150, 25], [60, 60, 20])
        preload = {c: random.integers(4, 12) / 8 * IN for c in ("LF", "RF")}
        stand = settle(built, Weight(front * LBF, rear * LBF, couple), preload, FREE)
        at = datetime(2020, 1, 1, 9) + timedelta(hours=20 * number)
        for c in CORNERS:
            tape = stand.heights[c] / IN + random.normal(0, 1 / 16) + random.uniform(-1, 1) / 8
            scale = stand.loads[c] / LBF * random.normal(1, 0.002)
            stack = built.corners[c].stack.name if c in preload else None
            found.append(
                Reading(
                    f"r{number}", at, c, round(tape * 16) / 16 * IN, round(scale) * LBF, preload.get(c), stack
                )
            )
    return tuple(found)
