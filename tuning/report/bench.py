"""The answers of `tuning coil` and `tuning press`."""

from collections.abc import Sequence
from typing import Any

from ..coil import INDEX_USUAL, Coil, Safe
from ..interval import Interval
from ..press import FALSE_KNEES, Pressed
from ..solid import STIFFER
from ..units import System, decimal_length, shop_load, shop_rate, to_unit, unit_in
from .shared import Document, Shown, between, columns

PRESS_CAUTION = (
    "A spring in a press holds enough to kill. Use a press rated for more than the spring carries when solid, a guard "
    "round it and a guide through the coil; stand aside, never in line with it; stop short of solid."
)
COIL_CAUTION = (
    "Worked out from the wire and not tested: press the spring before anybody rides on it. Past its safe deflection it "
    "may take a set or break."
)
_NEVER_ON = (
    "Never press on: a spring whose coils touch gives no more way, and the press's whole force can throw it."
)
_READS_LOW = 0.005  # share of the rate from which the ruler's error is worth a line


# ---------------------------------------------------------------- coil


def coil_document(answer: Coil, system: System) -> Document:
    """The answer of `tuning coil --json`."""
    show, spring = Shown(system), answer.measured

    def safe(one: Safe) -> Document:
        return {
            "stress": show.number(one.stress, "stress"),
            "force": show.number(one.force, "force"),
            "deflection": show.number(one.deflection, "length"),
        }

    solid = answer.at_solid
    return {
        "units": show.units("length", "rate", "force", "stress", "weight", "frequency"),
        "rate": show.interval(answer.rate, "rate"),
        "rate_percent_per_wire_percent": answer.wire_share,
        "rate_uncertainty_percent": {what: 100 * share for what, share in answer.doubt.items()},
        "active_coils": spring.active_coils,
        "mean_diameter": show.number(spring.mean_diameter, "length"),
        "spring_index": answer.index,
        "solid_length": show.number(spring.solid_length, "length"),
        "material": spring.material.name,
        "tensile_strength": show.number(answer.strength, "stress"),
        "safe": {"as_wound": safe(answer.as_wound), "set_removed": safe(answer.set_removed)},
        "at_solid": None
        if solid is None
        else {
            "travel": show.number(solid.travel, "length"),
            "force": show.number(solid.force, "force"),
            "stress": show.number(solid.stress, "stress"),
        },
        "critical_length": show.number(answer.critical_length, "length"),
        "weight": show.number(answer.weight, "weight"),
        "frequency": answer.frequency,
        "notes": coil_notes(answer, system),
    }


def coil_text(answer: Coil, system: System) -> str:
    """The answer of `tuning coil` as a table."""
    spring, material, solid = answer.measured, answer.measured.material, answer.at_solid

    def safe(one: Safe, share: float) -> str:
        allowed = f"{_stress(one.stress, system)}, {100 * share:.0f} % of the wire's strength"
        return f"{_length(one.deflection, system)} at {shop_load(one.force, system)} ({allowed})"

    rows = [
        ("rate", f"{shop_rate(answer.rate.mean, system)} (90 %: {_rates(answer.rate, system)})"),
        ("coils at work", f"{spring.active_coils:g} of {spring.coils:g}"),
        ("mean diameter", f"{_length(spring.mean_diameter, system)}, {answer.index:.1f} wires"),
        ("solid length", _length(spring.solid_length, system)),
        ("safe deflection, as wound", safe(answer.as_wound, material.as_wound)),
        ("the same, its set taken out", safe(answer.set_removed, material.set_removed)),
    ]
    if solid is not None:
        rows.append(
            ("travel to solid", f"{_length(solid.travel, system)} at {shop_load(solid.force, system)}")
        )
    rows += [
        ("weight", f"{to_unit(answer.weight, unit_in('weight', system)):.1f} {unit_in('weight', system)}"),
        ("its own frequency, no load", f"{answer.frequency:.0f} Hz"),
    ]
    wire = f"{to_unit(spring.wire, unit_in('length', system)):.4g} {unit_in('length', system)}"
    head = f"{wire} {material.name}, ends {spring.ends}"
    notes = [f"Note: {line}" for line in coil_notes(answer, system)]
    return "\n".join([*columns([("", head), *rows]), "", *notes, "", COIL_CAUTION])


