"""Answers as people and programs read them: tables of text and JSON documents, in the owner's units."""

from collections.abc import Sequence
from typing import Any

from .adjust import Adjustment
from .fit import Check, Fit
from .interval import Interval
from .readings import Run
from .summary import FitSummary
from .truck import CORNERS, Truck
from .units import System, decimal_length, shop_length, shop_load, shop_rate, to_unit, turns_text, unit_in

Document = dict[str, Any]

ORDER_OF_WORK = (
    "Raise the truck and set it on stands rated for it, on firm level ground.",
    "Unload the springs at the corner you turn, and never turn a nut under load.",
    "Turn, lock the nuts, clear hands and tools, set the truck down.",
    "Roll it back and forth, bounce each corner, let it settle.",
    "Read all four corners again and log them.",
)
CAUTION = (
    "A truck on stands, a compressed spring and a gas shock can kill. Follow local codes; leave brake lines, "
    "welding and what you are not trained for to licensed practice. Re-check brake lines, driveshaft and "
    "clearances at the new heights."
)


class Shown:
    """Numbers of one truck in its owner's units."""

    def __init__(self, system: System) -> None:
        """system: "us" or "metric"."""
        self.system: System = system

    def number(self, value: float | None, what: str) -> float | None:
        """A bare number in the unit of `what`, None kept."""
        return None if value is None else float(to_unit(value, unit_in(what, self.system)))

    def interval(self, value: Interval | None, what: str) -> dict[str, float | None] | None:
        """An interval as a document."""
        if value is None:
            return None
        return {key: self.number(getattr(value, key), what) for key in ("mean", "low", "high")}

    def units(self, *kinds: str) -> dict[str, str]:
        """Unit of each kind."""
        return {kind: unit_in(kind, self.system) for kind in kinds}


def percent(value: Interval | None) -> dict[str, float] | None:
    """A share as an interval in percent."""
    return None if value is None else {key: 100 * getattr(value, key) for key in ("mean", "low", "high")}


def adjust_document(answer: Adjustment, truck: Truck, notes: Sequence[str]) -> Document:
    """The answer of `tuning adjust --json`."""
    show = Shown(truck.units)
    corners: Document = {}
    for name, corner in answer.corners.items():
        one: Document = {
            "height_now": show.number(corner.height_now, "height"),
            "load_now": show.number(corner.load_now, "load"),
            "height_after": show.interval(corner.height_after, "height"),
            "load_after": show.interval(corner.load_after, "load"),
        }
        if corner.turns is not None:
            one |= {
                "turns": corner.turns,
                "preload_now": show.number(corner.preload_now, "preload"),
                "preload_after": show.number(corner.preload_after, "preload"),
            }
        corners[name] = one
    now = answer.cross_weight_now
    return {
        "run": answer.run,
        "units": show.units("height", "load", "preload") | {"cross_weight": "percent"},
        "corners": corners,
        "cross_weight": {
            "now": None if now is None else 100 * now,
            "after": percent(answer.cross_weight_after),
        },
        "probability_in_tolerance": answer.probability_in_tolerance,
        "reachable": answer.reachable,
        "limits": list(answer.limits),
        "next_reading": None if answer.next_reading is None else answer.next_reading.text,
        "notes": list(notes),
    }


def adjust_text(answer: Adjustment, truck: Truck, notes: Sequence[str]) -> str:
    """The answer of `tuning adjust` as a table."""
    system = truck.units
    rows = [("", "turn the nut", "to preload", "height now", "after", "90 %", "load after")]
    for name, corner in answer.corners.items():
        turns = "no adjuster" if corner.turns is None else turns_text(corner.turns)
        rows.append(
            (
                name,
                turns,
                "-" if corner.preload_after is None else decimal_length(corner.preload_after, system),
                shop_length(corner.height_now, system),
                shop_length(corner.height_after.mean, system),
                _between(corner.height_after, system),
                "unknown" if corner.load_after is None else shop_load(corner.load_after.mean, system),
            )
        )
    lines = [f"{truck.name}, after run {answer.run}", "", *columns(rows), ""]
    after, now = answer.cross_weight_after, answer.cross_weight_now
    if after is not None:
        before = "" if now is None else f"{100 * now:.1f} % now, "
        lines.append(
            f"Cross-weight (RF + LR): {before}{100 * after.mean:.1f} % after "
            f"({100 * after.low:.1f} to {100 * after.high:.1f})"
        )
    if answer.probability_in_tolerance is None:
        lines.append("No target can be judged: write heights under [target], or weigh the wheels.")
    else:
        lines.append(
            f"Chance of landing inside every tolerance: {100 * answer.probability_in_tolerance:.0f} %"
        )
    if answer.reachable is False:
        lines.append("Not every target is met by this.")
    lines += [f"Limit: {line}" for line in answer.limits]
    lines += [f"Note: {line}" for line in notes]
    if answer.next_reading is not None:
        lines.append(f"Read next: {answer.next_reading.text}")
    lines += [
        "",
        "Order of work:",
        *[f"  {i}. {step}" for i, step in enumerate(ORDER_OF_WORK, 1)],
        "",
        CAUTION,
    ]
    return "\n".join(lines)


