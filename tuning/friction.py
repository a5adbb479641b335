"""How much friction each reading held: flat inside a band, and learnt from the other readings. Forces at the seat, N.

A reading that was rolled and bounced holds anything between −f and +f. One such reading says no more; several pin
it down better than their mean does, because none can hold more than the band. Each flat error is stood in for by
the normal one that, with everything else known of that reading, has the same mean and spread (expectation
propagation, Minka 2001), found in the same passes that make the fit straight.
"""

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr, ndtri

from .arrays import Array, Flags

SHOULDER = 0.3  # of the band: how far its edge may be off at one corner (standard deviation, from memory)
UNHELD = 0.05  # of the band: by how much settling from one side may fail to use it up (from memory)
DAMPING = 0.7  # of each new stand-in taken over at a time, so that two readings do not chase each other


@dataclass(frozen=True)
class Held:
    """Friction of every reading beyond what its `settled` says, (n, 4): mean and variance of the normal stand-in.

    band: half the flat part's width, 0 where the reading was settled; other_mean, other_variance: what everything
    but the band says of the flat part.
    """

    mean: Array
    flat_variance: Array
    band: Array
    edge_variance: Array
    other_mean: Array
    other_variance: Array

    @property
    def variance(self) -> Array:
        """Of flat part and edge together."""
        return self.flat_variance + self.edge_variance

    def draws(self, count: int, random: np.random.Generator, which: Flags) -> Array:
        """Flat parts given everything else, less their mean and over their spread: (count, m).

        which: those of the readings to draw, (4 n,), m of them true.
        """
        parts = (self.other_mean, self.other_variance, self.band)
        centre, spread, band = (part.reshape(-1)[which] for part in parts)
        sd = np.sqrt(spread)
        low, high = ndtr((-band - centre) / sd), ndtr((band - centre) / sd)
        even = low + random.random((count, len(band))) * (high - low)
        drawn = centre + sd * ndtri(np.clip(even, 1e-12, 1 - 1e-12))
        mean, variance = inside(centre, spread, band)
        return np.asarray((np.clip(drawn, -band, band) - mean) / np.sqrt(np.maximum(variance, 1e-12)))


def unknown(band: Array, settled: Array) -> Held:
    """Before anything is known. band: friction half band of each reading's corner (n, 4); settled as in `Rounds`."""
    flat = np.where(settled == 0, band, 0.0)
    edge = np.where(settled == 0, SHOULDER, UNHELD) * band
    wide = np.maximum((100 * band) ** 2, 1.0)
    return Held(np.zeros(band.shape), flat**2 / 3, flat, edge**2, np.zeros(band.shape), wide)


def learnt(held: Held, band: Array, pull: Array, hold: Array) -> Held:
    """Stand-ins after a solve. band: the half bands by the newest estimate (n, 4).

    pull, hold: Xᵀ and curvature of the friction in each reading, aᵀ V⁻¹ r and aᵀ (V⁻¹ − V⁻¹ X P Xᵀ V⁻¹) a, with V
    the covariance that holds the present stand-ins.
    """
    flat = np.where(held.band > 0, band, 0.0)
    v, known = held.flat_variance, held.band > 0
    left = np.clip(v * hold, 0.0, 1 - 1e-9)  # share of its variance that the rest takes away
    mean, variance = held.mean + v * pull, v * (1 - left)
    with np.errstate(divide="ignore", invalid="ignore"):
        precision = np.where(known, 1 / variance - 1 / v, 0.0)
        other_variance = 1 / np.maximum(precision, 1 / np.maximum((100 * band) ** 2, 1.0))
        other_mean = np.where(known, (mean / variance - held.mean / v) * other_variance, 0.0)
        m, s2 = inside(other_mean, other_variance, flat)
        new = np.maximum(1 / s2 - 1 / other_variance, 0.3 / np.maximum(flat, 1e-9) ** 2)
        shift = m / s2 - other_mean / other_variance
        old = 1 / v
        both = (1 - DAMPING) * old + DAMPING * new
        moved = ((1 - DAMPING) * held.mean * old + DAMPING * shift) / both
    edge = np.where(known, SHOULDER, UNHELD) * band
    return Held(
        mean=np.where(known, np.clip(moved, -3 * flat, 3 * flat), 0.0),
        flat_variance=np.where(known, 1 / both, 0.0),
        band=flat,
        edge_variance=edge**2,
        other_mean=other_mean,
        other_variance=other_variance,
    )


def inside(mean: Array, variance: Array, band: Array) -> tuple[Array, Array]:
    """Mean and variance of a normal number that is known to lie within ± band (N. L. Johnson et al., truncated
    normal). Where next to nothing of it lies inside, the nearer end of the band, narrow."""
    sd = np.sqrt(variance)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore", under="ignore"):
        a, b = (-band - mean) / sd, (band - mean) / sd
        mass = ndtr(b) - ndtr(a)
        pa, pb = np.exp(-(a**2) / 2) / np.sqrt(2 * np.pi), np.exp(-(b**2) / 2) / np.sqrt(2 * np.pi)
        first = (pa - pb) / mass
        m = mean + sd * first
        s2 = variance * (1 + (a * pa - b * pb) / mass - first**2)
    narrow = (0.05 * band) ** 2
    out = ~(mass > 1e-6)
    # A normal far wider than the band is flat inside it; the formula loses its digits there.
    wide = sd > 30 * band
    m = np.where(out, np.clip(mean, -band, band), np.where(wide, 0.0, m))
    s2 = np.where(out, narrow, np.where(wide, band**2 / 3, np.maximum(s2, narrow)))
    return m, s2
