"""An alarm for sag: what each run tells of a corner beyond all runs before it, summed up on a control chart.

Each run's readings are foretold from the runs before (with everything unsure about them); what they are off by, as
a drop of the corner in standard deviations, is one number a run, independent of the last and with spread one while
nothing changes. The tabular cumulative sum (Page 1954; NIST/SEMATECH e-Handbook 6.3.2.3)

    C_i = max(0, C_{i−1} + z_i − k),   alarm where C_i > h

is begun anew after each alarm, with that corner's datum set free. With k = 0.75 and h = 1.85 a sound corner gives
one false alarm in six years of monthly readings; a drop of two standard deviations is found within three runs nine
times in ten.
"""

from dataclasses import dataclass

import numpy as np

from ..arrays import Array
from ..fit import Fit
from ..friction import unknown
from ..lines import bands
from .evidence import SLIP_SD

K, H = 0.75, 1.85  # standard deviations
FALSE_ALARM = 74  # runs of a sound corner to one: mean length with these, by Page's integral equation


@dataclass(frozen=True)
class Chart:
    """One corner's chart. run: index of each run on it; z: its drop in standard deviations; total: C after it.

    alarms: places on the chart at which C passed h; begun: for each, where the sum last left zero.
    """

    run: tuple[int, ...]
    z: Array
    total: Array
    alarms: tuple[int, ...]
    begun: tuple[int, ...]

    def rings_at(self, run: int) -> bool:
        """Whether the alarm went at that run."""
        return any(self.run[place] == run for place in self.alarms)


@dataclass(frozen=True)
class Cusum:
    """A tabular cumulative sum as it goes: the last sum, and how many values ago it left zero."""

    total: float = 0.0
    since: int = 0

    def after(self, z: float, k: float = K) -> "Cusum":
        """With one more value."""
        total = max(0.0, self.total + z - k)
        return Cusum(total, self.since + 1 if total > 0 else 0)


def charts(fit: Fit) -> tuple[Chart, ...]:
    """The charts of the four corners. The first run is what the others are compared with, so it is on none.

    A corner that was not read in a run has no value there.
    """
    told = _Told(fit)
    sums = [Cusum() for _ in range(4)]
    seen: list[list[tuple[int, float, float, bool, int]]] = [[] for _ in range(4)]
    for run in dict.fromkeys(fit.evidence.rounds.run.tolist()):
        drops = told.next(run)
        for corner, z in enumerate(drops):
            if np.isnan(z):
                continue
            sums[corner] = sums[corner].after(float(z))
            alarm = sums[corner].total > H
            seen[corner].append((run, float(z), sums[corner].total, alarm, sums[corner].since))
            if alarm:
                sums[corner] = Cusum()
                told.set_free(corner)
    return tuple(_chart(values) for values in seen)


def _chart(values: list[tuple[int, float, float, bool, int]]) -> Chart:
    alarms = tuple(i for i, value in enumerate(values) if value[3])
    return Chart(
        run=tuple(value[0] for value in values),
        z=np.array([value[1] for value in values]),
        total=np.array([value[2] for value in values]),
        alarms=alarms,
        begun=tuple(i - values[i][4] + 1 for i in alarms),
    )


class _Told:
    """What is known of the unknowns run by run (recursive least squares), beginning with the prior rows."""

    def __init__(self, fit: Fit) -> None:
        self.fit = fit
        self.mean = fit.prior.copy()
        root = np.linalg.inv(fit.prior_rows[0])
        self.covariance = root @ root.T
        rows, held = fit.rows, fit.held
        # Friction of each reading as unknown as before any was read: what later ones told of it is not known yet.
        fresh = unknown(bands(fit.evidence, fit.theta), fit.evidence.rounds.settled)
        wider = rows.friction * (fresh.variance - held.variance)[:, None]
        self.noise = rows.covariance + wider @ rows.friction.transpose(0, 2, 1)
        self.response = rows.response + np.einsum("nrc,nc->nr", rows.friction, held.mean)
        self.first = int(fit.evidence.rounds.run[0])

    def next(self, run: int) -> Array:
        """Drop of each corner at this run beyond what was foretold, in standard deviations (4,), and take it in.

        The drop is the one number that best tells a loss of datum d from chance: aᵀ S⁻¹ v / √(aᵀ S⁻¹ a), with v
        what the rows are off by, S its covariance and a how the rows follow d (a score test).
        """
        where = np.nonzero(self.fit.evidence.rounds.run == run)[0]
        columns = self.fit.rows.columns[where].reshape(-1, len(self.mean))
        noise = np.zeros((len(where), 5, len(where), 5))
        noise[np.arange(len(where)), :, np.arange(len(where))] = self.noise[where]
        off = self.response[where].reshape(-1) - columns @ self.mean
        gain = columns @ self.covariance
        spread = gain @ columns.T + noise.reshape(len(off), -1)
        follow = columns[:, self.fit.unknowns.datum]
        solved = np.linalg.solve(spread, np.column_stack([follow, off, gain]))
        drops = (follow * solved[:, 4:5]).sum(axis=0) / np.sqrt((follow * solved[:, :4]).sum(axis=0))
        self.mean = self.mean + gain.T @ solved[:, 4]
        self.covariance = self.covariance - gain.T @ solved[:, 5:]
        unread = np.isnan(self.fit.evidence.rounds.height[where]).all(axis=0)
        return np.where(unread | (run == self.first), np.nan, drops)

    def set_free(self, corner: int) -> None:
        """That corner's datum may have jumped."""
        self.covariance[corner, corner] += SLIP_SD**2