def _between(value: Interval, system: System) -> str:
    """`22.41 to 22.63 in`: the unit once."""
    low, high = decimal_length(value.low, system), decimal_length(value.high, system)
    return f"{low.split(' ')[0]} to {high}"


def fit_document(summary: FitSummary, fit: Fit, notes: Sequence[str]) -> Document:
    """The answer of `tuning fit --json`."""
    show = Shown(fit.truck.units)
    corners: Document = {
        name: {
            "datum": show.interval(c.datum, "height"),
            "rate_factor": {stack: vars(factor) for stack, factor in c.rate_factor.items()},
            "rate_now": show.interval(c.rate_now, "rate"),
            "readings": c.readings,
            "residual_sd": show.number(c.residual_sd, "height"),
        }
        for name, c in summary.corners.items()
    }
    units = show.units("height", "load", "preload", "rate") | {"datum": unit_in("height", fit.truck.units)}
    return {
        "run": fit.runs[-1].name,
        "units": units | {"twist_compliance": "rad/(N*m)", "twist_offset": "rad"},
        "corners": corners,
        "twist": {"compliance": vars(summary.twist_compliance), "offset": vars(summary.twist_offset)},
        "friction": {end: show.interval(band, "load") for end, band in summary.friction.items()},
        "robust_agrees": summary.robust_agrees,
        "doubtful": [check_text(c, fit.truck.units) for c in summary.doubtful],
        "notes": list(notes),
    }


def fit_text(summary: FitSummary, fit: Fit, notes: Sequence[str]) -> str:
    """The answer of `tuning fit` as a table and plain words."""
    system = fit.truck.units
    rows = [("", "readings", "datum (90 %)", "rate now", "rate against nominal (90 %)", "scatter")]
    for name, corner in summary.corners.items():
        stack = fit.stacks[CORNERS.index(name)].name
        factor = corner.rate_factor[stack]
        known = fit.evidence.has_datum[CORNERS.index(name)]
        rows.append(
            (
                name,
                str(corner.readings),
                _between(corner.datum, system) if known else "free height unknown",
                shop_rate(corner.rate_now.mean, system),
                f"{100 * factor.mean:.0f} % ({100 * factor.low:.0f} to {100 * factor.high:.0f})",
                "-" if corner.residual_sd is None else decimal_length(corner.residual_sd, system),
            )
        )
    lines = [f"{fit.truck.name}: {len(fit.runs)} runs in the fit", "", *columns(rows), ""]
    lines += plain_words(summary, fit)
    lines += [f"Note: {line}" for line in notes]
    return "\n".join(lines)


def plain_words(summary: FitSummary, fit: Fit) -> list[str]:
    """What the diagnostics say, a sentence each."""
    system = fit.truck.units
    bands = ", ".join(f"{end} ± {shop_load(max(b.mean, 0.0), system)}" for end, b in summary.friction.items())
    said = [f"Friction holds a corner anywhere inside its band: {bands}."]
    if not fit.loads_known:
        said.append("Not every wheel has been weighed: loads and cross-weight are unknown.")
    said += [check_text(c, system) for c in summary.doubtful]
    strongest = max(fit.checks, key=lambda c: abs(c.influence), default=None)
    if strongest is not None and len(fit.runs) > 1:
        r = strongest.reading
        said.append(
            f"The reading that counts most: {r.corner} {strongest.kind} in {r.run}; it moves that corner's line "
            f"by {decimal_length(abs(strongest.influence), system)}."
        )
    said.append(
        "A fit that gives wild readings less say agrees."
        if summary.robust_agrees
        else "A fit that gives wild readings less say disagrees: look for a mistyped reading before turning."
    )
    return said


def check_text(check: Check, system: System) -> str:
    """One reading that stands off, in words."""
    r = check.reading
    size = (
        decimal_length(abs(check.error), system)
        if check.kind == "height"
        else shop_load(abs(check.error), system)
    )
    side = "above" if check.error > 0 else "below"
    return f"{r.run} {r.corner} {check.kind}: {size} {side} what the other readings allow ({abs(check.t):.1f} sd)."


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


def columns(rows: Sequence[Sequence[str]]) -> list[str]:
    """Rows of text in aligned columns, the first row a heading."""
    widths = [max(len(row[i]) for row in rows) for i in range(len(rows[0]))]
    lines = ["  ".join(cell.ljust(w) for cell, w in zip(row, widths, strict=True)).rstrip() for row in rows]
    return [lines[0], "  ".join("-" * w for w in widths), *lines[1:]]
