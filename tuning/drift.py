"""What a stack loses in length while it is on: unknowns of the fit that say how each datum got to where it is. SI.

A spring takes a set, a mount beds in, a lock ring creeps: at the same load and the same nut the corner stands lower
month by month. The loss since a stack went on is taken as

    lost(t) = a · log(1 + t / 14 days) + b · t / 1 year

with `a` and `b` unknown, about zero, for each stack at each corner: the first is what springs do, the second what
is left of other shapes. Days count while the stack is on; another stack has its own. A stack keeps its name: what
changes in the truck file under that name is taken as a correction, not as other springs.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from .arrays import Array, Flags
from .readings import Run, instant
from .truck import CORNERS

DAY = 86400.0  # s
BEDDING = (
    14.0  # days after which settling has slowed to half (from memory); a log shorter than that shows none
)
YEAR = 365.25  # days
SETTLING_SD, CREEP_SD = 0.002, 0.003  # m, prior spread of a and b: about 10 mm in two years


@dataclass(frozen=True)
class Drift:
    """Unknowns of the drift and how each run's datum follows them.

    owner: corner and stack name of each unknown, (q). sd: prior spread (q,). lost (runs, 4, q): length lost by the
    springs on at that run since they went on. since_now (runs, 4, q): datum at that run less today's.
    """

    owner: tuple[tuple[str, str], ...]
    sd: Array
    lost: Array
    since_now: Array

    @property
    def count(self) -> int:
        """How many unknowns."""
        return len(self.owner)

    def belongs(self, corner: str, stack: str) -> Array:
        """1 for the unknowns of this stack at this corner, 0 for the others, (q,)."""
        return np.array([float(owner == (corner, stack)) for owner in self.owner])


def days_of(runs: Sequence[Run]) -> Array:
    """Days since the first run, (runs,)."""
    times = [instant(run).timestamp() for run in runs]
    return (np.array(times) - min(times, default=0.0)) / DAY


def shapes(days: Array) -> Array:
    """log(1 + t / 14 days) and t / 1 year, (..., 2)."""
    return np.stack([np.log1p(days / BEDDING), days / YEAR], axis=-1)


def drift_of(runs: Sequence[Run], stacks: Sequence[Sequence[str]]) -> Drift:
    """The drift's unknowns. stacks: names of the stacks at the four corners in each run."""
    owner, sd, lost, since_now = [], [], [], []
    days = days_of(runs)
    for i, corner in enumerate(CORNERS):
        names = [run_stacks[i] for run_stacks in stacks]
        for name in dict.fromkeys(names):
            on = np.array([n == name for n in names])
            served = days_on(days, on)
            if served.max() < BEDDING:
                continue
            own = np.where(on[:, None], shapes(served), 0.0)
            # What today's springs have lost is in today's datum; what those of another time lost went with them.
            gone = own - (own[-1] if on[-1] else 0.0)
            owner += [(corner, name)] * 2
            sd += [SETTLING_SD, CREEP_SD]
            for shape in (0, 1):
                lost.append(_at_corner(own[:, shape], i))
                since_now.append(_at_corner(gone[:, shape], i))
    empty = np.zeros((len(runs), 4, 0))
    return Drift(
        tuple(owner),
        np.array(sd),
        np.stack(lost, axis=-1) if lost else empty,
        np.stack(since_now, axis=-1) if lost else empty,
    )


def days_on(days: Array, on: Flags) -> Array:
    """Days that a stack has been on by each run, (runs,): the time between two runs counts where it was on at both."""
    between = np.diff(days, prepend=days[:1]) * (on & np.roll(on, 1))
    return np.cumsum(between)


def _at_corner(values: Array, corner: int) -> Array:
    spread = np.zeros((len(values), 4))
    spread[:, corner] = values
    return spread
