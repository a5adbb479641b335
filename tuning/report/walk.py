"""The answer of `tuning walk`: how far the walk is, and the check list to take under the truck."""

from collections.abc import Iterator, Sequence
from textwrap import wrap

from ..findings import LEVEL, LOOKED_AT, POSITION_WORDS, STEERING, Finding
from ..truck import Truck
from ..units import decimal_length, shop_length, unit_in
from ..walk import EndWalk, WalkAnswer, has_shock, in_truck, places
from .shared import Document, Shown, columns

WALK_CAUTIONS = (
    "Frame on stands rated for the truck, on firm level ground, the other wheels chocked. A jack alone is no stand.",
    "Springs out of both shocks before the axle is moved, and the axle strapped so that it can't roll off its jack. "
    "A gas shock pushes its side down by itself.",
    "Hands, head and feet out of wheel wells, links and shocks while anything moves. Move slowly, stop, then look.",
    "Before each move see that brake hoses and wires have slack: a hose pulled tight or pinched is a brake lost. "
    "Leave brakes and what you are not trained for to licensed practice.",
    "One works the jack, one looks; agree on the words before anything moves.",
)
HOW_TO = (
    "Tick the box where all is clear and write the clearance, of a hose or wire the slack; write C for contact. "
    "Notes and names of photos go overleaf."
)
WIDTH = 80  # columns of a printed page
SHOWN = 6  # clear passes that a table lists; the rest are counted


# ---------------------------------------------------------------- for programs


def walk_document(answer: WalkAnswer, truck: Truck, notes: Sequence[str]) -> Document:
    """The answer of `tuning walk --json`."""
    show = Shown(truck.units)
    return {
        "truck": answer.truck,
        "units": show.units("length"),
        "least_clearance": show.number(answer.least_clearance, "length"),
        "ends": {end: _end_document(walk, truck, show) for end, walk in answer.ends.items()},
        "notes": list(notes),
    }


def _end_document(walk: EndWalk, truck: Truck, show: Shown) -> Document:
    def found(rows: Sequence[Finding]) -> list[Document]:
        return [
            {
                "position": row.position,
                "steering": row.steering,
                "place": row.place,
                "result": row.result,
                "clearance": show.number(row.clearance, "length"),
                "note": row.note,
                "photo": row.photo,
                "taken_at": row.taken_at.isoformat() if row.taken_at else None,
                "by": row.by,
            }
            for row in rows
        ]

    return {
        "asked": walk.asked,
        "done": walk.done,
        "passed": walk.passed,
        "contacts": found(walk.contacts),
        "close": found(walk.close),
        "clear": found(walk.clear),
        "missing": [one._asdict() | {"places": list(one.places)} for one in walk.missing],
        "measured": [
            {
                "position": row.position,
                "height": show.number(row.height, "length"),
                "shaft": show.number(row.shaft, "length"),
            }
            for row in walk.measured
        ],
        "unmeasured": list(walk.unmeasured),
        "cycle": {
            "in_truck_file": bool(walk.cycle.pairs) and in_truck(truck, walk.end, walk.cycle.pairs),
            "held_back": walk.cycle.held_back,
        },
    }


# ---------------------------------------------------------------- for people


def walk_text(answer: WalkAnswer, truck: Truck, notes: Sequence[str]) -> str:
    """The answer of `tuning walk`: contacts first, close passes, what is missing; the check list where nothing is
    found yet."""
    if not answer.begun:
        return check_list(answer, truck)
    lines = [f"{answer.truck}: cycle walk"]
    for walk in answer.ends.values():
        lines += ["", *_end_lines(walk, truck, answer.least_clearance)]
    lines += [f"Note: {note}" for note in notes]
    return "\n".join([*lines, "", *wrap(" ".join(WALK_CAUTIONS), WIDTH)])


