"""What the sample trucks truly are, and when they were read: all that lies behind their files. Invented.

`make_samples` makes the readings from it.
"""

from dataclasses import dataclass, field
from datetime import date

import numpy as np
from numpy.typing import NDArray

from tuning.units import from_unit

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Truth:
    """What a truck is and its file doesn't know; corners in the order LF, RF, LR, RR.

    rate: true rate over listed, (upper, lower) of each corner; 1 where there is no upper. datum: m; at a
    leaf, minus its height without load. offset: warp of the unloaded truck (rad). twist: twist compliance
    over nominal. friction: half band (N), front and rear. wheels: about what the wheels carry (N): axle sums
    and roll couple are the truck's own, the springs and the frame share them out.
    """

    rate: Array
    datum: Array
    offset: float
    twist: float
    friction: tuple[float, float]
    wheels: Array


@dataclass(frozen=True)
class Visit:
    """One run. preload: in the sheet's unit, None: no adjuster. settled: how it came to rest, each time.

    lost: length each spring has lost by then (m). added: weight more on the wheels than at first (N). mistyped:
    what was written down too much, by corner, in the sheet's unit.
    """

    run: str
    taken_at: str
    odometer: int
    preload: tuple[float | None, ...]
    settled: tuple[str, ...] = ("",)
    weighed: bool = True
    note: str = ""
    lost: tuple[float, ...] = (0.0, 0.0, 0.0, 0.0)
    added: tuple[float, ...] = (0.0, 0.0, 0.0, 0.0)
    mistyped: dict[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class Sheet:
    """How a shop writes down: units, smallest steps, and the decimals they take."""

    length: str
    tape_step: float
    load: str
    scale_step: float
    distance: str


@dataclass(frozen=True)
class Sample:
    """One invented truck and its runs."""

    seed: int
    truth: Truth
    visits: tuple[Visit, ...]
    sheet: Sheet


US = Sheet("in", 1 / 16, "lbf", 1.0, "mi")
METRIC = Sheet("mm", 1.0, "kg", 0.5, "km")


def lbf(*values: float) -> Array:
    """Forces in N."""
    return np.array(from_unit(np.array(values), "lbf"))


def mm(*values: float) -> Array:
    """Lengths in m."""
    return np.array(values) / 1000


LF_SET = 0.003  # m, times log(1 + days/20)
SLIP, PUMP_ON, SCALES_AWAY, RR_UP = 9, 14, 20, 17  # months
PUMP = lbf(8, 14, 30, 110)
NOTES = {
    0: "tank full, as always",
    SLIP: "read in the rain",
    SCALES_AWAY: "scales lent to the neighbours",
    PUMP_ON: "pump bolted on behind the tank, right",
    RR_UP: "RR nut three turns down the thread, for the pump",
}


def two_years() -> tuple[Visit, ...]:
    """The water wagon, month by month: its left front spring settles, a pump comes aboard behind on the right."""
    first = date(2024, 3, 16)
    nuts, visits = [1.0, 1.0, 1.25, 1.25], []
    for month in range(25):
        year, place = divmod(2 + month, 12)
        day = date(2024 + year, place + 1, 16 - month * 5 % 9)
        days = (day - first).days if month else 0
        note = NOTES.get(month, "")
        if month == RR_UP:
            nuts[3] += 0.25
        settled = ("above", "below") if month % 6 == 0 else ("",)
        visits.append(
            Visit(
                f"{day:%Y-%m}",
                f"{day:%Y-%m-%d}T17:{5 * (month % 12):02d}",
                20_410 + round(14.6 * days),
                tuple(nuts),
                settled,
                weighed=month != SCALES_AWAY,
                note=note,
                lost=(float(LF_SET * np.log1p(days / 20)), 0.0, 0.0, 0.0),
                added=tuple(PUMP.tolist()) if month >= PUMP_ON else (0.0, 0.0, 0.0, 0.0),
                mistyped={"RF": 10.0} if month == SLIP else {},
            )
        )
    return tuple(visits)


SAMPLES = {
    "night_shift": Sample(
        seed=1,
        truth=Truth(
            rate=np.array([[0.97, 1.02], [1.03, 0.99], [0.98, 0.98], [1.02, 1.03]]),
            datum=mm(-5, 4, 5, -4),
            offset=-0.001,
            twist=1.15,
            friction=(85.0, 130.0),
            wheels=lbf(1765, 1735, 1440, 1410),
        ),
        visits=(
            Visit("r1", "2024-03-02T21:10", 61204, (0.75, 0.25, 0.25, 0.75), note="first set-down"),
            Visit(
                "r2",
                "2024-03-03T23:35",
                61205,
                (1.583, 0.833, 1.292, 1.542),
                note="7 turns for each inch missing",
            ),
            Visit(
                "r3",
                "2024-03-09T20:05",
                61251,
                (1.583, 1.25, 1.875, 1.542),
                ("above", "below"),
                note="RF and LR up, then driven",
            ),
        ),
        sheet=US,
    ),
    "market_van": Sample(
        seed=2,
        truth=Truth(
            rate=np.array([[1.0, 1.03], [1.0, 0.98], [1.0, 0.95], [1.0, 1.02]]),
            datum=mm(3, -2, -592, -598),
            offset=0.0,
            twist=0.8,
            friction=(140.0, 300.0),
            wheels=np.array([5400.0, 5250.0, 4700.0, 4550.0]),
        ),
        visits=(
            Visit("first", "2024-04-13T16:40", 182340, (20, 20, None, None), weighed=False, note="no scales"),
            Visit(
                "scales", "2024-04-20T10:15", 182371, (32, 26, None, None), ("", ""), note="scales borrowed"
            ),
            Visit(
                "again",
                "2024-04-20T15:50",
                182371,
                (32, 26, None, None),
                ("above", "below", "above", "below"),
            ),
        ),
        sheet=METRIC,
    ),
    "hill_pony": Sample(
        seed=3,
        truth=Truth(
            rate=np.array([[1.0, 0.98], [1.0, 1.01], [1.0, 1.03], [1.0, 0.97]]),
            datum=mm(2, -4, 3, 1),
            offset=-0.002,
            twist=1.2,
            friction=(120.0, 90.0),
            wheels=lbf(640, 610, 590, 570),
        ),
        visits=(
            Visit(
                "monday",
                "2024-05-06T18:20",
                33810,
                (0.5, 0.5, 0.5, 0.5),
                weighed=False,
                note="no scales here",
            ),
            Visit("friday", "2024-05-10T17:45", 33858, (0.833, 0.5, 1.0, 1.0), ("", "", ""), weighed=False),
        ),
        sheet=US,
    ),
    "water_wagon": Sample(
        seed=5,
        truth=Truth(
            rate=np.array([[1.0, 0.98], [1.0, 1.02], [1.0, 1.01], [1.0, 0.99]]),
            datum=mm(-3, 2, 1, -2),
            offset=0.001,
            twist=0.9,
            friction=(125.0, 135.0),
            wheels=lbf(1580, 1555, 1720, 1690),
        ),
        visits=two_years(),
        sheet=US,
    ),
}
