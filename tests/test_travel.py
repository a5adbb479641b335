"""Travel: positions against an independent simulation and brute force, laws, and checks whose mends are tried."""

import json
import re
from dataclasses import replace

import numpy as np
import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import minimize_scalar

from sample_runs import NAMES, path
from tests.test_laws import Drawn
from tests.truth.machine import machine_of, seat_force
from tests.truth.trucks import IN, LBF, LBF_IN
from tuning import positions as words
from tuning.adjust import predict
from tuning.bench import AdjustError
from tuning.cli import main
from tuning.curve import at_best
from tuning.doubt import set_aside
from tuning.drawing import drawing
from tuning.fit import fit
from tuning.log.files import read_readings, read_readings_file
from tuning.positions import positions_at, pressed
from tuning.readings import runs_of
from tuning.stack import limits
from tuning.statics import axles, struts
from tuning.travel import travel
from tuning.travel_curve import travel_curve
from tuning.truck import CORNERS, Shock, Spring, Stack, Travel
from tuning.truckfile import load_truck, read_truck, truck_template

LAWS = settings(deadline=None, derandomize=True, max_examples=15)
seeds = st.integers(0, 10**6)
BENCH = """
name = "By hand"
units = "us"
wheelbase = "100 in"
[front]
axle = "independent"
track = "60 in"
unsprung_weight = "200 lbf"
[front.shock]
stroke = "10 in"
[front.adjuster]
travel_per_turn = "1/10 in"
range = ["0 in", "4 in"]
[[front.cycle]]
height = "10 in"
shaft = "0 in"
[[front.cycle]]
height = "20 in"
shaft = "10 in"
[front.stack]
name = "200 over 300"
ring_gap = "2 in"
upper = { rate = "200 lbf/in", free_length = "10 in", solid_length = "4 in" }
lower = { rate = "300 lbf/in", free_length = "12 in", solid_length = "5 in" }
[rear]
axle = "solid"
track = "60 in"
spring_spacing = "40 in"
unsprung_weight = "300 lbf"
[rear.spring]
rate = "250 lbf/in"
"""


@pytest.fixture(scope="module")
def samples():
    return {name: sample(name) for name in NAMES}


def sample(name):
    truck = load_truck(path(name) / "truck.toml")
    runs, _ = set_aside(truck, runs_of(read_readings_file(path(name) / "readings.csv", truck)))
    return fit(truck, runs)


def with_corner(fitted, corner, **parts):
    """The same fit, of a truck whose file says something else of one corner."""
    own = replace(fitted.truck.corners[corner], **parts)
    return replace(fitted, truck=replace(fitted.truck, corners={**fitted.truck.corners, corner: own}))


def with_travel(fitted, corner, **changed):
    return with_corner(fitted, corner, travel=replace(fitted.truck.corners[corner].travel, **changed))


def with_stack(fitted, stack):
    """The same fit with another stack at LF."""
    return replace(with_corner(fitted, "LF", stack=stack), stacks=(stack, *fitted.stacks[1:]))


def check(fitted, corner, part, turns=None):
    """The one check whose name holds this."""
    found = [c for c in travel(fitted, turns, draws=20).corners[corner].checks if part in c.name]
    assert len(found) == 1, [c.name for c in found]
    return found[0]


def figure(text):
    """The first length in a sentence, in m."""
    return float(re.search(r"(-?[0-9.]+) in\b", text)[1]) * IN


# ---------------------------------------------------------------- by hand


def by_hand(height, preload=1.0, datum=0.0):
    """LF of the truck above; inches in, and a Position."""
    truck = read_truck(BENCH)
    stacks = [truck.corners[c].stack for c in CORNERS]
    strut = replace(
        struts(truck, stacks), preload=np.full(4, preload * IN), datum=np.array([datum * IN, 0, 0, 0])
    )
    heights = np.array([height * IN, height * IN, np.nan, np.nan])
    return positions_at(strut, axles(truck), stacks, heights)[0]


