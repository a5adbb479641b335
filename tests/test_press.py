"""A spring in a press: against general libraries, a published inverse, and simulated presses whose truth is known."""

import csv
import re
import tomllib
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats
from scipy.optimize import brentq, curve_fit, minimize_scalar

from tuning.press import CLOSEST, PressError, crossing, press
from tuning.regression import regress
from tuning.solid import solid
from tuning.stack import compliances, deflection, limits, solid_travels
from tuning.truck import Spring, Stack

REFERENCES = Path(__file__).parent / "references"
LBF_PER_INCH, LBF, INCH = 4.4482216152605 / 0.0254, 4.4482216152605, 0.0254
FREE, SOFT, STIFF, KNEE = 14 * INCH, 130 * LBF_PER_INCH, 245 * LBF_PER_INCH, 11 * INCH


def straight(lengths, rate=300 * LBF_PER_INCH, free=FREE):
    return rate * (free - lengths)


def kneed(lengths, knee=KNEE):
    return SOFT * (FREE - lengths) + (STIFF - SOFT) * np.maximum(knee - lengths, 0)


def stops(count, first=13.5, last=8.5):
    return np.linspace(first, last, count) * INCH


def noise(seed, count, sd=8 * LBF):
    return sd * np.random.default_rng(seed).standard_normal(count)


def holds(interval, truth):
    return interval.low <= truth <= interval.high


def same(found, other, rel=1e-9):
    return (found.low, found.mean, found.high) == pytest.approx((other.low, other.mean, other.high), rel=rel)


# ---------------------------------------------------------------- one line, against libraries


@pytest.mark.parametrize("count", [3, 4, 5, 9, 40])
@pytest.mark.parametrize("seed", range(5))
def test_one_line_is_that_of_scipy_and_numpy(count, seed):
    lengths = stops(count)
    forces = straight(lengths) + noise(seed, count)
    found, line = press(forces, lengths), stats.linregress(lengths, forces)
    if found.knee is not None:
        pytest.fail("these straight springs were seen to have none")
    assert found.rate.mean == pytest.approx(-line.slope, rel=1e-9)
    assert found.rate.mean == pytest.approx(-np.polyfit(lengths, forces, 1)[0], rel=1e-9)
    half = stats.t.ppf(0.95, count - 2) * line.stderr
    assert found.rate.high - found.rate.mean == pytest.approx(half, rel=1e-6)
    assert found.free_length.mean == pytest.approx(-line.intercept / line.slope, rel=1e-9)
    left = forces - line.intercept - line.slope * lengths
    assert found.scatter == pytest.approx(np.sqrt(left @ left / (count - 2)), rel=1e-6)


@pytest.mark.parametrize("seed", range(3))
def test_a_line_through_nists_norris_set_has_its_certified_slope(seed):
    """Ozone monitors: certified slope and its error, to the digits of doubles; the lengths turned round."""
    certified = tomllib.loads((REFERENCES / "nist_strd.toml").read_text("utf-8"))["norris"]
    with (REFERENCES / certified["file"]).open(newline="") as file:
        y, x = np.array([[float(cell) for cell in row] for row in list(csv.reader(file))[1:]]).T
    order = np.random.default_rng(seed).permutation(len(x))
    found = press(y[order], 1000.0 - x[order])
    assert found.rate.mean == pytest.approx(float(certified["estimate"][1]), rel=1e-10)
    half = stats.t.ppf(0.95, 34) * float(certified["sd"][1])
    assert found.rate.high - found.rate.mean == pytest.approx(half, rel=1e-9)
    assert found.scatter == pytest.approx(float(certified["residual_sd"]), rel=1e-9)


def test_the_length_at_a_force_is_graybill_and_iyers():
    """Their chamber: the setting at which the mean is 400, with a 99 % interval."""
    book = tomllib.loads((REFERENCES / "statistics_examples.toml").read_text("utf-8"))[
        "inverse_regulation_chamber"
    ]
    x, y = np.array(book["data"]["x"]), np.array(book["data"]["y"])
    line = regress(np.column_stack([np.ones(len(x)), x]), y)
    low, mean, high = crossing(line, 400.0, stats.t.ppf(0.995, len(x) - 2))
    assert [mean, low, high] == pytest.approx(book["recomputed"]["mean_400_level_99"], rel=1e-8)
    assert [round(mean, 1), round(low, 2)] == book["published"]["mean_400_level_99"][:2]
    assert high == pytest.approx(book["published"]["mean_400_level_99"][2], abs=0.011)


