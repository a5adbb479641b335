"""The answer of `tuning sag`."""

from collections.abc import Mapping, Sequence
from datetime import date

from ..interval import Interval
from ..sag.answer import CornerSag, Sag
from ..sag.next_step import NextStep
from ..sag.parts import MATERIAL, Parts
from ..truck import Truck
from ..units import System, decimal_length, shop_length, shop_load, turns_text
from .shared import CAUTION, Document, Shown, between, columns, percent

ODDS = ("p10", "p50", "p90")


def sag_document(found: Sag, steps: Mapping[str, NextStep], truck: Truck, notes: Sequence[str]) -> Document:
    """The answer of `tuning sag --json`."""
    show = Shown(truck.units)
    units = show.units("height", "load", "spring_set", "odometer")
    return {
        "run": found.run,
        "units": units | {"rate_per_month": f"{units['spring_set']}/month", "rate_change": "percent"},
        "corners": {
            name: _corner_document(corner, steps.get(name), show) for name, corner in found.corners.items()
        },
        "words": sag_words(found, steps, truck),
        "notes": [*notes, *found.notes],
    }


def _corner_document(corner: CornerSag, step: NextStep | None, show: Shown) -> Document:
    parts, trend = corner.parts, corner.trend
    at = corner.leaves_at
    return {
        "since": corner.since,
        "verdict": corner.verdict,
        "height_lost": show.interval(parts.height_lost, "height"),
        "read_lost": show.number(parts.read_lost, "height"),
        "spring_set": show.interval(parts.spring_set, "spring_set"),
        "from_set": show.interval(parts.from_set, "height"),
        "from_load": show.interval(parts.from_load, "height"),
        "from_adjustment": show.interval(parts.from_adjustment, "height"),
        "left_over": show.interval(parts.left_over, "height"),
        "load_added": show.interval(parts.load_added, "load"),
        "set_and_load": show.interval(parts.set_and_load, "height"),
        "spring_set_most": show.number(parts.spring_set_most, "spring_set"),
        "load_most": show.number(parts.load_most, "load"),
        "rate_change": percent(corner.rate_change),
        "rate_per_month": show.interval(corner.rate_per_month, "spring_set"),
        "trend": {"shape": trend.shape, "over": trend.clock, "aicc": trend.aicc},
        "leaves_tolerance": dict(zip(ODDS, map(_iso, corner.leaves_on), strict=True)),
        "leaves_tolerance_odometer": None
        if at is None
        else {odds: show.number(v, "odometer") for odds, v in zip(ODDS, at, strict=True)},
        "sudden": [
            {"after": s.after, "by": s.by, "spring_set": show.interval(s.length, "spring_set")}
            for s in corner.sudden
        ],
        "alarm": corner.alarm,
        "next_step": None
        if step is None
        else {
            "turns": step.turns,
            "thread_left": show.number(step.thread_left, "preload"),
            "out_again": _iso(step.out_again),
        },
    }


def _iso(day: date | None) -> str | None:
    return None if day is None else day.isoformat()


def sag_text(found: Sag, steps: Mapping[str, NextStep], truck: Truck, notes: Sequence[str]) -> str:
    """The answer of `tuning sag` as a table and plain words."""
    system = truck.units
    rows = [
        ("", "since", "verdict", "height lost", "90 %", "spring set", "load", "nut or stack", "left over")
    ]
    for name, corner in found.corners.items():
        p = corner.parts
        rows.append(
            (
                name,
                corner.since,
                corner.verdict,
                _length(p.height_lost, system),
                "-" if p.height_lost is None else between(p.height_lost, system),
                _length(p.from_set, system),
                _length(p.from_load, system),
                _length(p.from_adjustment, system),
                _length(p.left_over, system),
            )
        )
    lines = [f"{truck.name}, as of run {found.run}; height lost at each corner, and to what", ""]
    lines += [*columns(rows), "", *sag_words(found, steps, truck)]
    lines += [f"Note: {line}" for line in (*notes, *found.notes)]
    return "\n".join([*lines, "", CAUTION] if steps else lines)


def _length(value: Interval | None, system: System) -> str:
    return "-" if value is None else decimal_length(value.mean, system)


def sag_words(found: Sag, steps: Mapping[str, NextStep], truck: Truck) -> list[str]:
    """What a person wants to hear of each corner, a line each, and what to do next."""
    return [corner_words(name, c, steps.get(name), truck.units) for name, c in found.corners.items()]


