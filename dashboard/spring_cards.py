"""Answers about springs in words and tables. Pure: answers in, components out."""

import numpy as np
from dash import html

from dashboard.shell import Component, sentence
from tuning.choices import Choice, EndAnswer
from tuning.faults import nearest
from tuning.fit import Fit
from tuning.report.shared import odds
from tuning.report.springs import (
    springs_said,
)
from tuning.spring_checks import why
from tuning.springs import REASONS, Search
from tuning.units import System, decimal_length, shown

EXAMPLES = 5  # of each reason


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
            f"at {decimal_length(best.mean_crossover or 0.0, system)}, outside its window",
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
