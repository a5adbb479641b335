"""The answer of `tuning springs`."""

import csv
import json
from collections.abc import Mapping, Sequence
from functools import partial

from ..check import Check
from ..choices import Choice, EndAnswer
from ..faults import Fault, InputError, nearest
from ..fit import Fit
from ..spring_checks import why
from ..spring_places import Candidate
from ..truck import SIDES, Spring, Stack, Truck
from ..units import (
    System,
    decimal_length,
    shop_length,
    shop_load,
    shop_rate,
    shown,
    to_unit,
    unit_in,
)
from .shared import CAUTION, Document, Shown, between, columns, odds, percent
from .spring_windows import Windows, missed, side_of, windows_of

FIRST_SET_DOWN = (
    "Springs under load can kill: carry the truck on stands, unload the shock fully and wind the nut off before a "
    "spring comes out; never use fingers to guide a spring that is being wound down."
)


def springs_document(answers: Sequence[EndAnswer], truck: Truck, run: str, notes: Sequence[str]) -> Document:
    """The answer of `tuning springs --json`."""
    show = Shown(truck.units)
    rejected: dict[str, int] = {}
    for answer in answers:
        for reason, count in answer.rejected.items():
            rejected[reason] = rejected.get(reason, 0) + count
    return {
        "run": run,
        "units": show.units("height", "load", "preload", "ring_gap", "rate") | {"frequency": "Hz"},
        "choices": [_choice(c, truck, show) for answer in answers for c in answer.choices],
        "rejected": rejected,
        "rejected_by_end": {answer.end: answer.rejected for answer in answers},
        "limits": list(answers[0].limits),
        "least_bad": [_choice(a.least_bad, truck, show) for a in answers if a.least_bad is not None],
        "notes": list(notes),
    }


def _choice(choice: Choice, truck: Truck, show: Shown) -> Document:
    upper, lower = common(choice)
    gaps = {stack.ring_gap for stack in choice.stacks.values()}
    crossovers = [h for h in choice.crossover.values() if h is not None]
    own = SIDES[choice.end]
    return {
        "end": choice.end,
        "upper": upper,
        "lower": lower,
        "springs": {
            c: dict(zip(("upper", "lower"), _names(pair), strict=True)) for c, pair in choice.springs.items()
        },
        "ring_gap": show.number(gaps.pop() if len(gaps) == 1 else None, "ring_gap"),
        "ring_moves": choice.ring_moves,
        "ring_gaps": {c: show.number(s.ring_gap, "ring_gap") for c, s in choice.stacks.items()},
        "preload": {c: show.number(p, "preload") for c, p in choice.preload.items()},
        "other_preload": {c: show.number(p, "preload") for c, p in choice.other_preload.items()},
        "height_after": {c: show.interval(choice.height_after[c], "height") for c in own},
        "load_after": {c: show.interval(choice.load_after[c], "load") for c in own},
        "other_height_after": {
            c: show.interval(h, "height") for c, h in choice.height_after.items() if c not in own
        },
        "cross_weight_after": percent(choice.cross_weight_after),
        "frequency_hz": choice.frequency,
        "rate_soft": show.number(choice.rates[0], "rate"),
        "rate_stiff": show.number(choice.rates[1], "rate"),
        "crossover_height": show.number(sum(crossovers) / len(crossovers), "height") if crossovers else None,
        "probability_reachable": choice.probability_reachable,
        "springs_to_buy": choice.bought,
        "distance": dict(zip(("preload", "frequency", "crossover"), choice.distance, strict=True)),
        "checks": [check_document(check, truck.units) for check in choice.checks],
        "gives": list(choice.gives),
    }


def why_document(fit: Fit, answers: Sequence[EndAnswer], names: str) -> Document:
    """Why a pair was turned away, a line for each end. names: `UPPER,LOWER`, or one name for a single spring; quoted
    as in CSV where a name has a comma."""
    pair = _pair_named(names)
    searches = [one for answer in answers for one in answer.searches]
    known = [c.name for c in searches[0].candidates] if searches else []
    for name in pair:
        if name is not None and name not in known:
            meant = nearest(name, known)
            mend = (
                f"Did you mean {meant}?"
                if meant
                else "Write names as in the catalogue's first column, between quotes where one has a comma"
            )
            raise InputError("--why", [Fault("", f'"{shown(name)}" is no spring that was looked at', mend)])
    lines = []
    for one in searches:
        at = one.find(*pair)
        said = "a kept spring can't stand on itself" if at is None else why(fit, one, at)
        lines.append(f"{', '.join(one.corners)}: {said}")
    return {"why": lines}