# One inch of height is one of shaft; s = 20 − height. p = 1 in, so x = 1 + s.
# Both springs share x as 1/200 : 1/300 = 3 : 2, at 120 lbf/in, until the upper has taken ring gap + p = 3 in, at
# 600 lbf.
# After that the lower takes the rest at 300 lbf/in, until it has taken 12 − 5 = 7 in (2100 lbf).
# Independent: the wheel carries what its spring does and half of 200 lbf.
#   height  x     upper  lower  force
@pytest.mark.parametrize(
    ("height", "upper", "lower", "ring", "works", "rate", "load"),
    [
        (20.0, 0.6, 0.4, 2.4, words.BOTH, 120, 220),  # x = 1:  0.6 + 0.4, 120 lbf
        (18.0, 1.8, 1.2, 1.2, words.BOTH, 120, 460),  # x = 3:  1.8 + 1.2, 360 lbf
        (15.0, 3.0, 3.0, 0.0, words.ON_RING, 300, 1000),  # x = 6:  3 + 3, 900 lbf
        (11.5, 3.0, 6.5, 0.0, words.ON_RING, 300, 2050),  # x = 9.5: 3 + 6.5, 1950 lbf
        (10.5, 3.0, 7.5, 0.0, words.BOUND, None, None),  # x = 10.5: the lower can take 7 only
    ],
)
def test_two_springs_and_a_ring_by_hand(height, upper, lower, ring, works, rate, load):
    found = by_hand(height)
    assert found.shaft == pytest.approx((height - 10) * IN)
    assert found.travel_used == pytest.approx((20 - height) * IN, abs=1e-12)
    assert found.upper_length == pytest.approx((10 - upper) * IN)
    assert found.lower_length == pytest.approx((12 - lower) * IN)
    assert found.upper_left == pytest.approx((6 - upper) * IN)
    assert found.lower_left == pytest.approx((7 - lower) * IN)
    assert found.ring_distance == pytest.approx(ring * IN, abs=1e-9)
    assert found.works == works
    assert found.rate == (None if rate is None else pytest.approx(rate * LBF_IN))
    assert found.load == (None if load is None else pytest.approx(load * LBF))
    assert found.loose == 0


def test_springs_too_short_hang_loose_by_what_is_missing():
    # Springs 1 1/2 in short at full droop, 1 in of it taken up by the nut: loose by 1/2 in, and the slider lower by it.
    found = by_hand(20.0, preload=1.0, datum=1.5)
    assert found.works == words.LOOSE
    assert found.loose == pytest.approx(0.5 * IN)
    assert (found.upper_length, found.lower_length) == pytest.approx((10 * IN, 12 * IN))
    assert found.ring_distance == pytest.approx(3.5 * IN)
    assert (found.rate, found.load) == (0.0, pytest.approx(100 * LBF))
    # Half an inch of shaft later they are just seated.
    assert by_hand(19.5, preload=1.0, datum=1.5).compression == pytest.approx(0, abs=1e-12)


def test_an_upper_that_goes_solid_before_its_ring_leaves_the_lower_to_work():
    # p = 4.5 in: ring gap + p = 6.5 in, but the upper has 10 − 4 = 6 in, at 1200 lbf. At x = 10.5 it would need 6.3, so
    # the lower takes 4.5 in, 1350 lbf.
    found = by_hand(14.0, preload=4.5)
    assert found.works == words.UPPER_SOLID
    assert found.upper_left == pytest.approx(0, abs=1e-12)
    assert found.lower_length == pytest.approx(7.5 * IN)
    assert found.ring_distance == pytest.approx(0.5 * IN)
    assert found.load == pytest.approx((1350 + 100) * LBF)


# ---------------------------------------------------------------- against brute force and the simulator


def least_energy(x, k, limit):
    """How two springs share x, by the least of their energy; a spring's share stops at its limit."""
    low, high = max(0.0, x - limit[1]), min(limit[0], x)
    found = minimize_scalar(
        lambda y: (k[0] * y**2 + k[1] * (x - y) ** 2) / 2,
        bounds=(low, high),
        method="bounded",
        options={"xatol": 1e-9},
    ).x
    return np.array([found, x - found])


