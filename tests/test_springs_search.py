"""The search for springs against solves of one pair at a time, by scipy on the simulator's own machine, and its laws.

The simulator (`tests/truth`) is told the fitted datum and rates; of the tool it takes plain data alone. Every spring
of a catalogue is invented.
"""

from copy import copy
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from scipy.optimize import brentq, minimize_scalar

from tests.study.cases import misses
from tests.study.springs_cases import draw_case
from tests.study.springs_stock import GRAVITY, asked_of, catalogue, loose, try_all, used_at
from tests.truth.machine import NO_LIMIT, NO_SPRING, machine_of, seat_force, stack_force
from tests.truth.rest import Load, settle
from tests.truth.shop import WAYS, run_of, visit
from tests.truth.trucks import IN, LBF_IN
from tuning import stack as springs
from tuning.bench import wishes_of
from tuning.catalogue import StockSpring
from tuning.choices import choose
from tuning.fit import fit
from tuning.log.catalogue_file import read_catalogue, write_catalogue
from tuning.plan import KEEP_OTHER, KEEP_OWN, plan
from tuning.spring_places import Wanted
from tuning.springs import ALIKE, REASONS, UNFIT, search
from tuning.stack import NO_STOP
from tuning.truck import CORNERS, SIDES, Spring, Stack

STOCK = catalogue()
CASES, PAIRS = 36, 8  # of each, at random: 288 pairs, each at both corners of its end
SEED = 11
MIRROR = {"LF": "RF", "RF": "LF", "LR": "RR", "RR": "LR"}
ANYTHING = (0.01, 100.0)  # Hz


