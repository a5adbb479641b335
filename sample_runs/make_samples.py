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

from sample_runs import NAMES, path
from sample_runs.truths import SAMPLES, Array, Sheet, Truth, Visit
from tuning import stack as springs
from tuning.statics import Axles, Struts, Weight, axles, equilibrium, struts, weight_of
from tuning.truck import CORNERS, Truck
from tuning.truckfile import load_truck
from tuning.units import from_unit, to_unit

TAPE = from_unit(1 / 16, "in")  # m, one standard deviation
SCALE = 0.002  # one standard deviation, share of what is on it
ROUNDS = 6  # of friction and motion ratio, to a nanometre
SIDE = {"": 0.0, "above": 1.0, "below": -1.0}


@dataclass(frozen=True)
class RealTruck:
    """A truck with its truth put in."""

    truck: Truck
    truth: Truth

    def at(self, visit: Visit) -> "RealTruck":
        """As it is on a visit."""
        datum, wheels = self.truth.datum + visit.lost, self.truth.wheels + visit.added
        return replace(self, truth=replace(self.truth, datum=datum, wheels=wheels))

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
            heights, loads = _read(random, real.at(visit), visit, settled, sheet)
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
    slip = np.array([visit.mistyped.get(corner, 0.0) for corner in CORNERS])
    return _written(tape + slip, sheet.tape_step), _written(scale, sheet.scale_step)


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
