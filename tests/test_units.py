"""Shop text in, SI floats inside, the owner's units out."""

import math
import subprocess
import sys
import time
import tomllib
from fractions import Fraction
from pathlib import Path

import numpy as np
import pint
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from tuning import units
from tuning.units import UnitError, parse

REFERENCES = tomllib.loads(
    (Path(__file__).parent / "references" / "unit_conversions.toml").read_text("utf-8")
)
INCH = Fraction(REFERENCES["inch"]["fraction"])

PRINTED = {  # reference → one of it, as text
    "inch": ("1 in", "length"),
    "foot": ("1 ft", "length"),
    "mile": ("1 mi", "distance"),
    "pound_force": ("1 lbf", "force"),
    "kilogram_force": ("1 kgf", "force"),
    "pound_force_per_inch": ("1 lbf/in", "rate"),
    "pound_force_per_foot": ("1 lbf/ft", "rate"),
    "newton_per_millimetre": ("1 N/mm", "rate"),
    "kilogram_force_per_millimetre": ("1 kgf/mm", "rate"),
    "psi": ("1 psi", "pressure"),
    "bar": ("1 bar", "pressure"),
    "pound_force_foot": ("1 lbf*ft/rad", "torsion"),
    "cubic_inch": ("1 in^3", "volume"),
}


@pytest.mark.parametrize("name", PRINTED)
def test_every_factor_is_the_published_one_rounded_once(name):
    text, kind = PRINTED[name]
    assert parse(text, kind) == float(Fraction(REFERENCES[name]["fraction"]))


@pytest.mark.parametrize("name", [name for name in PRINTED if "nist_sp811" in REFERENCES[name]])
def test_every_factor_prints_as_in_nist_sp811(name):
    text, kind = PRINTED[name]
    printed = REFERENCES[name]["nist_sp811"].replace(" ", "")
    assert parse(text, kind) == pytest.approx(float(printed), rel=0.5e-6)


def test_cross_checks_of_the_reference_hold():
    checks = {key: float(value) for key, value in REFERENCES["cross_checks"].items()}
    rate = parse("1 lbf/in", "rate")
    assert units.to_unit(rate, "kgf/mm") == pytest.approx(checks["lbf_in_in_kgf_mm"], rel=3e-16)
    assert units.to_unit(rate, "N/mm") == pytest.approx(checks["lbf_in_in_N_mm"], rel=3e-16)
    assert units.to_unit(parse("1 kgf/mm", "rate"), "lbf/in") == pytest.approx(
        checks["kgf_mm_in_lbf_in"], rel=3e-16
    )
    assert units.to_unit(parse("1/16 in", "length"), "mm") == checks["one_sixteenth_inch_mm"]
    assert parse("1000 lb", "force") == checks["thousand_lbf_N"]
    assert units.to_unit(parse("100 lb/in", "rate"), "N/mm") == pytest.approx(
        checks["hundred_lbf_in_N_mm"], rel=3e-16
    )


def test_twist_stiffness_per_degree_is_per_radian_times_180_over_pi():
    assert parse("3000 N*m/deg", "torsion") == pytest.approx(3000 * 180 / math.pi, rel=3e-16)
    assert parse("3000 N*m/rad", "torsion") == 3000


@pytest.mark.parametrize(
    ("kind", "spelt"), [(k, u) for k, us in units._UNITS.items() for u in us if u != "%"]
)
def test_every_spelling_agrees_with_all_that_pint_knows(full_registry, kind, spelt):
    meant = full_registry.Quantity(1.0, units._UNITS[kind][spelt]).to(units._SI[kind]).magnitude
    assert units.from_unit(1.0, spelt) == pytest.approx(meant, rel=1e-15)
    assert parse(f"1 {spelt}", kind) == pytest.approx(meant, rel=1e-15)


@pytest.fixture(scope="module")
def full_registry():
    return pint.UnitRegistry()


def test_a_spelling_means_one_thing_in_every_kind_that_has_it():
    for spelt in {spelt for spellings in units._UNITS.values() for spelt in spellings}:
        assert len({spellings[spelt] for spellings in units._UNITS.values() if spelt in spellings}) == 1


