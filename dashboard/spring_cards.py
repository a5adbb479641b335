"""Answers about springs in words and tables. Pure: answers in, components out."""

from collections.abc import Sequence

import numpy as np
from dash import html

from dashboard.shell import Component, fact, sentence
from dashboard.words import length_range, load_range, share, share_range, target_text
from tuning.check import Check
from tuning.choices import Choice, EndAnswer
from tuning.faults import nearest
from tuning.fit import Fit
from tuning.report.shared import odds
from tuning.report.springs import (
    FIRST_SET_DOWN,
    check_value,
    nut_words,
    rate_words,
    springs_said,
    stacks_toml,
)
from tuning.spring_checks import why
from tuning.springs import REASONS, Search
from tuning.truck import SIDES, Truck
from tuning.units import System, decimal_length, shop_length, shop_load, shown

EXAMPLES = 5  # of each reason
MARKS = {True: "pass", False: "attention", None: "not measured"}


# ---------------------------------------------------------------- the answer in a sentence


def verdict(answer: EndAnswer, fit: Fit, listed: int) -> Component:
    """First what to do, then what it costs. listed: springs on the list."""
    lines = [] if listed else ["The list is empty, so only what is on the truck was looked at."]
    kind = "good"
    if not answer.choices:
        kind, lines = "warn", [*lines, *_nothing(answer, listed)]
    else:
        best = answer.choices[0]
        lines.append(_best(answer, best, fit))
        misses = _misses(answer, best, fit.truck.units)
        kind = "plain" if misses or answer.limits else kind
        lines += misses
    lines += [f"{line[:1].upper()}{line[1:]}." for line in answer.limits]
    return sentence("\n".join(lines), kind)


def _best(answer: EndAnswer, best: Choice, fit: Fit) -> str:
    system = fit.truck.units
    nuts = ", ".join(f"{c} {decimal_length(p, system)}" for c, p in best.preload.items())
    chance = f"chance that the nuts reach: {odds(best.probability_reachable)}"
    if not best.changes:
        return (
            f"What is on the {answer.end} can do it: no springs to buy. Preload {nuts}; {chance}. The page Adjust "
            "says the turns."
        )
    said = (
        f"Best for the {answer.end}: {springs_said(best)}, {_to_buy(best.bought)}. Preload {nuts}; {chance}."
    )
    return f"{said} {own_words(answer, fit)}".strip()


def _to_buy(count: int) -> str:
    return "nothing to buy" if not count else f"{count} spring{'s' if count > 1 else ''} to buy"


def own_words(answer: EndAnswer, fit: Fit) -> str:
    """Whether what is on the truck would do as well; nothing where its springs aren't known."""
    said, fits = [], True
    for one in answer.searches:
        at = own_place(one)
        if at is None:
            return ""
        said.append(_line(one, fit, at, len(answer.searches) > 1))
        fits = fits and bool(one.reason[at] < 0)
    start = "What is on fits too, but less well by what is asked for" if fits else "What is on can't do it"
    return f"{start}: {'; '.join(said)}."


def own_place(one: Search) -> int | None:
    """Where the springs that are on stand among the pairs; None where they aren't known."""
    kept = {c.kept: c.name for c in one.candidates if c.kept is not None}
    dual = one.own is not None and one.own.upper is not None
    if 1 not in kept or dual != (0 in kept):
        return None
    return one.find(kept.get(0), kept[1])


def _misses(answer: EndAnswer, best: Choice, system: System) -> list[str]:
    """What was asked for and is not kept, and whether any stack would."""
    asked = answer.searches[0].wanted
    crossovers = [h for h in best.crossover.values() if h is not None]
    lines = []
    for place, name, figure in (
        (
            1,
            "ride frequency",
            f"{best.frequency:.2f} Hz, not {asked.frequency[0]:.2f} to {asked.frequency[1]:.2f} Hz",
        ),
        (
            2,
            "crossover",
            f"at {decimal_length(float(np.mean(crossovers or [0.0])), system)}, outside its window",
        ),
    ):
        if best.distance[place] <= 1e-9:
            continue
        none = all((one.distance[one.order, place] > 1e-9).all() for one in answer.searches)
        others = "No stack that fits keeps that" if none else "Others that fit do, but miss more elsewhere"
        lines.append(f"Its {name} is {figure}. {others}.")
    return lines


def _nothing(answer: EndAnswer, listed: int) -> list[str]:
    where = "on the list fits" if listed else "fits"
    if answer.least_bad is None:
        return [f"Nothing {where} the {answer.end}: no two springs go together, and none can stand alone."]
    gives = "; ".join(dict.fromkeys(answer.least_bad.gives))
    return [
        f"Nothing {where} the {answer.end}. Least bad is {springs_said(answer.least_bad)}; for it this would have "
        f"to give: {gives}."
    ]


# ---------------------------------------------------------------- counts and reasons