def test_the_free_length_is_where_the_band_of_the_line_meets_no_force():
    lengths = stops(7)
    forces = straight(lengths) + noise(3, 7)
    found, line = press(forces, lengths), stats.linregress(lengths, forces)
    reach, middle = stats.t.ppf(0.95, 5), lengths.mean()
    level_sd = line.stderr * np.sqrt(np.mean((lengths - middle) ** 2))

    def band(length, side):
        at = line.intercept + line.slope * length
        return at + side * reach * np.hypot(level_sd, line.stderr * (length - middle))

    assert found.free_length.low == pytest.approx(brentq(band, 0.2, 0.6, args=(-1,)), rel=1e-6)
    assert found.free_length.high == pytest.approx(brentq(band, 0.2, 0.6, args=(1,)), rel=1e-6)


# ---------------------------------------------------------------- laws


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10**6), st.integers(5, 15), st.booleans())
def test_order_of_the_readings_does_not_matter(seed, count, bent):
    lengths = stops(count)
    forces = (kneed if bent else straight)(lengths) + noise(seed, count)
    order = np.random.default_rng(seed).permutation(count)
    one, other = press(forces, lengths), press(forces[order], lengths[order])
    assert same(one.rate, other.rate)
    assert same(one.free_length, other.free_length)
    assert (one.knee is None) == (other.knee is None)
    if one.knee is not None and other.knee is not None:
        assert same(one.knee.length, other.knee.length)
        assert same(one.knee.rate, other.knee.rate)


@pytest.mark.parametrize("model", [straight, kneed])
def test_a_gauge_that_reads_twice_as_much_doubles_rates_and_leaves_lengths(model):
    lengths = stops(12)
    forces = model(lengths) + noise(8, 12)
    one, two = press(forces, lengths), press(2 * forces, lengths)
    assert two.rate.mean == pytest.approx(2 * one.rate.mean, rel=1e-9)
    assert two.rate.high - two.rate.low == pytest.approx(2 * (one.rate.high - one.rate.low), rel=1e-9)
    assert same(one.free_length, two.free_length)
    if one.knee is not None and two.knee is not None:
        assert same(one.knee.length, two.knee.length)
        assert two.knee.force.mean == pytest.approx(2 * one.knee.force.mean, rel=1e-9)


def test_a_longer_seat_lengthens_all_and_leaves_the_rates():
    lengths = stops(12)
    forces = kneed(lengths) + noise(8, 12)
    one, two = press(forces, lengths), press(forces, lengths + INCH)
    assert same(one.rate, two.rate)
    assert same(one.knee.rate, two.knee.rate)
    assert two.free_length.mean == pytest.approx(one.free_length.mean + INCH, rel=1e-9)
    assert two.knee.length.mean == pytest.approx(one.knee.length.mean + INCH, rel=1e-9)


def test_readings_without_scatter_give_the_rate_itself_and_still_some_doubt():
    lengths = stops(8)
    found = press(straight(lengths), lengths)
    assert found.rate.mean == pytest.approx(300 * LBF_PER_INCH, rel=1e-9)
    assert found.free_length.mean == pytest.approx(FREE, rel=1e-9)
    assert found.knee is None
    assert found.scatter == pytest.approx(CLOSEST * 300 * LBF_PER_INCH, rel=1e-9)
    assert found.rate.low < found.rate.mean < found.rate.high


# ---------------------------------------------------------------- knee


@pytest.mark.parametrize("seed", range(6))
def test_two_lines_are_those_of_a_general_search(seed):
    """The knee by a scalar minimiser over lines by numpy, rates and errors by scipy's curve fit from there."""
    lengths = stops(14)
    forces = kneed(lengths) + noise(seed, 14)
    found = press(forces, lengths)

    def left(knee):
        columns = np.column_stack([np.ones(14), lengths, np.maximum(knee - lengths, 0)])
        return np.linalg.lstsq(columns, forces, rcond=None)[1][0]

    rough = min(np.linspace(lengths[-3], lengths[2], 2001), key=left)
    best = minimize_scalar(left, bounds=(rough - 1e-4, rough + 1e-4), method="bounded")
    step = (lengths[2] - lengths[-3]) / 400
    assert found.knee.length.mean == pytest.approx(best.x, abs=step)

    def two(length, level, soft, more, knee):
        return level - soft * length + more * np.maximum(knee - length, 0)

    start = [SOFT * FREE, SOFT, STIFF - SOFT, best.x]
    estimate, covariance = curve_fit(two, lengths, forces, start, x_scale=np.abs(start), method="trf")
    # The knee is tried on a grid, which moves the lines by a small part of their errors.
    sd = np.sqrt(np.diag(covariance))
    assert abs(found.rate.mean - estimate[1]) < 0.1 * sd[1]
    beyond = np.array([0, 1, 1, 0])
    assert abs(found.knee.rate.mean - beyond @ estimate) < 0.1 * np.sqrt(beyond @ covariance @ beyond)
    assert found.scatter == pytest.approx(np.sqrt(left(best.x) / 10), rel=0.02)


