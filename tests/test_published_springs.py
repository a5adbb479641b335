"""One spring from its wire, springs end to end, side by side and against a stop, gas: textbooks' examples."""

import tomllib
from dataclasses import replace
from math import sqrt
from pathlib import Path

import numpy as np
import pytest

from tuning.coil import (
    WIRES,
    Measured,
    Wire,
    coil,
    coil_mass,
    direct_shear_factor,
    helical_rate,
    shear_stress,
    surge_frequency,
    wahl_factor,
)
from tuning.gas import gas_constants, gas_force, gas_rate
from tuning.stack import NO_STOP, compliances, deflection, force, ladder, limits, shared_force, solid_travels
from tuning.truck import Shock, Spring, Stack

REFERENCES = Path(__file__).parent / "references"
BOOKS = tomllib.loads((REFERENCES / "spring_examples.toml").read_text("utf-8"))
GAS = tomllib.loads((REFERENCES / "vehicle_facts.toml").read_text("utf-8"))["gas_spring"]
MM = 1e-3
INCH, LBF = 0.0254, 4.4482216152605
PSI, LBF_PER_INCH = LBF / INCH**2, LBF / INCH
POUND_PER_CUBIC_INCH = 0.45359237 / INCH**3


def example(name):
    return BOOKS[name]["given"], BOOKS[name]["published"], BOOKS[name]["recomputed"]


def one_spring(rate, travel=NO_STOP):
    return np.array([1 / rate]), np.array([travel])


# ---------------------------------------------------------------- one spring from its wire


def bergstrasser(index):
    """The factor that Shigley's examples use beside Wahl's: (4C + 2)/(4C − 3)."""
    return (4 * index + 2) / (4 * index - 3)


def steel(G, strength_at_1_mm=1e9, exponent=0.0, as_wound=0.5, set_removed=0.65, density=7850.0):
    return Wire("of the book", G, strength_at_1_mm, exponent, (0, 1), as_wound, set_removed, density)


def test_music_wire_spring_of_shigley_10_1():
    given, published, recomputed = example("shigley_10_1")
    wire = steel(
        given["G_psi"] * PSI, given["A_kpsi"] * 1e3 * PSI * 25.4 ** given["m"], given["m"], given["yield_fraction"]
    )  # fmt: skip
    found = coil(
        Measured(
            given["d"] * INCH, given["outside_diameter"] * INCH, "outside", given["total_turns"], given["ends"],
            wire, recomputed["free_length"] * INCH,
        )
    )  # fmt: skip
    assert found.measured.mean_diameter / INCH == pytest.approx(given["D"], abs=0.0006)
    # The book carries D as 0.4 in, a thousandth off what the outside gives.
    exact = coil(replace(found.measured, diameter=given["D"] * INCH, across="mean"))
    assert exact.index == pytest.approx(recomputed["C"], rel=1e-6)
    assert exact.index == pytest.approx(published["C"], abs=0.05)
    assert exact.measured.active_coils == published["active_turns"]
    assert exact.rate.mean / LBF_PER_INCH == pytest.approx(recomputed["rate"], rel=1e-6)
    assert exact.rate.mean / LBF_PER_INCH == pytest.approx(published["rate"], abs=0.005)
    assert exact.strength / PSI / 1e3 == pytest.approx(recomputed["Sut_kpsi"], rel=1e-6)
    assert exact.as_wound.stress / PSI / 1e3 == pytest.approx(recomputed["Ssy_kpsi"], rel=1e-6)
    assert bergstrasser(exact.index) == pytest.approx(recomputed["K_B"], rel=1e-6)
    ratio = wahl_factor(exact.index) / bergstrasser(exact.index)
    assert exact.as_wound.force / LBF * ratio == pytest.approx(recomputed["load"], rel=1e-6)
    assert exact.as_wound.deflection / INCH * ratio == pytest.approx(recomputed["deflection"], rel=1e-5)
    assert exact.measured.solid_length / INCH == pytest.approx(recomputed["solid_length"], rel=1e-9)
    assert exact.at_solid.travel / INCH == pytest.approx(recomputed["deflection"], rel=1e-5)
    assert exact.critical_length / INCH == pytest.approx(recomputed["critical_free_length"], rel=1e-9)


