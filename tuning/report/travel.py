"""The answer of `tuning travel`."""

from collections.abc import Sequence

from ..check import Check
from ..positions import BOTH, BOUND, LOOSE, LOWER_SOLID, ON_RING, ONE, UPPER_SOLID, Position
from ..travel import POSITIONS, CornerTravel, TravelAnswer
from ..travel_checks import worst_first
from ..truck import CORNERS, Truck
from ..units import System, decimal_length, shop_length, shop_load, shop_rate, turns_text
from .shared import CAUTION, Document, Shown, between, columns
from .springs import check_document, check_value

POSITION_WORDS = {
    "squashed": "stop squashed solid",
    "bump": "full bump",
    "ride": "ride",
    "strap": "strapped droop",
    "droop": "full droop",
}
STATES = {False: "ATTENTION", None: "not measured", True: "pass"}
LOADS = (
    "Wheel loads at bump and droop are what springs and gas carry with both wheels of the axle there, without bump "
    "stop or strap."
)
CYCLING = (
    "Cycle an axle only with springs out or unloaded, frame on stands rated for it, wheels and hands clear of where "
    "it closes."
)
_SHORT = {
    BOTH: "both",
    ONE: "yes",
    ON_RING: "lower (on ring)",
    UPPER_SOLID: "lower (upper bound)",
    LOWER_SOLID: "upper (lower bound)",
    BOUND: "BOUND",
}
_LENGTHS = {
    "shaft": "shaft",
    "travel_used": "travel",
    "upper_length": "length",
    "lower_length": "length",
    "upper_left": "travel",
    "lower_left": "travel",
    "ring_distance": "ring_gap",
    "loose": "travel",
}


def travel_document(answer: TravelAnswer, truck: Truck, notes: Sequence[str]) -> Document:
    """The answer of `tuning travel --json`."""
    show = Shown(truck.units)
    kinds = ("height", "shaft", "travel", "length", "ring_gap", "preload", "rate", "load", "angle")
    return {
        "run": answer.run,
        "turns": dict(answer.turns),
        "units": show.units(*kinds) | {"up_share": "percent"},
        "corners": {name: _corner_document(corner, show) for name, corner in answer.corners.items()},
        "notes": [LOADS, *notes],
    }


def _corner_document(corner: CornerTravel, show: Shown) -> Document:
    names = [*POSITIONS, *(["squashed"] if "squashed" in corner.positions else [])]
    return {
        "preload": show.number(corner.preload, "preload"),
        "height": show.interval(corner.height, "height"),
        "positions": {name: _position_document(corner.positions.get(name), show) for name in names},
        "crossover": show.number(corner.crossover, "height"),
        "up_travel": show.number(corner.up_travel, "height"),
        "down_travel": show.number(corner.down_travel, "height"),
        "up_share": None if corner.up_share is None else 100 * corner.up_share,
        "length_sure_to": show.number(corner.unsure, "length"),
        "checks": [check_document(check, show.system) for check in corner.checks],
        "notes": list(corner.notes),
    }


def _position_document(position: Position | None, show: Shown) -> Document:
    """All keys at every position, null where there is nothing to say."""
    lengths = {
        key: None if position is None else show.number(getattr(position, key), kind)
        for key, kind in _LENGTHS.items()
    }
    if position is None:
        return {"height": None, **lengths, "works": None, "rate": None, "load": None}
    return {
        "height": show.number(position.height, "height"),
        **lengths,
        "works": position.works,
        "rate": show.number(position.rate, "rate"),
        "load": show.number(position.load, "load"),
    }


# ---------------------------------------------------------------- text


def travel_text(answer: TravelAnswer, truck: Truck, notes: Sequence[str]) -> str:
    """The answer of `tuning travel`: checks first, then a table for each corner."""
    turned = "; ".join(f"{c} {turns_text(t)}" for c, t in answer.turns.items())
    lines = [f"{truck.name}, after run {answer.run}{f', with {turned}' if turned else ''}", ""]
    lines += [*_check_lines(answer, truck.units), ""]
    for corner in answer.corners.values():
        lines += [*_corner_lines(corner, truck.units), ""]
    lines.append(LOADS)
    lines += [f"Note: {line}" for line in notes]
    return "\n".join([*lines, "", f"{CYCLING} {CAUTION}"])


