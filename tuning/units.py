"""The only door for units: shop text in, SI floats inside, the owner's units out.

Text is read by a grammar of our own and in exact fractions, because a general unit parser reads `22 1/2 in`
as 11 in and `22,5 in` as 225 in without a word, and hangs on hostile text. pint supplies what a unit is
worth, one factor at a time, and never sees what was typed. `lb` on a scale and in `lb/in` means lbf.
"""

import re
from decimal import Context, Decimal
from fractions import Fraction
from functools import cache
from typing import TYPE_CHECKING, Any, Literal, TypeVar

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Value = TypeVar("Value", float, NDArray[np.float64])
else:
    Value = TypeVar("Value")

Kind = Literal[
    "length", "force", "rate", "torsion", "pressure", "volume", "distance", "angle", "frequency", "number", "percent"
]  # fmt: skip
System = Literal["us", "metric"]

MAX_TEXT = 64  # characters; the longest honest entry is about twenty
_SHOWN_TEXT = 32  # characters of it that an error repeats


class UnitError(ValueError):
    """Text that is not a quantity of the kind asked for. One line; field, text and allowed kept as given."""

    def __init__(self, field: str, text: str, problem: str, allowed: str) -> None:
        """`problem` follows the quoted text, `allowed` follows `Write`."""
        self.field, self.text, self.allowed = field, text, allowed
        self.problem = f'"{shown(text)}" {problem}'
        super().__init__(f"{field}{': ' if field else ''}{self.problem}. Write {allowed}.")


def shown(text: str, length: int = _SHOWN_TEXT) -> str:
    """Text as an error may repeat it: shortened, and nothing in it that could break the line or hide."""
    cut = text if len(text) <= length else text[: length - 1] + "…"
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode("ascii") for c in cut)


# What a unit may be called, and what pint calls it. Per kind, so that `lb` is a force and never a mass.
_LENGTH = {
    **dict.fromkeys(("in", "inch", "inches", '"'), "inch"),
    **dict.fromkeys(("ft", "foot", "feet", "'"), "foot"),
    "mm": "millimeter",
    "cm": "centimeter",
    "m": "meter",
}
_FORCE = {
    **dict.fromkeys(("lbf", "lb", "lbs"), "force_pound"),
    **dict.fromkeys(("N",), "newton"),
    **dict.fromkeys(("kN", "kn"), "kilonewton"),
    **dict.fromkeys(("kgf", "kg"), "force_kilogram"),
}
_TORQUE = {
    **dict.fromkeys(("N*m", "Nm", "N m"), "newton*meter"),
    **dict.fromkeys(("kN*m", "kNm", "kN m"), "kilonewton*meter"),
    **{
        spelt: "force_pound*foot"
        for f in ("lbf", "lb")
        for spelt in (f"{f}*ft", f"{f} ft", f"{f}-ft", f"ft*{f}", f"ft {f}", f"ft-{f}")
    },
}
_UNITS: dict[str, dict[str, str]] = {
    "length": _LENGTH,
    "force": _FORCE,
    "rate": {f"{f}/{d}": f"{_FORCE[f]}/{_LENGTH[d]}" for f in _FORCE for d in ("in", "ft", "mm", "cm", "m")},
    "torsion": {
        f"{t}/{a}": f"{_TORQUE[t]}/{angle}"
        for t in _TORQUE
        for a, angle in (("deg", "degree"), ("rad", "radian"))
    },
    "pressure": {
        "psi": "pound_force_per_square_inch",
        "bar": "bar",
        "MPa": "megapascal",
        **dict.fromkeys(("kPa", "kpa"), "kilopascal"),
        "Pa": "pascal",
    },
    "volume": {
        **dict.fromkeys(("in^3", "in3", "cu in"), "inch**3"),
        **dict.fromkeys(("cm^3", "cm3", "cc"), "centimeter**3"),
        **dict.fromkeys(("mL", "ml"), "milliliter"),
        **dict.fromkeys(("L", "l"), "liter"),
        "m^3": "meter**3",
    },
    "distance": {
        **dict.fromkeys(("mi", "mile", "miles"), "mile"),
        "km": "kilometer",
        **dict.fromkeys(("ft", "feet"), "foot"),
        "m": "meter",
    },
    "angle": {**dict.fromkeys(("deg", "degrees"), "degree"), "rad": "radian"},
    "frequency": {**dict.fromkeys(("Hz", "hz"), "1/second")},
    "number": {},
    "percent": {"%": ""},
}
_SI = {
    "length": "meter",
    "force": "newton",
    "rate": "newton/meter",
    "torsion": "newton*meter/radian",
    "pressure": "pascal",
    "volume": "meter**3",
    "distance": "meter",
    "angle": "radian",
    "frequency": "1/second",
}
_KIND_OF = {unit: kind for kind, units in _UNITS.items() for unit in units}