class Asking:
    """One truck read once: the fit, where it should stand, the search; and the machine a simulator makes of it."""

    def __init__(self, number):
        self.case = draw_case(number, SEED)
        truck, self.end = self.case.truck, self.case.end
        self.at = [CORNERS.index(c) for c in SIDES[self.end]]
        first = visit(np.random.default_rng(number), self.case.real, self.case.start, WAYS["C"])
        self.fit = fit(truck, [run_of(truck, first, 1)])
        self.wishes = wishes_of(truck.target, self.fit.loads_known)
        self.plan = plan(self.fit, (self.end,), self.wishes, self.fit.theta[None])
        self.height, self.load = self.plan.seat_height[0], self.plan.seat_load[0]
        self.wanted = Wanted(truck.practice.ride_frequency)
        self.search = self.over(STOCK).search
        best = self.fit.parameters(self.fit.theta[None])
        self.machine = replace(machine_of(truck), datum=best.datum[0])
        self.rates = 1 / np.maximum(best.compliance[0], 1 / NO_SPRING)  # of the springs that are on, (4, 2)

    def over(self, stock, wanted=None):
        """The same truck with other springs to choose from, or other wishes."""
        other = copy(self)
        other.search = search(self.fit, stock, SIDES[self.end], wanted or self.wanted, self.plan)
        return other

    def machine_with(self, pair, gap=None):
        """The machine with a pair on: its ring at `gap`, or no ring."""
        upper, lower = self.search.springs(pair)

        def rate(one, place):
            if one is None:
                return np.full(4, NO_SPRING)
            return self.rates[:, one.kept] if one.kept is not None else np.full(4, one.spring.rate)

        def travel(one):
            return np.full(4, NO_LIMIT if one is None else one.spring.travel_to_solid)

        return replace(
            self.machine,
            upper_rate=rate(upper, 0),
            upper_travel=travel(upper),
            lower_rate=rate(lower, 1),
            lower_travel=travel(lower),
            ring_gap=np.full(4, NO_LIMIT if gap is None else gap),
        )

    def drawn_pairs(self):
        """Half of them sound, one on its ring where there is one; none solid under the load it should carry."""
        rng = np.random.default_rng(self.case.number)
        possible = np.nonzero(self.search.broken[:, REASONS.index("solid under the load at ride")] < -1e-3)[0]
        sound = self.search.order
        some = rng.choice(sound, min(PAIRS // 2, len(sound)), replace=False) if len(sound) else []
        on_ring = possible[(self.search.outcome.over_ring[possible] > 0).any(axis=1)][:1]
        others = rng.choice(possible, PAIRS - len(some) - len(on_ring), replace=False)
        return [int(pair) for pair in (*some, *on_ring, *others)]


@cache
def asking(number):
    return Asking(number)


def at_corner(function, i):
    """A function of four heights as one of the corner's alone."""
    return lambda value: float(function(np.full(4, value))[i])


# ---------------------------------------------------------------- one pair at a time


@pytest.mark.parametrize("number", range(CASES))
def test_preload_is_what_puts_the_corner_at_its_height_under_its_load(number):
    one = asking(number)
    for pair in one.drawn_pairs():
        machine = one.machine_with(pair)
        for side, i in enumerate(one.at):
            short = at_corner(lambda p, m=machine: seat_force(m, one.height, p)[0] - one.load, i)
            wanted = brentq(short, -0.5, 1.0, xtol=1e-12)
            assert one.search.outcome.preload[pair, side] == pytest.approx(wanted, abs=1e-7)


@pytest.mark.parametrize("number", range(CASES))
def test_slider_meets_its_ring_where_the_true_curve_stiffens(number):
    """Bisected on the rate of the stack, which jumps there; a slider on its ring at ride changes the height."""
    one = asking(number)
    found = one.search.outcome
    for pair in one.drawn_pairs():
        gap = found.ring_gap[pair]
        if one.search.pairs.upper[pair] < 0:
            assert np.isnan(found.crossover[pair]).all()
            continue
        machine = replace(
            one.machine_with(pair, gap), upper_travel=np.full(4, NO_LIMIT), lower_travel=np.full(4, NO_LIMIT)
        )
        soft = 1 / (1 / machine.upper_rate + 1 / machine.lower_rate)
        for side, i in enumerate(one.at):
            preload = np.full(4, found.preload[pair, side])

            def both_work(h, m=machine, p=preload, i=i, soft=soft):
                pressed = p + used_at(m, h) - m.datum
                return stack_force(m, pressed, p)[1][i] <= soft[i] * 1.000001

            low, high = 0.02, float(one.search.place.cycle.height(one.machine.stroke[one.at])[side])
            if both_work(np.full(4, low)) or not both_work(np.full(4, high)):
                continue  # it meets it beyond any height a truck has
            for _ in range(60):
                middle = (low + high) / 2
                low, high = (low, middle) if both_work(np.full(4, middle)) else (middle, high)
            assert found.crossover[pair, side] == pytest.approx(low, abs=1e-7)
            assert (found.over_ring[pair, side] > 0) == (one.height[i] < low) or abs(
                one.height[i] - low
            ) < 1e-6


def split(pressed, rates, limits):
    """How two springs share a compression, by the least energy of all ways to share it: (upper, lower)."""

    def energy(y):
        return (rates[0] * y**2 + rates[1] * (pressed - y) ** 2) / 2

    low, high = max(0.0, pressed - limits[1]), min(limits[0], pressed)
    assert low <= high
    found = minimize_scalar(energy, bounds=(low, high), method="bounded", options={"xatol": 1e-12})
    best = min((low, high, float(found.x)), key=energy)
    return best, pressed - best


@pytest.mark.parametrize("number", range(CASES))
def test_margins_at_full_bump_and_strap_are_those_of_the_least_energy(number):
    one = asking(number)
    found = one.search.outcome
    for pair in one.drawn_pairs():
        machine, gap = one.machine_with(pair), min(found.ring_gap[pair], NO_LIMIT)
        asked = asked_of(one.case.truck, machine, one.end, one.height, one.load)
        for side, i in enumerate(one.at):
            preload = found.preload[pair, side]
            at_bump = preload + asked.bump[side] - machine.datum[i]
            assert found.at_strap[pair, side] == pytest.approx(preload + asked.strap[side] - machine.datum[i])
            if at_bump <= 0 or gap + preload <= 0:
                continue
            rates = (machine.upper_rate[i], machine.lower_rate[i])
            took = split(at_bump, rates, (gap + preload, 1e3))
            travel = (machine.upper_travel[i], machine.lower_travel[i])
            for place in (0, 1) if one.search.pairs.upper[pair] >= 0 else (1,):
                assert found.left[pair, side, place] == pytest.approx(travel[place] - took[place], abs=1e-6)


@pytest.mark.parametrize("number", range(CASES))
def test_ride_frequency_is_that_of_the_true_force_curve(number):
    """Mass on the slope of the seat force, by differences."""
    one = asking(number)
    step = 1e-5
    for pair in one.drawn_pairs():
        preload = np.zeros(4)
        preload[one.at] = one.search.outcome.preload[pair]
        machine = one.machine_with(pair)
        around = [seat_force(machine, one.height + s, preload)[0][one.at] for s in (-step, step)]
        rate = ((around[0] - around[1]) / (2 * step)).sum()
        mass = one.load[one.at].sum() / GRAVITY
        assert one.search.outcome.frequency[pair] == pytest.approx(np.sqrt(rate / mass) / 2 / np.pi, rel=1e-5)


def test_enough_pairs_were_drawn_and_of_every_sort():
    pairs = [(asking(n), p) for n in range(CASES) for p in asking(n).drawn_pairs()]
    assert len(pairs) >= 200
    sound = sum(not one.search.breaks(p) for one, p in pairs)
    dual = sum(one.search.pairs.upper[p] >= 0 for one, p in pairs)
    kept = sum(any(s and s.kept is not None for s in one.search.springs(p)) for one, p in pairs)
    on_ring = sum(bool((one.search.outcome.over_ring[p] > 0).any()) for one, p in pairs)
    assert min(sound, len(pairs) - sound, dual) >= 50
    assert min(kept, len(pairs) - dual) >= 5
    assert on_ring >= 1


def shelf(one):
    """The springs the search chose from, as plain arithmetic takes them, and which can be bought twice."""
    every = loose(tuple(StockSpring(c.name, c.spring, c.inside_diameter) for c in one.search.candidates))
    for i, candidate in enumerate(one.search.candidates):
        if candidate.kept is not None:
            every[i] = replace(every[i], rates=one.rates[one.at, candidate.kept])
    return every, np.array([c.kept is None for c in one.search.candidates])


@pytest.mark.parametrize("number", range(12))
def test_sound_pairs_are_those_that_plain_arithmetic_lets_through(number):
    """All 70,000 of them, wherever the ring may go. They may differ in a pair that breaks a limit by less than
    rounding on a bench, a ten-thousandth of an inch."""
    one = asking(number)
    asked = asked_of(one.case.truck, one.machine, one.end, one.height, one.load)
    tried = try_all(asked, *shelf(one))
    assert (tried.upper.tolist(), tried.lower.tolist()) == (
        one.search.pairs.upper.tolist(),
        one.search.pairs.lower.tolist(),
    )
    sound = np.zeros(len(tried.fits), dtype=bool)
    sound[one.search.order] = True
    nearly = one.search.broken.max(axis=1) > 0
    differ = sound != tried.fits
    assert not (differ & ~(sound & nearly)).any()
    assert (one.search.broken[differ].max(axis=1) <= ALIKE).all()
    nut, hertz = one.search.distance[tried.fits, :2].T
    assert nut + hertz == pytest.approx(tried.score[tried.fits], abs=1e-9)


# ---------------------------------------------------------------- why the others lost


def gap_breaks(one, pair, gap):
    """What a pair would break with its ring at `gap`, by the least energy at full bump: slider, solid."""
    found, machine = one.search.outcome, one.machine_with(pair)
    asked = asked_of(one.case.truck, machine, one.end, one.height, one.load)
    clear, broken = one.case.truck.practice.clear_of_solid, set()
    for side, i in enumerate(one.at):
        preload = found.preload[pair, side]
        if asked.force[side] / machine.upper_rate[i] > gap + preload + 1e-9:
            broken.add("slider")
            continue
        rates = (machine.upper_rate[i], machine.lower_rate[i])
        took = split(preload + asked.bump[side] - machine.datum[i], rates, (gap + preload, 1e3))
        if (
            took[0] > machine.upper_travel[i] - clear + 1e-6
            or took[1] > machine.lower_travel[i] - clear + 1e-6
        ):
            broken.add("solid")
    return broken


def really_breaks(one, pair, reason):
    """Whether the truth has it so too."""
    found, machine, corners = one.search.outcome, one.machine_with(pair), one.case.truck.corners
    upper, lower = one.search.springs(pair)
    on = [c.inside_diameter for c in (upper, lower) if c is not None and c.inside_diameter]
    corner = corners[SIDES[one.end][0]]
    own = sum(s.free_length for s in corner.stack.springs)
    shift = sum(c.spring.free_length for c in (upper, lower) if c is not None) - own
    at = np.array(one.at)

    def carried(preload, with_machine=machine):
        """Seat loads (2,) at the heights wanted with the nuts there."""
        return seat_force(with_machine, one.height, np.full(4, preload))[0][at]

    if reason == "inside diameters differ":
        return max(on) > 1.0199 * min(on)
    if reason == "inside diameter does not suit the shock":
        return any(abs(d / corner.shock.spring_inside_diameter - 1) > 0.0195 for d in on)
    if reason == "solid under the load at ride":
        force = asked_of(one.case.truck, machine, one.end, one.height, one.load).force
        stops = np.minimum(
            machine.upper_rate * machine.upper_travel, machine.lower_rate * machine.lower_travel
        )
        return (stops[at] < force).any()
    if reason == "needs more preload than the thread has":
        return (carried(corner.adjuster.preload_max + shift) < one.load[at]).any()
    if reason == "needs less preload than the thread allows":
        return (carried(corner.adjuster.preload_min + shift) > one.load[at]).any()
    if reason == "loose at strapped droop":
        asked = asked_of(one.case.truck, machine, one.end, one.height, one.load)
        return (found.preload[pair] + asked.strap - asked.datum < one.case.truck.practice.seated).any()
    assert reason in ("slider on its ring at ride", "coil bind at full bump")
    if upper is None:
        asked = asked_of(one.case.truck, machine, one.end, one.height, one.load)
        pressed = found.preload[pair] + asked.bump - asked.datum
        return (pressed > lower.spring.travel_to_solid - one.case.truck.practice.clear_of_solid).any()
    word = "slider" if reason.startswith("slider") else "solid"
    if not one.search.wanted.ring_moves:  # it stays on the body, so a longer lower brings the slider nearer
        nearer = lower.spring.free_length - corner.stack.lower.free_length
        return word in gap_breaks(one, pair, corner.stack.ring_gap - nearer)
    gaps = [*np.linspace(0, 0.6, 151), found.ring_gap[pair]]
    return all(gap_breaks(one, pair, gap) for gap in gaps) and word in gap_breaks(one, pair, gaps[-1])


def test_every_pair_turned_away_really_breaks_the_limit_said_and_no_other_place_of_the_ring_would_mend_it():
    seen = dict.fromkeys(REASONS, 0)
    for number in range(CASES):
        one, rng = asking(number), np.random.default_rng(number)
        if number % 2 and one.fit.stacks[one.at[0]].ring_gap is not None:
            one = one.over(STOCK, replace(one.wanted, ring_moves=False))
        for index, reason in enumerate(REASONS):
            lost = np.nonzero((one.search.reason == index) & (one.search.broken[:, index] > 1e-5))[0]
            for pair in rng.choice(lost, min(2, len(lost)), replace=False):
                assert really_breaks(one, int(pair), reason), (number, one.search.said(int(pair)), reason)
                seen[reason] += 1
    assert min(seen.values()) >= 10


def test_counts_of_reasons_and_sound_ones_make_up_all_pairs():
    for number in range(6):
        one = asking(number).search
        assert sum(one.rejected.values()) + len(one.order) == len(one.pairs.upper)
        assert all(bool(one.breaks(int(p))) for p in np.nonzero(one.reason >= 0)[0][:200])


# ---------------------------------------------------------------- which is best


def merit(one, pair):
    """What decides between sound pairs, as written at the head of `springs`: the first two that differ settle it."""
    upper, lower = one.search.springs(pair)
    upside_down = upper is not None and bool(
        np.mean(one.machine_with(pair).upper_rate[one.at])
        > np.mean(one.machine_with(pair).lower_rate[one.at])
    )
    bought = sum(c is not None and c.kept is None for c in (upper, lower))
    return round(4 * float(one.search.distance[pair].sum())), bought, upside_down


def test_sound_pairs_stand_in_the_order_that_is_documented():
    for number in range(CASES):
        one = asking(number)
        merits = [merit(one, int(p)) for p in one.search.order[:300]]
        assert merits == sorted(merits), number


def test_distance_is_that_of_the_nut_the_frequency_and_the_crossover_from_their_windows():
    """The first two against plain arithmetic in the test of all pairs; the crossover's window is ride to bump."""
    for number in range(CASES):
        one = asking(number)
        bump = one.search.place.bump
        for pair in one.search.order[:50]:
            height, ride = one.search.outcome.crossover[pair], one.height[one.at]
            off = np.maximum(np.maximum(bump - height, height - ride), 0) / ((ride - bump) / 2)
            expected = 0.0 if one.search.pairs.upper[pair] < 0 else np.nan_to_num(off, nan=1.0).max()
            assert one.search.distance[pair, 2] == pytest.approx(expected, abs=1e-9)


def test_another_spring_in_the_catalogue_never_makes_the_best_choice_worse():
    rng = np.random.default_rng(0)
    for number in range(8):
        order = rng.permutation(len(STOCK))
        before = None
        for count in (20, 40, 80, 160, len(STOCK)):
            one = asking(number).over(tuple(STOCK[i] for i in order[:count]))
            best = merit(one, int(one.search.order[0])) if len(one.search.order) else (np.inf, 9, True)
            assert before is None or best <= before, (number, count)
            before = best


def test_order_of_the_catalogue_does_not_matter():
    shuffled = tuple(STOCK[i] for i in np.random.default_rng(1).permutation(len(STOCK)))
    for number in range(6):
        one, other = asking(number), asking(number).over(shuffled)
        assert one.search.rejected == other.search.rejected
        names = [{o.search.said(int(p)) for p in o.search.order} for o in (one, other)]
        assert names[0] == names[1]
        firsts = [[merit(o, int(p)) for p in o.search.order[:20]] for o in (one, other)]
        assert firsts[0] == firsts[1]


def test_a_catalogue_in_millimetres_finds_what_one_in_inches_finds():
    metric, us = (read_catalogue(write_catalogue(STOCK, system)) for system in ("metric", "us"))
    for number in range(4):
        one, other = (asking(number).over(stock) for stock in (metric, us))
        assert one.search.order.tolist() == other.search.order.tolist()
        assert np.abs(one.search.outcome.preload - other.search.outcome.preload).max() < 1e-12


def mirrored(case_fit):
    """The same truck and readings with left for right."""
    truck = case_fit.truck
    heights = {MIRROR[c]: h for c, h in truck.target.heights.items()}
    target = replace(truck.target, heights=heights)
    if target.cross_weight is not None:
        target = replace(target, cross_weight=1 - target.cross_weight)
    corners = {c: truck.corners[MIRROR[c]] for c in CORNERS}
    runs = [
        replace(run, readings=tuple(replace(r, corner=MIRROR[r.corner]) for r in run.readings))
        for run in case_fit.runs
    ]
    return fit(replace(truck, corners=corners, target=target), runs)


def test_left_and_right_swapped_get_the_same_springs_with_preloads_swapped():
    """A fit goes on until it moves by less than a fiftieth of a standard error, which is a few thousandths of an inch;
    what stands that near to a limit may fall either way."""
    rounding = 5e-4
    for number in range(6):
        one, turned = asking(number), mirrored(asking(number).fit)
        standing = plan(turned, (one.end,), wishes_of(turned.truck.target, True), turned.theta[None])
        other = search(turned, STOCK, SIDES[one.end], one.wanted, standing)
        assert standing.heights[0] == pytest.approx(one.plan.heights[0][[1, 0, 3, 2]], abs=rounding / 10)
        assert np.abs(other.outcome.preload - one.search.outcome.preload[:, ::-1]).max() < rounding
        assert np.abs(other.outcome.frequency / one.search.outcome.frequency - 1).max() < 1e-3
        worst = [s.broken.max(axis=1) for s in (one.search, other)]
        sure = np.abs(worst).min(axis=0) > rounding
        assert sure.mean() > 0.95
        assert ((worst[0] > 0) == (worst[1] > 0))[sure].all()


def test_a_stiffer_spring_needs_less_preload():
    free, solid = 16 * IN, 4 * IN
    stock = tuple(StockSpring(f"{r}", Spring(r * LBF_IN, free, solid), 2.5 * IN) for r in range(150, 600, 25))
    for number in range(6):
        one = asking(number).over(stock).search
        upper, lower, preload = one.pairs.upper, one.pairs.lower, one.outcome.preload
        new = len(one.candidates) - len(stock)
        flowing = one.broken[:, REASONS.index("solid under the load at ride")] < 0
        for mate in (-1, *range(new, len(one.candidates), 4)):
            for fixed, other in ((upper, lower), (lower, upper)):
                which = np.nonzero((fixed == mate) & (other >= new) & flowing)[0]
                stiffer = which[np.argsort(other[which])]
                assert (np.diff(preload[stiffer], axis=0) < 0).all()


def test_without_a_window_every_pair_is_as_near_or_nearer():
    for number in range(6):
        one = asking(number)
        narrow, none = (one.over(STOCK, Wanted(window)).search for window in ((1.1, 1.2), ANYTHING))
        assert (none.distance <= narrow.distance + 1e-12).all()
        assert (none.distance[:, 1] == 0).all()
        assert set(none.order.tolist()) == set(narrow.order.tolist())  # a window is a wish, not a limit


# ---------------------------------------------------------------- where nothing fits


def test_the_least_bad_breaks_its_worst_limit_by_least():
    """The shock's and the springs' diameters have to suit whatever else gives."""
    hopeless = tuple(
        StockSpring(f"{r}-{n}", Spring(r * LBF_IN, n * IN, 0.6 * n * IN), 2.5 * IN)
        for r in (60, 900)
        for n in (5, 6)
    )
    found = 0
    for number in range(12):
        one = asking(number).over(hopeless)
        if len(one.search.order):
            continue
        breaches = [max(map(float, one.search.broken[p])) for p in range(len(one.search.pairs.upper))]
        chosen = one.search.least_bad()
        possible = [b for b in breaches if b < UNFIT]
        assert breaches[chosen] == min(possible)
        (answer,) = choose(one.fit, hopeless, (one.end,), draws=8)
        assert not answer.choices
        assert answer.least_bad.gives == one.search.breaks(chosen)
        for reason in answer.least_bad.gives:
            if (
                one.search.broken[chosen][REASONS.index(reason)] > 1e-5
                and reason == answer.least_bad.gives[0]
            ):
                assert really_breaks(one, chosen, reason)
        found += 1
    assert found >= 8


def test_an_empty_catalogue_is_answered_with_what_is_on_the_truck():
    for number in range(6):
        one = asking(number)
        (answer,) = choose(one.fit, (), (one.end,), draws=8)
        offered = [*answer.choices, *([answer.least_bad] if answer.least_bad else [])]
        assert offered
        assert all(
            s is None or s.kept is not None for c in offered for pair in c.springs.values() for s in pair
        )


# ---------------------------------------------------------------- where the truck should stand


@pytest.mark.parametrize("number", range(10))
def test_no_lattice_of_preloads_with_make_believe_springs_comes_nearer_to_the_targets(number):
    """Settled by the simulator; what a moved nut of the other end costs is counted as the plan counts it."""
    one = asking(number)
    sought = np.isin(CORNERS, SIDES[one.end])
    best = one.fit.parameters(one.fit.theta[None])
    free = np.array([one.case.truck.corners[c].adjuster is not None for c in CORNERS])
    softer = best.twist[0] / (one.machine.frame_compliance + one.machine.tyre_compliance.sum())
    machine = replace(
        one.machine,
        upper_rate=np.where(one.machine.upper_rate < NO_SPRING, one.rates[:, 0], NO_SPRING),
        lower_rate=one.rates[:, 1],
        upper_travel=np.where(sought, NO_LIMIT, one.machine.upper_travel),
        lower_travel=np.where(sought, NO_LIMIT, one.machine.lower_travel),
        ring_gap=np.where(sought, NO_LIMIT, one.machine.ring_gap),
        frame_compliance=one.machine.frame_compliance * softer,
        tyre_compliance=one.machine.tyre_compliance * softer,
        set=best.offset[0],
    )
    load = Load(best.weight.front[0], best.weight.rear[0], best.weight.couple[0])
    keep, target = np.where(sought, KEEP_OWN, KEEP_OTHER), one.case.truck.target

    def cost(preload, start):
        standing = settle(machine, load, preload)
        moved = keep * (preload - start)
        return (misses(target, standing) ** 2).sum(-1) + (moved**2).sum(-1)

    adjusters = [one.case.truck.corners[c].adjuster for c in CORNERS]
    low, high = (
        np.array([getattr(a, end) if a else 0.0 for a in adjusters]) for end in ("preload_min", "preload_max")
    )
    here = one.plan.preload[0]
    assert settle(machine, load, here).heights == pytest.approx(one.plan.heights[0], abs=1e-6)
    start = np.where(sought, one.plan.preload[0], one.fit.preload)
    rng = np.random.default_rng(number)
    steps = np.array(np.meshgrid(*[(-1, 0, 1)] * 4)).reshape(4, -1).T
    for stride in (0.01, 0.1, 0.5):
        tries = here + steps * stride * IN * free
        tries = np.vstack([tries, here + rng.uniform(-1, 1, (200, 4)) * stride * 2 * IN * free])
        inside = ((tries >= low - 1e-9) & (tries <= high + 1e-9)) | sought | ~free
        tries = tries[inside.all(axis=1)]
        assert len(tries) > 50
        assert cost(tries, start).min() >= cost(here[None], start)[0] - 1e-4, stride


# ---------------------------------------------------------------- the algebra of two springs


def drawn_stack(rng):
    """One spring or two, a ring or none, and a preload."""
    lower = Spring(rng.uniform(1e4, 1.5e5), 0.4, 0.4 - rng.uniform(0.05, 0.3))
    if rng.random() < 0.2:
        return Stack("one", lower), rng.uniform(0, 0.1)
    upper = Spring(rng.uniform(1e4, 1.5e5), 0.3, 0.3 - rng.uniform(0.05, 0.25))
    gap = rng.uniform(0.0, 0.2) if rng.random() < 0.8 else None
    return Stack("two", lower, upper, gap), rng.uniform(0, 0.1)


def test_a_stacks_curve_is_that_of_the_least_energy_for_a_thousand_stacks():
    rng = np.random.default_rng(3)
    for _ in range(1200):
        stack, preload = drawn_stack(rng)
        gap = NO_STOP if stack.ring_gap is None else stack.ring_gap
        limit = springs.limits(springs.solid_travels(stack), np.array(gap), np.array(preload))
        upper = stack.upper or Spring(NO_SPRING)
        rates = (upper.rate, stack.lower.rate)
        stops = (
            min(gap + preload, upper.travel_to_solid) if stack.upper else 0.0,
            stack.lower.travel_to_solid,
        )
        pressed = rng.uniform(0.02, 0.98) * sum(stops)
        took = split(pressed, rates, stops)
        free = [k * y for k, y, stop in zip(rates, took, stops, strict=True) if y < stop - 1e-7]
        force = float(springs.force(np.array(pressed), springs.compliances(stack), limit))
        assert force == pytest.approx(max(free), rel=1e-5, abs=0.01)
        # The other way: what gives most energy back to a force, each spring by itself.
        load = rng.uniform(0.02, 1.2) * max(k * s for k, s in zip(rates, stops, strict=True) if s > 0)
        gave = 0.0
        for k, stop in zip(rates, stops, strict=True):
            if stop > 0:
                best = minimize_scalar(
                    lambda y, k=k, load=load: k * y**2 / 2 - load * y,
                    bounds=(0, stop),
                    method="bounded",
                    options={"xatol": 1e-12},
                ).x
                gave += float(best)
        deflection = float(springs.deflection(np.array(load), springs.compliances(stack), limit))
        assert deflection == pytest.approx(gave, abs=1e-6)