def test_springs_share_a_compression_as_their_least_energy_asks_on_1000_random_stacks():
    rng = np.random.default_rng(0)
    on_ring = upper_solid = 0
    for _ in range(1000):
        rates = rng.uniform(50, 900, 2) * LBF_IN
        solid = rng.uniform(3, 9, 2) * IN
        limit = limits(solid, rng.uniform(0, 8) * IN, rng.uniform(0, 3) * IN)
        x = float(rng.uniform(0, 1) * limit.sum())
        each, force = pressed(x, 1 / rates, limit, solid)
        assert each == pytest.approx(least_energy(x, rates, limit), abs=2e-6)
        assert each.sum() == pytest.approx(x)
        free = each < limit - 1e-9
        assert force == pytest.approx((rates * each)[free], rel=1e-6)
        on_ring += bool(each[0] >= limit[0] - 1e-9 and limit[0] < solid[0])
        upper_solid += bool(each[0] >= solid[0] - 1e-9)
    assert on_ring > 100  # both kinds of stop have been met
    assert upper_solid > 20


@pytest.mark.parametrize("missing", [0.001, 0.03])
def test_what_no_spring_can_take_is_missing_at_the_spring_that_went_solid_last(missing):
    rng = np.random.default_rng(1)
    for _ in range(200):
        rates, solid = rng.uniform(50, 900, 2) * LBF_IN, rng.uniform(3, 9, 2) * IN
        limit = limits(solid, rng.uniform(0, 8) * IN, 0.0)
        each, force = pressed(float(limit.sum()) + missing, 1 / rates, limit, solid)
        assert np.isinf(force)
        left = solid - each
        assert min(left) == pytest.approx(-missing)
        short = int(np.argmin(left))
        assert short == 1 or (limit[0] == solid[0] and solid[0] * rates[0] > solid[1] * rates[1])


def truth_of(fitted, turns=None):
    """The independent machine with the fitted springs and datum put in, and its preload."""
    machine, strut = machine_of(fitted.truck), at_best(fitted)
    preload = fitted.preload.copy()
    for corner, count in (turns or {}).items():
        preload[CORNERS.index(corner)] += count * fitted.truck.corners[corner].adjuster.travel_per_turn
    with np.errstate(divide="ignore"):
        upper, lower = (1 / strut.compliance).T
    there = strut.compliance[:, 0] > 0
    return (
        replace(
            machine,
            upper_rate=np.where(there, upper, machine.upper_rate),
            lower_rate=lower,
            datum=strut.datum,
        ),
        preload,
    )


def wheel_loads_of(truck, seats):
    """Moments about the other wheel of a solid axle: each seat at b/2 from the middle, each wheel at t/2."""
    loads = []
    for i in range(4):
        end = truck.end(CORNERS[i])
        near = (end.track + end.spring_spacing) / 2 / end.track
        across = i ^ 1
        loads.append(end.unsprung_weight / 2 + seats[i] * near + seats[across] * (1 - near))
    return np.array(loads)


@pytest.mark.parametrize("turns", [{}, {"LF": 4, "RF": -3}])
@pytest.mark.parametrize("name", NAMES)
def test_loads_at_bump_strap_and_droop_are_the_simulators(samples, name, turns):
    fitted = samples[name]
    machine, preload = truth_of(fitted, turns)
    answer = travel(fitted, turns, draws=20)
    for place in ("bump", "strap", "droop"):
        heights = np.array(
            [getattr(c.positions.get(place), "height", np.nan) for c in answer.corners.values()]
        )
        seats, _ = seat_force(machine, heights, preload)
        expected = wheel_loads_of(fitted.truck, seats)
        known = ~np.isnan(heights)
        found = [c.positions[place].load for c in answer.corners.values() if place in c.positions]
        assert np.array(found) == pytest.approx(expected[known], rel=1e-6)


@LAWS
@given(seeds)
def test_the_load_curve_is_the_simulators_over_the_whole_travel_of_random_trucks(seed):
    drawn = Drawn(seed)
    fitted = fit(drawn.truck, drawn.log(2))
    machine, preload = truth_of(fitted)
    for i, corner in enumerate(CORNERS):
        curve = travel_curve(fitted, corner)
        if fitted.truck.corners[corner].shock is None:
            assert curve is None
            continue
        heights = np.full((len(curve.height), 4), np.nan)
        heights[:, i] = curve.height
        seats, _ = seat_force(machine, heights, preload)
        assert curve.load[1:] == pytest.approx(seats[1:, i], rel=1e-6, abs=0.1)
        assert np.all(np.diff(curve.height) > 0)
        at = {e.height: e.load for e in curve.events}
        assert list(at) == sorted(at)
        assert {"full bump", "ride", "full droop"} <= {e.name for e in curve.events}


