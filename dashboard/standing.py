"""How a truck stood at its latest run against its targets, as it was read: nothing is fitted. Pure."""

import numpy as np
from dash import html

from dashboard.shell import Component
from dashboard.words import END_WORDS, share
from tuning.bench import Outlook, Wish, wishes_of
from tuning.readings import Run
from tuning.truck import CORNERS, Truck
from tuning.units import shop_length

Read = dict[str, float]


def mean_of(run: Run, what: str) -> Read:
    """Mean height (m) or load (N) of each corner that was read; readings in doubt stay out."""
    found = {
        c: [v for r in run.at(c) if not r.doubt and (v := getattr(r, what)) is not None] for c in CORNERS
    }
    return {c: sum(values) / len(values) for c, values in found.items() if values}


def misses(run: Run, truck: Truck) -> list[tuple[Wish, float]]:
    """Each target of which enough was read, and how far above it the truck stood (m, a share for cross-weight)."""
    heights, loads = (mean_of(run, what) for what in ("height", "load"))
    read = Outlook(*(np.array([each.get(c, np.nan) for c in CORNERS]) for each in (heights, loads)))
    found = [(wish, float(read.value(wish.name)) - wish.value) for wish in wishes_of(truck.target, True)]
    return [(wish, miss) for wish, miss in found if not np.isnan(miss)]


def standing(run: Run, truck: Truck) -> list[Component]:
    """In a sentence, then the heights as seen from above."""
    off = misses(run, truck)
    by_name = {wish.name: (wish, miss) for wish, miss in off}
    outside = [miss_words(wish, miss, truck) for wish, miss in off if abs(miss) > wish.tolerance * (1 + 1e-9)]
    if outside:
        verdict = html.P([html.B("Outside tolerance: "), f"{', '.join(outside)}."])
    elif off:
        said = (
            "As read, inside tolerance."
            if len(off) == _asked(truck)
            else "What was read is inside tolerance."
        )
        verdict = html.P(html.B(said))
    else:
        verdict = html.P(
            "No target to hold it against." if not _asked(truck) else "Its targets were not read."
        )
    heights = mean_of(run, "height")
    cells = [
        html.Div(
            [
                html.B(corner),
                f" {shop_length(heights[corner], truck.units)}" if corner in heights else " not read",
                html.Span(_against(corner, by_name, truck), className="more"),
            ],
            className=corner,
        )
        for corner in CORNERS
    ]
    return [verdict, html.Div(cells, className="above stands")]


def miss_words(wish: Wish, miss: float, truck: Truck) -> str:
    """`LF 3/8 in low`, `rear 1/4 in high`, `cross-weight 0.7 % over`."""
    if wish.name == "cross_weight":
        return f"cross-weight {share(abs(miss))} {'over' if miss > 0 else 'under'}"
    name = END_WORDS.get(wish.name, wish.name)
    return f"{name} {_off(miss, truck)}"


def _off(miss: float, truck: Truck) -> str:
    return f"{shop_length(abs(miss), truck.units)} {'high' if miss > 0 else 'low'}"


def _against(corner: str, found: dict[str, tuple[Wish, float]], truck: Truck) -> str:
    """`3/8 in low`, `on target`, or nothing where the corner has none."""
    if corner not in found:
        return ""
    miss = found[corner][1]
    off = _off(miss, truck)
    return "on target" if off.startswith("0 ") else off


def _asked(truck: Truck) -> int:
    return len(wishes_of(truck.target, loads_known=True))