INCHES = {
    "22.5 in": "45/2",
    "22 1/2 in": "45/2",
    "22-1/2 in": "45/2",
    '22-1/2"': "45/2",
    '22 1/2"': "45/2",
    "22½ in": "45/2",
    "22 ½in": "45/2",
    "½ in": "1/2",
    "⅜ in": "3/8",
    "22⅞″": "183/8",
    "1/16 in": "1/16",
    "33/16 in": "33/16",
    ".5 in": "1/2",
    "22. in": "22",
    "-1/4 in": "-1/4",
    "- 1/4 in": "-1/4",
    "−22 1/2 in": "-45/2",
    "+3 in": "3",
    "22 1⁄2 in": "45/2",
    "22\u00a01/2\u202fin": "45/2",
    "  22 1/2   in  ": "45/2",
    "22 inches": "22",
    "1 inch": "1",
    "22 IN": "22",
    "571.5 mm": "45/2",
    "571.5 MM": "45/2",
    "57.15cm": "45/2",
    "0.5715 m": "45/2",
    "2 ft": "24",
    "2 feet": "24",
    "1 1/2 ft": "18",
    "2'": "24",
    "4' 3\"": "51",
    "4'3\"": "51",
    "4′ 3½″": "103/2",
    "4’ 3”": "51",
    "4'-3 1/2\"": "103/2",
    "-4' 3\"": "-51",
    "4 ft 3 1/2 in": "103/2",
    "22''": "22",
}


@pytest.mark.parametrize(("text", "inches"), INCHES.items())
def test_a_length_as_people_write_it_is_read_exactly(text, inches):
    assert parse(text, "length") == float(Fraction(inches) * INCH)


@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [
        ("1045 lb", "force", 1045 * 4.4482216152605),
        ("1045 lbs", "force", 1045 * 4.4482216152605),
        ("4.6 kN", "force", 4600.0),
        ("100 kg", "force", 980.665),
        ("225 lbs / in", "rate", 225 * 175.126835246476377952755905512),
        ("225 LB/IN", "rate", 225 * 175.126835246476377952755905512),
        ("39.4 N/mm", "rate", 39400.0),
        ("2200 ft-lb/°", "torsion", 2200 * 1.3558179483314004 * 180 / math.pi),
        ("3000 N·m/deg", "torsion", 3000 * 180 / math.pi),
        ("1 MPa", "pressure", 1e6),
        ("200 kPa", "pressure", 2e5),
        ("12 in³", "volume", 12 * 0.000016387064),
        ("197 cc", "volume", 197e-6),
        ("0.2 L", "volume", 0.0002),
        ("48210 mi", "distance", 48210 * 1609.344),
        ("77590 km", "distance", 77590e3),
        ("2 1/4", "number", 2.25),
        ("-1", "number", -1.0),
        ("50 %", "percent", 0.5),
        ("0.2", "percent", 0.002),
    ],
)
def test_other_kinds_are_read_in_their_units(text, kind, value):
    assert parse(text, kind) == pytest.approx(value, rel=3e-16)


def test_a_bare_number_takes_the_default_unit_and_a_written_unit_wins():
    assert parse("22 1/2", "length", default_unit="in") == parse("22 1/2 in", "length")
    assert parse("571.5 mm", "length", default_unit="in") == parse("571.5 mm", "length")


REFUSED = [
    *("22,5 in", "1,234 in", "1 234 in", "22 5/4 in", "22 4/4 in", "1/0 in", "22 1/0 in", "0/0 in"),
    *(
        "1e3 in",
        "1E3 in",
        "nan in",
        "inf in",
        "infinity in",
        "0x10 in",
        "1_000 in",
        "१२ in",
        "１２ in",
        "²in",
    ),
    *("22", "22 1/2", "in", "", "  ", "-", "- in", "--3 in", "+-3 in", "22 - 1/2 in", "1/2/3 in", "1.5/2 in"),
    *(
        "22 1/2.5 in",
        "22..5 in",
        "2.2.5 in",
        "½½ in",
        "1.5½ in",
        "½/2 in",
        "22 lb",
        "22 lb/in",
        "22 Mm",
        "22 mM",
    ),
    *(
        "22 in in",
        "22 in 3 in",
        "4' 13\"",
        "4' 12\"",
        "4'3",
        "4.5' 3\"",
        "4' -3\"",
        "3 in 4 ft",
        "22 furlong",
        "22 in^1",
    ),
    *(
        "22 in\n",
        "\n22 in",
        "22\nin",
        "22 in\0",
        "\x0022 in",
        "22 in;",
        "22 in # wet",
        "=22 in",
        "'22 in",
        "2+2 in",
    ),
    *(
        "22 \u202ein",
        "22\u200b in",
        "\ud800 in",
        "22 i n",
        "10**10**10",
        "9" * 13 + " in",
        "0." + "1" * 41 + " in",
    ),
]


@pytest.mark.parametrize("text", REFUSED)
def test_what_could_be_misread_is_refused(text):
    with pytest.raises(UnitError):
        parse(text, "length")