# ---------------------------------------------------------------- laws


@LAWS
@given(seeds, st.floats(-6, 6))
def test_what_holds_of_every_truck_at_every_setting(seed, turn):
    drawn = Drawn(seed)
    fitted = fit(drawn.truck, drawn.log(2))
    turns = dict.fromkeys(drawn.nuts, round(turn * 4) / 4)
    answer = travel(fitted, turns, draws=50, seed=3)
    expected = predict(fitted, turns, draws=50, seed=3)
    for corner, found in answer.corners.items():
        assert found.height == expected.corners[corner].height_after
        own = fitted.truck.corners[corner]
        if own.shock is None:
            assert set(found.positions) == {"ride"}
            assert found.checks == ()
            continue
        nuts = []
        for position in found.positions.values():
            assert position.shaft + position.travel_used == pytest.approx(own.shock.stroke)
            lengths = position.lower_length + (position.upper_length or 0.0)
            assert own.stack.free_length - lengths == pytest.approx(max(position.compression, 0.0), abs=1e-12)
            assert (position.loose > 0) <= (position.works == words.LOOSE)
            if position.ring_distance is not None:
                assert position.ring_distance >= -1e-12
            drawn_to = drawing(position, own.stack, own.shock.stroke)
            nuts.append(drawn_to.nut)
            if drawn_to.ring is not None:
                nuts.append(drawn_to.ring + found.preload - own.stack.ring_gap)
        per = 2 if own.stack.ring_gap is not None else 1
        assert np.ptp(nuts[::per]) < 1e-9  # the body stays, so nut and ring stand where they are
        assert np.ptp(nuts[1::2] if per == 2 else nuts) < 1e-9


@pytest.mark.parametrize("name", NAMES)
def test_a_turn_moves_springs_but_no_shaft_at_the_ends_of_travel(samples, name):
    fitted = samples[name]
    before, after = travel(fitted, draws=20).corners["LF"], travel(fitted, {"LF": 3}, draws=20).corners["LF"]
    wound = 3 * fitted.truck.corners["LF"].adjuster.travel_per_turn
    for place in ("bump", "strap", "droop"):
        was, now = before.positions[place], after.positions[place]
        assert (now.height, now.shaft) == (was.height, was.shaft)
        assert now.compression - was.compression == pytest.approx(wound)
        if words.ON_RING in (was.works, now.works):  # there the nut only takes load off the upper
            assert now.load == pytest.approx(was.load)
        else:
            assert now.load > was.load
    assert after.height.mean > before.height.mean
    assert after.positions["ride"].shaft > before.positions["ride"].shaft


@pytest.mark.parametrize("name", NAMES)
def test_the_wheels_at_ride_carry_the_truck(samples, name):
    fitted = samples[name]
    weight = fitted.parameters(fitted.theta[None]).weight
    loads = [c.positions["ride"].load for c in travel(fitted, {"LF": 2}, draws=20).corners.values()]
    assert sum(loads[:2]) == pytest.approx(float(weight.front[0]))
    assert sum(loads[2:]) == pytest.approx(float(weight.rear[0]))


def test_an_unweighed_leaf_has_no_load():
    truck = load_truck(path("market_van") / "truck.toml")
    first = runs_of(read_readings_file(path("market_van") / "readings.csv", truck))[:1]
    answer = travel(fit(truck, first), draws=20)
    assert answer.corners["LR"].positions["ride"].load is None
    assert answer.corners["LF"].positions["ride"].load is not None


def test_the_answer_does_not_depend_on_the_units_it_is_shown_in(samples):
    fitted = samples["night_shift"]
    metric = replace(fitted, truck=replace(fitted.truck, units="metric"))
    one, other = travel(fitted, draws=20), travel(metric, draws=20)
    for corner in CORNERS:
        assert other.corners[corner].positions == one.corners[corner].positions
        values = [[(c.name, c.ok, c.value) for c in a.corners[corner].checks] for a in (one, other)]
        assert values[0] == values[1]
    assert "mm" in other.corners["LF"].checks[0].limit


