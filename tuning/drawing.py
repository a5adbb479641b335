"""A shock and its springs as they stand, along the shock's axis. Lengths m, zero where the shaft enters the body, up.

The body stays, so the nut and the ring stand where they are at every height of the axle; perch and slider move.
"""

from dataclasses import dataclass

from .positions import Position
from .truck import Stack

Span = tuple[float, float]  # lower and upper end


@dataclass(frozen=True)
class Drawing:
    """One position. upper, slider, ring: None where there are none. loose: room between nut and spring, None where
    there is none."""

    body: Span
    shaft: Span
    perch: float
    lower: Span
    slider: float | None
    upper: Span | None
    ring: float | None
    nut: float
    loose: Span | None


def drawing(position: Position, stack: Stack, stroke: float) -> Drawing | None:
    """Where everything is; None where a spring's length is not known. The body is as long as stroke and nut ask.

    Loose springs stand on the perch.
    """
    if position.shaft is None or position.lower_length is None:
        return None
    if stack.upper is not None and position.upper_length is None:
        return None
    perch = -position.shaft
    top = perch + position.lower_length
    lower, slider, upper, ring = (perch, top), None, None, None
    if position.upper_length is not None:
        slider, upper = top, (top, top + position.upper_length)
        top = upper[1]
        ring = None if position.ring_distance is None else slider + position.ring_distance
    nut = top + (position.loose or 0.0)
    return Drawing(
        body=(0.0, max(stroke, nut)),
        shaft=(min(perch, 0.0), 0.0),
        perch=perch,
        lower=lower,
        slider=slider,
        upper=upper,
        ring=ring,
        nut=nut,
        loose=(top, nut) if nut > top else None,
    )
