"""The figures of the springs study as Markdown tables."""

from collections.abc import Iterable
from itertools import pairwise

import numpy as np
import pandas as pd

from tests.truth.trucks import IN

from .report import WAY_NAMES
from .springs_loop import Outcome

NEAR = 0.25 * IN
BINS = (0.0, 0.5, 0.8, 0.95, 1.0)
HEAD = (
    "by", "trucks", "found", "within 1/4 in", "median", "95 %", "all inside at once", "after one adjust", "95 % miss",
    "bound", "loose", "bound after", "loose after",
)  # fmt: skip


def table(outcomes: Iterable[Outcome]) -> pd.DataFrame:
    """A row each."""
    return pd.DataFrame(list(outcomes))


def as_markdown(results: pd.DataFrame) -> str:
    """All tables, ready for a page. Lengths in inches, misses in tolerances."""
    lines: list[str] = []
    for way, rows in results.groupby("way"):
        lines += [f"Way {way}: {WAY_NAMES[str(way)]}", "", _row(HEAD), _row(["---"] * len(HEAD))]
        lines += [_row(_figures(doer, group)) for doer, group in rows.groupby("doer", sort=False)]
        lines += ["", _held(rows), "", *_calibration(rows), ""]
    return "\n".join([*lines, *_nothing(results), "", _kinds(results)])


def _row(cells: Iterable[str]) -> str:
    return "| " + " | ".join(cells) + " |"


def _figures(doer: str, rows: pd.DataFrame) -> list[str]:
    """Of the trucks springs were found for."""
    on = rows[rows.found]
    after = on.worst_after.dropna()
    over = [int((on[name] > 0).sum()) for name in ("bound", "loose", "bound_after", "loose_after")]
    return [
        doer,
        f"{len(rows)}",
        f"{len(on)}",
        f"{(on.landed <= NEAR).mean():.1%}",
        f"{on.landed.median() / IN:.2f}",
        f"{on.landed.quantile(0.95) / IN:.2f}",
        f"{(on.worst <= 1).mean():.1%}",
        f"{(after <= 1).mean():.1%}" if len(after) else "",
        f"{after.quantile(0.95):.2f}" if len(after) else "",
        *(f"{n}" for n in over[:2]),
        *(f"{n}" if len(after) else "" for n in over[2:]),
    ]


def _held(rows: pd.DataFrame) -> str:
    held = rows.held.dropna()
    return (
        f"Heights inside their 90 % intervals: {held.sum() / (4 * max(len(held), 1)):.1%} of {4 * len(held)}"
    )


def chances(rows: pd.DataFrame) -> np.ndarray:
    """(n, 3) of all choices shown: place in the list, chance given, whether the thread truly reached."""
    pairs = [text.split() for text in rows.chances.dropna() if text]
    return np.array([[i, *map(float, p.split(":"))] for found in pairs for i, p in enumerate(found)]).reshape(
        -1, 3
    )


def _calibration(rows: pd.DataFrame) -> list[str]:
    place, said, reached = chances(rows).T
    groups = [("first choice", place == 0), ("all shown", place >= 0)]
    groups += [
        (f"said {low:.0%} to {high:.0%}", (said >= low) & ((said < high) | (high == 1)))
        for low, high in pairwise(BINS)
    ]
    lines = [_row(["thread reaches", "choices", "said", "did"]), _row(["---"] * 4)]
    for name, which in groups:
        if which.any():
            lines.append(
                _row([name, f"{which.sum()}", f"{said[which].mean():.1%}", f"{reached[which].mean():.1%}"])
            )
    return lines


def _nothing(results: pd.DataFrame) -> list[str]:
    none = results[~results.found]
    lines = [f"Nothing found: {len(none) or 'by nobody'}"]
    lines += [
        f"- truck {r.truck} ({r.end}, {r.wrong}), way {r.way}, {r.doer}: {r.could} pairs would truly have done"
        for r in none.itertuples()
    ]
    return lines


def _kinds(results: pd.DataFrame) -> str:
    one = results.drop_duplicates("truck")
    kinds = [f"{wrong} {end} {count}" for (wrong, end), count in one.groupby(["wrong", "end"]).size().items()]
    return (
        f"First springs: {', '.join(kinds)}. Best setting of their nuts misses by {one.missed.median() / IN:.2f} in "
        f"(median), {one.missed.max() / IN:.2f} at most. Pairs that would truly do: {one.could.median():.0f} (median), "
        f"{one.could.min()} at least."
    )