def _end_lines(walk: EndWalk, truck: Truck, least: float) -> Iterator[str]:
    yield f"{walk.end.capitalize()}: {tally(walk)}"
    rows = [("", "place", "axle", "steering", "clearance", "note", "photo")]
    listed = [*walk.contacts, *walk.close, *walk.clear[:SHOWN]]
    for row in listed:
        word = "CONTACT" if row.contact else "close" if row in walk.close else "clear"
        figure = "-" if row.clearance is None or row.contact else shop_length(row.clearance, truck.units)
        note = " ".join(row.note.split())
        rows.append(
            (word, row.place, row.position, row.steering or "-", figure, note or "-", row.photo or "-")
        )
    if listed:
        yield from ["", *columns(rows)]
        if more := len(walk.clear) - SHOWN:
            yield from [f"and {more} more passes"] if more > 0 else []
        yield ""
    if walk.close:
        least_text = shop_length(least, truck.units)
        yield f"Close: less than {least_text}, common practice unless the truck file says otherwise."
    yield from cycle_lines(walk, truck)
    for one in walk.missing if walk.begun else ():
        steering = f", {one.steering}" if one.steering else ""
        yield from wrap(
            f"Missing at {one.position}{steering}: {', '.join(one.places)}", WIDTH, subsequent_indent="    "
        )
    if not walk.begun:
        yield "Nothing is put down yet: --blank prints the check list."


def tally(walk: EndWalk) -> str:
    """`62 of 84 looked at, 1 contact, 2 close`."""
    contacts, close = len(walk.contacts), len(walk.close)
    parts = [f"{walk.done} of {walk.asked} looked at"]
    if walk.findings:
        parts.append(f"{contacts or 'no'} contact{'' if contacts == 1 else 's'}")
    return ", ".join([*parts, *([f"{close} close"] if close else [])])


def cycle_lines(walk: EndWalk, truck: Truck) -> Iterator[str]:
    """What was measured, whether it is the truck's cycle table, and if not why."""
    if not walk.measured:
        return
    pairs = "; ".join(
        f"{row.position} {decimal_length(row.height, truck.units)}, {decimal_length(row.shaft, truck.units)}"
        for row in walk.measured
        if row.height is not None and row.shaft is not None
    )
    yield f"Height and shaft showing: {pairs}."
    if in_truck(truck, walk.end, walk.cycle.pairs):
        yield "These are the cycle table of the truck file."
    elif walk.cycle.held_back:
        yield f"Not the cycle table of the truck file: {walk.cycle.held_back}."
    else:
        yield "The truck file has another cycle table."


# ---------------------------------------------------------------- on paper


def check_list(answer: WalkAnswer, truck: Truck) -> str:
    """A page for each end with a box for everything to look at; what is found stands in its box."""
    return "\f".join("\n".join(_page(walk, truck)) + "\n" for walk in answer.ends.values())


def _page(walk: EndWalk, truck: Truck) -> Iterator[str]:
    end, unit = walk.end, unit_in("length", truck.units)
    yield f"{truck.name}: cycle walk, {end} ({unit})".ljust(WIDTH - 29) + "date ________ who ___________"
    yield from wrap(" ".join(WALK_CAUTIONS), WIDTH)
    yield from wrap(HOW_TO, WIDTH)
    found = {row.key: row for row in walk.findings}
    for position in LOOKED_AT:
        heads = "".join(steering.capitalize().ljust(15) for steering in STEERING[end])
        yield f"{POSITION_WORDS[position].capitalize():<34}{heads}".rstrip()
        for place in places(truck, end, position, STEERING[end][0]):
            boxes = [
                _box(found.get((end, position, steering, place)), truck)
                for steering in STEERING[end]
                if place in places(truck, end, position, steering)
            ]
            note = "" if end == "front" else "  note " + "_" * 25
            yield f"  {place:<32}{'  '.join(boxes)}{note}".rstrip()
    if has_shock(truck, end):
        yield from _measure_lines(walk, truck)


def _box(row: Finding | None, truck: Truck) -> str:
    if row is None:
        return "[ ] ________ "
    if row.contact:
        return "[C] contact  "
    figure = "clear" if row.clearance is None else shop_length(row.clearance, truck.units)
    return f"[x] {figure:<9}"


def _measure_lines(walk: EndWalk, truck: Truck) -> Iterator[str]:
    taken = {row.position: row for row in walk.measured}
    yield "Height and shaft at one shock, wheels alike: bump, droop, two or three between"
    for position in LEVEL:
        row = taken.get(position)
        height, shaft = (None, None) if row is None else (row.height, row.shaft)
        figures = (
            ("height", "_" * 9 if height is None else decimal_length(height, truck.units)),
            ("shaft", "_" * 9 if shaft is None else decimal_length(shaft, truck.units)),
        )
        yield f"  {POSITION_WORDS[position]:<32}" + "  ".join(
            f"{name} {figure:<9}" for name, figure in figures
        )