def reasons(answer: EndAnswer, fit: Fit) -> Component:
    """How many were looked at and fit; each reason that turned stacks away, to open."""
    looked = sum(len(one.reason) for one in answer.searches)
    fits = sum(len(one.order) for one in answer.searches)
    head = f"{looked:,} stack{'' if looked == 1 else 's'} looked at, {fits:,} fit{'s' if fits == 1 else ''}."
    if not answer.rejected:
        return html.P(f"{head} None was turned away.")
    folds = [
        html.Details(
            [
                html.Summary([html.B(f"{count:,}"), f" {reason}"]),
                html.P("Nearest to passing:", className="more"),
                html.Ul([html.Li(line) for line in examples(answer, fit, reason)]),
            ]
        )
        for reason, count in answer.rejected.items()
    ]
    return html.Div([html.P(f"{head} Turned away, each for the first limit it breaks:"), *folds])


def examples(answer: EndAnswer, fit: Fit, reason: str) -> list[str]:
    """A line each of those that break a limit by least."""
    lines, i = [], REASONS.index(reason)
    for one in answer.searches:
        at = np.nonzero(one.reason == i)[0]
        nearest_first = at[np.argsort(one.broken[at, i], kind="stable")]
        lines += [_line(one, fit, int(pair), len(answer.searches) > 1) for pair in nearest_first[:EXAMPLES]]
    return lines


def _line(one: Search, fit: Fit, at: int, of_a_side: bool) -> str:
    said = why(fit, one, at)
    return f"{', '.join(one.corners)}: {said}" if of_a_side else said


def why_not(answer: EndAnswer, fit: Fit, upper: str, lower: str) -> Component:
    """Why a pair was turned away, or what it does, a line for each search. upper: empty for a single spring."""
    upper, lower = upper.strip(), lower.strip()
    if not lower:
        return sentence("Choose the lower spring, or the only one.", "plain") if upper else ""
    known = {c.name for one in answer.searches for c in one.candidates}
    for name in (upper, lower):
        if name and name not in known:
            meant = nearest(name, known)
            mend = f"Did you mean {meant}?" if meant else "Choose a name that the list has."
            return sentence(f"“{shown(name)}” is no spring that was looked at. {mend}")
    lines = []
    for one in answer.searches:
        at = one.find(upper or None, lower)
        if at is None:
            lines.append("A spring that is on the truck is there once: it can't stand on itself.")
        else:
            lines.append(_line(one, fit, at, len(answer.searches) > 1))
    return sentence("\n".join(lines), "plain")


# ---------------------------------------------------------------- choices


def choices(shown_: Sequence[Choice], truck: Truck, title: str) -> Component:
    """Choices best first: a table, its rows cards where the screen is narrow; each opens."""
    if not shown_:
        return ""
    sides = SIDES[shown_[0].end]
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
    bodies = [_choice(number, choice, truck, heads) for number, choice in enumerate(shown_, 1)]
    words = (
        "Rate: at ride, then past the crossover, at the shock. Ride: frequency of the sprung mass on the wheel rate. "
        "Chance: that the preload needed lies inside the thread."
    )
    table = html.Table([head, *bodies], className="rows springs")
    return html.Section([html.H2(title), html.P(words, className="more"), table])


def _choice(number: int, choice: Choice, truck: Truck, heads: Sequence[str]) -> Component:
    system = truck.units
    cells = (
        html.B(f"{number}. {springs_said(choice)}"),
        ring_words(choice, system),
        *(decimal_length(choice.preload[c], system) for c in SIDES[choice.end]),
        rate_words(choice, system),
        f"{choice.frequency:.2f} Hz",
        crossover_words(choice, system),
        odds(choice.probability_reachable),
        str(choice.bought) if choice.bought else "none",
    )
    named = [html.Td(cell, **{"data-label": head}) for head, cell in zip(heads, cells, strict=True)]
    summary = html.Summary(
        ["Heights, checks, what to write", html.Span(f": number {number}", className="unseen")]
    )
    fold = html.Details([summary, detail(choice, truck)])
    return html.Tbody([html.Tr(named), html.Tr(html.Td(fold, colSpan=len(heads)), className="fold")])


def ring_words(choice: Choice, system: System) -> str:
    """`4 3/8 in, move it`, both sides where they differ."""
    gaps = [stack.ring_gap for stack in choice.stacks.values()]
    if all(gap is None for gap in gaps):
        return "no ring"
    said = dict.fromkeys("none" if gap is None else shop_length(gap, system) for gap in gaps)
    return f"{' / '.join(said)}, {'move it' if choice.ring_moves else 'stays'}"


def crossover_words(choice: Choice, system: System) -> str:
    """`18.52 in`, the mean of both sides."""
    heights = [h for h in choice.crossover.values() if h is not None]
    return decimal_length(sum(heights) / len(heights), system) if heights else "none"


def detail(choice: Choice, truck: Truck) -> Component:
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
