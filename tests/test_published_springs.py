"""Springs end to end, side by side and against a stop, and gas in a shock, against textbooks' worked examples."""

import tomllib
from pathlib import Path

import numpy as np
import pytest

from tuning.gas import gas_constants, gas_force, gas_rate
from tuning.stack import NO_STOP, compliances, deflection, force, ladder, limits, shared_force, solid_travels
from tuning.truck import Shock, Spring, Stack

REFERENCES = Path(__file__).parent / "references"
BOOKS = tomllib.loads((REFERENCES / "spring_examples.toml").read_text("utf-8"))
GAS = tomllib.loads((REFERENCES / "vehicle_facts.toml").read_text("utf-8"))["gas_spring"]
MM = 1e-3


def helical_rate(G, d, D, coils):
    """G d⁴ / (8 D³ n), as every book has it (EN 13906-1 too)."""
    return G * d**4 / (8 * D**3 * coils)


def example(name):
    return BOOKS[name]["given"], BOOKS[name]["published"], BOOKS[name]["recomputed"]


def one_spring(rate, travel=NO_STOP):
    return np.array([1 / rate]), np.array([travel])


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