_NAMED = {  # what the kind is called, and what may be written, in an error
    "length": ("a length", "22.5 in, 22 1/2 in or 571.5 mm"),
    "force": ("a force", "1045 lbf, 1045 lb or 4648 N"),
    "rate": ("a spring rate", "225 lbf/in, 225 lb/in or 39.4 N/mm"),
    "torsion": ("a twist stiffness", "3000 N*m/deg or 2200 lbf*ft/deg"),
    "pressure": ("a pressure", "200 psi or 13.8 bar"),
    "volume": ("a volume", "12 in^3 or 197 cm^3"),
    "distance": ("a distance", "48210 mi or 77590 km"),
    "angle": ("an angle", "4 deg"),
    "frequency": ("a frequency", "1.2 Hz"),
    "number": ("a number", "2.25 or 2 1/4, without a unit"),
    "percent": ("a percentage", "50 or 50 %"),
}

# The units an answer is shown in, by what is shown. Kinds stand for themselves.
_SHOWN_IN: dict[str, tuple[str, str]] = {
    "length": ("in", "mm"),
    "force": ("lbf", "N"),
    "rate": ("lbf/in", "N/mm"),
    "torsion": ("N*m/deg", "N*m/deg"),
    "pressure": ("psi", "bar"),
    "volume": ("in^3", "cm^3"),
    "distance": ("mi", "km"),
    "angle": ("deg", "deg"),
    "frequency": ("Hz", "Hz"),
    "number": ("", ""),
    "percent": ("%", "%"),
    "stress": ("psi", "MPa"),
    "weight": ("lbf", "kg"),
}
_KIND_SHOWN: dict[str, str] = {
    **dict.fromkeys(("height", "preload", "ring_gap", "spring_set", "shaft", "travel", "datum"), "length"),
    "load": "force",
    "odometer": "distance",
}


def unit_in(what: str, system: System) -> str:
    """The unit in which `system` shows a kind (`length`) or a quantity (`height`, `load`, `ring_gap` …)."""
    return _SHOWN_IN[_KIND_SHOWN.get(what, what)][system == "metric"]


# ---------------------------------------------------------------- factors

# Loading all that pint knows takes a third of a second, for a dozen units. These lines of its own tables are
# enough, and in fractions they lose nothing.
_NEEDED = {
    *("milli-", "centi-", "deci-", "kilo-", "mega-"),
    *("meter", "second", "gram", "radian", "pi", "degree", "standard_gravity"),
    *("newton", "pascal", "bar", "liter", "force_kilogram"),
    *("yard", "inch", "foot", "mile", "grain", "pound", "force_pound", "pound_force_per_square_inch"),
}


@cache
def _registry() -> Any:
    from importlib.resources import files

    import pint

    tables = ((files("pint") / table).read_text("utf-8") for table in ("constants_en.txt", "default_en.txt"))
    lines = (line.strip() for table in tables for line in table.splitlines() if "=" in line)
    registry = pint.UnitRegistry(None, non_int_type=Fraction)
    registry.load_definitions([line for line in lines if line.split("=")[0].strip() in _NEEDED])
    return registry


@cache
def _exact_factor(kind: str, unit: str) -> Fraction:
    """SI value of one `unit`, exact (π to pint's fifty digits)."""
    if kind in ("number", "percent"):
        return Fraction(1, 100) if unit else Fraction(1)
    return Fraction(_registry().convert(Fraction(1), _UNITS[kind][unit], _SI[kind]))


@cache
def _factor(unit: str) -> float:
    return float(_exact_factor(_KIND_OF.get(unit, "number"), unit))


def to_unit(value: Value, unit: str) -> Value:
    """SI value, a float or an array, in `unit` (a spelling from this module; empty for a bare number)."""
    return value / _factor(unit)


def from_unit(value: Value, unit: str) -> Value:
    """A float or an array in `unit`, in SI."""
    return value * _factor(unit)


# ---------------------------------------------------------------- text in

