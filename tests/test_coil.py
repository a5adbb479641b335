"""An unmarked spring from its wire: laws, errors drawn at random, and measures that can't be.

What textbooks print is in `test_published_springs`.
"""

from dataclasses import replace
from math import log, nan

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tuning.coil import (
    COIL_ERROR,
    DIAMETER_ERROR,
    ENDS,
    MODULUS_ERROR,
    WIRES,
    CoilError,
    Measured,
    coil,
    direct_shear_factor,
    helical_rate,
    wahl_factor,
)

INCH = 0.0254
SPRING = Measured(0.46 * INCH, 2.5 * INCH, "inside", 11.5, free_length=12 * INCH)
ACROSS = {"inside": 1, "mean": 0, "outside": -1}

springs = st.builds(
    Measured,
    wire=st.floats(0.004, 0.018),
    diameter=st.floats(0.06, 0.15),
    across=st.sampled_from(list(ACROSS)),
    coils=st.floats(4.0, 25.0),
    ends=st.sampled_from(ENDS),
    material=st.sampled_from(list(WIRES.values())),
)


def across(spring, how):
    """The same spring with its diameter taken elsewhere."""
    return replace(spring, across=how, diameter=spring.mean_diameter - ACROSS[how] * spring.wire)


@given(springs)
def test_it_does_not_matter_where_the_diameter_was_taken(spring):
    for how in ACROSS:
        same = coil(across(spring, how))
        assert same.rate.mean == pytest.approx(coil(spring).rate.mean, rel=1e-9)
        assert same.measured.solid_length == spring.solid_length


@given(springs)
def test_rate_doubles_when_half_as_many_coils_work(spring):
    dead = spring.coils - spring.active_coils
    longer = replace(spring, coils=2 * spring.active_coils + dead)
    assert coil(spring).rate.mean == pytest.approx(2 * coil(longer).rate.mean, rel=1e-9)


@given(springs, st.floats(0.5, 2.0))
def test_a_spring_of_another_size_scales_as_its_units_do(spring, size):
    """A whole spring `size` times as large: rate by size, lengths by size, mass by its cube, frequency by its inverse;
    at the same stress it carries size² as much."""
    steel = replace(spring.material, exponent=0.0)
    small = coil(across(replace(spring, material=steel), "mean"))
    own = small.measured
    large = coil(replace(own, wire=size * own.wire, diameter=size * own.diameter))
    assert large.index == pytest.approx(small.index)
    assert large.rate.mean == pytest.approx(size * small.rate.mean)
    assert large.measured.solid_length == pytest.approx(size * own.solid_length)
    assert large.mass == pytest.approx(size**3 * small.mass)
    assert large.frequency == pytest.approx(small.frequency / size)
    assert large.as_wound.force == pytest.approx(size**2 * small.as_wound.force)
    assert large.set_removed.deflection == pytest.approx(size * small.set_removed.deflection)


@given(springs)
def test_thicker_wire_makes_it_stiffer_heavier_and_longer_when_solid(spring):
    mean = across(spring, "mean")
    thin, thick = coil(mean), coil(replace(mean, wire=1.01 * mean.wire))
    assert thick.rate.mean > thin.rate.mean
    assert thick.mass > thin.mass
    assert thick.measured.solid_length > thin.measured.solid_length
    assert thick.strength < thin.strength  # thin wire is drawn harder
    assert thick.as_wound.force > thin.as_wound.force


def test_one_percent_of_wire_is_four_percent_of_rate_where_the_mean_diameter_is_known():
    mean = across(SPRING, "mean")
    assert coil(mean).wire_share == 4
    for how in ACROSS:
        own = across(SPRING, how)
        up, down = (coil(replace(own, wire=own.wire * (1 + e))).rate.mean for e in (1e-5, -1e-5))
        slope = (log(up) - log(down)) / 2e-5
        assert coil(own).wire_share == pytest.approx(slope, rel=1e-6)


@pytest.mark.parametrize("how", list(ACROSS))
@pytest.mark.parametrize("wire_error", [0.02e-3, 0.05e-3, 0.2e-3])
def test_the_interval_of_the_rate_is_what_drawn_errors_give(how, wire_error):
    spring = replace(across(SPRING, how), wire_error=wire_error)
    random, count = np.random.default_rng(4), 200_000
    wire = spring.wire + wire_error * random.standard_normal(count)
    mean = spring.diameter + DIAMETER_ERROR * random.standard_normal(count) + ACROSS[how] * wire
    active = spring.active_coils + COIL_ERROR * random.standard_normal(count)
    modulus = spring.material.shear_modulus * (1 + MODULUS_ERROR * random.standard_normal(count))
    low, high = np.quantile(helical_rate(modulus, wire, mean, active), [0.05, 0.95])
    found = coil(spring).rate
    assert found.low == pytest.approx(low, rel=0.005)
    assert found.high == pytest.approx(high, rel=0.005)