def _pair_named(names: str) -> tuple[str | None, str]:
    try:
        given = [part.strip() for row in csv.reader([names], skipinitialspace=True) for part in row]
    except csv.Error:
        given = []
    match given:
        case [lower]:
            return None, lower
        case [upper, lower]:
            return upper, lower
    mend = "Write UPPER,LOWER or one name; a name with a comma goes between quotes, as in '\"A,1\",B'"
    raise InputError("--why", [Fault("", f'"{shown(names)}" is not one spring or two', mend)])


def common(choice: Choice) -> tuple[str | None, str | None]:
    """Names of the upper and lower that both sides wear; None where they differ or there is none."""
    pairs = {_names(pair) for pair in choice.springs.values()}
    return pairs.pop() if len(pairs) == 1 else (None, None)


def _names(pair: tuple[Candidate | None, Candidate]) -> tuple[str | None, str]:
    upper, lower = pair
    return None if upper is None else upper.name, lower.name


def check_document(check: Check, system: System) -> Document:
    """A check as a document; the value in the owner's unit."""
    unit = unit_in(check.kind, system)
    value = None if check.value is None else float(to_unit(check.value, unit))
    return {
        "name": check.name,
        "ok": check.ok,
        "value": value,
        "unit": unit,
        "limit": check.limit,
        "mend": check.mend,
    }


def check_value(check: Check, system: System) -> str:
    """A check's figure as people read it."""
    if check.value is None:
        return "-"
    unit = unit_in(check.kind, system)
    if unit_in("length", system) == unit:
        return decimal_length(check.value, system)
    return f"{to_unit(check.value, unit):.2f} {unit}".rstrip()


def springs_text(answers: Sequence[EndAnswer], truck: Truck, run: str, notes: Sequence[str]) -> str:
    """The answer of `tuning springs` as tables."""
    lines = [f"{truck.name}, after run {run}", ""]
    for answer in answers:
        lines += [*_end_lines(answer, truck), ""]
    lines += [f"Limit: {line}" for line in answers[0].limits]
    lines += [f"Note: {line}" for line in notes]
    return "\n".join([*lines, FIRST_SET_DOWN, CAUTION])


def _end_lines(answer: EndAnswer, truck: Truck) -> list[str]:
    searched = sum(len(one.reason) for one in answer.searches)
    sound = sum(len(one.order) for one in answer.searches)
    lines = [f"{answer.end.capitalize()}: {line}" for line in missed(answer, truck.units)]
    lines += [f"{answer.end.capitalize()}: {searched:,} stacks looked at, {sound:,} fit. Turned away:"]
    lines += [f"  {count:>9,}  {reason}" for reason, count in answer.rejected.items()] or ["  none"]
    lines.append("")
    if answer.choices:
        return [*lines, *choice_table(answer, truck), "", *_detail(answer.choices[0], truck, "Best")]
    if answer.least_bad is None:
        return [*lines, "Nothing to put on: no two springs here go together, and no single one was given."]
    gives = "; ".join(answer.least_bad.gives)
    return [
        *lines,
        f"Nothing fits. Least bad is below; for it this would have to give: {gives}.",
        "",
        *_detail(answer.least_bad, truck, "Least bad"),
    ]


def choice_table(answer: EndAnswer, truck: Truck) -> list[str]:
    """The best choices, a line each; what is outside its window says on which side."""
    system, asked = truck.units, windows_of(answer)
    ends = SIDES[answer.end]
    figures = ("rate", "Hz", "crossover", "chance", "buy")
    rows = [("", "springs", "ring gap", *(f"preload {c}" for c in ends), *figures)]
    for number, choice in enumerate(answer.choices, 1):
        hertz = side_of(choice.frequency, asked.frequency, choice.distance[1], "{:.2f}".format)
        rows.append(
            (
                str(number),
                springs_said(choice),
                _gaps(choice.stacks, system),
                *(decimal_length(choice.preload[c], system) for c in ends),
                rate_words(choice, system),
                f"{choice.frequency:.2f} {hertz}".rstrip(),
                _crossover(choice, asked, system),
                odds(choice.probability_reachable),
                str(choice.bought),
            )
        )
    return columns(rows)