def test_turns_where_there_is_no_nut_are_refused(samples):
    with pytest.raises(AdjustError, match="LR has no adjuster; those with one: LF, RF"):
        travel(samples["market_van"], {"LR": 1})
    with pytest.raises(AdjustError, match="LR has no adjuster"):
        travel_curve(samples["market_van"], "LF", {"LR": 1})


# ---------------------------------------------------------------- checks, and what mends them


def test_a_sound_truck_passes_every_check(samples):
    for corner in travel(samples["night_shift"], draws=20).corners.values():
        assert [c.name for c in corner.checks if not c.ok] == []
        assert len(corner.checks) == 10


def test_a_shock_that_may_bottom_is_told_how_much_sooner_to_stop_and_that_mends_it(samples):
    fitted = samples["night_shift"]
    low = with_travel(fitted, "LF", height_full_bump=16.0 * IN)
    found = check(low, "LF", "shaft showing at full bump")
    assert found.ok is False
    assert found.value < 0.5 * IN
    sooner = figure(found.mend)
    mended = check(with_travel(fitted, "LF", height_full_bump=16.0 * IN + sooner), "LF", "shaft showing")
    assert mended.value == pytest.approx(0.5 * IN, abs=0.01 * IN)
    assert found.limit == "1/2 in to 1 in (common practice)"


def test_more_shaft_than_need_be_passes_with_what_is_given_away(samples):
    fitted = samples["night_shift"]
    found = check(with_travel(fitted, "LF", height_full_bump=18 * IN), "LF", "shaft showing")
    assert found.ok is True
    spare = figure(found.mend)
    used = check(with_travel(fitted, "LF", height_full_bump=18 * IN - spare), "LF", "shaft showing")
    assert used.value == pytest.approx(1.0 * IN, abs=0.01 * IN)


@pytest.mark.parametrize(("height", "ok"), [(28.6, False), (27.8, False), (26.5, True), (24.0, True)])
def test_a_strap_leaves_the_shock_an_inch_and_a_half_to_two(samples, height, ok):
    fitted = samples["night_shift"]
    found = check(with_travel(fitted, "LF", height_strap=height * IN), "LF", "left at the strap")
    assert found.ok is ok
    if height != 26.5:
        low, high = (text.split(" in")[0] for text in found.mend.split("axle at ")[1].split(" to "))
        for text, left in ((low, 2.0), (high, 1.5)):
            whole, _, part = text.partition(" ")
            over, under = part.split("/") if part else (0, 1)
            strap = (int(whole) + int(over) / int(under)) * IN
            at = check(with_travel(fitted, "LF", height_strap=strap), "LF", "left at the strap")
            assert at.value == pytest.approx(left * IN, abs=0.04 * IN)


def test_a_strap_longer_than_the_shock_stops_nothing(samples):
    found = travel(with_travel(samples["night_shift"], "LF", height_strap=29 * IN), draws=20).corners["LF"]
    assert found.positions["strap"].height == found.positions["droop"].height
    assert any("it stops the axle, not the strap" in note for note in found.notes)


def test_what_was_not_measured_is_said_and_not_made_up(samples):
    bare = with_corner(
        samples["night_shift"],
        "LF",
        travel=Travel(),
        shock=Shock(12 * IN),
    )
    found = travel(bare, draws=20).corners["LF"]
    unmeasured = {c.name: c for c in found.checks if c.ok is None}
    assert set(unmeasured) == {
        "shock travel left at the strap",
        "bump stop at full bump",
        "shock upright as seen from the side",
    }
    assert all(c.value is None and c.mend for c in unmeasured.values())
    assert found.positions["bump"].height == pytest.approx(16.5 * IN)  # the lowest of the cycle table
    assert found.positions["strap"].height == found.positions["droop"].height
    assert len(found.notes) == 2


