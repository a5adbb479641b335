"""What follows from the fields as they are typed: motion ratio, travel, a picture, a stack's own figures. Pure."""

from collections.abc import Sequence
from itertools import pairwise
from typing import Any, NamedTuple

from dash import html
from pydantic import ValidationError

from dashboard.shell import Component, fact
from dashboard.truck_drawings import picture
from dashboard.truck_fields import Field, value
from dashboard.truck_parts import Group, apart_key
from dashboard.truck_written import Typed, system_of, tables_of
from tuning.cycle import cycle_constants
from tuning.stack import compliances
from tuning.tablelines import Path
from tuning.truck import END_OF, SIDES, Stack
from tuning.trucktables import StackTable
from tuning.units import System, UnitError, parse, shop_length, shop_load, shop_rate, unit_in

Pairs = list[tuple[float, float]]


def figures(typed: Typed, group: Group, fields: tuple[Field, ...]) -> Component:
    """What follows from a group's fields so far. fields: the group's, or those of a side."""
    if group.rows:
        return _cycle_figures(pairs(typed, fields), _stand(typed, fields[0]), system_of(typed))
    if group.springs and (stack := stack_of(typed, fields)):
        return _stack_figures(stack, system_of(typed))
    return ""


def pairs(typed: Typed, fields: tuple[Field, ...]) -> Pairs:
    """Heights and shafts (m) of the rows that can be read, from bump to droop."""
    found = []
    for height, shaft in zip(fields[::2], fields[1::2], strict=True):
        texts = [str(value(typed.get(one.key, ""), one, system_of(typed)) or "") for one in (height, shaft)]
        try:
            found.append((parse(texts[0], "length"), parse(texts[1], "length")))
        except UnitError:
            continue
    return sorted(found)


def in_order(typed: Typed, fields: Sequence[Field]) -> dict[str, str]:
    """A note at each height of a cycle table that stands below a lower row: it counts in its place."""
    highest: dict[Path, float] = {}
    notes = {}
    for field in fields:
        if field.path[-1] != "height" or field.path[-3:-2] != ("cycle",):
            continue
        height = _height(typed, field.key)
        if height is None:
            continue
        if height < highest.get(field.path[:-2], 0.0):
            notes[field.key] = "Lower than a row above: it counts in its place by height."
        highest[field.path[:-2]] = max(height, highest.get(field.path[:-2], 0.0))
    return notes


def stack_of(typed: Typed, fields: tuple[Field, ...]) -> Stack | None:
    """The stack as far as it can be read; None where it can't."""
    start = len(fields[0].path) - 2
    tables: dict[str, Any] = tables_of(typed, fields, start).get(str(fields[0].path[start]), {})
    try:
        return StackTable.model_validate({"name": "stack"} | tables, context=system_of(typed)).built()
    except ValidationError:
        return None


# ---------------------------------------------------------------- the cycle table


class _Stand(NamedTuple):
    """Heights (m) that travel counts from and to, None where none is given: what is wanted, full bump, the strap."""

    wanted: float | None
    bump: float | None
    strap: float | None


def _stand(typed: Typed, row: Field) -> _Stand:
    """For the table that a row belongs to."""
    corner = row.path[1] if row.path[0] == "corner" else None
    end = str(row.path[0]) if corner is None else END_OF[str(corner)]
    wanted = [
        height
        for name in ([corner] if corner else SIDES[end])
        if (height := _height(typed, f"target.{name}"))
    ]
    wanted = wanted or [height for height in [_height(typed, f"target.{end}")] if height]
    own = f"corner.{corner}" if corner and typed.get(apart_key(end, "travel")) else end
    bump, strap = (_height(typed, f"{own}.travel.{key}") for key in ("height_full_bump", "height_strap"))
    return _Stand(sum(wanted) / len(wanted) if wanted else None, bump, strap)


def _height(typed: Typed, key: str) -> float | None:
    try:
        return parse(typed.get(key, ""), "length", default_unit=unit_in("length", system_of(typed)))
    except UnitError:
        return None


def _up_and_down(found: Pairs, stand: _Stand, system: System) -> list[Component]:
    if stand.wanted is None:
        return [fact("Up and down", "not yet", " They count from the height you want.")]
    low, high = stand.bump or found[0][0], stand.strap or found[-1][0]
    start = f" from {shop_length(stand.wanted, system)} wanted, to"
    ends = (
        f"{start} {'full bump' if stand.bump else 'the lowest row'}",
        f"{start} {'the strap' if stand.strap else 'the highest row'}",
    )
    return [
        fact("Up", shop_length(stand.wanted - low, system), ends[0]),
        fact("Down", shop_length(high - stand.wanted, system), ends[1]),
    ]


