"""The set-up sheet of a truck after a run: every text of it in the owner's units. No layout.

`sheet_answers` works out what is told here; `sheet_pdf` and the dashboard's print page set it.
"""

from collections.abc import Callable, Sequence

from .adjust import CornerAnswer
from .check import Check
from .foretold import CornerForetold, Foretold
from .interval import Interval
from .report.shared import CAUTION, ORDER_OF_WORK, between, odds
from .report.springs import check_value
from .report.travel import STATES
from .sheet_answers import SheetAnswers
from .sheet_parts import NOTHING, TO_WRITE, Section, Sheet
from .travel_checks import worst_first
from .truck import CORNERS, SIDES, Spring, Truck
from .units import (
    System,
    decimal_length,
    shop_length,
    shop_load,
    shop_rate,
    to_unit,
    turns_text,
    unit_in,
)


def sheet(answers: SheetAnswers, address: str | None = None) -> Sheet:
    """The sheet of the latest run. address: for its QR code."""
    fit = answers.fit
    truck, run = fit.truck, fit.runs[-1]
    system = truck.units
    far = [r.odometer for r in run.readings if r.odometer is not None]
    count = len(fit.runs)
    found = (
        _springs(answers),
        _nuts(answers),
        _heights(answers),
        _loads(answers),
        _travel(answers),
        _read(answers, system),
        _left_out(answers),
    )
    return Sheet(
        truck=truck.name,
        run=run.name,
        taken=f"{run.taken_at:%Y-%m-%d %H:%M}",
        odometer=_distance(max(far), system) if far else "not noted",
        runs=f"{count} run{'' if count == 1 else 's'} so far",
        paper="letter" if system == "us" else "a4",
        sections=tuple(s for s in found if s.rows or s.lines),
        order_of_work=ORDER_OF_WORK,
        caution=CAUTION,
        address=address,
    )


# ---------------------------------------------------------------- sections


def _springs(answers: SheetAnswers) -> Section:
    fit = answers.fit
    system = fit.truck.units
    rings = [NOTHING if s.ring_gap is None else shop_length(s.ring_gap, system) for s in fit.stacks]
    rows = [
        ("stack", *(stack.name for stack in fit.stacks)),
        ("upper: rate, free length", *(_spring(stack.upper, system) for stack in fit.stacks)),
        ("lower: rate, free length", *(_spring(stack.lower, system) for stack in fit.stacks)),
        ("ring gap, no preload", *rings),
    ]
    return Section("Springs", _told(rows))


def _left_out(answers: SheetAnswers) -> Section:
    doubted = [r for run in answers.fit.runs for r in run.readings if r.doubt]
    return Section(
        "Left out of the fit", lines=tuple(_sentence(f"{r.run}: {r.doubt}") for r in reversed(doubted))
    )


def _spring(spring: Spring | None, system: System) -> str:
    if spring is None:
        return NOTHING
    length = "" if spring.free_length is None else f", {shop_length(spring.free_length, system)}"
    return f"{shop_rate(spring.rate, system)}{length}"


def _nuts(answers: SheetAnswers) -> Section:
    system, advice = answers.fit.truck.units, answers.advice

    def row(label: str, text: Callable[[CornerAnswer], str]) -> tuple[str, ...]:
        return (label, *(NOTHING if c.turns is None else text(c) for c in advice.corners.values()))

    rows = (
        row("preload now", lambda c: _fine(c.preload_now, system)),
        row("turn the nut", lambda c: turns_text(c.turns or 0.0)),
        row("preload after", lambda c: _fine(c.preload_after, system)),
        row("turned, locked (tick)", lambda _: TO_WRITE),
    )
    lines = (f"No turns advised: {answers.no_advice}.",) if answers.no_advice else ()
    return Section("Nuts", rows, lines, main="turn the nut")


def _heights(answers: SheetAnswers) -> Section:
    fit, advice = answers.fit, answers.advice
    truck, system = fit.truck, fit.truck.units
    read = {r.corner for r in fit.runs[-1].readings if r.height is not None and not r.doubt}

    def measured(name: str) -> str:
        height = shop_length(advice.corners[name].height_now, system)
        return height if name in read else f"{height}, earlier run"

    after = [c.height_after for c in advice.corners.values()]
    rows = (
        ("measured", *(measured(c) for c in CORNERS)),
        ("target", *(_target(truck, c) for c in CORNERS)),
        ("expected after", *(shop_length(h.mean, system) for h in after)),
        ("90 % between", *(between(h, system) for h in after)),
        ("read after", *(TO_WRITE for _ in CORNERS)),
    )
    return Section("Heights at the marks", rows, tuple(_outcome(answers)), main="expected after")


def _target(truck: Truck, corner: str) -> str:
    height = truck.target.heights.get(corner)
    if height is None:
        return NOTHING
    return f"{shop_length(height, truck.units)} ± {shop_length(truck.target.height_tolerance, truck.units)}"


def _outcome(answers: SheetAnswers) -> list[str]:
    """Targets of whole ends, the chance, what held the answer back, what to read next."""
    truck, advice = answers.fit.truck, answers.advice
    system, lines = truck.units, []
    for end, height in truck.target.ends.items():
        now, after = (
            sum(v) / 2
            for v in zip(
                *((c.height_now, c.height_after.mean) for c in (advice.corners[n] for n in SIDES[end])),
                strict=True,
            )
        )
        lines.append(
            f"Mean of the {end}: {shop_length(now, system)} now, {shop_length(after, system)} after; target "
            f"{shop_length(height, system)} ± {shop_length(truck.target.height_tolerance, system)}."
        )
    if advice.probability_in_tolerance is not None:
        chance = f"Chance of landing inside every tolerance: {odds(advice.probability_in_tolerance)}."
        lines.append(chance if advice.reachable else f"{chance} Not every target is met by this.")
    lines += [_sentence(limit) for limit in advice.limits]
    if advice.next_reading is not None:
        lines.append(f"Read next: {advice.next_reading.text}")
    return lines