def coil_notes(answer: Coil, system: System) -> list[str]:
    """What to know about the figures, a sentence each."""
    spring, solid, material = answer.measured, answer.at_solid, answer.measured.material
    parts = ", ".join(f"{what} {100 * share:.1f} %" for what, share in answer.doubt.items())
    said = [
        f"1 % of wire is {answer.wire_share:.1f} % of rate: measure bare metal, not paint, at several places. "
        f"One standard deviation of the rate from each: {parts}."
    ]
    if not INDEX_USUAL[0] <= answer.index <= INDEX_USUAL[1]:
        said.append(
            f"A coil is usually {INDEX_USUAL[0]:.0f} to {INDEX_USUAL[1]:.0f} wires across, this one "
            f"{answer.index:.1f}: measure both again."
        )
    if answer.strength_is_a_guess:
        low, high = (_length(end, system) for end in material.tested_for)
        said.append(
            f"The handbook's strength of {material.name} is for {low} to {high}: carried on beyond, it is a guess."
        )
    if solid is None:
        said.append("Give the free length to know the travel to solid.")
        return said
    if solid.travel > answer.set_removed.deflection:
        short = _length(solid.travel - answer.set_removed.deflection, system)
        said.append(
            f"Even with its set taken out the wire carries too much when solid: stop it at least {short} before."
        )
    elif solid.travel > answer.as_wound.deflection:
        said.append(
            "Safe down to solid only if the maker has taken the set out, which is usual for coilover springs (common "
            "practice). Measure its free length now and after the first drive: it must not have lost any."
        )
    else:
        said.append("The wire carries it down to solid.")
    if spring.free_length is not None and spring.free_length > answer.critical_length:
        limit = _length(answer.critical_length, system)
        said.append(f"Longer than {limit}: it bows when pressed unless the shock or a sleeve guides it.")
    return said


# ---------------------------------------------------------------- press


def press_document(answer: Pressed, system: System) -> Document:
    """The answer of `tuning press --json`."""
    show, knee = Shown(system), answer.knee
    told: dict[str, Any] | None = None
    if knee is not None:
        told = {
            "length": show.interval(knee.length, "length"),
            "force": show.interval(knee.force, "force"),
            "rate": show.interval(knee.rate, "rate"),
            "open_ended": knee.open_ended,
        }
    return {
        "units": show.units("length", "rate", "force"),
        "readings": len(answer.forces),
        "rate": show.interval(answer.rate, "rate"),
        "free_length": show.interval(answer.free_length, "length"),
        "scatter": show.number(answer.scatter, "force"),
        "knee": told,
        "knee_looked_for": answer.knee_looked_for,
        "doubtful": None if answer.doubtful is None else 1 + answer.doubtful,
        "solid": [1 + place for place in answer.solid],
        "notes": press_notes(answer, system),
    }


def press_text(answer: Pressed, system: System) -> str:
    """The answer of `tuning press` as a table."""
    knee = answer.knee
    rows = [
        (_counted(answer), "", "90 %"),
        (
            "rate" if knee is None else "rate up to the knee",
            shop_rate(answer.rate.mean, system),
            _rates(answer.rate, system),
        ),
    ]
    if knee is not None:
        rows += [
            ("rate beyond it", shop_rate(knee.rate.mean, system), _rates(knee.rate, system)),
            ("length at the knee", _length(knee.length.mean, system), between(knee.length, system)),
            ("force at the knee", shop_load(knee.force.mean, system), _loads(knee.force, system)),
        ]
    rows += [
        ("free length", _length(answer.free_length.mean, system), between(answer.free_length, system)),
        ("scatter of the force", f"± {_load(answer.scatter, system)}", ""),
    ]
    notes = [f"Note: {line}" for line in press_notes(answer, system)]
    return "\n".join([*columns(rows), "", *notes, "", PRESS_CAUTION])


