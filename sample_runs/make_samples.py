"""Makes the readings of the invented trucks: `python -m sample_runs.make_samples` writes the same again.

Behind each truck stands a truth that its file doesn't know: springs off their listed rates, a datum of some
millimetres, a frame that isn't straight, friction of another size. The truck stands where the package's own
equilibrium puts it with that truth, and is then read as a shop reads:

- friction φ at a corner helps the spring carry. Rolled and bounced, φ is anywhere inside ± the half band
  with equal chance; settled from above it is + the whole of it, from below − the whole.
- the tape errs by 1/16 in (one standard deviation) and is written down to the next 1/16 in, or millimetre.
- each scale errs by 0.2 % (one standard deviation) and is written down to the next 1 lbf, or half kilogram.

A spring that is helped by φ is pressed less by C φ / m, with C the compliance of the springs at work there
and m the motion ratio; so φ goes in as that much less datum. m is taken where the corner comes to stand,
which takes a few rounds; C where it would stand without friction, which is right unless φ takes a slider on
or off its ring.
"""

import csv
import io
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.random import RandomState
from numpy.typing import NDArray

from sample_runs import NAMES, path
from tuning import stack as springs
from tuning.statics import Axles, Struts, Weight, axles, equilibrium, struts, weight_of
from tuning.truck import CORNERS, Truck
from tuning.truckfile import load_truck
from tuning.units import from_unit, to_unit

Array = NDArray[np.float64]

TAPE = from_unit(1 / 16, "in")  # m, one standard deviation
SCALE = 0.002  # one standard deviation, share of what is on it
ROUNDS = 6  # of friction and motion ratio, to a nanometre
SIDE = {"": 0.0, "above": 1.0, "below": -1.0}


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
    """One run. preload: in the sheet's unit, None: no adjuster. settled: how it came to rest, each time."""

    run: str
    taken_at: str
    odometer: int
    preload: tuple[float | None, ...]
    settled: tuple[str, ...] = ("",)
    weighed: bool = True
    note: str = ""


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
}


@dataclass(frozen=True)
class RealTruck:
    """A truck with its truth put in."""

    truck: Truck
    truth: Truth

    @property
    def axle(self) -> Axles:
        """Its axles."""
        return axles(self.truck)

    def strut(self, preload: Array) -> Struts:
        """Its corners with the nuts at `preload` (m)."""
        listed = struts(self.truck, [self.truck.corners[c].stack for c in CORNERS])
        compliance = listed.compliance / self.truth.rate
        return replace(listed, compliance=compliance, preload=preload, datum=self.truth.datum)

    def stand(self, preload: Array, friction: Array | float = 0.0) -> tuple[Array, Array]:
        """Heights at the marks (m) and wheel loads (N), (4,), with `friction` (N) helping each spring."""
        strut = self.strut(preload)
        heights, loads = self._rest(strut)
        seat, seat_load = self.axle.seat_heights(heights), self.axle.seat_loads(loads)
        at_work = springs.working(strut.spring_force(seat_load, seat), strut.compliance, strut.limit())
        local = (strut.compliance * at_work).sum(axis=-1)
        for _ in range(ROUNDS):
            eased = local * friction / strut.cycle.motion_ratio(self.axle.seat_heights(heights))
            heights, loads = self._rest(replace(strut, datum=strut.datum - eased))
        return heights, loads

    def _rest(self, strut: Struts) -> tuple[Array, Array]:
        truth, weight = self.truth, weight_of(self.truth.wheels, self.axle)
        one = Weight(*(np.array([part]) for part in (weight.front, weight.rear, weight.couple)))
        twist = np.array([truth.twist * self.axle.twist_compliance])
        heights, loads = equilibrium(strut, self.axle, one, np.array([truth.offset]), twist)
        return heights[0], loads[0]


def real_truck(name: str) -> RealTruck:
    """The truck of a sample, with the truth behind it."""
    return RealTruck(load_truck(path(name) / "truck.toml"), SAMPLES[name].truth)


def readings_csv(name: str) -> str:
    """The readings of a sample as a CSV text."""
    sample, real, text = SAMPLES[name], real_truck(name), io.StringIO()
    # The numbers of a RandomState are promised to stay the same; those of the newer Generator are not.
    random, sheet = RandomState(sample.seed), sample.sheet
    quantities = [f"height [{sheet.length}]", f"load [{sheet.load}]", f"preload [{sheet.length}]"]
    out = csv.writer(text, lineterminator="\n")
    out.writerow(
        ["run", "taken_at", "corner", *quantities, "stack", "settled", f"odometer [{sheet.distance}]", "note"]
    )
    for visit in sample.visits:
        for reading, settled in enumerate(visit.settled):
            heights, loads = _read(random, real, visit, settled, sheet)
            for i, corner in enumerate(CORNERS):
                nut = visit.preload[i]
                preload, stack = (
                    ("", "") if nut is None else (f"{nut:g}", real.truck.corners[corner].stack.name)
                )
                load = loads[i] if visit.weighed else ""
                note = visit.note if i == reading == 0 else ""
                cells = [heights[i], load, preload, stack, settled, visit.odometer, note]
                out.writerow([visit.run, visit.taken_at, corner, *cells])
    return text.getvalue()


def _read(
    random: RandomState, real: RealTruck, visit: Visit, settled: str, sheet: Sheet
) -> tuple[list[str], list[str]]:
    """Heights and loads of the four corners as they are written down after one coming to rest."""
    band = np.repeat(real.truth.friction, 2)
    friction = band * (SIDE[settled] if settled else random.uniform(-1, 1, 4))
    preload = from_unit(np.array([nut or 0.0 for nut in visit.preload]), sheet.length)
    heights, loads = real.stand(preload, friction)
    tape = to_unit(heights + TAPE * random.standard_normal(4), sheet.length)
    scale = to_unit(loads * (1 + SCALE * random.standard_normal(4)), sheet.load)
    return _written(tape, sheet.tape_step), _written(scale, sheet.scale_step)


def _written(values: Array, step: float) -> list[str]:
    """To the next whole step, as short decimals."""
    return [f"{value:.4f}".rstrip("0").rstrip(".") for value in np.round(values / step) * step]


def main() -> None:
    """Write the readings beside each truck file."""
    for name in NAMES:
        _write(path(name) / "readings.csv", readings_csv(name))


def _write(file: Path, text: str) -> None:
    file.write_text(text, encoding="utf-8", newline="\n")


if __name__ == "__main__":
    main()
