"""Four legs on springs, centre of gravity, cross-weight, roll stiffness and solid axles, against published figures.

A leg is a corner without shock: an independent end whose spring stands under the wheel, motion ratio one, no
unsprung weight. Frame and tyres are made so stiff that a table top is what they are.
"""

import tomllib
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from tuning.bench import Outlook
from tuning.statics import Weight, axles, settle, weight_of
from tuning.truck import CORNERS, Corner, End, Shock, Spring, Stack, Truck

FACTS = tomllib.loads((Path(__file__).parent / "references" / "vehicle_facts.toml").read_text("utf-8"))
STIFF = 1e13  # N·m/rad and N/m: a table, not a frame
FREE_HEIGHT = 0.7  # m


def end(track, spacing=None, unsprung=0.0, tyre=STIFF):
    spacing = track if spacing is None else spacing
    return End(spacing < track, track, spacing, spacing, unsprung, friction=0.0, tyre_rate=tyre)


def truck(front, rear, corners, wheelbase=3.2, twist=STIFF):
    return Truck(
        name="table",
        units="metric",
        wheelbase=wheelbase,
        front=front,
        rear=rear,
        corners=dict(zip(CORNERS, corners, strict=True)),
        stacks={},
        frame_twist_stiffness=twist,
    )


def leg(rate):
    return Corner(stack=Stack(f"{rate}", Spring(rate)))


def coilover(rate, motion_ratio=1.0):
    """A leg with a shock in it: shaft showing grows by the motion ratio with height."""
    cycle = ((0.2, 0.2 * motion_ratio), (0.9, 0.9 * motion_ratio))
    return Corner(stack=Stack(f"{rate}", Spring(rate)), shock=Shock(0.9 * motion_ratio), cycle=cycle)


FREE = dict.fromkeys(CORNERS, -FREE_HEIGHT)  # datum of corners without shock


# ---------------------------------------------------------------- four legs

TABLE = FACTS["four_legs_unequal_springs"]["given"]


def table(rates, build=leg):
    return truck(end(TABLE["b"]), end(TABLE["b"]), [build(k) for k in rates], TABLE["a"])


def weight_at(W, x, y):
    """A load x in front of the middle of the table and y to the left of it."""
    return Weight(W * (0.5 + x / TABLE["a"]), W * (0.5 - x / TABLE["a"]), W * y)


def loads_of(standing):
    return np.array([standing.loads[c] for c in CORNERS])


def eccentric():
    return weight_at(TABLE["W"], TABLE["x"], TABLE["y"])


EQUAL = [FACTS["four_legs_equal_springs"]["given"]["k"]] * 4


@pytest.mark.parametrize("rates", [EQUAL, TABLE["k"]], ids=["equal", "unequal"])
def test_reference_loads_of_four_legs_are_the_least_energy_on_springs(rates):
    """Check the checker: of all loads in balance, Σ F²/k is least at the printed ones."""
    name = "four_legs_equal_springs" if rates is EQUAL else "four_legs_unequal_springs"
    printed = np.array(FACTS[name]["recomputed"]["loads"])
    x, y = TABLE["a"] / 2 * np.array([1, 1, -1, -1]), TABLE["b"] / 2 * np.array([1, -1, 1, -1])
    balance = np.stack([np.ones(4), x, y])
    assert balance @ printed == pytest.approx(TABLE["W"] * np.array([1, TABLE["x"], TABLE["y"]]), rel=1e-9)
    free_direction = np.array([1.0, -1.0, -1.0, 1.0])
    assert balance @ free_direction == pytest.approx(np.zeros(3))
    assert free_direction @ (printed / rates) == pytest.approx(0, abs=1e-9)


@pytest.mark.parametrize("build", [leg, coilover])
def test_table_on_equal_springs_stands_as_euler_has_it(build):
    standing = settle(table(EQUAL, build), eccentric(), {}, FREE if build is leg else None)
    want = FACTS["four_legs_equal_springs"]["recomputed"]
    found = loads_of(standing)
    assert found == pytest.approx(want["loads"], abs=1e-3)
    assert found[0] + found[3] == pytest.approx(want["diagonal_front_left_rear_right"], abs=1e-3)


@pytest.mark.parametrize("build", [leg, coilover])
def test_table_on_unequal_springs_stands_as_worked_out_in_fractions(build):
    standing = settle(table(TABLE["k"], build), eccentric(), {}, FREE if build is leg else None)
    assert loads_of(standing) == pytest.approx(
        FACTS["four_legs_unequal_springs"]["recomputed"]["loads"], abs=1e-3
    )