_SIGNS = str.maketrans(
    {
        **dict.fromkeys(
            "\u00a0\u2009\u202f\t", " "
        ),  # the spaces that spreadsheets and word processors put in
        **dict.fromkeys("\u2010\u2011\u2013\u2212", "-"),
        "\u2044": "/",
        **dict.fromkeys("\u2033\u201d", '"'),
        **dict.fromkeys("\u2032\u2019", "'"),
        **dict.fromkeys("\u00b7\u22c5", "*"),
        "\u00b0": "deg",
        "\u00b3": "^3",
        **{
            glyph: f" {n}/{d}"
            for d, glyphs in ((2, "½"), (3, "⅓⅔"), (4, "¼ ¾"), (8, "⅛ ⅜ ⅝ ⅞"))
            for n, glyph in enumerate(glyphs, 1)
            if glyph != " "
        },
    }
)
_NUMBER = (
    r"[0-9]{1,12}[ -][0-9]{1,6}/[0-9]{1,6}|[0-9]{1,6}/[0-9]{1,6}|[0-9]{1,12}(?:\.[0-9]{0,40})?|\.[0-9]{1,40}"
)
_TIDY = re.compile("[0-9./]*")
_QUANTITY = re.compile(rf"([+-]?) ?({_NUMBER}) ?([^0-9 .,+-][^,]{{0,11}})?", re.ASCII)
_FEET_INCHES = re.compile(
    rf"([+-]?) ?([0-9]{{1,6}}) ?(?:ft|feet|foot|')(?: ?|-| - )({_NUMBER}) ?(?:in|inch|inches|\")", re.ASCII
)


def _tidy(text: str) -> str:
    """Typographic signs as ASCII, one space between words, none around an operator."""
    if _TIDY.fullmatch(text):
        return text
    plain = re.sub(r" {2,}", " ", text.translate(_SIGNS)).strip(" ").replace("''", '"')
    plain = re.sub(r" ?([*^/]) ?", r"\1", plain)
    return re.sub(r"(^|[0-9])- (?=[0-9])", r"\1-", plain)


def _ratio(number: str) -> tuple[int, int] | None:
    """One number of the grammar, over and under; None where it is no fair fraction: n/0, or `22 5/4`."""
    if "/" not in number:
        whole, _, decimals = number.partition(".")
        return int(whole + decimals), 10 ** len(decimals)
    first, _, last = number.replace("-", " ").rpartition(" ")
    over, under = (int(part) for part in last.split("/"))
    if under == 0 or (first and over >= under):
        return None
    return int(first or 0) * under + over, under


def _known_unit(spelt: str, kind: Kind) -> str | None:
    """A spelling from the table; capitals throughout stand for it too (`MM`, `LB/IN`), never for a prefix."""
    if spelt in _UNITS[kind]:
        return spelt
    if spelt.isupper():
        return next((unit for unit in _UNITS[kind] if unit.upper() == spelt), None)
    return None


def unit_named(text: str, kind: Kind, field: str = "") -> str:
    """The unit of a kind that `text` names, as a column heading might (`lb / in` gives `lb/in`).

    Raises UnitError where it is none.
    """
    named = None if len(text) > MAX_TEXT else _known_unit(_tidy(text), kind)
    if named is None:
        what, _ = _NAMED[kind]
        allowed = ", ".join(dict.fromkeys(_shortest_spellings(kind))) or "it without a unit"
        raise UnitError(field, text, f"is no unit of {what.split(' ', 1)[1]}", allowed)
    return named


def _shortest_spellings(kind: Kind) -> list[str]:
    first: dict[str, str] = {}
    for spelt, meaning in _UNITS[kind].items():
        first.setdefault(meaning, spelt)
    return list(first.values())


