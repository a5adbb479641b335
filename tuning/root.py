"""The one root finder: a bracketed secant for many monotone scalar equations at once."""

from collections.abc import Callable

import numpy as np

from .arrays import Array


def monotone_root(f: Callable[[Array], Array], low: Array, high: Array, tolerance: float) -> Array:
    """Where each of many increasing functions crosses zero, elementwise.

    f: takes and returns arrays of the shape of `low`. low, high: ends of the brackets. tolerance: on the value
    of f. A function that keeps its sign answers with the end nearer to its zero.
    Regula falsi with the factor of Anderson and Björck (1973, BIT 13, 253), and a bisection whenever three steps
    have not halved a bracket: straight functions end after one step, kinked ones can't run away or cycle.
    """
    a, b = np.array(low, dtype=float), np.array(high, dtype=float)
    fa, fb = f(a), f(b)
    root = np.where(fa >= -tolerance, a, b)
    seeking = (fa < -tolerance) & (fb > tolerance)
    width, last = b - a, np.zeros(a.shape)
    for step in range(1, 200):
        if not seeking.any():
            break
        x = b - fb * np.divide(b - a, fb - fa, out=np.zeros(a.shape), where=fb > fa)
        if step % 3 == 0:
            x, width = np.where(b - a > 0.5 * width, 0.5 * (a + b), x), b - a
        root = np.where(seeking, np.clip(x, a, b), root)
        fx = f(root)
        side = np.sign(fx)
        # The end that stays put for a second time is made lighter, or the secant would creep up from one side.
        stuck = np.where(side < 0, fa, fb)
        weight = 1 - np.divide(fx, stuck, out=np.zeros(a.shape), where=stuck != 0)
        weight = np.where(side == last, np.where(weight > 0, weight, 0.5), 1.0)
        a, fa = np.where(side < 0, root, a), np.where(side < 0, fx, fa * np.where(side > 0, weight, 1.0))
        b, fb = np.where(side > 0, root, b), np.where(side > 0, fx, fb * np.where(side < 0, weight, 1.0))
        last = side
        seeking &= (np.abs(fx) > tolerance) & (b > a)
    return root