def test_a_knee_is_found_where_a_stack_meets_its_ring():
    """The truck's own dual-rate curve, pressed on the bench: force from its springs, without any scatter."""
    stack = Stack("275 over 425", Spring(425 * LBF_PER_INCH), Spring(275 * LBF_PER_INCH), ring_gap=3 * INCH)
    force = np.linspace(0, 1500, 31) * LBF
    limit = limits(solid_travels(stack), np.array(stack.ring_gap), np.array(0.0))
    lengths = 26 * INCH - deflection(force, compliances(stack), limit)
    found = press(force, lengths)
    in_series = 1 / (1 / 275 + 1 / 425)
    assert found.rate.mean / LBF_PER_INCH == pytest.approx(in_series, rel=0.002)
    assert found.knee.rate.mean / LBF_PER_INCH == pytest.approx(425, rel=0.002)
    assert found.knee.force.mean / LBF == pytest.approx(3 * 275, rel=0.01)
    assert found.free_length.mean == pytest.approx(26 * INCH, abs=0.2e-3)


def test_no_knee_is_looked_for_among_few_lengths_however_often_they_are_read():
    lengths = np.repeat(stops(5), 6)
    found = press(kneed(lengths), lengths)
    assert not found.knee_looked_for
    assert found.knee is None
    assert press(kneed(stops(6)), stops(6)).knee_looked_for


def test_a_knee_beyond_the_last_three_readings_is_said_to_be_open_ended():
    lengths = stops(12)
    inside, outside = kneed(lengths), kneed(lengths, knee=lengths[-2])
    assert not press(inside + noise(1, 12, 2 * LBF), lengths).knee.open_ended
    assert press(outside + noise(1, 12, 0.5 * LBF), lengths).knee.open_ended


def test_a_spring_that_turns_softer_is_told_as_it_is():
    lengths = stops(12)
    forces = SOFT * (FREE - lengths) - 0.4 * SOFT * np.maximum(KNEE - lengths, 0) + noise(2, 12, 2 * LBF)
    found = press(forces, lengths)
    assert found.knee.rate.mean == pytest.approx(0.6 * SOFT, rel=0.03)


def test_a_knee_of_readings_without_scatter_is_no_surer_than_the_places_it_was_tried_at():
    lengths = stops(12)
    found = press(kneed(lengths), lengths).knee
    assert found.length.low < found.length.mean < found.length.high
    assert found.length.low < KNEE < found.length.high
    assert found.force.low < SOFT * (FREE - KNEE) < found.force.high


# ---------------------------------------------------------------- coils that touch

TOUCH = 9 * INCH
TO_TOUCH = np.append(np.linspace(13.5, 9.25, 10), 9.1) * INCH
FLAT = np.array([0.0, -0.004, -0.006]) * INCH  # what a solid spring still gives


def to_solid(model, seed, sd=8 * LBF, ruler=0.0):
    """A press that goes on after the coils touch: forces, lengths, how many of the last are solid."""
    lengths = np.append(TO_TOUCH, TOUCH + FLAT)
    forces = np.append(model(TO_TOUCH), model(np.array(TOUCH)) + np.array([400, 900, 1500]) * LBF)
    random = np.random.default_rng(seed)
    return (
        forces + sd * random.standard_normal(len(forces)),
        lengths + ruler * random.standard_normal(len(lengths)),
        len(FLAT),
    )