def parse(text: str, kind: Kind, field: str = "", default_unit: str | None = None) -> float:
    """A quantity as a person writes it, in SI (percent as a share).

    Takes `22.5 in`, `22 1/2 in`, `22-1/2"`, `22½ in`, `1/16 in`, `4' 3 1/2"`, `571.5 mm`, signs, and units
    of the kind. `default_unit` stands where none is written. Exact up to the last step, which rounds once.
    Raises UnitError for all else: commas, exponents, other alphabets' digits, a unit of another kind.
    """
    what, allowed = _NAMED[kind]

    def refused(problem: str = f"is not {what}") -> UnitError:
        return UnitError(field, text, problem, allowed)

    if len(text) > MAX_TEXT:
        raise refused(f"is not {what}: it is {len(text)} characters long")
    plain = _tidy(text)
    if not plain:
        raise refused(f"is empty where {what} belongs")
    if kind == "length" and (compound := _FEET_INCHES.fullmatch(plain)):
        sign, feet, number = compound.groups()
        ratio = _ratio(number)
        if ratio is None or ratio[0] >= 12 * ratio[1]:
            raise refused()
        over, under, unit = ratio[0] + 12 * int(feet) * ratio[1], ratio[1], "in"
    else:
        found = _QUANTITY.fullmatch(plain)
        ratio = _ratio(found[2]) if found else None
        if found is None or ratio is None:
            raise refused()
        sign, (over, under) = found[1], ratio
        named = _known_unit(found[3], kind) if found[3] else _unwritten(kind, default_unit)
        if named is None:
            raise refused(f"is not {what}" if found[3] else "has no unit")
        unit = named
    worth, per = _exact_factor(kind, unit).as_integer_ratio()
    value = (over * worth) / (under * per)  # whole numbers, so Python rounds this once and correctly
    return -value if sign == "-" else value


def _unwritten(kind: Kind, default_unit: str | None) -> str | None:
    """The unit of a number that stands alone; None where one had to be written."""
    if kind in ("number", "percent"):
        return "%" if kind == "percent" else ""
    return default_unit


# ---------------------------------------------------------------- text out


def exact_text(value: float, unit: str, kind: Kind) -> str:
    """A short decimal in `unit` that `parse` reads back as exactly this SI value. No unit is written.

    Fifteen digits give a figure back as it was entered; seventeen tell any two floats apart, one is in hand.
    """
    over, under = value.as_integer_ratio()
    worth, per = _exact_factor(kind, unit).as_integer_ratio()
    for digits in (15, 16, 17, 18):
        decimal = Context(prec=digits).divide(Decimal(over * per), Decimal(under * worth))
        top, bottom = decimal.as_integer_ratio()
        if (top * worth) / (bottom * per) == value:
            break
    return f"{decimal.normalize():f}"


def shop_length(value: float, system: System) -> str:
    """A length as a tape shows it: nearest sixteenth (`22 1/2 in`) or half millimetre (`571.5 mm`)."""
    if system == "metric":
        return f"{_plain(round(to_unit(value, 'mm') * 2) / 2, 1)} mm"
    sixteenths = round(to_unit(value, "in") * 16)
    whole, part = divmod(abs(sixteenths), 16)
    words = [str(whole)] if whole or not part else []
    if part:
        fraction = Fraction(part, 16)
        words.append(f"{fraction.numerator}/{fraction.denominator}")
    return f"{'-' if sixteenths < 0 else ''}{' '.join(words)} in"


def decimal_length(value: float, system: System) -> str:
    """A length fine enough for the ends of an interval: `22.53 in`, `572.3 mm`."""
    unit = unit_in("length", system)
    places = 2 if system == "us" else 1
    return f"{round(to_unit(value, unit), places) + 0.0:.{places}f} {unit}"


def shop_load(value: float, system: System) -> str:
    """A load in whole units: `1045 lbf`, `4648 N`."""
    unit = unit_in("force", system)
    return f"{round(to_unit(value, unit))} {unit}"


def shop_rate(value: float, system: System) -> str:
    """A spring rate: `225 lbf/in`, `39.4 N/mm`."""
    unit = unit_in("rate", system)
    return f"{_plain(to_unit(value, unit), 0 if system == 'us' else 1)} {unit}"


def turns_text(turns: float) -> str:
    """What to do at one nut: `2¼ turns down the thread, raises`; `leave it` for none.

    Positive turns go down the thread: more preload, a higher corner.
    """
    eighths = round(turns * 8)
    if abs(turns * 8 - eighths) < 1e-6:
        whole, rest = divmod(abs(eighths), 8)
        amount = f"{whole or ''}{' ⅛¼⅜½⅝¾⅞'[rest].strip()}"
    else:
        amount = _plain(abs(turns), 2)
    if amount in ("", "0"):
        return "leave it"
    way = "down the thread, raises" if turns > 0 else "up the thread, lowers"
    return f"{amount} turn{'' if abs(turns) <= 1 else 's'} {way}"


def _plain(value: float, places: int) -> str:
    """Rounded, without trailing zeros or a negative zero."""
    text = f"{round(value, places) + 0.0:.{places}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
