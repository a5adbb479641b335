"""Choices of springs best first, each with all that is known of it behind a fold. Pure: answers in, components out."""

from collections.abc import Callable, Sequence
from functools import partial

from dash import dcc, html

from dashboard.shell import Component, address, fact, sentence
from dashboard.words import length_range, load_range, share, share_range, target_text
from tuning.check import Check
from tuning.choices import Choice, EndAnswer
from tuning.report.shared import odds
from tuning.report.spring_windows import Windows, side_of, windows_of
from tuning.report.springs import (
    FIRST_SET_DOWN,
    check_value,
    nut_words,
    rate_words,
    springs_said,
    stacks_toml,
)
from tuning.truck import SIDES, Truck
from tuning.units import System, decimal_length, shop_length, shop_load

MARKS = {True: "pass", False: "attention", None: "not measured"}


def choices(answer: EndAnswer, truck: Truck, name: str) -> Component:
    """Choices best first, or the least bad: a table, its rows cards where the screen is narrow; each opens.

    name: what the log calls the truck.
    """
    shown, title = answer.choices, f"Best for the {answer.end}"
    if not shown and answer.least_bad is not None:
        shown, title = (answer.least_bad,), "Least bad"
    if not shown:
        return ""
    sides, asked = SIDES[answer.end], windows_of(answer)
    heads = (
        "Springs",
        "Ring gap",
        *(f"Preload {c}" for c in sides),
        "Rate",
        "Ride",
        "Crossover",
        "Chance",
        "Buy",
    )
    head = html.Thead(html.Tr([html.Th(text, scope="col") for text in heads]))
    bodies = [
        _choice(number, heads, _cells(number, choice, truck.units, asked), detail(choice, truck, name))
        for number, choice in enumerate(shown, 1)
    ]
    words = (
        "Rate: at ride, then past the crossover, at the shock. Ride: frequency of the sprung mass on the wheel rate. "
        "Chance: that the preload needed lies inside the thread."
    )
    table = html.Table([head, *bodies], className="rows springs")
    return html.Section([html.H2(title), html.P(words, className="more"), table])


def _cells(number: int, choice: Choice, system: System, asked: Windows) -> tuple[Component, ...]:
    return (
        html.B(f"{number}. {springs_said(choice)}"),
        ring_words(choice, system),
        *(decimal_length(choice.preload[c], system) for c in SIDES[choice.end]),
        rate_words(choice, system),
        _beside(choice.frequency, asked.frequency, choice.distance[1], "{:.2f} Hz".format),
        crossover_words(choice, system, asked),
        odds(choice.probability_reachable),
        str(choice.bought) if choice.bought else "none",
    )


def _choice(number: int, heads: Sequence[str], cells: Sequence[Component], all_of_it: Component) -> Component:
    named = [html.Td(cell, **{"data-label": head}) for head, cell in zip(heads, cells, strict=True)]
    summary = html.Summary(
        ["Heights, checks, what to write", html.Span(f": number {number}", className="unseen")]
    )
    fold = html.Details([summary, all_of_it])
    return html.Tbody([html.Tr(named), html.Tr(html.Td(fold, colSpan=len(heads)), className="fold")])


def ring_words(choice: Choice, system: System) -> str:
    """`4 3/8 in, move it`, both sides where they differ."""
    gaps = [stack.ring_gap for stack in choice.stacks.values()]
    if all(gap is None for gap in gaps):
        return "no ring"
    said = dict.fromkeys("none" if gap is None else shop_length(gap, system) for gap in gaps)
    return f"{' / '.join(said)}, {'move it' if choice.ring_moves else 'stays'}"


def crossover_words(choice: Choice, system: System, asked: Windows) -> Component:
    """`18.52 in`, the mean of both sides."""
    height, said = choice.mean_crossover, partial(decimal_length, system=system)
    return "none" if height is None else _beside(height, asked.crossover, choice.distance[2], said)


def _beside(
    value: float, window: tuple[float, float], outside: float, said: Callable[[float], str]
) -> Component:
    """`1.28 Hz`, and on which side of its window where it is outside. outside: the worst corner's distance."""
    side = side_of(value, window, outside, said)
    if not side:
        return said(value)
    return [f"{said(value)}, ", html.Span(f"{side} what was asked", className="beside")]


def detail(choice: Choice, truck: Truck, name: str) -> Component:
    """What to expect, what was looked at, what to write into the truck file, and the caution."""
    parts: list[Component] = [
        html.Dl([_height(c, choice, truck) for c in choice.height_after], className="facts wide")
    ]
    if choice.cross_weight_after is not None:
        cross = choice.cross_weight_after
        parts.append(html.P(["Cross-weight ", html.B(share(cross.mean)), f", {share_range(cross)}."]))
    parts.append(html.P("Ranges are 90 %: the true value lies inside nine times in ten.", className="more"))
    parts.append(html.Ul([_check(check, truck.units) for check in choice.checks], className="checks"))
    if choice.changes:
        blocks = "\n\n".join("\n".join(block) for block in stacks_toml(choice, truck.units))
        parts.append(
            html.P("Once they are on, put this into the truck file and log the next run with this stack:")
        )
        parts.append(html.Pre(blocks, tabIndex="0", role="group", **{"aria-label": "For the truck file"}))
        add = dcc.Link(
            "Add this stack to the truck",
            href=address("truck", truck=name, stack_toml=blocks),
            className="go",
        )
        parts.append(html.P(add, className="writes"))
    else:
        parts.append(
            html.P("This is what the truck wears now: only the nuts have to turn. The page Adjust says how.")
        )
    return html.Div([*parts, sentence(FIRST_SET_DOWN, "warn")], className="detail")


def _height(corner: str, choice: Choice, truck: Truck) -> Component:
    system, height, load = truck.units, choice.height_after[corner], choice.load_after[corner]
    preload = choice.preload.get(corner, choice.other_preload.get(corner))
    nut = nut_words(preload, truck, corner)
    nut = nut if preload is None else f"preload {nut}"
    carries = (
        "load unknown" if load is None else f"{shop_load(load.mean, system)}, {load_range(load, system)}"
    )
    more = [length_range(height, system), html.Br(), carries]
    if wanted := target_text(truck, corner):
        more += [html.Br(), wanted]
    return fact(f"{corner}, {nut}", html.B(shop_length(height.mean, system)), more)


def _check(check: Check, system: System) -> Component:
    mark = MARKS[check.ok]
    mend = f" Mend: {check.mend}." if check.ok is False and check.mend else ""
    said = f" {check.name[:1].upper()}{check.name[1:]}: {check_value(check, system)}; {check.limit}.{mend}"
    return html.Li([html.B(mark, className=f"mark {mark.split(' ', maxsplit=1)[0]}"), said])
