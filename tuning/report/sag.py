"""The answer of `tuning sag`."""

from collections.abc import Mapping, Sequence
from datetime import date

from ..interval import Interval
from ..sag.answer import CornerSag, Sag
from ..sag.next_step import NextStep, StillOut
from ..truck import CORNERS, Truck
from ..units import System, decimal_length, shop_length, turns_text
from .sag_words import verdict_words, where_it_went
from .shared import CAUTION, Document, Shown, between, columns, percent

ODDS = ("p10", "p50", "p90")
OWN_END = {
    "end of the thread": "the thread ends {short}",
    "springs come loose at full droop": "the springs come loose at full droop if it is turned further, {short}",
    "coil bind at full bump": "the springs bind at full bump if it is turned further, {short}",
}


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
    at, still = corner.leaves_at, None if step is None else step.still_out
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
        "set_or_weight": show.interval(parts.set_or_weight, "height"),
        "spring_set_most": show.number(parts.spring_set_most, "spring_set"),
        "load_most": show.number(parts.load_most, "load"),
        "load_shifted": show.interval(parts.load_shifted, "load"),
        "from_shift": show.interval(parts.from_shift, "height"),
        "shifted_by": [f"{cause.corner} {cause.what}" for cause in parts.shifted_by],
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
            "still_out": None if still is None else show.number(still.by, "height"),
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
                verdict_words(name, p),
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
    said = [where_it_went(name, corner.since, parts, system)]
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


def _what_next(corner: CornerSag, step: NextStep | None, system: System) -> list[str]:
    fades = corner.trend.shape != "none"
    if step is None:
        if corner.leaves_on[1] is None or not fades:
            return []
        if corner.forecast.leaves[1] == 0:
            return ["It is out of tolerance now, with even odds or worse."]
        return [f"At this rate it is out of tolerance by {corner.leaves_on[1]:%B %Y} with even odds."]
    still = step.still_out
    if step.turns == 0:
        return [] if still is None else [f"Next: no turn helps; {_still_out(still, system)}"]
    brings = corner.verdict != "steady" and step.turns > 0
    why = "goes with the other corners' turns"
    if brings:
        why = "that brings it back" if still is None else "that brings it nearer"
    left = decimal_length(step.thread_left, system)
    said = [f"Next: {turns_text(step.turns)}; {why}, with {left} of thread left."]
    if still is not None:
        said.append(f"Even so {_still_out(still, system)}")
    elif step.out_again is not None and fades:
        said.append(f"At this rate it is out again by {step.out_again:%B %Y} with even odds.")
    return said


def _still_out(still: StillOut, system: System) -> str:
    """What holds a corner out of tolerance, and what mends it."""
    if still.held == "unsure":
        return (
            "it is as likely as not out of tolerance, its height being so unsure: read it again, let down from above "
            "and let up from below."
        )
    size = shop_length(abs(still.by), system)
    its = "its height" if still.of in CORNERS else f"the {still.of}'s height"
    if still.held == "own nut":
        ends = OWN_END[still.reason].format(short=f"{size} short of {its}")
        return f"{ends}: other springs or a spacer, see `tuning springs`."
    stands = f"it is {size} {'below' if still.by > 0 else 'above'} {its}"
    if still.held == "frame":
        return f"{stands}: the targets conflict through the frame, and this is the best trade."
    nuts = f"{' and '.join(still.corners)} can be turned no further"
    return f"{stands}: {nuts}; other springs or a spacer there, see `tuning springs`."