def test_spring_between_two_plates_rings_as_in_shigley_10_4():
    given, published, recomputed = example("shigley_10_4")
    wire = steel(given["G_psi"] * PSI, density=given["weight_density"] * POUND_PER_CUBIC_INCH)
    found = coil(Measured(given["d"] * INCH, given["D"] * INCH, "mean", given["active_turns"], "plain", wire))
    assert found.rate.mean / LBF_PER_INCH == pytest.approx(recomputed["rate"], rel=1e-5)
    assert found.weight / LBF == pytest.approx(recomputed["weight"], rel=1e-6)
    book = sqrt(given["g_in_s2"] * INCH / 9.80665)  # it carries g as 386 in/s²
    assert found.frequency * book == pytest.approx(recomputed["frequency"], rel=1e-6)
    assert found.frequency == pytest.approx(published["frequency"], abs=0.5)


def test_squared_and_ground_spring_of_bhandari_10_1():
    given, published, recomputed = example("bhandari_10_1")  # mm, N
    allowed = given["allowed_fraction_of_Sut"] * given["Sut"]
    assert wahl_factor(given["C"]) == pytest.approx(recomputed["wahl"], rel=1e-9)
    thinnest = recomputed["d_required"]
    stress = wahl_factor(given["C"]) * shear_stress(given["load"], thinnest, given["C"] * thinnest)
    assert stress == pytest.approx(allowed, rel=1e-9)
    found = coil(
        Measured(
            published["d"] * MM, published["D"] * MM, "mean", published["total_coils"], "squared-ground",
            steel(given["G"] * 1e6, given["Sut"] * 1e6, as_wound=given["allowed_fraction_of_Sut"]),
            published["free_length"] * MM,
        )
    )  # fmt: skip
    assert found.measured.active_coils == published["active_coils"]
    assert found.rate.mean * MM == pytest.approx(recomputed["rate"], rel=1e-9)
    assert found.measured.solid_length / MM == pytest.approx(recomputed["solid_length"], rel=1e-12)
    gaps = (published["total_coils"] - 1) * given["gap_between_coils_at_load"]
    assert found.at_solid.travel / MM == pytest.approx(recomputed["deflection_at_load"] + gaps, abs=1e-6)
    assert found.as_wound.force > given["load"]  # its wire is thicker than it has to be


def test_one_of_eight_springs_of_bhandari_10_7():
    given, published, recomputed = example("bhandari_10_7_eight_in_parallel")  # mm, N
    d, D, load = published["d"], published["D"], given["total_load"] / given["springs"]
    assert helical_rate(given["G"], d, D, published["active_coils_exact"]) == pytest.approx(
        published["rate_required"], rel=1e-6
    )
    thinnest = recomputed["d_required"]
    stress = wahl_factor(given["C"]) * shear_stress(load, thinnest, given["C"] * thinnest)
    assert stress == pytest.approx(given["allowed_fraction_of_Sut"] * given["Sut"], rel=1e-8)
    spring = Measured(
        d * MM, D * MM, "mean", published["total_coils"], free_length=published["free_length"] * MM
    )
    gaps = (published["total_coils"] - 1) * given["gap_between_coils_at_load"]
    pressed = load / recomputed["rate_one"]
    assert coil(spring).at_solid.travel / MM == pytest.approx(pressed + gaps, abs=1e-6)


def test_active_coils_of_wentzell_8_2_give_the_rate_that_was_wanted():
    given, _, recomputed = example("wentzell_8_2")
    rate = helical_rate(
        given["G_psi"] * PSI, given["d"] * INCH, given["D"] * INCH, recomputed["active_coils"]
    )
    assert rate / LBF_PER_INCH == pytest.approx(recomputed["rate"], rel=1e-6)
    spring = Measured(given["d"] * INCH, given["D"] * INCH, "mean", recomputed["total_coils"])
    assert spring.active_coils == pytest.approx(recomputed["active_coils"], rel=1e-9)


def test_stress_rate_and_load_of_sadhu_singh_8_3():
    given, published, recomputed = example("sadhu_singh_8_3")  # mm, N, MPa
    d, D = given["d"], given["C"] * given["d"]
    stress = wahl_factor(given["C"]) * shear_stress(given["load"], d, D)
    assert stress == pytest.approx(recomputed["stress"], rel=1e-9)
    assert stress == pytest.approx(published["stress"], abs=0.005)
    spring = Measured(d * MM, D * MM, "mean", given["active_coils"], "plain")
    found = coil(replace(spring, material=steel(given["G"] * 1e6, given["yield_shear"] * 1e6, as_wound=1.0)))
    assert found.rate.mean * MM == pytest.approx(recomputed["rate"], rel=1e-9)
    assert found.as_wound.force == pytest.approx(recomputed["yield_load"], rel=1e-9)
    assert found.as_wound.force == pytest.approx(published["yield_load"], abs=0.05)