@pytest.mark.parametrize(
    ("kind", "contact", "ok", "said"),
    [
        ("hydraulic", 18.75, True, ""),
        ("hydraulic", 18.70, True, ""),  # a tape tells no better
        ("hydraulic", 18.25, False, "0.50 in left at full bump"),
        ("hydraulic", 19.50, False, "solid 0.75 in before full bump"),
        ("hydraulic", None, None, "raise the axle until the stop just touches"),
        ("soft", 17.50, True, ""),
        ("soft", 16.50, False, "does not touch before full bump"),
        ("soft", 19.00, False, "solid 0.25 in before full bump"),
        ("soft", None, None, "raise the axle until the stop just touches"),
    ],
)
def test_a_hydraulic_stop_is_used_up_at_full_bump_and_a_soft_one_is_not(samples, kind, contact, ok, said):
    """Full bump is at 16 3/4 in and the stop has 2 in."""
    changed = with_travel(
        samples["night_shift"],
        "LF",
        bump_stop=kind,
        bump_stop_contact=None if contact is None else contact * IN,
    )
    found = check(changed, "LF", "bump stop at full bump")
    assert found.ok is ok
    assert said in found.mend
    if contact is not None:
        squash = (contact - 16.75) * IN
        assert found.value == pytest.approx(squash if kind == "hydraulic" else 2 * IN - squash)


def test_a_soft_stop_must_leave_shaft_and_springs_room_when_it_is_squashed_solid(samples):
    """Touching at 17 1/2 in, solid 2 in lower at 15 1/2: a full inch under the lowest cycled height, no shaft left."""
    soft = with_travel(samples["night_shift"], "LF", bump_stop="soft", bump_stop_contact=17.5 * IN)
    found = travel(soft, draws=20).corners["LF"]
    assert found.positions["squashed"].height == pytest.approx(15.5 * IN)
    assert found.positions["squashed"].shaft < 0 < found.positions["bump"].shaft
    assert check(soft, "LF", "shaft showing at bump stop squashed solid").ok is False
    assert check(soft, "LF", "lower clear of coil bind at bump stop squashed solid").value == pytest.approx(
        found.positions["squashed"].lower_left
    )


def test_loose_springs_are_told_the_turns_that_seat_them(samples):
    fitted = samples["night_shift"]
    loose = {"LF": -41.0}
    found = check(fitted, "LF", "springs seated", loose)
    assert found.ok is False
    assert "loose by" in found.mend
    more = figure(found.mend.split(":")[1])
    quarters = np.ceil(more * 12 / IN * 4) / 4
    whole, part = divmod(quarters, 1)
    assert f"({whole:.0f}{ {0: '', 0.25: '¼', 0.5: '½', 0.75: '¾'}[part] } turn" in found.mend
    assert check(fitted, "LF", "springs seated", {"LF": -41.0 + quarters}).ok is True
    assert check(fitted, "LF", "springs seated", {"LF": -41.0 + quarters - 0.5}).ok is False


@pytest.mark.parametrize(("gap", "way"), [(0.3, "up"), (6.15, "down")])
def test_a_ring_moved_as_advised_puts_the_crossover_in_the_middle(samples, gap, way):
    fitted = samples["night_shift"]

    def ringed(inches):
        return with_stack(fitted, replace(fitted.stacks[0], ring_gap=inches * IN))

    wrong = ringed(gap)
    answer = travel(wrong, draws=20).corners["LF"]
    found = check(wrong, "LF", "crossover")
    assert found.ok is False
    assert f"move the ring {way}" in found.mend
    move = figure(found.mend.split(";")[1]) / IN * (1 if way == "up" else -1)
    bump, ride = answer.positions["bump"].height, answer.positions["ride"].height
    moved = travel(ringed(gap + move), draws=20).corners["LF"]
    assert moved.crossover == pytest.approx((bump + ride) / 2, abs=0.03 * IN)
    assert check(ringed(gap + move), "LF", "slider off its ring").ok is True


def test_a_slider_on_its_ring_at_ride_is_found(samples):
    fitted = samples["night_shift"]
    stack = replace(fitted.stacks[0], ring_gap=0.5 * IN)
    changed = with_stack(fitted, stack)
    found = check(changed, "LF", "slider off its ring")
    assert found.ok is False
    assert "does nothing to the height" in found.mend
    assert travel(changed, draws=20).corners["LF"].positions["ride"].works == words.ON_RING