def test_a_unit_of_milli_is_never_taken_for_mega():
    assert parse("2 MPA", "pressure") == 2e6
    with pytest.raises(UnitError):
        parse("2 mPa", "pressure")
    with pytest.raises(UnitError):
        parse("2 mN", "force")


@pytest.mark.parametrize("kind", ["number", "percent"])
def test_a_plain_number_takes_no_unit_of_length(kind):
    with pytest.raises(UnitError):
        parse("2 in", kind)


def test_an_error_says_what_was_found_where_and_what_to_write():
    with pytest.raises(UnitError) as caught:
        parse("22,5 in", "length", "height")
    assert str(caught.value) == 'height: "22,5 in" is not a length. Write 22.5 in, 22 1/2 in or 571.5 mm.'
    assert (caught.value.field, caught.value.text) == ("height", "22,5 in")
    assert caught.value.allowed == "22.5 in, 22 1/2 in or 571.5 mm"
    with pytest.raises(UnitError, match=r'^"22" has no unit\. Write 22\.5 in'):
        parse("22", "length")


HOSTILE = [
    *(
        "1" * 100_000,
        "1" * 100_000 + " in",
        "a" * 50_000,
        "10**10**10",
        "1/" * 40_000,
        "½" * 64,
        " " * 100_000,
    ),
    *(
        "\x00" * 64,
        "\n" * 64,
        "-" * 64,
        "1 " * 32,
        "'" * 64,
        "1'" * 32,
        "(" * 64,
        "9" * 12 + "." + "9" * 40 + " in",
    ),
    *(
        "22 1/2 " + "i" * 50,
        "22 1/2 in\r\nheight: ok",
        "\u202e22 in",
        "\ud800" * 60,
        "1" + " " * 62 + "1",
        "^" * 64,
    ),
]


@pytest.mark.parametrize("text", HOSTILE, ids=lambda text: ascii(text[:12]))
def test_hostile_text_is_answered_at_once_and_in_one_line(text):
    parse("1 in", "length")  # pint's start is not the text's doing
    best = math.inf
    for _ in range(5):
        start = time.process_time()
        try:
            value, said = parse(text, "length"), ""
        except UnitError as error:
            value, said = 0.0, str(error)
        best = min(best, time.process_time() - start)
    assert best < 1e-3
    assert math.isfinite(value)
    assert said.isprintable()
    assert len(said) < 400


@settings(max_examples=1000, deadline=None)
@given(
    text=st.one_of(
        st.text(max_size=80),
        st.text(alphabet="0123456789 ./-'\"½⅛infmtlbN,e+×°³^*", max_size=70),
        st.from_regex(r"\A[-+]?[0-9]{1,14}[ -]?[0-9]{0,8}/?[0-9]{0,8} ?(in|mm|ft|'|lb)?\Z"),
    ),
    kind=st.sampled_from(sorted(units._UNITS)),
)
def test_any_text_is_a_finite_number_or_one_readable_line(text, kind):
    try:
        value, said = parse(text, kind), ""
    except UnitError as error:
        value, said = 0.0, str(error)
    assert math.isfinite(value)
    assert said.isprintable()


@given(whole=st.integers(0, 15_000), over=st.integers(0, 63), sign=st.sampled_from(["", "-"]))
def test_a_mixed_number_is_its_whole_and_its_fraction(whole, over, sign):
    exact = (whole + Fraction(over, 64)) * INCH * (-1 if sign else 1)
    for text in (
        f"{sign}{whole} {over}/64 in",
        f'{sign}{whole}-{over}/64"',
        f"{sign}{whole * 64 + over}/64 in",
    ):
        assert parse(text, "length") == float(exact)


@given(st.floats(-10, 10))
def test_a_tape_reading_is_within_half_a_mark_of_the_value(value):
    assert abs(parse(units.shop_length(value, "us"), "length") - value) <= float(INCH / 32) * (1 + 1e-9)
    assert abs(parse(units.shop_length(value, "metric"), "length") - value) <= 0.00025 * (1 + 1e-9)
    assert abs(parse(units.decimal_length(value, "us"), "length") - value) <= 0.005 * 0.0254 * (1 + 1e-9)
    assert abs(parse(units.decimal_length(value, "metric"), "length") - value) <= 0.00005 * (1 + 1e-9)


@given(sixteenths=st.integers(-2000, 2000))
def test_what_a_tape_reads_comes_back_to_the_bit(sixteenths):
    value = float(Fraction(sixteenths, 16) * INCH)
    assert parse(units.shop_length(value, "us"), "length") == value