@pytest.mark.parametrize(
    ("rates", "key"), [(EQUAL, "change_equal_springs"), (TABLE["k"], "change_unequal_springs")]
)
def test_one_leg_made_longer_loads_its_diagonal_as_worked_out(rates, key):
    """A nut turned down is a longer leg."""
    before = settle(table(rates), eccentric(), {}, FREE)
    after = settle(table(rates), eccentric(), {"LF": TABLE["delta_front_left"]}, FREE)
    want = FACTS["four_legs_unequal_springs"]["recomputed"][key]
    assert loads_of(after) - loads_of(before) == pytest.approx(want, abs=1e-3)


def test_two_legs_of_an_end_made_longer_change_no_load():
    before = settle(table(TABLE["k"]), eccentric(), {}, FREE)
    after = settle(table(TABLE["k"]), eccentric(), {"LF": 0.01, "RF": 0.01}, FREE)
    assert loads_of(after) == pytest.approx(loads_of(before), abs=1e-3)
    assert after.heights["LF"] - before.heights["LF"] == pytest.approx(0.01, abs=1e-9)
    assert after.heights["RR"] == pytest.approx(before.heights["RR"], abs=1e-9)


@pytest.mark.parametrize(("x", "y"), [(0, 0), (0.3, -0.2), (-0.7, 0.35), (0.5, 0.1)])
def test_cross_weight_of_a_table_on_equal_springs_is_even_wherever_the_load_stands(x, y):
    loads = loads_of(settle(table(EQUAL), weight_at(20000.0, x, y), {}, FREE))
    assert Outlook(np.zeros(4), loads).cross_weight == pytest.approx(0.5, abs=1e-7)


# ---------------------------------------------------------------- centre of gravity and cross-weight


def weight_on_wheels(loads, track_front=1.7, track_rear=1.7):
    axle = axles(truck(end(track_front), end(track_rear), [leg(1.0)] * 4))
    return weight_of(np.array(loads, dtype=float), axle)


def behind_front(weight, wheelbase):
    return wheelbase * weight.rear / (weight.front + weight.rear)


def test_axle_sums_give_the_centre_of_gravity_of_jazars_example_40():
    given = FACTS["cg_longitudinal"]["jazar"]
    weight = weight_on_wheels([given["front_each_N"]] * 2 + [given["rear_each_N"]] * 2)
    found = behind_front(weight, given["wheelbase_m"])
    assert found == pytest.approx(given["published_a1_m"], abs=0.5e-4)
    assert found == pytest.approx(given["recomputed_a1_m"], rel=1e-9)


def test_axle_sums_give_the_centre_of_gravity_at_a_weigh_station():
    given = FACTS["cg_longitudinal"]["weigh_station"]
    halves = [given["front_N"] / 2] * 2 + [given["rear_N"] / 2] * 2
    found = behind_front(weight_on_wheels(halves), given["wheelbase_m"])
    assert found == pytest.approx(given["published_m"], abs=0.005)
    assert found == pytest.approx(given["recomputed_m"], rel=1e-9)


def test_wheel_loads_of_an_automobile_are_those_of_halliday():
    """The answers are recalled, and worked out again."""
    given = FACTS["cg_longitudinal"]["two_loads"]
    W, L, x = given["mass_kg"] * given["g_m_s2"], given["wheelbase_m"], given["cg_behind_front_m"]
    stands_on = truck(end(1.5), end(1.5), [leg(30e3)] * 4, L)
    loads = loads_of(settle(stands_on, Weight(W * (1 - x / L), W * x / L, 0.0), {}, FREE)) / 1e3
    assert loads == pytest.approx(
        [given["recomputed_each_front_kN"]] * 2 + [given["recomputed_each_rear_kN"]] * 2, rel=1e-6
    )
    assert loads == pytest.approx(
        [given["published_each_front_kN"]] * 2 + [given["published_each_rear_kN"]] * 2, abs=0.005
    )


def test_roll_couple_and_cross_weight_of_four_wheel_loads_are_the_worked_out_ones():
    given, want = (FACTS["cg_lateral_and_cross_weight"][key] for key in ("given", "recomputed"))
    loads = np.array([given[c] for c in CORNERS])
    weight = weight_on_wheels(loads, given["track_front"], given["track_rear"])
    assert weight.front + weight.rear == want["total"]
    assert behind_front(weight, given["wheelbase"]) == pytest.approx(want["x_behind_front"], rel=1e-9)
    assert weight.couple / want["total"] == pytest.approx(want["y_left"], rel=1e-9)
    cross = Outlook(np.zeros(4), loads).cross_weight
    assert 100 * cross == pytest.approx(want["cross_weight_percent"], rel=1e-9)