def corner_words(name: str, corner: CornerSag, step: NextStep | None, system: System) -> str:
    """E.g. `RF has lost 3/8 in since spring: 1/4 in is spring set (90 %: 0.17 to 0.33 in), …`."""
    parts = corner.parts
    if parts.height_lost is None:
        return f"{name}: too few readings to say; read it again in a month."
    said = [_where_it_went(name, corner.since, parts, system)]
    said += [
        f"{decimal_length(sudden.length.mean, system)} of spring went at once between {sudden.after} and "
        f"{sudden.by}: look for a slipped nut, a bent mount or a broken coil."
        for sudden in corner.sudden
    ]
    if corner.alarm:
        said.append(
            f"The latest run reads lower than all before it foretell: read {name} again, let down from above and "
            "let up from below, before you believe it."
        )
    change = corner.rate_change
    if change is not None and change.low * change.high > 0:
        way = "softer" if change.mean < 0 else "stiffer"
        said.append(f"Its springs have become {abs(100 * change.mean):.0f} % {way}.")
    return " ".join([*said, *_what_next(corner, step, system)])


def _where_it_went(name: str, since: str, parts: Parts, system: System) -> str:
    assert parts.height_lost is not None
    lost = parts.height_lost
    if abs(lost.mean) < MATERIAL / 2:
        head = f"{name} stands as high as at {since}"
    elif lost.mean > 0:
        head = f"{name} has lost {shop_length(lost.mean, system)} since {since}"
    else:
        head = f"{name} stands {shop_length(-lost.mean, system)} higher than at {since}"
    pieces = _pieces(parts, system)
    if parts.verdict == "steady" and not pieces:
        return f"{head}: steady, nothing beyond what tape and friction do."
    return f"{head}{': ' if pieces else ''}{', '.join(pieces)}.{_if_not_told_apart(parts, system)}"


def _pieces(parts: Parts, system: System) -> list[str]:
    """The parts that a tape would show, in words."""
    found = []
    by_set, by_load, by_nut, rest = parts.from_set, parts.from_load, parts.from_adjustment, parts.left_over
    if by_set is not None and parts.verdict == "settling":
        found.append(f"{shop_length(by_set.mean, system)} is spring set (90 %: {between(by_set, system)})")
    if by_load is not None and _shows(by_load):
        size = shop_length(abs(by_load.mean), system)
        added = parts.load_added
        if added is None:
            found.append(f"{size} {'lost to' if by_load.mean > 0 else 'gained from'} load nobody weighed")
        else:
            more = "more" if added.mean > 0 else "less"
            amount = shop_load(abs(added.mean), system)
            found.append(
                f"{size} {'lost to' if by_load.mean > 0 else 'gained from'} {amount} {more} on that wheel"
            )
    if by_nut is not None and _shows(by_nut):
        way = "lowered" if by_nut.mean > 0 else "raised"
        found.append(f"{shop_length(abs(by_nut.mean), system)} {way} by nut or stack")
    if rest is not None and parts.verdict == "low":
        found.append(f"{shop_length(rest.mean, system)} for no cause the log knows")
    return found


def _shows(part: Interval) -> bool:
    return abs(part.mean) >= MATERIAL / 2


def _if_not_told_apart(parts: Parts, system: System) -> str:
    both = parts.set_and_load
    if both is None or parts.spring_set_most is None or parts.load_most is None or parts.verdict != "low":
        return ""
    return (
        f" {shop_length(both.mean, system)} is spring set or load (90 %: {between(both, system)}); without scales "
        f"they can't be told apart: at most {decimal_length(parts.spring_set_most, system)} of spring, or at most "
        f"{shop_load(parts.load_most, system)} on that wheel. Weigh all four wheels."
    )


def _what_next(corner: CornerSag, step: NextStep | None, system: System) -> list[str]:
    said = []
    if step is not None:
        back = corner.verdict != "steady" and step.turns > 0
        why = "that brings it back" if back else "goes with the other corners' turns"
        left = decimal_length(step.thread_left, system)
        said.append(f"Next: {turns_text(step.turns)}; {why}, with {left} of thread left.")
        if step.out_again is not None and corner.trend.shape != "none":
            said.append(f"At this rate it is out again by {step.out_again:%B %Y} with even odds.")
    elif corner.leaves_on[1] is not None and corner.trend.shape != "none":
        said.append(f"At this rate it is out of tolerance by {corner.leaves_on[1]:%B %Y} with even odds.")
    return said