@pytest.mark.parametrize("model", [straight, kneed])
@pytest.mark.parametrize("ruler", [0.0, 0.5e-3])
def test_solid_readings_are_told_and_have_no_part_in_the_answer(model, ruler):
    """Exactly what the same press gives that stops in time."""
    for seed in range(100):
        forces, lengths, count = to_solid(model, seed, ruler=ruler)
        found = press(forces, lengths)
        assert found.solid == tuple(range(len(TO_TOUCH), len(TO_TOUCH) + count)), seed
        short = press(forces[:-count], lengths[:-count])
        assert (found.rate, found.free_length, found.knee, found.scatter, found.doubtful, found.read_low) == (
            short.rate, short.free_length, short.knee, short.scatter, short.doubtful, short.read_low
        )  # fmt: skip


def test_the_reading_at_which_the_coils_begin_to_touch_is_solid_too():
    """Half an inch from stop to stop, and the coils touch on the way: that reading is four times too stiff."""
    lengths = np.array([13.5, 13, 12.5, 12, 11.5, 11, 10.5, 10, 9.7, 9.698]) * INCH
    forces = straight(np.maximum(lengths, 9.7 * INCH)) + np.array([0] * 8 + [270, 900]) * LBF
    assert press(forces, lengths).solid == (8, 9)


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10**6), st.booleans())
def test_solid_readings_are_told_in_whatever_order_and_by_whatever_gauge(seed, bent):
    forces, lengths, count = to_solid(kneed if bent else straight, seed)
    order = np.random.default_rng(seed).permutation(len(forces))
    found = press(forces[order], lengths[order]).solid
    assert {int(order[place]) for place in found} == set(range(len(TO_TOUCH), len(TO_TOUCH) + count))
    assert press(3 * forces, lengths).solid == press(forces, lengths).solid
    assert press(forces, lengths + INCH).solid == press(forces, lengths).solid


@pytest.mark.parametrize("times", [2.0, 4.0, 8.0])
def test_a_stiffer_spring_behind_a_knee_is_not_solid(times):
    lengths = stops(14)
    for knee in (9.5 * INCH, KNEE, 12.5 * INCH):
        forces = SOFT * (FREE - lengths) + (times - 1) * SOFT * np.maximum(knee - lengths, 0)
        for seed in range(50):
            assert press(forces + noise(seed, 14), lengths).solid == ()


def test_a_press_that_has_to_come_down_to_the_spring_first_finds_nothing_solid():
    lengths = np.linspace(16, 9, 15) * INCH
    for seed in range(50):
        assert not solid(np.maximum(straight(lengths), 0) + noise(seed, 15, 2 * LBF), lengths).any()


def test_lengths_read_again_and_again_are_not_solid():
    lengths = np.repeat(stops(5), 6)
    for seed in range(50):
        assert press(straight(lengths) + noise(seed, 30), lengths).solid == ()


# ---------------------------------------------------------------- simulated presses

PRESSES = 1000


def presses(model, count, sd, seed, lengths_off=0.0):
    """Answers to presses whose gauge errs by `sd` (N), and whose ruler by `lengths_off` (m)."""
    random, lengths = np.random.default_rng(seed), stops(count)
    for _ in range(PRESSES):
        read = lengths + lengths_off * random.standard_normal(count)
        yield press(model(lengths) + sd * random.standard_normal(count), read)


def share(flags):
    return sum(flags) / PRESSES


# Of 1000 presses: four standard errors of a share of nine in ten, and of one in a hundred.
NINETY = pytest.approx(0.90, abs=0.038)
RARE = 0.01 + 0.0126


@pytest.mark.parametrize("count", [3, 6, 10, 25])
def test_a_straight_spring_gets_no_knee_and_its_intervals_hold_nine_times_in_ten(count):
    found = list(presses(straight, count, 8 * LBF, count))
    assert share(p.knee is not None for p in found) <= RARE
    assert share(holds(p.rate, 300 * LBF_PER_INCH) for p in found) == NINETY
    assert share(holds(p.free_length, FREE) for p in found) == NINETY
    assert share(p.doubtful is not None for p in found) <= RARE
    assert share(bool(p.solid) for p in found) == 0


@pytest.mark.parametrize("count", [9, 12, 20])
def test_a_knee_is_found_and_its_intervals_hold_nine_times_in_ten(count):
    found = list(presses(kneed, count, 8 * LBF, count))
    knees = [p.knee for p in found if p.knee is not None]
    assert len(knees) >= 0.99 * PRESSES
    assert np.median([k.length.mean for k in knees]) == pytest.approx(KNEE, abs=0.03 * INCH)
    assert share(holds(p.rate, SOFT) for p in found) == NINETY
    assert share(holds(k.rate, STIFF) for k in knees) == NINETY
    assert share(holds(k.length, KNEE) for k in knees) == NINETY
    assert share(p.doubtful is not None for p in found) <= RARE