@pytest.mark.parametrize("way", ["direct", "wahl"])
def test_load_and_give_of_a_coil_with_and_without_its_bend_in_sadhu_singh_8_12(way):
    given, published, recomputed = example("sadhu_singh_8_12")  # mm, N, MPa
    steel_of_the_book = steel(given["G"] * 1e6, given["stress"] * 1e6, as_wound=1.0, set_removed=1.0)
    spring = Measured(
        given["d"] * MM, given["outside_diameter"] * MM, "outside", 1, "plain", steel_of_the_book
    )
    safe = coil(spring).as_wound if way == "wahl" else coil(spring).set_removed
    assert safe.force == pytest.approx(recomputed[f"load_{way}"], rel=1e-9)
    assert safe.deflection / MM == pytest.approx(recomputed[f"per_coil_{way}"], rel=1e-9)
    assert safe.force == pytest.approx(published[f"load_{way}"], abs=0.05)


def test_hard_drawn_spring_of_jindal_8_6():
    """The book takes stress without the coil's bend, and one coil less than all as solid: so does not this module."""
    given, published, recomputed = example("jindal_8_6")  # mm, N, MPa
    wire = WIRES["hard-drawn"]
    assert (wire.strength_at_1_mm, wire.exponent) == (given["A"] * 1e6, given["m"])
    wire = replace(wire, set_removed=given["yield_fraction"], shear_modulus=given["G"] * 1e6)
    spring = Measured(
        given["d"] * MM, given["outside_diameter"] * MM, "outside", given["total_coils"], "squared", wire
    )
    safe = coil(spring).set_removed
    assert spring.active_coils == given["active_coils"]
    assert safe.stress / 1e6 == pytest.approx(recomputed["shear_yield"], rel=1e-9)
    assert safe.force == pytest.approx(recomputed["load"], rel=1e-8)
    assert safe.deflection / MM == pytest.approx(recomputed["deflection"], rel=1e-8)
    assert safe.deflection / MM == pytest.approx(published["deflection"], abs=0.05)


def test_torsion_alone_of_bhavikatti_6_22_and_sarkar_8_7():
    given, _, recomputed = example("bhavikatti_6_22")
    assert shear_stress(given["load"], given["d"], given["D"]) == pytest.approx(
        recomputed["stress"], rel=1e-9
    )
    given, _, recomputed = example("sarkar_8_7_series")  # the thinner wire limits the load
    stress = shear_stress(recomputed["load"], recomputed["d_second"], given["D"])
    assert stress == pytest.approx(given["allowed_shear"], rel=1e-9)


def test_frequency_wire_and_lengths_of_sadhu_singh_8_1():
    given, _, recomputed = example("sadhu_singh_8_1")  # mm, N, MPa
    assert wahl_factor(given["C"]) == pytest.approx(recomputed["wahl"], rel=1e-9)
    thinnest = recomputed["d_required"]
    stress = wahl_factor(given["C"]) * shear_stress(given["load_2"], thinnest, given["C"] * thinnest)
    assert stress == pytest.approx(given["allowed_shear"], rel=1e-8)
    d, D = given["d"] * MM, given["D"] * MM
    rate = helical_rate(given["G"] * 1e6, d, D, recomputed["active_coils_exact"])
    assert rate * MM == pytest.approx(recomputed["rate"], rel=1e-9)
    mass = coil_mass(given["density_kg_m3"], d, D, recomputed["active_coils_exact"])
    assert surge_frequency(rate, mass) == pytest.approx(recomputed["frequency_hz"], rel=1e-9)
    solid = Measured(d, D, "mean", recomputed["active_coils_exact"] + 2).solid_length
    clash = 1.15 * given["load_2"] / recomputed["rate"] * MM
    assert (solid + clash) / MM == pytest.approx(recomputed["free_length"], rel=1e-9)