def _cycle_figures(found: Pairs, stand: _Stand, system: System) -> Component:
    if len({height for height, _ in found}) < 2:
        return html.P("Motion ratio, travel and their picture appear with the second row.", className="more")
    rows = []
    for (low, shaft_low), (high, shaft_high) in pairwise(found):
        if high > low:
            between = f"{shop_length(low, system)} to {shop_length(high, system)}"
            rows.append(fact(between, f"motion ratio {(shaft_high - shaft_low) / (high - low):.2f}"))
    (low, in_low), (high, out_high) = found[0], found[-1]
    travel = fact(
        "Travel of the axle",
        shop_length(high - low, system),
        f" at a ratio of {(out_high - in_low) / (high - low):.2f}",
    )
    used = fact("Shaft used", shop_length(out_high - in_low, system))
    whole = [travel, used, *_up_and_down(found, stand, system)]
    return html.Div(
        [cycle_picture(found, system), html.Dl([*whole, *rows], className="facts wide")], className="live"
    )


_WIDE, _TALL, _LEFT, _BELOW = 300.0, 180.0, 52.0, 34.0  # of the picture, and its margins


def cycle_picture(found: Pairs, system: System) -> Component:
    """Height against shaft showing: the readings, and the line that the answers go by."""
    heights, shafts = [h for h, _ in found], [s for _, s in found]
    across, up = _scale(shafts, _LEFT, _WIDE - 14), _scale(heights, _TALL - _BELOW, 14)
    frame = f'<path class="x" d="M{_LEFT} 8V{_TALL - _BELOW}H{_WIDE - 6}"/>'
    dots = "".join(f'<circle class="p" cx="{across(s):.1f}" cy="{up(h):.1f}" r="5"/>' for h, s in found)
    unit = unit_in("length", system)
    ends = "".join(
        f'<text x="{across(s):.1f}" y="{_TALL - 18}" text-anchor="middle">{_bare(s, system)}</text>'
        f'<text x="{_LEFT - 6}" y="{up(h) + 4:.1f}" text-anchor="end">{_bare(h, system)}</text>'
        for h, s in (found[0], found[-1])
    )
    names = (
        f'<text class="t" x="{(_LEFT + _WIDE) / 2:.0f}" y="{_TALL - 4}" text-anchor="middle">'
        f"shaft showing, {unit}</text>"
        f'<text class="t" x="12" y="{(_TALL - _BELOW) / 2:.0f}" text-anchor="middle" '
        f'transform="rotate(-90 12 {(_TALL - _BELOW) / 2:.0f})">height, {unit}</text>'
    )
    line = " ".join(f"{across(s):.1f},{up(h):.1f}" for h, s in _curve(found))
    words = f"Height against shaft showing, {len(found)} positions from bump to droop."
    return picture(
        f'{frame}<polyline class="m" points="{line}"/>{dots}{ends}{names}', _WIDE, _TALL, words, "plot"
    )


def _bare(length: float, system: System) -> str:
    return shop_length(length, system).removesuffix(f" {unit_in('length', system)}")


def _curve(found: Pairs) -> Pairs:
    """The fitted line in between; the positions joined where no curve can go through them."""
    if len({height for height, _ in found}) < len(found):
        return found
    middle, a, b, c = cycle_constants(tuple(found))
    low, high = found[0][0], found[-1][0]
    steps = [low + (high - low) * i / 24 for i in range(25)]
    return [(h, a + (h - middle) * (b + (h - middle) * c)) for h in steps]


def _scale(values: list[float], first: float, last: float) -> Any:
    low, high = min(values), max(values)
    span = (high - low) or 1.0
    room = 0.06 * (last - first)
    return lambda v: first + room + (v - low) / span * (last - first - 2 * room)


# ---------------------------------------------------------------- a stack


def _stack_figures(stack: Stack, system: System) -> Component:
    soft = 1 / float(compliances(stack).sum())
    rows = [fact("Rate, all springs at work" if stack.upper else "Rate", shop_rate(soft, system))]
    if stack.free_length is not None:
        rows.append(fact("Free length in all", shop_length(stack.free_length, system)))
    solid = sum(spring.travel_to_solid for spring in stack.springs)
    if solid < float("inf"):
        rows.append(fact("Travel to coil bind", shop_length(solid, system)))
    if stack.upper is not None and stack.ring_gap is not None:
        rows.append(fact("Rate, slider on its ring", shop_rate(stack.lower.rate, system)))
        force = shop_load(stack.upper.rate * stack.ring_gap, system)
        rows.append(fact("Slider meets its ring at", force, " on the stack, without preload"))
    return html.Dl(rows, className="facts wide")