@settings(max_examples=300)
@given(
    value=st.floats(1e-9, 1e8) | st.floats(-1e8, -1e-9) | st.just(0.0),
    of=st.sampled_from(
        [("length", "in"), ("length", "mm"), ("force", "lbf"), ("distance", "mi"), ("rate", "lbf/in")]
    ),
)
@example(0.1 + 0.2, ("length", "in"))
def test_exact_text_gives_the_same_float_back(value, of):
    kind, unit = of
    assert parse(units.exact_text(value, unit, kind), kind, default_unit=unit) == value


@given(st.decimals(0, 9999, places=4))
def test_exact_text_gives_a_figure_back_as_it_was_entered(entered):
    value = parse(f"{entered:f} in", "length")
    assert Fraction(units.exact_text(value, "in", "length")) == Fraction(entered)


@given(st.floats(-1e6, 1e6), st.sampled_from(["in", "mm", "lbf", "N/mm", "psi", "mi", "N*m/deg", ""]))
def test_out_of_a_unit_and_into_it_is_no_change(value, unit):
    assert units.to_unit(units.from_unit(value, unit), unit) == pytest.approx(value, rel=1e-15)


def test_arrays_go_through_the_door_too():
    heights = np.array([[0.5715, 0.0254], [0.0, -0.0254]])
    assert np.allclose(units.to_unit(heights, "in"), [[22.5, 1], [0, -1]], rtol=1e-15)
    assert np.allclose(units.from_unit(units.to_unit(heights, "mm"), "mm"), heights, rtol=1e-15)


@pytest.mark.parametrize(
    ("value", "us", "metric"),
    [
        (0.5715, "22 1/2 in", "571.5 mm"),
        (-0.0254 / 16, "-1/16 in", "-1.5 mm"),
        (0.0, "0 in", "0 mm"),
        (-0.0001, "0 in", "0 mm"),
        (0.0254, "1 in", "25.5 mm"),
        (-2.375 * 0.0254, "-2 3/8 in", "-60.5 mm"),
    ],
)
def test_lengths_are_shown_as_a_tape_shows_them(value, us, metric):
    assert units.shop_length(value, "us") == us
    assert units.shop_length(value, "metric") == metric


def test_loads_rates_and_interval_ends_are_shown_in_the_owners_units():
    assert units.shop_load(parse("1045.4 lbf", "force"), "us") == "1045 lbf"
    assert units.shop_load(4648.3, "metric") == "4648 N"
    assert units.shop_rate(parse("225 lbf/in", "rate"), "us") == "225 lbf/in"
    assert units.shop_rate(39400.0, "metric") == "39.4 N/mm"
    assert units.decimal_length(parse("22.534 in", "length"), "us") == "22.53 in"
    assert units.decimal_length(0.57234, "metric") == "572.3 mm"
    assert units.decimal_length(-1e-9, "us") == "0.00 in"


@pytest.mark.parametrize(
    ("turns", "said"),
    [
        (0, "leave it"),
        (0.0001, "leave it"),
        (0.25, "¼ turn down the thread, raises"),
        (-0.75, "¾ turn up the thread, lowers"),
        (1, "1 turn down the thread, raises"),
        (-1, "1 turn up the thread, lowers"),
        (2.25, "2¼ turns down the thread, raises"),
        (1.5, "1½ turns down the thread, raises"),
        (3 * 0.1 * 10 / 4, "¾ turn down the thread, raises"),
        (0.125, "⅛ turn down the thread, raises"),
        (13 / 6, "2.17 turns down the thread, raises"),
        (-10, "10 turns up the thread, lowers"),
    ],
)
def test_turns_say_which_way_and_what_it_does(turns, said):
    assert units.turns_text(turns) == said


@pytest.mark.parametrize(
    "what", ["height", "preload", "ring_gap", "spring_set", "load", "odometer", *units._UNITS]
)
@pytest.mark.parametrize("system", ["us", "metric"])
def test_every_unit_shown_can_be_read_back(what, system):
    unit = units.unit_in(what, system)
    kind = units._KIND_SHOWN.get(what, what)
    assert parse(f"1 {unit}".strip(), kind) == pytest.approx(units.from_unit(1.0, unit))


def test_a_column_heading_may_name_its_unit_loosely():
    assert units.unit_named("IN", "length") == "in"
    assert units.unit_named(" lb / in ", "rate") == "lb/in"
    with pytest.raises(UnitError, match=r'^load: "in" is no unit of force'):
        units.unit_named("in", "force", "load")


def test_importing_units_starts_neither_pint_nor_numpy():
    code = "import sys, tuning.units; print([m for m in ('pint', 'numpy', 'pydantic') if m in sys.modules])"
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert ran.stdout.strip() == "[]"
