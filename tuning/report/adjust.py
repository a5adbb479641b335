"""The answer of `tuning adjust`."""

from collections.abc import Sequence

from ..adjust import Adjustment
from ..truck import Truck
from ..units import decimal_length, shop_length, shop_load, turns_text
from .shared import CAUTION, ORDER_OF_WORK, Document, Shown, between, columns, odds, percent


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
                between(corner.height_after, system),
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
        lines.append(f"Chance of landing inside every tolerance: {odds(answer.probability_in_tolerance)}")
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
