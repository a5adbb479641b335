"""Laws of springs in series with stops, and of the one root finder, checked against scipy and brute force."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq, minimize

from tuning import stack as springs
from tuning.root import monotone_root
from tuning.truck import Spring, Stack

LAWS = settings(deadline=None, derandomize=True, max_examples=200)

rate = st.floats(3e3, 3e5)  # N/m
travel = st.floats(0.02, 0.5)  # m
share = st.floats(0.0, 1.0)


@st.composite
def stacks(draw, most=4):
    """Compliances and limits of one to four springs, (n,) each."""
    n = draw(st.integers(1, most))
    rates = draw(st.lists(rate, min_size=n, max_size=n))
    return 1 / np.array(rates), np.array(draw(st.lists(travel, min_size=n, max_size=n)))


def most_force(compliance, limit):
    """Force at which the last spring stops."""
    return float((limit / compliance).max())


def deflection(load, compliance, limit):
    return float(springs.deflection(np.array(load), compliance, limit))


def force(pressed, compliance, limit):
    return float(springs.force(np.array(pressed), compliance, limit))


# ---------------------------------------------------------------- the curve of a stack


@LAWS
@given(stacks(), share)
def test_force_is_the_inverse_of_deflection_below_the_last_stop(stack, part):
    """To rounding: what deflection loses in its last place, the stiffest line multiplies by its rate."""
    load = part * most_force(*stack) * (1 - 1e-9)
    rounding = 8 * np.spacing(stack[1].sum()) / stack[0].min()
    assert force(deflection(load, *stack), *stack) == pytest.approx(load, rel=1e-12, abs=rounding)


@LAWS
@given(stacks(), share)
def test_deflection_is_the_inverse_of_force_below_the_last_stop(stack, part):
    pressed = part * stack[1].sum() * (1 - 1e-9)
    assert deflection(force(pressed, *stack), *stack) == pytest.approx(pressed, rel=1e-12, abs=1e-15)


@LAWS
@given(stacks(), share, share)
def test_more_force_presses_a_stack_further_and_ever_less_so(stack, one, other):
    low, high = sorted((one * most_force(*stack), other * most_force(*stack)))
    at = [deflection(v, *stack) for v in (low, (low + high) / 2, high)]
    assert at[0] <= at[1] <= at[2]
    assert at[1] - at[0] >= at[2] - at[1] - 1e-12


@LAWS
@given(stacks())
def test_a_stack_pressed_past_its_last_stop_is_bound_and_a_loose_one_carries_nothing(stack):
    solid = stack[1].sum()
    assert deflection(2 * most_force(*stack), *stack) == pytest.approx(solid, rel=1e-15)
    assert force(solid * (1 + 1e-9), *stack) == np.inf
    assert np.isfinite(force(solid * (1 - 1e-9), *stack))
    for loose in (0.0, -1.0, -1e6):
        assert deflection(loose, *stack) == 0.0
        assert force(loose, *stack) == 0.0


@LAWS
@given(stacks(), share)
def test_the_lines_of_a_ladder_give_the_same_curve(stack, part):
    load = np.array(1.2 * part * most_force(*stack))
    along = springs.deflection_along(load, springs.ladder(*stack))
    assert along == pytest.approx(deflection(load, *stack), rel=1e-12, abs=1e-15)


@LAWS
@given(stacks(), st.permutations(range(4)), share)
def test_it_does_not_matter_which_spring_stands_on_which(stack, order, part):
    compliance, limit = stack
    order = [i for i in order if i < len(limit)]
    load = part * most_force(*stack)
    assert deflection(load, compliance[order], limit[order]) == pytest.approx(
        deflection(load, *stack), rel=1e-14
    )


@LAWS
@given(stacks(), share, st.floats(0.0, 3e5))
def test_a_load_is_shared_with_a_spring_that_stands_beside(stack, part, beside):
    load = part * most_force(*stack)
    lines = springs.ladder(*stack)
    carried = float(springs.shared_force(np.array(load), lines, np.array(beside)))
    rest = beside * deflection(carried, *stack)
    assert carried + rest == pytest.approx(load, rel=1e-11, abs=1e-9)
    assert springs.shared_force(np.array(-load - 1.0), lines, np.array(beside)) == 0


@pytest.mark.parametrize("springs_on", [1, 2])
def test_many_deflections_of_one_stack_are_each_answered_alone(springs_on):
    compliance, limit = np.array([1e-5, 2e-5])[:springs_on], np.array([0.3, 0.2])[:springs_on]
    pressed = np.array([0.01, 0.02, 0.03])[: springs_on + 1]
    alone = [force(x, compliance, limit) for x in pressed]
    assert springs.force(pressed, compliance, limit).tolist() == alone


# ---------------------------------------------------------------- brute force


def test_springs_share_a_deflection_as_the_least_energy_has_it():
    """Σ ½ k y² over all ways of splitting the deflection, each y between nought and its stop: by a general
    minimiser, which knows of no lines, knees or inverses."""
    unit = 1e4  # J: so that the minimiser's tolerances are about one part in a billion
    for seed in range(300):
        rng = np.random.default_rng(seed)
        n = int(rng.integers(2, 5))
        rates, limit = rng.uniform(1e4, 2e5, n), rng.uniform(0.02, 0.3, n)
        pressed = rng.uniform(0.02, 0.98) * limit.sum()
        found = minimize(
            lambda y, rates=rates: (rates * y**2).sum() / 2 / unit,
            pressed * limit / limit.sum(),
            jac=lambda y, rates=rates: rates * y / unit,
            bounds=[(0, v) for v in limit],
            constraints={
                "type": "eq",
                "fun": lambda y, pressed=pressed: y.sum() - pressed,
                "jac": lambda y: np.ones(len(y)),
            },
            method="SLSQP",
            options={"ftol": 1e-16, "maxiter": 500},
        )
        assert abs(found.x.sum() - pressed) < 1e-9, seed
        load = force(pressed, 1 / rates, limit)
        shares = np.minimum(load / rates, limit)
        energy = (rates * shares**2).sum() / 2
        assert shares.sum() == pytest.approx(pressed, rel=1e-12), seed
        assert energy <= found.fun * unit * (1 + 1e-9), seed
        assert energy == pytest.approx(found.fun * unit, rel=1e-5), seed


# ---------------------------------------------------------------- two springs on one shock


@st.composite
def dual_stacks(draw):
    """An upper and a lower spring that never bind, and a ring for the slider between them."""
    return Stack("two", Spring(draw(rate)), Spring(draw(rate)), draw(st.floats(0.005, 0.2)))


def limits(stack, preload):
    return springs.limits(springs.solid_travels(stack), np.array(stack.ring_gap), np.array(preload))


@LAWS
@given(dual_stacks(), st.floats(0.0, 0.09), st.floats(0.001, 0.09))
def test_preload_delays_the_crossover_by_the_upper_springs_rate(stack, preload, more):
    compliance = springs.compliances(stack)
    for wound in (preload, preload + more):
        meets = stack.upper.rate * (stack.ring_gap + wound)
        limit = limits(stack, wound)
        for load, works in ((meets * (1 - 1e-9), 1.0), (meets * (1 + 1e-9), 0.0)):
            assert springs.working(np.array(load), compliance, limit)[0] == works


@LAWS
@given(dual_stacks(), st.floats(0.0, 0.09), st.floats(0.001, 0.09), share)
def test_a_nut_raises_one_for_one_off_the_ring_and_not_at_all_on_it(stack, preload, more, part):
    """Height left at a load: what preload adds less what the stack gives way."""
    load = np.array(part * 2 * stack.upper.rate * (stack.ring_gap + preload + more))
    compliance = springs.compliances(stack)
    limit = [limits(stack, p) for p in (preload, preload + more)]
    gave_way = [springs.deflection(load, compliance, v) for v in limit]
    raised = more - float(gave_way[1] - gave_way[0])
    meets = stack.upper.rate * (stack.ring_gap + np.array([preload, preload + more]))
    if load <= meets[0]:
        assert raised == pytest.approx(more, abs=1e-12)
    elif load >= meets[1]:
        assert raised == pytest.approx(0, abs=1e-12)
    else:
        assert -1e-12 <= raised <= more + 1e-12


@LAWS
@given(dual_stacks(), st.floats(0.0, 0.09))
def test_springs_in_series_are_softer_than_either_and_the_lower_alone_after_the_ring(stack, preload):
    compliance, limit = springs.compliances(stack), limits(stack, preload)
    meets = stack.upper.rate * (stack.ring_gap + preload)
    both = meets * np.array([0.3, 0.4])
    soft = np.diff(both) / np.diff(springs.deflection(both, compliance, limit))
    assert soft[0] == pytest.approx(1 / (1 / stack.upper.rate + 1 / stack.lower.rate), rel=1e-9)
    alone = meets * np.array([1.1, 1.2])
    stiff = np.diff(alone) / np.diff(springs.deflection(alone, compliance, limit))
    assert stiff[0] == pytest.approx(stack.lower.rate, rel=1e-9)


# ---------------------------------------------------------------- the root finder

TOLERANCE = 1e-9


def kinked(rng):
    """A straight-line function of many pieces, some nearly flat, some steep: (f, low, high)."""
    x = np.sort(rng.uniform(-5, 5, 12))
    slopes = 10 ** rng.uniform(-4, 4, 11)
    y = np.concatenate([[0.0], np.cumsum(slopes * np.diff(x))])
    y -= y[0] + rng.uniform(0.02, 0.98) * (y[-1] - y[0])
    return (lambda v: np.interp(v, x, y)), x[0], x[-1]


def smooth(rng):
    """A cubic that is flat near its root, an exponential, a wall: (f, low, high)."""
    root = rng.uniform(-2, 2)
    steep = 10 ** rng.uniform(0, 5)
    kind = rng.integers(4)
    f = [
        lambda v: (v - root) ** 3,
        lambda v: np.exp(2 * (v - root)) - 1,
        lambda v: np.tanh(steep * (v - root)),
        lambda v: (v - root) * (1 + steep * np.maximum(v - root, 0.0)),
    ][kind]
    return f, -3.0, 3.0


class Watched:
    """A function that keeps where it was asked."""

    def __init__(self, f):
        self.f, self.asked = f, []

    def __call__(self, x):
        self.asked.append(np.array(x))
        return self.f(x)


@pytest.mark.parametrize("make", [kinked, smooth])
def test_root_agrees_with_a_library_and_never_leaves_its_bracket(make):
    for seed in range(200):
        f, low, high = make(np.random.default_rng(seed))
        watched = Watched(f)
        found = monotone_root(watched, np.array([low]), np.array([high]), TOLERANCE)[0]
        want = brentq(lambda v, f=f: float(f(v)), low, high, xtol=1e-15, rtol=1e-14, maxiter=5000)
        # Where f is steep, two neighbouring doubles straddle the tolerance: then it is the place that must agree.
        assert abs(float(f(found))) <= TOLERANCE or abs(found - want) <= 1e-13 * max(1.0, abs(want)), seed
        asked = np.concatenate(watched.asked)
        assert asked.min() >= low, seed
        assert asked.max() <= high, seed
        assert len(asked) <= 100, seed


def test_many_roots_at_once_are_each_found_as_if_alone():
    made = [kinked(np.random.default_rng(seed)) for seed in range(40)]
    low, high = (np.array([m[i] for m in made]) for i in (1, 2))

    def all_at_once(x):
        return np.array([f(v) for (f, _, _), v in zip(made, x, strict=True)])

    together = monotone_root(all_at_once, low, high, TOLERANCE)
    alone = [monotone_root(f, np.array([a]), np.array([b]), TOLERANCE)[0] for f, a, b in made]
    assert together.tolist() == alone


@LAWS
@given(st.floats(-1e3, 1e3), st.floats(1e-3, 1e3))
def test_straight_functions_are_done_after_one_step(root, slope):
    watched = Watched(lambda v: slope * (v - root))
    found = monotone_root(watched, np.array([root - 7.0]), np.array([root + 3.0]), 1e-6)
    assert found[0] == pytest.approx(root, abs=2e-6 / slope, rel=1e-9)
    assert len(watched.asked) <= 4


@pytest.mark.parametrize("shift", [-2.0, 2.0])
def test_a_function_that_keeps_its_sign_answers_with_the_nearer_end(shift):
    found = monotone_root(lambda v: v + shift, np.array([-1.0]), np.array([1.0]), TOLERANCE)
    assert found[0] == -np.sign(shift)


def test_a_root_on_an_end_of_the_bracket_is_found():
    for end in (-1.0, 1.0):
        found = monotone_root(lambda v, end=end: v - end, np.array([-1.0]), np.array([1.0]), TOLERANCE)
        assert found[0] == pytest.approx(end, abs=2 * TOLERANCE)


@pytest.mark.parametrize(
    ("end", "past"),
    [
        (-1.0, -0.5),
        (-1.0, 0.5),
        (1.0, -0.5),
        (1.0, 0.5),
    ],
)
def test_a_root_within_tolerance_of_an_end_is_found_there(end, past):
    """The value at that end is zero as far as anyone cares: the other end would be plainly wrong."""
    found = monotone_root(lambda v: v - end + past * TOLERANCE, np.array([-1.0]), np.array([1.0]), TOLERANCE)
    assert found[0] == pytest.approx(end, abs=2 * TOLERANCE)