@pytest.mark.parametrize("free_length", [8 * INCH, 12 * INCH, 20 * INCH])
def test_safe_deflection_and_solid_agree_on_stress(free_length):
    """Pressed to its safe deflection instead of to solid, the wire carries just what is allowed."""
    found = coil(replace(SPRING, free_length=free_length))
    per_travel = found.at_solid.stress / found.at_solid.travel
    assert per_travel * found.as_wound.deflection == pytest.approx(found.as_wound.stress, rel=1e-9)
    bent = wahl_factor(found.index) / direct_shear_factor(found.index)
    assert per_travel * found.set_removed.deflection == pytest.approx(
        bent * found.set_removed.stress, rel=1e-9
    )
    assert found.set_removed.deflection > found.as_wound.deflection


def test_weight_is_that_of_a_straight_wire_of_the_same_length():
    found = coil(SPRING)
    straight = np.pi / 4 * SPRING.wire**2 * np.pi * SPRING.mean_diameter * SPRING.coils
    assert found.mass == pytest.approx(7850 * straight, rel=1e-9)
    assert found.weight == pytest.approx(9.80665 * found.mass, rel=1e-12)


def test_factors_fall_to_one_as_the_coil_grows_wide():
    index = np.linspace(2, 500, 2000)
    for factor in (wahl_factor, direct_shear_factor):
        values = np.array([factor(i) for i in index])
        assert np.all(np.diff(values) < 0)
        assert values[-1] == pytest.approx(1, abs=0.005)


def test_a_strength_carried_beyond_its_table_is_called_a_guess():
    low, high = WIRES["chrome-silicon"].tested_for
    assert not coil(replace(SPRING, wire=high)).strength_is_a_guess
    assert coil(replace(SPRING, wire=high * 1.01)).strength_is_a_guess
    assert coil(replace(SPRING, wire=low * 0.99, diameter=0.02)).strength_is_a_guess


def test_without_a_free_length_nothing_is_said_of_solid():
    assert coil(replace(SPRING, free_length=None)).at_solid is None


# ---------------------------------------------------------------- measures that can't be


BAD = [
    ({"wire": 6 * INCH}, "wire: 152.4 mm (6 in) can't be. Write 0.1 mm (0.00394 in) to 50 mm (1.97 in)."),
    ({"wire": nan}, "wire: nan mm (nan in) can't be. Write 0.1 mm"),
    ({"wire": -0.01}, "wire: -10 mm"),
    ({"diameter": 0.0}, "inside diameter: 0 mm (0 in) can't be. Write 1 mm (0.0394 in) to 500 mm (19.7 in)."),
    ({"diameter": 8 * INCH, "wire": 0.002}, "inside diameter: 203.2 mm (8 in) is no coil of a wire of 2 mm"),
    ({"diameter": 0.011, "across": "outside"}, "outside diameter: 11 mm (0.433 in) is no coil of a wire of 11.68 mm"),
    ({"coils": 2.5}, "coils: 2.5 coils, and 2 of them at the ends do not work. Count every coil"),
    ({"coils": 0.5, "ends": "plain"}, "coils: 0.5 coils, and all work. Count every coil"),
    ({"coils": nan}, "coils: nan coils"),
    ({"coils": 1e9}, "coils: 1e+09 coils"),
    ({"free_length": 3 * INCH}, "free length: 76.2 mm (3 in), but these coils touch at 134.4 mm (5.29 in). Measure"),
    ({"free_length": 50.0}, "free length: 5e+04 mm (1.97e+03 in) can't be"),
    ({"wire_error": 0.01}, "wire error: 10 mm (0.394 in) can't be. Write 0 mm (0 in) to 2.921 mm (0.115 in)."),
]  # fmt: skip


@pytest.mark.parametrize(("wrong", "said"), BAD)
def test_measures_that_no_spring_has_are_refused_in_both_units(wrong, said):
    with pytest.raises(CoilError) as caught:
        coil(replace(SPRING, **wrong))
    assert said in str(caught.value)


def test_every_wrong_measure_is_named_at_once():
    with pytest.raises(CoilError) as caught:
        coil(Measured(1.0, 9.0, "inside", 1.0, free_length=99.0))
    assert [fault.where for fault in caught.value.faults] == [
        "wire",
        "inside diameter",
        "free length",
        "coils",
    ]


numbers = st.floats(allow_nan=True, allow_infinity=True) | st.sampled_from([0.0, 0.01, 0.07, 10.0])


@settings(max_examples=300)
@given(
    numbers,
    numbers,
    st.sampled_from(list(ACROSS)),
    numbers,
    st.sampled_from(ENDS),
    st.none() | numbers,
    numbers,
)
def test_any_measures_are_answered_in_finite_numbers_or_refused(
    wire, diameter, how, coils, ends, free, error
):
    spring = Measured(wire, diameter, how, coils, ends, free_length=free, wire_error=error)
    figures, said = [1.0], ""
    try:
        found = coil(spring)
        figures = [found.rate.low, found.rate.high, found.mass, found.frequency, found.as_wound.deflection]
    except CoilError as fault:
        said = str(fault)
    assert np.all(np.isfinite(figures))
    assert min(figures) > 0
    assert all(line.isprintable() for line in said.split("\n"))