def test_factors_and_frequency_are_those_of_the_standard():
    standard = BOOKS["en_13906_1"]
    for index, wahl, near in zip(
        standard["factor_at"], standard["wahl"], standard["bergstrasser"], strict=True
    ):
        assert wahl_factor(index) == pytest.approx(wahl, rel=1e-8)
        assert wahl_factor(index) == pytest.approx(near, rel=0.015)  # the standard's own factor
        assert direct_shear_factor(index) < near
    # 3560 d / (n D²) √(G/ρ) with mm, N/mm², kg/dm³
    d, D, n, G, rho = 10.0, 80.0, 8.0, 81500.0, 7.85
    said = standard["frequency_constant_recomputed"] * d / (n * D**2) * sqrt(G / rho)
    rate = helical_rate(G * 1e6, d * MM, D * MM, n)
    assert surge_frequency(rate, coil_mass(rho * 1e3, d * MM, D * MM, n)) == pytest.approx(said, rel=1e-6)


@pytest.mark.parametrize(
    ("ends", "entry", "more"),
    [
        ("plain", "plain", 1),
        ("plain-ground", "plain_ground", 0),
        ("squared", "squared", 1),
        ("squared-ground", "squared_ground", 0),
    ],
)
def test_ends_take_their_coils_as_in_shigleys_table(ends, entry, more):
    table = BOOKS["ends_of_a_compression_spring"][entry]
    assert table["solid"] == ("d (N_t + 1)" if more else "d N_t")
    spring = Measured(0.010, 0.080, "mean", 10.0, ends)
    assert spring.active_coils == 10.0 - table["end_turns"]
    assert spring.solid_length == pytest.approx(0.010 * (10.0 + more), rel=1e-12)


def test_wires_have_the_moduli_of_shigleys_table():
    table = BOOKS["wire_moduli"]
    named = {
        "music": "music_wire_over_3_2_mm",
        "hard-drawn": "hard_drawn_over_3_2_mm",
        **{name: name.replace("-", "_") for name in ("oil-tempered", "chrome-vanadium", "chrome-silicon")},
    }
    assert {name: wire.shear_modulus / 1e9 for name, wire in WIRES.items()} == {
        name: table[entry] for name, entry in named.items()
    }


def test_strength_of_hard_drawn_wire_is_the_least_that_astm_a227_allows():
    """Class I, in and kpsi, as wire sellers print the standard's table."""
    least = {
        0.028 + 0.001: 271,
        0.062: 237,
        0.120: 210,
        0.192: 192,
        0.250: 182,
        0.312: 174,
        0.375: 167,
        0.500: 156,
    }
    for wire, kpsi in least.items():
        assert WIRES["hard-drawn"].strength(wire * INCH) / PSI / 1e3 == pytest.approx(kpsi, rel=0.03)


def test_strength_of_music_wire_is_that_of_shigley_10_1():
    given, _, recomputed = example("shigley_10_1")
    found = WIRES["music"].strength(given["d"] * INCH) / PSI / 1e3
    assert found == pytest.approx(recomputed["Sut_kpsi"], rel=0.003)


@pytest.mark.parametrize(
    ("name", "A", "m"),
    [
        ("music", 2060, 0.163),
        ("oil-tempered", 1610, 0.193),
        ("chrome-vanadium", 1790, 0.155),
        ("chrome-silicon", 1960, 0.091),
    ],
)
def test_strength_of_wires_is_within_a_fifth_of_an_older_edition(name, A, m):
    """Constants in MPa and mm that earlier printings of the book had, as a public calculator's page still has them.

    The newer ones are from memory; a slip in one would be seen here. Hard-drawn wire is held against ASTM above.
    """
    low, high = WIRES[name].tested_for
    for wire in np.geomspace(max(low, 0.5e-3), high, 9):
        assert WIRES[name].strength(wire) / 1e6 == pytest.approx(A * (wire / MM) ** -m, rel=0.2)


# ---------------------------------------------------------------- end to end