def _loads(answers: SheetAnswers) -> Section:
    truck, advice = answers.fit.truck, answers.advice
    corners, system = list(advice.corners.values()), truck.units
    said = _cross_weight(truck, advice.cross_weight_now, advice.cross_weight_after)
    if all(c.load_after is None for c in corners):
        return Section("Wheel loads", (), (said,))
    rows = (
        ("measured", *(NOTHING if c.load_now is None else shop_load(c.load_now, system) for c in corners)),
        ("expected after", *(_load(c.load_after, system) for c in corners)),
        ("read after", *(TO_WRITE for _ in CORNERS)),
    )
    return Section("Wheel loads", rows, (said,))


def _load(value: Interval | None, system: System) -> str:
    """`1790 ± 12 lbf`: half the 90 % interval behind it."""
    if value is None:
        return "unknown"
    unit = unit_in("load", system)
    mean, half = (round(to_unit(v, unit)) for v in (value.mean, (value.high - value.low) / 2))
    return f"{mean} ± {half} {unit}"


def _cross_weight(truck: Truck, now: float | None, after: Interval | None) -> str:
    if after is None:
        return "Cross-weight (RF + LR) is unknown: weigh all four wheels once."
    before = "" if now is None else f"{100 * now:.1f} % measured, "
    wanted = ""
    if truck.target.cross_weight is not None:
        tolerance = 100 * truck.target.cross_weight_tolerance
        wanted = f"; target {100 * truck.target.cross_weight:.1f} ± {tolerance:.1f} %"
    return (
        f"Cross-weight (RF + LR): {before}{100 * after.mean:.1f} % expected after "
        f"({100 * after.low:.1f} to {100 * after.high:.1f}, 90 % sure){wanted}."
    )


def _travel(answers: SheetAnswers) -> Section:
    """Each check with its figure at every corner, worst first; then what would put it right."""
    system = answers.fit.truck.units
    found = {corner.corner: {c.name: c for c in corner.checks} for corner in answers.travel.corners.values()}
    worst: dict[str, int] = {}
    mends: dict[str, list[str]] = {}
    for corner, checks in found.items():
        for name, check in checks.items():
            worst[name] = min(worst.get(name, 9), worst_first(check))
            if check.mend and not check.ok:
                mends.setdefault(f"{name}: {check.mend}.", []).append(corner)
    names = sorted(worst, key=lambda name: worst[name])
    rows = tuple((name, *(_check(found[c].get(name), system) for c in CORNERS)) for name in names)
    lines = tuple(f"{' '.join(corners)}: {line}" for line, corners in mends.items())
    turned = "after these turns" if answers.travel.turns else "as it stands"
    return Section(f"Travel {turned}", rows, lines, cut=True)


def _check(check: Check | None, system: System) -> str:
    if check is None:
        return NOTHING
    figure = "" if check.value is None else f"{check_value(check, system)} "
    return f"{figure}{STATES[check.ok]}"


def _read(answers: SheetAnswers, system: System) -> Section:
    told, title = answers.foretold, "Foretold and read"
    if told is None:
        return Section(title, (), (_sentence(answers.not_foretold),))
    corners = [told.corners[c] for c in CORNERS]
    rows = [
        ("height foretold", *(shop_length(c.height.mean, system) for c in corners)),
        ("90 % between", *(between(c.height, system) for c in corners)),
        ("height read", *(NOTHING if c.read is None else shop_length(c.read, system) for c in corners)),
        ("off by", *(_off(c, system) for c in corners)),
        ("load foretold", *(NOTHING if c.load is None else _load(c.load, system) for c in corners)),
        ("load read", *(NOTHING if c.read_load is None else shop_load(c.read_load, system) for c in corners)),
    ]
    return Section(title, _told(rows), _how_it_was_foretold(told))


def _off(corner: CornerForetold, system: System) -> str:
    """`0.05 in low`."""
    if corner.read is None:
        return NOTHING
    off = corner.read - corner.height.mean
    size = decimal_length(abs(off), system)
    return size if size == decimal_length(0.0, system) else f"{size} {'high' if off > 0 else 'low'}"


def _how_it_was_foretold(told: Foretold) -> tuple[str, ...]:
    said = [
        f"Run {told.run}, foretold from its nuts and the runs up to {told.before}. The 90 % is for the height itself: "
        "tape and friction come on top."
    ]
    if told.cross_weight is not None and told.read_cross_weight is not None:
        low, high = 100 * told.cross_weight.low, 100 * told.cross_weight.high
        said.append(
            f"Cross-weight: {100 * told.cross_weight.mean:.1f} % foretold ({low:.1f} to {high:.1f}), "
            f"{100 * told.read_cross_weight:.1f} % read."
        )
    return tuple(said)


# ---------------------------------------------------------------- words


def _told(rows: Sequence[tuple[str, ...]]) -> tuple[tuple[str, ...], ...]:
    """The rows that say something at one corner at least."""
    return tuple(row for row in rows if set(row[1:]) != {NOTHING})


def _fine(value: float | None, system: System) -> str:
    return NOTHING if value is None else decimal_length(value, system)


def _distance(value: float, system: System) -> str:
    unit = unit_in("distance", system)
    return f"{to_unit(value, unit):,.0f} {unit}"


def _sentence(text: str) -> str:
    text = text.strip()
    return f"{text[:1].upper()}{text[1:]}{'' if text.endswith(('.', '?')) else '.'}"