def _counted(answer: Pressed) -> str:
    sound = len(answer.forces) - len(answer.solid)
    return (
        f"{sound} readings, {len(answer.solid)} solid ones left out" if answer.solid else f"{sound} readings"
    )


def _solid_note(answer: Pressed, system: System) -> str:
    begin = _length(max(float(answer.lengths[place]) for place in answer.solid), system)
    if len(answer.solid) == 1:
        which = f"Reading {1 + answer.solid[0]} looks solid and is"
    else:
        which = f"Readings {_places(answer.solid)} look solid and are"
    return f"{which} left out of the rate: from about {begin} on force climbs with hardly any length. {_NEVER_ON}"


def _places(places: Sequence[int]) -> str:
    """`10 to 12`, or `3, 7, 12`: counted from one."""
    first, last = min(places), max(places)
    if last - first + 1 == len(places):
        return f"{1 + first} {'to' if len(places) > 2 else 'and'} {1 + last}"
    return ", ".join(str(1 + place) for place in sorted(places))


def press_notes(answer: Pressed, system: System) -> list[str]:
    """What to know about the figures, a sentence each."""
    knee, said = answer.knee, []
    if answer.solid:
        said.append(_solid_note(answer, system))
    elif knee is not None and knee.rate.mean > STIFFER * answer.rate.mean:
        said.append(
            f"Beyond the knee it is {knee.rate.mean / answer.rate.mean:.0f} times as stiff: its coils may touch there. "
            f"{_NEVER_ON}"
        )
    may_touch = bool(said)
    if answer.doubtful is not None:
        place = answer.doubtful
        read = f"{_load(answer.forces[place], system)} at {_length(answer.lengths[place], system)}"
        said.append(
            f"Reading {place + 1} ({read}) stands off from all others and may hide a knee: read it again or take it "
            "out before you believe the rest."
        )
    if not answer.knee_looked_for:
        said.append("Too few lengths to look for a knee: read six or more.")
    elif knee is None:
        said.append(
            f"No knee: one line does as well as two (of straight springs, 1 in {1 / FALSE_KNEES:.0f} is given one)."
        )
    else:
        if knee.rate.mean < answer.rate.mean:
            said.append("It turns softer, which springs do not: it bows, it slips, or a reading is wrong.")
        if knee.open_ended:
            more = "closer lengths about it" if may_touch else "three more lengths beyond it, short of solid"
            said.append(f"The knee may lie nearer to an end of the readings: read {more}.")
    if answer.read_low > _READS_LOW:
        said.append(
            f"The lengths lie close together: a ruler's error may make the rate read {100 * answer.read_low:.1f} % "
            "low. Press over more of the travel, short of solid."
        )
    said.append(
        "These are as good as the gauge: one that reads 2 % high makes the rate 2 % high, and no scatter."
    )
    return said


# ---------------------------------------------------------------- text


def _length(value: float, system: System) -> str:
    return decimal_length(value, system)


def _stress(value: float, system: System) -> str:
    unit = unit_in("stress", system)
    digits = -3 if system == "us" else -1
    return f"{round(to_unit(value, unit), digits):.0f} {unit}"


def _load(value: float, system: System) -> str:
    """To a tenth where that shows."""
    unit = unit_in("force", system)
    number = to_unit(value, unit)
    return f"{number:.1f} {unit}" if number < 10 else f"{number:.0f} {unit}"


def _rates(value: Interval, system: System) -> str:
    return f"{shop_rate(value.low, system).split(' ')[0]} to {shop_rate(value.high, system)}"


def _loads(value: Interval, system: System) -> str:
    return f"{_load(value.low, system).split(' ')[0]} to {_load(value.high, system)}"