def test_two_springs_end_to_end_stretch_as_in_sarkar_8_7():
    given, published, recomputed = example("sarkar_8_7_series")
    first = helical_rate(given["G"], given["d_first"], given["D"], given["coils_each"])
    second = helical_rate(given["G"], recomputed["d_second"], given["D"], given["coils_each"])
    assert first == pytest.approx(recomputed["rate_first"], rel=1e-9)  # the checker first
    assert 1 / first == pytest.approx(published["flexibility_first"], abs=0.5e-4)
    assert second == pytest.approx(recomputed["rate_second"], rel=1e-9)
    stack = Stack("8.7", lower=Spring(second), upper=Spring(first))
    compliance, limit = compliances(stack), limits(solid_travels(stack), np.array(NO_STOP), np.array(0.0))
    load = np.array(recomputed["load"])
    assert deflection(load, compliance, limit) == pytest.approx(recomputed["extension"], rel=1e-9)
    assert deflection(load, compliance, limit) == pytest.approx(published["extension"], abs=0.5e-4)
    assert force(np.array(recomputed["extension"]), compliance, limit) == pytest.approx(load, rel=1e-9)
    assert force(np.array(1.0), compliance, limit) == pytest.approx(given["rate_together"], rel=1e-9)


# ---------------------------------------------------------------- one spring and its stop


def test_one_spring_is_pressed_as_in_bhavikatti_6_22():
    given, published, recomputed = example("bhavikatti_6_22")  # mm, N
    rate = helical_rate(given["G"], given["d"], given["D"], given["active_coils"]) / MM
    assert rate * MM == pytest.approx(published["rate"], abs=0.005)
    compliance, limit = one_spring(rate)
    pressed = deflection(np.array(given["load"]), compliance, limit)
    assert pressed / MM == pytest.approx(recomputed["deflection"], rel=1e-9)
    assert pressed / MM == pytest.approx(published["deflection"], abs=0.005)
    along = np.linspace(0, pressed, 1001)
    work = np.trapezoid(force(along, compliance[None], limit[None]), along)  # N m
    assert work / MM == pytest.approx(recomputed["energy_N_mm"], rel=1e-8)


def test_a_spring_with_clash_allowance_binds_at_its_solid_length_as_in_jindal_8_6():
    """Free length is solid length, plus the deflection at the load with 15 % over: all the travel there is."""
    given, published, recomputed = example("jindal_8_6")  # mm, N
    mean_diameter = given["outside_diameter"] - given["d"]
    rate = helical_rate(given["G"], given["d"], mean_diameter, given["active_coils"]) / MM
    assert rate * MM == pytest.approx(recomputed["rate"], rel=1e-9)
    spring = Spring(rate, recomputed["free_length"] * MM, recomputed["solid_length"] * MM)
    stack = Stack("8-6", lower=spring)
    compliance, limit = compliances(stack), limits(solid_travels(stack), np.array(NO_STOP), np.array(0.0))
    load = np.array(recomputed["load"])
    assert deflection(load, compliance, limit) / MM == pytest.approx(recomputed["deflection"], rel=1e-9)
    assert deflection(load, compliance, limit) / MM == pytest.approx(published["deflection"], abs=0.05)
    assert deflection(1.15 * load, compliance, limit) == pytest.approx(spring.travel_to_solid, rel=1e-9)
    solid = deflection(10 * load, compliance, limit)
    assert (spring.free_length - solid) / MM == pytest.approx(published["solid_length"], abs=1e-9)
    assert force(solid + 1e-6, compliance, limit) == np.inf


# ---------------------------------------------------------------- side by side


def test_eight_equal_springs_side_by_side_share_as_in_bhandari_10_7():
    """One of them against the other seven beside it."""
    given, published, recomputed = example("bhandari_10_7_eight_in_parallel")  # mm, N
    rate = helical_rate(given["G"], published["d"], published["D"], published["active_coils"]) / MM
    assert rate * MM == pytest.approx(published["rate_one"], abs=0.5e-6)
    compliance, limit = one_spring(rate)
    total = np.array(given["total_load"])
    one = shared_force(total, ladder(compliance, limit), np.array(7 * rate))
    assert one == pytest.approx(given["total_load"] / given["springs"], rel=1e-12)
    pressed = deflection(one, compliance, limit)
    assert pressed / MM == pytest.approx(given["total_load"] / recomputed["rate_all"], rel=1e-9)