def _crossover(choice: Choice, asked: Windows, system: System) -> str:
    """`18.52 in`, the mean of both sides, and on which side of its window where it is outside."""
    height, said = choice.mean_crossover, partial(decimal_length, system=system)
    if height is None:
        return "-"
    return f"{said(height)} {side_of(height, asked.crossover, choice.distance[2], said)}".rstrip()


def nut_words(preload: float | None, truck: Truck, corner: str) -> str:
    """`1.75 in`; a nut of an end that gets springs of its own has none yet."""
    if preload is not None:
        return decimal_length(preload, truck.units)
    return "no adjuster" if truck.corners[corner].adjuster is None else "by its springs"


def rate_words(choice: Choice, system: System) -> str:
    """`167, then 425 lbf/in`: at ride and past the crossover; of the first corner where they differ."""
    soft, stiff = choice.rates
    said = shop_rate(soft, system)
    if stiff is not None:
        said = f"{said.split(' ', maxsplit=1)[0]}, then {shop_rate(stiff, system)}"
    return said if choice.alike else f"{next(iter(choice.springs))} {said}"


def springs_said(choice: Choice) -> str:
    """`A over B`, or both sides where they differ."""
    each = {corner: pair_said(pair) for corner, pair in choice.springs.items()}
    if choice.alike:
        return next(iter(each.values()))
    return "; ".join(f"{corner} {said}" for corner, said in each.items())


def pair_said(pair: tuple[Candidate | None, Candidate]) -> str:
    """`A over B`, or `B`."""
    upper, lower = pair
    return lower.name if upper is None else f"{upper.name} over {lower.name}"


def _gaps(stacks: Mapping[str, Stack], system: System) -> str:
    said = {"-" if s.ring_gap is None else shop_length(s.ring_gap, system) for s in stacks.values()}
    return " / ".join(sorted(said))


def _detail(choice: Choice, truck: Truck, title: str) -> list[str]:
    system = truck.units
    rows = [("", "preload", "height after", "90 %", "load after")]
    for corner, height in choice.height_after.items():
        preload = choice.preload.get(corner, choice.other_preload.get(corner))
        rows.append(
            (
                corner,
                nut_words(preload, truck, corner),
                shop_length(height.mean, system),
                between(height, system),
                "unknown" if (load := choice.load_after[corner]) is None else shop_load(load.mean, system),
            )
        )
    checks = [("", "", "is", "should be")]
    for check in choice.checks:
        mark = {True: "pass", False: "ATTENTION", None: "not measured"}[check.ok]
        checks.append((mark, check.name, check_value(check, system), check.limit))
    if choice.changes:
        log = ["Log the next run with this stack; put this into the truck file first:"]
        log += [line for block in stacks_toml(choice, system) for line in block]
    else:
        log = ["This is what the truck wears now: no springs are needed, only the nuts. Ask tuning adjust."]
    return [
        f"{title}: {springs_said(choice)}",
        "",
        *columns(rows),
        "",
        *columns(checks),
        "",
        *log,
    ]


def stacks_toml(choice: Choice, system: System) -> list[tuple[str, ...]]:
    """The stacks of a choice as the truck file has them, each once."""
    return list(dict.fromkeys(tuple(stack_toml(stack, system)) for stack in choice.stacks.values()))


def stack_toml(stack: Stack, system: System) -> list[str]:
    """A stack as the truck file has it."""

    def quantity(value: float, kind: str) -> str:
        return f'"{to_unit(value, unit_in(kind, system)):.6g} {unit_in(kind, system)}"'

    def spring(one: Spring) -> str:
        parts = [f"rate = {quantity(one.rate, 'rate')}"]
        parts += (
            [f"free_length = {quantity(one.free_length, 'length')}"] if one.free_length is not None else []
        )
        parts += (
            [f"solid_length = {quantity(one.solid_length, 'length')}"] if one.solid_length is not None else []
        )
        return f"{{ {', '.join(parts)} }}"

    lines = ["[[stacks]]", f"name = {json.dumps(stack.name, ensure_ascii=False)}"]
    if stack.ring_gap is not None:
        lines.append(f'ring_gap = "{shop_length(stack.ring_gap, system)}"')
    if stack.upper is not None:
        lines.append(f"upper = {spring(stack.upper)}")
    return [*lines, f"lower = {spring(stack.lower)}"]
