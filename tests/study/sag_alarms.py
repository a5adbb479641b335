"""How soon the alarm finds a spring that has lost a length at once, and how often it rings for nothing."""

from collections.abc import Sequence
from dataclasses import replace
from itertools import product

import numpy as np
import pandas as pd

from tests.truth.shop import real_truck
from tests.truth.trucks import IN, random_kind, random_truck
from tests.truth.years import SCALE, TAPE, lived, random_life
from tuning.fit import fit
from tuning.sag.chart import Chart, charts
from tuning.truck import Noise

STEP_AT = 10  # monthly runs before it
WITHIN = 3  # runs
STEPS = (0.25 * IN, 0.375 * IN, 0.5 * IN)


def alarms(trucks: int, seed: int, steps: Sequence[float] = STEPS) -> pd.DataFrame:
    """A row for every truck, way of reading and step (0: none): found, runs it took, false alarms, runs charted."""
    cases = product(range(trucks), "ABC", (0.0, *steps))
    return pd.DataFrame([{"truck": n, "way": w, "step": s, **_tried(n, seed, w, s)} for n, w, s in cases])


def _tried(number: int, seed: int, way: str, step: float) -> dict[str, object]:
    rng = np.random.default_rng([seed, number, 2])
    truck, wheels = random_truck(rng, random_kind(rng), f"truck {number}")
    truck = replace(truck, noise=Noise(height=TAPE, load=SCALE))
    real = real_truck(rng, truck, wheels)
    life = replace(random_life(rng, truck, real, "neither", way, "all"))
    corner = int(rng.integers(4))
    lost = life.lost.copy()
    lost[STEP_AT:, corner] += step
    runs = lived(rng, truck, real, replace(life, lost=lost)).runs
    found = charts(fit(truck, runs if step == 0 else runs[: STEP_AT + WITHIN]))
    if step == 0:
        return {"false": sum(len(c.alarms) for c in found), "charted": sum(len(c.run) for c in found)}
    return {"delay": _delay(found[corner])}


def _delay(chart: Chart) -> float:
    """Runs from the step to the first alarm, 1 for the first that could see it; inf where none came in time."""
    rung = [chart.run[a] for a in chart.alarms if chart.run[a] >= STEP_AT]
    return rung[0] - STEP_AT + 1 if rung else np.inf
