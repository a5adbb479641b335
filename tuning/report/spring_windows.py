"""The windows asked of springs, and what lies outside of them, in words."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from ..choices import EndAnswer
from ..units import System, decimal_length

_INSIDE = 1e-9  # of half a window
_FREQUENCY, _CROSSOVER = 1, 2  # places in `Choice.distance`


@dataclass(frozen=True)
class Windows:
    """What a list was asked to keep: ride frequency (Hz), and crossover (m), the mean over the end's corners."""

    frequency: tuple[float, float]
    crossover: tuple[float, float]


def windows_of(answer: EndAnswer) -> Windows:
    """The windows of an answer."""
    low, high = np.vstack([one.ring.crossover for one in answer.searches]).mean(axis=0)
    return Windows(answer.searches[0].wanted.frequency, (float(low), float(high)))


def side_of(value: float, window: tuple[float, float], outside: float, said: Callable[[float], str]) -> str:
    """`over`, `just under`, `one side outside`; empty for what is inside. outside: the worst corner's distance."""
    low, high = window
    if outside <= _INSIDE:
        return ""
    if low <= value <= high:
        return "one side outside"
    edge, side = (low, "under") if value < low else (high, "over")
    return f"just {side}" if said(value) == said(edge) else side


def missed(answer: EndAnswer, system: System) -> list[str]:
    """A line for each window that no listed choice is inside of."""
    asked, listed = windows_of(answer), answer.choices
    low, high = (decimal_length(edge, system) for edge in asked.crossover)
    figures = {
        _FREQUENCY: f"a ride frequency of {asked.frequency[0]:.2f} to {asked.frequency[1]:.2f} Hz",
        _CROSSOVER: f"its crossover at {low.split(' ', maxsplit=1)[0]} to {high}",
    }
    lines = []
    for place, figure in figures.items():
        if not listed or any(choice.distance[place] <= _INSIDE for choice in listed):
            continue
        none = any((one.distance[one.order, place] > _INSIDE).all() for one in answer.searches)
        lines.append(
            f"No stack that fits has {figure}: those listed come nearest to all that was asked."
            if none
            else f"None of those listed has {figure}: others that fit do, but miss more elsewhere."
        )
    return lines