# ---------------------------------------------------------------- axles and rates


def test_solid_axle_spreads_its_seat_loads_over_the_track_as_worked_out():
    given, want = (FACTS["solid_axle_wheel_loads"][key] for key in ("given", "recomputed"))
    solid = end(given["track"], given["spacing"], given["unsprung"])
    axle = axles(truck(solid, solid, [leg(1.0)] * 4))
    seats = np.array([given["seat_left"], given["seat_right"]] * 2)
    wheels = axle.wheel_loads(seats)
    assert wheels == pytest.approx([want["wheel_left"], want["wheel_right"]] * 2, rel=1e-11)
    assert axle.seat_loads(wheels) == pytest.approx(seats, rel=1e-14)


def rolled(ends, corners, datum, couple=500.0):
    """Roll stiffness (N·m/rad) of a truck both of whose ends are alike: couple over tilt, the stiff frame's one."""
    built = truck(ends, ends, corners)
    level, leaning = (settle(built, Weight(9000.0, 9000.0, c), {}, datum) for c in (0.0, couple))
    assert level.heights["LF"] == pytest.approx(level.heights["RF"], abs=1e-9)
    tilt = (leaning.heights["RF"] - leaning.heights["LF"]) / ends.height_spacing
    assert (leaning.heights["RR"] - leaning.heights["LR"]) / ends.height_spacing == pytest.approx(
        tilt, rel=1e-6
    )
    return couple / tilt


def test_roll_stiffness_of_a_solid_axle_is_gillespies():
    """Half the rate times the spacing squared, at each end; the wheels' track does not enter."""
    given, want = (FACTS["roll_stiffness"][key] for key in ("given", "recomputed"))
    for track in (1.5, 1.8):
        found = rolled(end(track, given["spacing_m"]), [leg(given["rate_N_m"])] * 4, FREE) / 2
        assert found == pytest.approx(want["N_m_per_rad"], rel=1e-6)
        assert found * np.pi / 180 == pytest.approx(want["N_m_per_deg"], rel=1e-6)


def test_roll_stiffness_of_an_independent_end_goes_with_the_motion_ratio_squared():
    given = FACTS["roll_stiffness"]["given"]
    ratio, track = 0.8, 1.6
    found = rolled(end(track), [coilover(given["rate_N_m"], ratio)] * 4, None) / 2
    assert found == pytest.approx(given["rate_N_m"] * ratio**2 * track**2 / 2, rel=1e-6)


def test_wheel_rate_is_spring_rate_times_motion_ratio_squared():
    """Gillespie, from memory, and found for the square alone."""
    given, want = (FACTS["ride_and_wheel_rate"][key] for key in ("given", "recomputed"))
    stands_on = truck(end(1.6), end(1.6), [coilover(given["spring"], given["motion_ratio"])] * 4)
    low, high = (settle(stands_on, Weight(F, F, 0.0), {}) for F in (9000.0, 8000.0))
    rate = 500.0 / (high.heights["LF"] - low.heights["LF"])
    assert rate == pytest.approx(want["wheel_rate"], rel=1e-9)


def test_tyres_sit_in_series_with_the_springs_under_a_roll_couple_shared_by_both_ends():
    """Front on stiff tyres, rear on soft ones: each end's own tilt is springs alone, the frame's is both in series.

    Ride rate of Gillespie, k_w k_t/(k_w + k_t), turned into roll: what the rear takes of a couple tells it.
    """
    given, want = (FACTS["ride_and_wheel_rate"][key] for key in ("given", "recomputed"))
    corner = coilover(given["spring"], given["motion_ratio"])
    track = 1.6
    built = truck(end(track), end(track, tyre=given["tyre"]), [corner] * 4)
    couple = 500.0
    loads = loads_of(settle(built, Weight(9000.0, 9000.0, couple), {}))
    front, rear = (loads[0] - loads[1]) * track / 2, (loads[2] - loads[3]) * track / 2
    assert front + rear == pytest.approx(couple, rel=1e-9)
    assert rear / front == pytest.approx(want["ride_rate"] / want["wheel_rate"], rel=1e-5)


def test_stiffer_frames_than_a_table_change_nothing_more():
    """The limit is reached: ten thousand times softer frame and tyres give the same loads to a millionth."""
    stiff = loads_of(settle(table(TABLE["k"]), eccentric(), {}, FREE))
    softer = replace(table(TABLE["k"]), frame_twist_stiffness=1e4 * 1e7)
    assert loads_of(settle(softer, eccentric(), {}, FREE)) == pytest.approx(stiff, rel=1e-6)
