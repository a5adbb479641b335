"""The answer of `tuning runs`."""

from collections.abc import Sequence

from ..readings import Run
from ..truck import CORNERS, Truck
from ..units import shop_length
from .shared import Document, Shown, columns


def runs_document(runs: Sequence[Run], truck: Truck) -> Document:
    """The answer of `tuning runs --json`: every reading."""
    show = Shown(truck.units)
    return {
        "units": show.units("height", "load", "preload", "distance"),
        "runs": [
            {
                "run": run.name,
                "taken_at": run.taken_at.isoformat(),
                "readings": [
                    {
                        "corner": r.corner,
                        "height": show.number(r.height, "height"),
                        "load": show.number(r.load, "load"),
                        "preload": show.number(r.preload, "preload"),
                        "stack": r.stack,
                        "settled": r.settled,
                        "odometer": show.number(r.odometer, "distance"),
                        "note": r.note,
                        "doubt": r.doubt,
                    }
                    for r in run.readings
                ],
            }
            for run in runs
        ],
    }


def runs_text(runs: Sequence[Run], truck: Truck) -> str:
    """The answer of `tuning runs` as a table: mean heights and what each run holds."""
    rows: list[tuple[str, ...]] = [("run", "taken", *CORNERS, "cross-weight", "readings")]
    for run in runs:
        cells = [run.name, run.taken_at.isoformat(" ", "minutes")]
        loads = {}
        for corner in CORNERS:
            good = [r for r in run.at(corner) if not r.doubt]
            heights = [r.height for r in good if r.height is not None]
            weights = [r.load for r in good if r.load is not None]
            cells.append(shop_length(sum(heights) / len(heights), truck.units) if heights else "-")
            if weights:
                loads[corner] = sum(weights) / len(weights)
        total = sum(loads.values()) if len(loads) == len(CORNERS) else 0.0
        cross = (loads["RF"] + loads["LR"]) / total if total > 0 else None
        doubtful = sum(bool(r.doubt) for r in run.readings)
        count = f"{len(run.readings)}" + (f", {doubtful} doubtful" if doubtful else "")
        rows.append((*cells, "-" if cross is None else f"{100 * cross:.1f} %", count))
    doubts = [f"Doubtful: {run.name}: {r.doubt}" for run in runs for r in run.readings if r.doubt]
    return "\n".join([truck.name, "", *columns(rows), *(["", *doubts] if doubts else [])])