def test_a_coil_that_binds_before_the_stop_has_no_load_and_the_missing_travel_is_said(samples):
    found = travel(samples["night_shift"], {"LF": 60}, draws=20).corners["LF"]
    bump = found.positions["bump"]
    assert (bump.works, bump.load, bump.rate) == (words.BOUND, None, None)
    assert bump.lower_left < 0
    bind = next(c for c in found.checks if c.name.startswith("lower clear"))
    assert (bind.ok, bind.value) == (False, bump.lower_left)
    assert found.checks[0].ok is False  # worst first
    curve = travel_curve(samples["night_shift"], "LF", {"LF": 60})
    assert curve.height[0] > bump.height
    assert next(e for e in curve.events if e.name == "full bump").load is None
    assert next(e for e in curve.events if e.name == "lower coil-bound").height == pytest.approx(
        curve.height[0]
    )


def test_a_spring_of_unknown_length_is_not_measured_and_has_no_length(samples):
    fitted = samples["night_shift"]
    stack = replace(fitted.stacks[0], upper=Spring(fitted.stacks[0].upper.rate))
    changed = with_stack(fitted, stack)
    found = travel(changed, draws=20).corners["LF"]
    assert found.positions["ride"].upper_length is None
    assert found.positions["ride"].lower_length is not None
    assert next(c for c in found.checks if c.name.startswith("upper clear")).ok is None
    assert drawing(found.positions["ride"], stack, 12 * IN) is None


@pytest.mark.parametrize(("degrees", "ok"), [(0, True), (5, True), (5.5, False), (None, None)])
def test_a_shock_may_lean_five_degrees(samples, degrees, ok):
    shock = replace(
        samples["night_shift"].truck.corners["LF"].shock,
        side_lean=None if degrees is None else float(np.radians(degrees)),
    )
    assert check(with_corner(samples["night_shift"], "LF", shock=shock), "LF", "upright").ok is ok


def first_set_down(inches):
    """The template's truck read once, with this much preload in front."""
    text = "run,taken_at,corner,height [in],load [lbf],preload [in],stack\n" + "".join(
        f"r1,2026-05-02,{c},22,,{inches if c[1] == 'F' else ''},\n" for c in CORNERS
    )
    truck = read_truck(truck_template())
    return fit(truck, runs_of(read_readings(text, truck)))


@pytest.mark.parametrize(("inches", "ok"), [(0.5, True), (0.75, True), (0.2, False), (1.5, False)])
def test_the_first_set_down_wants_about_half_an_inch_of_preload(inches, ok):
    assert check(first_set_down(inches), "LF", "first set-down").ok is ok


def test_later_runs_are_not_asked_for_the_first_preload(samples):
    names = [c.name for c in travel(samples["night_shift"], draws=20).corners["LF"].checks]
    assert not any("first" in name for name in names)


@pytest.mark.parametrize(
    ("turns", "ok"), [(0, True), (23, True), (23.25, False), (-18.75, True), (-19, False)]
)
def test_turns_past_either_end_of_the_thread_are_seen(samples, turns, ok):
    """LF has 1.583 in of 3 1/2, twelve turns to the inch: 23.004 turns left down, 18.996 up."""
    found = check(samples["night_shift"], "LF", "inside the thread", {"LF": turns})
    assert found.ok is ok


def test_an_owners_practice_is_gone_by_and_called_theirs(samples):
    fitted = samples["night_shift"]
    own = replace(fitted.truck.practice, clear_of_solid=1.5 * IN)
    changed = replace(fitted, truck=replace(fitted.truck, practice=own))
    found = check(changed, "LF", "upper clear")
    assert found.ok is False
    assert found.limit == "1 1/2 in or more (your practice)"


def test_a_truck_that_stands_on_its_bump_stop_is_told_so(samples):
    found = travel(with_travel(samples["night_shift"], "LF", height_full_bump=22 * IN), draws=20).corners[
        "LF"
    ]
    assert any("stands on its bump stop" in note for note in found.notes)
    assert found.up_travel < 0


def test_the_templates_truck_passes_but_for_what_it_leaves_unmeasured():
    found = travel(first_set_down(0.5), draws=20)
    assert [c.name for c in found.corners["LF"].checks if not c.ok] == ["shock upright as seen from the side"]