def test_a_ruler_that_errs_too_lowers_the_rate_by_no_more_than_is_said_and_leaves_the_interval_honest():
    off = 0.5e-3
    found = list(presses(straight, 10, 8 * LBF, 5, lengths_off=off))
    assert share(holds(p.rate, 300 * LBF_PER_INCH) for p in found) == NINETY
    rates = np.array([p.rate.mean for p in found]) / (300 * LBF_PER_INCH)
    said = np.mean([p.read_low for p in found])
    assert said < 0.001
    assert 1 - rates.mean() == pytest.approx(said, abs=4 * rates.std() / PRESSES**0.5)


def test_readings_close_together_say_how_much_the_ruler_may_hide():
    lengths = stops(8, 12.5, 12.0)
    assert press(straight(lengths), lengths).read_low == pytest.approx(
        (0.5e-3 / lengths.std()) ** 2, rel=1e-9
    )


def named(forces, lengths):
    """The reading called doubtful, in the answer or where none is possible because of it."""
    try:
        return press(forces, lengths).doubtful
    except PressError as fault:
        return int(re.search(r"Reading (\d+) stands off", str(fault))[1]) - 1


@pytest.mark.parametrize("model", [straight, kneed])
@pytest.mark.parametrize("off", [200 * LBF, -100 * LBF])
@pytest.mark.parametrize("place", range(13))
def test_a_slip_of_the_pen_is_named_wherever_it_is(model, off, place):
    lengths = stops(13)
    forces = model(lengths) + noise(6, 13, 3 * LBF)
    forces[place] += off
    assert named(forces, lengths) == place
    assert named(forces[::-1], lengths[::-1]) == 12 - place


def test_a_slip_is_named_among_few_readings_too():
    lengths = stops(5)
    forces = straight(lengths) + noise(6, 5, 3 * LBF)
    forces[3] += 500 * LBF
    assert press(forces, lengths).doubtful == 3


# ---------------------------------------------------------------- no answer


@pytest.mark.parametrize(
    ("forces", "lengths", "said"),
    [
        ([], [], "Readings: 0. A rate needs 3"),
        ([1.0, 2.0], [0.3, 0.2], "Readings: 2. A rate needs 3"),
        ([5.0, 5.0, 5.0], [0.3, 0.2, 0.1], "Every reading has the same force."),
        ([0.0, 0.0, 5e-206], [1.0, 1.0, 0.5], "Every reading has the same force."),
        ([1.0, 5.0, 9.0], [0.3, 0.3, 0.3], "Every reading has the same length."),
        ([1.0, 5.0, 9.0], [0.01, 0.02, 0.03], "The lengths grow with the force. Write the length between"),
        ([1.0, 9.0, 2.0, 8.0], [0.3, 0.29, 0.28, 0.27], "scatter so much that no rate"),
    ],
)
def test_readings_that_give_no_rate_say_why_and_what_to_do(forces, lengths, said):
    with pytest.raises(PressError) as caught:
        press(np.array(forces), np.array(lengths))
    assert said in str(caught.value)


@settings(max_examples=200, deadline=None)
@given(st.lists(st.tuples(st.floats(0, 2e5), st.floats(0.003, 2.0)), max_size=14))
def test_any_readings_are_answered_in_finite_numbers_or_refused(pairs):
    forces, lengths = np.array(pairs).reshape(-1, 2).T
    try:
        found = press(forces, lengths)
    except PressError:
        return
    intervals = [found.rate, found.free_length]
    if found.knee is not None:
        intervals += [found.knee.length, found.knee.force, found.knee.rate]
    for interval in intervals:
        assert np.all(np.isfinite([interval.low, interval.mean, interval.high]))
        assert interval.low <= interval.mean <= interval.high


def test_the_place_of_a_doubtful_reading_is_the_one_it_was_given_in():
    lengths = stops(10)
    forces = straight(lengths) + noise(6, 10, 3 * LBF)
    forces[2] += 120 * LBF
    found = press(forces[::-1], lengths[::-1])
    assert found.doubtful == 7
    assert replace(found).forces[7] == forces[2]