@pytest.mark.parametrize("mm", [5, 10, 15, 20])
def test_a_shorter_spring_beside_a_longer_one_takes_its_share_as_in_sarkar_8_8(mm):
    """The outer works alone for 10 mm, then both: what it carried by then comes off the load that is shared."""
    given, published, recomputed = example("sarkar_8_8_parallel_with_gap")
    outer = helical_rate(given["G"], given["outer"]["d"], given["outer"]["D"], given["outer"]["coils"])
    inner_d = recomputed["d_inner_exact"]
    inner = helical_rate(given["G"], inner_d, given["D_inner_plus_d_inner"] - inner_d, given["inner_coils"])
    assert outer == pytest.approx(recomputed["rate_outer"], rel=1e-9)
    assert inner == pytest.approx(published["rate_inner"], rel=1e-6)
    compliance, limit = one_spring(published["rate_inner"])
    total = recomputed[f"force_at_{mm}_mm"]
    met = np.array(total - outer * given["inner_shorter_by"])
    carried = shared_force(met, ladder(compliance, limit), np.array(outer))
    assert total - carried == pytest.approx(outer * mm * MM, rel=1e-9)
    if mm == 20:
        assert total - carried == pytest.approx(published["load_outer"], rel=1e-9)


# ---------------------------------------------------------------- gas

ROD = GAS["rod"]


def rod():
    shock = Shock(0.3, ROD["rod_diameter"], ROD["gauge_pressure"], ROD["volume"])
    return shock, *gas_constants(shock)


def polytropic(travel, n, atmosphere):
    """((p + p_atm) (V0/(V0 − A s))ⁿ − p_atm) A: Kelly's p Vⁿ = constant on a rod open to the air."""
    area = np.pi / 4 * ROD["rod_diameter"] ** 2
    squeezed = ROD["volume"] / (ROD["volume"] - area * np.asarray(travel))
    return ((ROD["gauge_pressure"] + atmosphere) * squeezed**n - atmosphere) * area


def test_polytropic_rod_force_is_what_the_reference_holds():
    found = polytropic(ROD["travel"], ROD["n"], ROD["atmosphere"])
    assert found == pytest.approx(ROD["recomputed_force"], rel=1e-9)


def test_gas_force_is_the_published_one_at_full_extension():
    _, extended, fill = rod()
    assert gas_force(np.array(0.0), extended, fill) == pytest.approx(ROD["recomputed_force"][0], rel=1e-9)


def test_gas_force_follows_the_slow_law_on_gauge_pressure():
    """A truck that stands has had time to cool: n = 1, where the reference squeezes fast with n = 1.4.

    The law is used on gauge pressure, without the atmosphere's own part: below the slow absolute law by
    p_atm A (V0/V − 1), four parts in a hundred where half of the volume is taken.
    """
    _, extended, fill = rod()
    travel = np.array(ROD["travel"])
    found = gas_force(travel, extended, fill)
    assert found == pytest.approx(polytropic(travel, n=1.0, atmosphere=0.0), rel=1e-12)
    slow = polytropic(travel, n=1.0, atmosphere=ROD["atmosphere"])
    assert np.all((found[1:] < slow[1:]) & (slow[1:] < ROD["recomputed_force"][1:]))
    assert found == pytest.approx(slow, rel=0.04)


def test_gas_rate_is_the_slow_share_of_kellys_gas_spring():
    """Rate n p A²/V: what stands still has n = 1, so 1/1.4 of the rate that Kelly's example asks for."""
    given, area = GAS["given"], GAS["recomputed"]["area"]
    assert given["n"] * given["pressure_absolute"] * area / given["column"] == pytest.approx(
        given["rate_wanted"], rel=1e-9
    )
    diameter = np.sqrt(4 * area / np.pi)
    shock = Shock(0.3, diameter, given["pressure_absolute"], area * given["column"])
    rate = gas_rate(np.array(0.0), *gas_constants(shock))
    assert rate == pytest.approx(given["rate_wanted"] / given["n"], rel=1e-9)


def test_gas_rate_is_the_slope_of_gas_force():
    _, extended, fill = rod()
    travel, step = np.linspace(0.0, 0.25, 26), 1e-6
    slope = (gas_force(travel + step, extended, fill) - gas_force(travel - step, extended, fill)) / (2 * step)
    assert gas_rate(travel, extended, fill) == pytest.approx(slope, rel=1e-6)


def test_gas_of_unknown_volume_pushes_alike_everywhere():
    shock = Shock(0.3, ROD["rod_diameter"], ROD["gauge_pressure"])
    found = gas_force(np.linspace(0, 0.3, 5), *gas_constants(shock))
    assert found == pytest.approx(np.full(5, ROD["recomputed_force"][0]), rel=1e-9)
    assert gas_constants(Shock(0.3)) == (0.0, 0.0)
    assert gas_constants(None) == (0.0, 0.0)