def test_a_stack_may_have_no_ring(samples):
    fitted = samples["night_shift"]
    stack = Stack("no ring", fitted.stacks[0].lower, fitted.stacks[0].upper)
    changed = with_stack(fitted, stack)
    found = travel(changed, draws=20).corners["LF"]
    assert not any("slider" in c.name or "crossover" in c.name for c in found.checks)
    assert found.positions["bump"].ring_distance is None


# ---------------------------------------------------------------- the command


def asked(*more, name="night_shift"):
    source = ["--truck", str(path(name) / "truck.toml"), "--readings", str(path(name) / "readings.csv")]
    return CliRunner().invoke(main, ["travel", *source, *more])


KEYS = {
    *("height", "shaft", "travel_used", "upper_length", "lower_length", "ring_distance", "rate", "load"),
    *("upper_left", "lower_left", "loose", "works"),
}


@pytest.mark.parametrize("name", NAMES)
def test_the_document_carries_the_answer_in_the_owners_units(samples, name):
    result = asked("--json", "--turns", "LF=1 1/4", name=name)
    assert result.exit_code == 0, result.output
    document = json.loads(result.stdout)
    answer = travel(samples[name], {"LF": 1.25})
    unit = {"in": IN, "mm": 0.001}[document["units"]["height"]]
    for corner, found in document["corners"].items():
        assert {"bump", "ride", "strap", "droop"} <= set(found["positions"])
        for place, position in found["positions"].items():
            assert set(position) == KEYS
            own = answer.corners[corner].positions.get(place)
            for key in ("height", "shaft", "lower_length", "ring_distance"):
                value = getattr(own, key, None)
                assert position[key] == (None if value is None else pytest.approx(value / unit))
        for said, meant in zip(found["checks"], answer.corners[corner].checks, strict=True):
            assert {"name", "ok", "value", "unit", "limit", "mend"} <= set(said)
            assert said["ok"] is meant.ok
    assert document["turns"] == {"LF": 1.25}


def test_a_leaf_has_every_position_and_nothing_invented_in_it():
    document = json.loads(asked("--json", name="market_van").stdout)
    rear = document["corners"]["LR"]
    assert all(set(p.values()) == {None} for place, p in rear["positions"].items() if place != "ride")
    assert rear["positions"]["ride"]["height"] == pytest.approx(505.3, abs=5)
    assert rear["positions"]["ride"]["shaft"] is None
    assert rear["checks"] == []


def test_the_table_says_attention_first_and_what_would_mend_it():
    text = asked(name="market_van").stdout
    lines = text.split("\n")
    assert lines[2].startswith(
        "LF RF: ATTENTION: shock travel left at the strap: 21.1 mm; wanted 38 mm to 51 mm"
    )
    assert "a shorter strap" in lines[2]
    assert "can kill" in text
    assert "no shock to measure on" in text


@pytest.mark.parametrize(
    ("turns", "said"),
    [
        ("LR=1", "LR has no adjuster"),
        ("LF", "is not a corner's turns"),
        ("XX=1", "is not a corner's turns"),
        ("LF=1,LF=2", "is not a corner's turns"),
        ("LF=nan", "is not a number"),
        ("LF=1e9", "is not a number"),
        ("LF=101", "no thread has a hundred turns"),
    ],
)
def test_rubbish_turns_are_refused_in_one_line(turns, said):
    result = asked("--turns", turns, name="market_van")
    assert result.exit_code == 2
    assert said in result.stderr
    assert "Traceback" not in result.output


@pytest.mark.parametrize("turns", [-1.5, 0.0, 1.0])
@pytest.mark.parametrize(("share", "warned"), [(0.98, False), (1.02, True)])
def test_turns_that_leave_less_than_practice_asks_before_coil_bind_are_said_to(samples, turns, share, warned):
    """By what the travel finds to be left at the hardest bump, at the spring with least of it."""
    night, asked = samples["night_shift"], {"LF": turns}
    found = travel(night, asked, draws=20).corners["LF"].positions
    hardest = found.get("squashed", found["bump"])
    left = min(v for v in (hardest.upper_left, hardest.lower_left) if v is not None)
    practice = replace(night.truck.practice, clear_of_solid=share * left)
    strict = replace(night, truck=replace(night.truck, practice=practice))
    said = [
        line
        for line in predict(strict, asked, draws=20).limits
        if line.startswith("LF") and "coil bind" in line
    ]
    assert bool(said) is warned