def _check_lines(answer: TravelAnswer, system: System) -> list[str]:
    """What needs attention and what was not measured, each with what would mend it; then every figure."""
    lines: dict[str, list[str]] = {}
    order: dict[str, int] = {}
    for corner in answer.corners.values():
        for check in corner.checks:
            order[check.name] = min(order.get(check.name, 9), worst_first(check))
            if check.mend:
                state = STATES[check.ok] if not check.ok else "remark"
                figure = "" if check.value is None else f" {check_value(check, system)};"
                said = f"{state}: {check.name}:{figure} wanted {check.limit}. {_sentence(check.mend)}"
                lines.setdefault(said, []).append(corner.corner)
    found = sorted(lines, key=lambda said: (not said.startswith("A"), not said.startswith("n")))
    told = [f"{' '.join(lines[said])}: {said}" for said in found]
    rows = [
        (name, *(_cell(answer.corners[c], name, system) for c in CORNERS))
        for name in sorted(order, key=lambda name: order[name])
    ]
    return [*told, *([""] if told else []), *columns([("", *CORNERS), *rows])]


def _cell(corner: CornerTravel, name: str, system: System) -> str:
    check: Check | None = next((c for c in corner.checks if c.name == name), None)
    if check is None:
        return "-"
    if check.ok is None:
        return STATES[None]
    return f"{check_value(check, system)} {'ok' if check.ok else STATES[False]}"


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}."


def _corner_lines(corner: CornerTravel, system: System) -> list[str]:
    """A corner's positions side by side."""
    stand = f"rides at {shop_length(corner.height.mean, system)} ({between(corner.height, system)}, 90 %)"
    preload = "" if corner.preload is None else f", preload {decimal_length(corner.preload, system)}"
    lines = [f"{corner.corner} {stand}{preload}"]
    shown = [name for name in POSITION_WORDS if name in corner.positions]
    if len(shown) > 1:
        head = ("", *(POSITION_WORDS[name] for name in shown))
        found = position_rows(corner, shown, system)
        lines += columns([head, *((label, *cells) for label, cells in found)])
    split = travel_split(corner, system)
    lines += [split] if split else []
    if corner.unsure is not None:
        lines.append(
            f"Spring lengths and what is left of them are sure to ± {decimal_length(corner.unsure, system)}."
        )
    return lines + [f"Note: {note}" for note in corner.notes]


def travel_split(corner: CornerTravel, system: System) -> str:
    """`Up 4 7/8 in, down 4 7/8 in from ride: 50 % up, 50 % down`; empty where it is not known."""
    if corner.up_travel is None or corner.down_travel is None or corner.up_share is None:
        return ""
    up, down = shop_length(corner.up_travel, system), shop_length(corner.down_travel, system)
    share = round(100 * corner.up_share)
    return f"From ride {up} up and {down} down: {share} % up, {100 - share} % down."


def position_rows(corner: CornerTravel, names: Sequence[str], system: System) -> list[tuple[str, list[str]]]:
    """The figures of a corner's positions side by side; a row that has none is left out."""
    positions = [corner.positions[name] for name in names]

    def fine(key: str) -> list[str]:
        found = [getattr(p, key) for p in positions]
        return ["-" if v is None else decimal_length(v, system) for v in found]

    lower = "spring" if corner.stack.upper is None else "lower"
    rows = [
        ("height", [shop_length(p.height, system) for p in positions]),
        ("shaft showing", fine("shaft")),
        ("shock travel used", fine("travel_used")),
        ("upper length", fine("upper_length")),
        (f"{lower} length", fine("lower_length")),
        ("slider to ring", fine("ring_distance")),
        ("upper to solid", fine("upper_left")),
        (f"{lower} to solid", fine("lower_left")),
        ("at work", [_at_work(p, system) for p in positions]),
        ("rate at the shock", ["-" if p.rate is None else shop_rate(p.rate, system) for p in positions]),
        ("wheel load", ["-" if p.load is None else shop_load(p.load, system) for p in positions]),
    ]
    return [(label, cells) for label, cells in rows if set(cells) != {"-"}]


def _at_work(position: Position, system: System) -> str:
    if position.works == LOOSE:
        return f"loose by {decimal_length(position.loose or 0.0, system)}"
    return _SHORT.get(position.works or "", "-")
