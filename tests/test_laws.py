"""Laws that hold for every truck: of standing, of the fit, of the answer. Trucks and readings are drawn."""

import re
from dataclasses import fields, replace
from datetime import datetime, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import sample_runs
from tests.truth.trucks import IN, LBF, random_kind, random_truck
from tuning.adjust import adjust, predict
from tuning.bench import bench, wishes_of
from tuning.fit import Fit, fit
from tuning.log.files import read_readings, read_readings_file, write_readings
from tuning.readings import Reading, Run, runs_of
from tuning.statics import Weight, axles, settle, weight_of
from tuning.truck import CORNERS, Target, Truck
from tuning.truckfile import load_truck, read_truck
from tuning.units import UnitError, exact_text, parse, unit_named

LAWS = settings(deadline=None, derandomize=True, max_examples=30)
FEW = settings(LAWS, max_examples=8)

seeds = st.integers(0, 10**6)
MIRROR = {"LF": "RF", "RF": "LF", "LR": "RR", "RR": "LR"}
FLIP = [1, 0, 3, 2]
LEAF = {"LR": -0.6, "RR": -0.6}


class Drawn:
    """A truck, what it weighs and where its nuts are; a log of it when asked."""

    def __init__(self, seed):
        self.rng = np.random.default_rng(seed)
        self.kind = random_kind(self.rng)
        truck, self.wheels = random_truck(self.rng, self.kind)
        self.nuts = [c for c in CORNERS if truck.corners[c].adjuster is not None]
        self.datum = LEAF if self.kind.rear_leaf else None
        self.preload = self.wound()
        middle = settle(truck, self.weight_on(truck), self.preload, self.datum).heights
        wanted = {c: round(middle[c] / IN * 4) / 4 * IN for c in self.nuts}
        self.truck = truck.with_target(Target(wanted, {}, 0.5))

    def weight_on(self, truck):
        return weight_of(self.wheels, axles(truck))

    def wound(self):
        """Preload anywhere in the middle of the thread."""
        return {
            c: float(v)
            for c, v in zip(self.nuts, self.rng.uniform(0.3, 2.8, len(self.nuts)) * IN, strict=True)
        }

    def stand(self, preload):
        return settle(self.truck, self.weight_on(self.truck), preload, self.datum)

    def log(self, runs=3, loads=True):
        """Readings with the errors of tape, scales and friction, nuts turned between the runs."""
        readings = []
        for i in range(runs):
            preload = self.preload if i == 0 else self.wound()
            standing = self.stand(preload)
            readings += [
                Reading(
                    run=f"r{i}",
                    taken_at=datetime(2024, 5, 1) + timedelta(days=i),
                    corner=c,
                    height=standing.heights[c]
                    + self.rng.normal(0, IN / 16)
                    + self.rng.uniform(-1, 1) * IN / 10,
                    load=standing.loads[c] * (1 + self.rng.normal(0, 0.002)) if loads else None,
                    preload=preload.get(c),
                )
                for c in CORNERS
            ]
        return runs_of(readings)


# ---------------------------------------------------------------- standing


@LAWS
@given(seeds)
def test_no_nut_changes_what_an_axle_carries_or_the_roll_couple(seed):
    drawn = Drawn(seed)
    sums = [drawn.weight_on(drawn.truck)]
    for preload in (drawn.preload, drawn.wound()):
        loads = drawn.stand(preload).loads
        sums.append(weight_of(np.array([loads[c] for c in CORNERS]), axles(drawn.truck)))
    for found in sums[1:]:
        assert found.front == pytest.approx(sums[0].front, rel=1e-12)
        assert found.rear == pytest.approx(sums[0].rear, rel=1e-12)
        assert found.couple == pytest.approx(sums[0].couple, rel=1e-12, abs=1e-9 * sums[0].front)


@LAWS
@given(seeds, st.floats(0.05, 1.0))
def test_more_preload_never_lowers_its_corner_nor_its_load_nor_the_one_across(seed, inches):
    drawn = Drawn(seed)
    before = drawn.stand(drawn.preload)
    for corner in drawn.nuts:
        after = drawn.stand({**drawn.preload, corner: drawn.preload[corner] + inches * IN})
        across = MIRROR[{"LF": "LR", "RF": "RR", "LR": "LF", "RR": "RF"}[corner]]
        assert after.heights[corner] >= before.heights[corner] - 1e-7
        for gaining in (corner, across):
            assert after.loads[gaining] >= before.loads[gaining] - 0.05
        assert after.loads[MIRROR[corner]] <= before.loads[MIRROR[corner]] + 0.05


@LAWS
@given(seeds)
def test_a_corner_never_rises_more_than_its_nut_went_down(seed):
    """In shaft: the motion ratio turns it into height."""
    drawn = Drawn(seed)
    before, more = drawn.stand(drawn.preload), 0.5 * IN
    for corner in drawn.nuts:
        after = drawn.stand({**drawn.preload, corner: drawn.preload[corner] + more})
        table = np.array(drawn.truck.corners[corner].cycle)
        steepest = np.diff(table[:, 1]).min() / np.diff(table[:, 0]).max() if len(table) > 3 else 0.5
        assert after.heights[corner] - before.heights[corner] <= more / min(0.5, steepest)


@LAWS
@given(seeds)
def test_a_heavier_axle_never_rises(seed):
    drawn = Drawn(seed)
    weight = drawn.weight_on(drawn.truck)
    heavier = Weight(weight.front * 1.05, weight.rear, weight.couple)
    before = settle(drawn.truck, weight, drawn.preload, drawn.datum).heights
    after = settle(drawn.truck, heavier, drawn.preload, drawn.datum).heights
    assert after["LF"] + after["RF"] <= before["LF"] + before["RF"] + 1e-7


def mirrored(truck: Truck) -> Truck:
    """Left for right."""
    target = truck.target
    swapped = replace(target, heights={MIRROR[c]: h for c, h in target.heights.items()})
    if target.cross_weight is not None:
        swapped = replace(swapped, cross_weight=1 - target.cross_weight)
    return replace(truck, corners={c: truck.corners[MIRROR[c]] for c in CORNERS}, target=swapped)


def mirrored_runs(runs):
    """The same readings of the mirrored truck, corners in the usual order."""
    swapped = []
    for run in runs:
        rows = [replace(r, corner=MIRROR[r.corner]) for r in run.readings]
        swapped.append(replace(run, readings=tuple(sorted(rows, key=lambda r: CORNERS.index(r.corner)))))
    return tuple(swapped)


def unlike(drawn):
    """The drawn truck with one front corner unlike the other: a mirror that changes nothing proves nothing."""
    corner = drawn.truck.corners["RF"]
    lower = replace(corner.stack.lower, rate=corner.stack.lower.rate * 1.1)
    other = replace(corner, stack=replace(corner.stack, name="other", lower=lower))
    stacks = {**drawn.truck.stacks, "other": other.stack}
    drawn.truck = replace(drawn.truck, corners={**drawn.truck.corners, "RF": other}, stacks=stacks)
    return drawn


@LAWS
@given(seeds)
def test_a_mirrored_truck_stands_as_in_a_mirror(seed):
    drawn = unlike(Drawn(seed))
    weight = drawn.weight_on(drawn.truck)
    ours = drawn.stand(drawn.preload)
    theirs = settle(
        mirrored(drawn.truck),
        replace(weight, couple=-weight.couple),
        {MIRROR[c]: v for c, v in drawn.preload.items()},
        drawn.datum,
    )
    for c in CORNERS:
        assert theirs.heights[MIRROR[c]] == pytest.approx(ours.heights[c], abs=2e-8)
        assert theirs.loads[MIRROR[c]] == pytest.approx(ours.loads[c], rel=1e-5)


# ---------------------------------------------------------------- the fit


def by_name(found: Fit):
    """Estimates and standard errors by what they are, in an order of their own."""
    unknowns, named = found.unknowns, {}
    for i, c in enumerate(CORNERS):
        named["datum", c] = i
    for i, (c, stack, which) in enumerate(unknowns.springs):
        named["spring", c, stack.name, which] = 4 + i
    named["offset"], named["twist"] = unknowns.offset, unknowns.twist
    named["friction", "front"], named["friction", "rear"] = range(
        unknowns.friction.start, unknowns.friction.stop
    )
    for i, what in enumerate(("front", "rear", "couple")):
        named["weight", what] = unknowns.weight.start + i
    sd = found.regression.sd
    return {key: (float(found.theta[i]), float(sd[i])) for key, i in named.items()}


def assert_same(ours, theirs, share=1e-6, key_of=lambda key: key, sign_of=lambda key: 1.0):
    """Alike to a small share of a standard error, key by key."""
    assert {key_of(key) for key in ours} == set(theirs)
    for key, (value, sd) in ours.items():
        other, other_sd = theirs[key_of(key)]
        assert abs(sign_of(key) * value - other) <= share * sd, key
        assert other_sd == pytest.approx(sd, rel=1e-6), key


@FEW
@given(seeds, st.booleans())
def test_a_mirrored_truck_is_fitted_as_in_a_mirror(seed, loads):
    drawn = unlike(Drawn(seed))
    runs = drawn.log(loads=loads)
    ours, theirs = fit(drawn.truck, runs), fit(mirrored(drawn.truck), mirrored_runs(runs))
    assert_same(
        by_name(ours),
        by_name(theirs),
        share=1e-4,
        key_of=lambda key: (key[0], MIRROR[key[1]], *key[2:]) if key[0] in ("datum", "spring") else key,
        sign_of=lambda key: -1.0 if key in ("offset", ("weight", "couple")) else 1.0,
    )


@FEW
@given(seeds)
def test_a_mirrored_truck_is_turned_as_in_a_mirror(seed):
    """The chosen turns lead to the same place at the best estimate; so do any others. The draws aren't mirrored,
    so the choice itself may differ by what the draws differ by."""
    drawn = unlike(Drawn(seed))
    runs = drawn.log()
    ours, theirs = (
        bench(f, draws=24) for f in (fit(drawn.truck, runs), fit(mirrored(drawn.truck), mirrored_runs(runs)))
    )
    turns = np.where([c in drawn.nuts for c in CORNERS], [1.0, -2.0, 0.5, 3.0], 0.0)
    places = [
        table.outlook(t[None], table.fit.theta[None]) for table, t in ((ours, turns), (theirs, turns[FLIP]))
    ]
    assert places[1].heights[..., FLIP] == pytest.approx(places[0].heights, abs=1e-6)
    assert places[1].loads[..., FLIP] == pytest.approx(places[0].loads, abs=0.5)


@pytest.mark.parametrize("seed", range(4))
def test_a_mirrored_truck_gets_mirrored_turns_as_nearly_as_the_draws_allow(seed):
    """Few draws steer the search, and they have no mirror: a turn or so is between the two choices, and on draws
    of neither's own the one is about as good as the other."""
    drawn = unlike(Drawn(seed))
    runs = drawn.log()
    found = fit(drawn.truck, runs)
    ours, theirs = adjust(found), adjust(fit(mirrored(drawn.truck), mirrored_runs(runs)))
    turns = [
        np.array([ours.corners[c].turns or 0.0 for c in CORNERS]),
        np.array([theirs.corners[MIRROR[c]].turns or 0.0 for c in CORNERS]),
    ]
    assert turns[1] == pytest.approx(turns[0], abs=1.0)
    table = bench(found, draws=2000, seed=99)
    miss = table.outlook(np.array(turns), table.draws).miss(wishes_of(found.truck.target, found.loads_known))
    costs = (miss**2).sum(axis=-1).mean(axis=-1)
    assert costs[1] == pytest.approx(costs[0], rel=0.15)
    for c in CORNERS:
        gap = theirs.corners[MIRROR[c]].height_after.mean - ours.corners[c].height_after.mean
        assert abs(gap) < 0.08 * IN


@FEW
@given(seeds, st.permutations(range(4)), st.permutations(range(3)))
def test_order_of_rows_and_runs_does_not_matter(seed, corners, runs_order):
    drawn = Drawn(seed)
    runs = drawn.log()
    ours = fit(drawn.truck, runs)
    rows = [runs[i].readings[j] for i in runs_order for j in corners]
    assert_same(by_name(ours), by_name(fit(drawn.truck, runs_of(rows))))


@FEW
@given(seeds)
def test_order_of_runs_at_one_time_does_not_matter_before_the_last(seed):
    drawn = Drawn(seed)
    first, second, third, last = drawn.log(4)
    early = first.taken_at
    together = [
        replace(run, taken_at=early, readings=tuple(replace(r, taken_at=early) for r in run.readings))
        for run in (first, second, third)
    ]
    rows = [[r for i in order for r in together[i].readings] for order in ((0, 1, 2), (2, 0, 1))]
    fits = [fit(drawn.truck, runs_of([*some, *last.readings])) for some in rows]
    assert [run.name for run in fits[0].runs] != [run.name for run in fits[1].runs]
    assert_same(by_name(fits[0]), by_name(fits[1]))


@FEW
@given(seeds, st.sampled_from(CORNERS), st.integers(0, 2), st.floats(-0.3, 0.3))
def test_a_doubtful_reading_changes_nothing(seed, corner, run, off):
    drawn = Drawn(seed)
    runs = drawn.log()
    true = runs[run].at(corner)[0]
    wild = replace(true, height=true.height + off, load=2 * true.load, doubt="mistyped")
    told = [replace(r, readings=(*r.readings, wild) if i == run else r.readings) for i, r in enumerate(runs)]
    ours, theirs = fit(drawn.truck, runs), fit(drawn.truck, told)
    assert theirs.theta.tolist() == ours.theta.tolist()
    assert theirs.regression.covariance.tolist() == ours.regression.covariance.tolist()
    assert theirs.preload.tolist() == ours.preload.tolist()


def rounds_only(found: Fit, rounds):
    """Covariance of the unknowns from some of the rounds and the prior rows, at the fit's own place and noise."""
    white = found.whitened[rounds].reshape(-1, found.unknowns.size)
    everything = np.linalg.inv(found.regression.covariance)
    prior = everything - np.einsum("nrp,nrq->pq", found.whitened, found.whitened)
    return np.linalg.inv(prior + white.T @ white), prior


@FEW
@given(seeds, st.booleans())
def test_every_round_of_readings_takes_away_from_every_interval(seed, loads):
    """At the same place and noise the covariance is what the rows make it: more rows, less of it, in any
    direction. And the prior rows stand in it once, each for itself."""
    drawn = Drawn(seed)
    found = fit(drawn.truck, drawn.log(5, loads))
    before = None
    for n in range(1, 6):
        after, prior = rounds_only(found, slice(0, n))
        if before is not None:
            scale = np.sqrt(np.diag(before))
            assert np.linalg.eigvalsh((before - after) / scale / scale[:, None]).min() > -1e-7
        before = after
    scale = np.sqrt(np.abs(np.diag(prior)))
    assert prior / scale / scale[:, None] == pytest.approx(np.eye(len(prior)), abs=1e-6)


def test_a_reading_that_was_not_taken_never_raises_what_is_left_over():
    """The least sum of squares over fewer rows is no more than over all of them, up to where it is straight."""
    for seed in range(12):
        drawn = Drawn(seed)
        runs = drawn.log(3, loads=False)
        gap = replace(runs[1], readings=tuple(r for r in runs[1].readings if r.corner != "LF"))
        whole, less = fit(drawn.truck, runs), fit(drawn.truck, (runs[0], gap, runs[2]))
        assert less.regression.chi_squared <= 1.1 * whole.regression.chi_squared + 1, seed


@pytest.mark.parametrize("loads", [True, False])
def test_more_runs_narrow_the_fit(loads):
    """Nine runs before the last three. Datum and rate go together at one weight, so each by itself narrows little;
    the twist is what readings with turned nuts tell."""
    datum, twist = [], []
    for seed in range(12):
        drawn = Drawn(seed)
        runs = drawn.log(12, loads)
        few, many = by_name(fit(drawn.truck, runs[-3:])), by_name(fit(drawn.truck, runs))
        datum.append(np.mean([many["datum", c][1] / few["datum", c][1] for c in drawn.nuts]))
        twist.append(many["twist"][1] / few["twist"][1])
    assert np.mean(datum) < 0.985
    assert max(datum) < 1.01  # the place to be straight about, and the noise, moved a little
    assert np.mean(twist) < 0.95
    assert max(twist) < 1.0


# ---------------------------------------------------------------- units


def in_other_units(text, length, force, pressure, volume, rate):
    """A truck file with its quantities in other units, each the same number of SI units to the last bit."""

    def rewritten(match):
        for kind, unit in (
            ("length", length), ("force", force), ("pressure", pressure), ("volume", volume), ("rate", rate)
        ):  # fmt: skip
            try:
                return f'"{exact_text(parse(match[1], kind), unit, kind)} {unit}"'
            except UnitError:
                continue
        return match[0]

    return re.sub(r'"([^"\n]*)"', rewritten, text)


@pytest.mark.parametrize("name", sample_runs.NAMES)
@pytest.mark.parametrize("system", ["us", "metric"])
def test_units_do_not_change_the_answer(name, system):
    folder = sample_runs.path(name)
    text = (folder / "truck.toml").read_text("utf-8")
    truck = load_truck(folder / "truck.toml")
    readings = read_readings((folder / "readings.csv").read_text("utf-8"), truck)
    units = {"us": ("in", "lbf", "psi", "in^3", "lbf/in"), "metric": ("mm", "N", "bar", "cm^3", "N/mm")}[
        system
    ]
    told = in_other_units(re.sub(r'units = "\w+"', f'units = "{system}"', text), *units)
    other = read_truck(told)
    assert replace(other, units=truck.units) == truck
    again = read_readings(write_readings(readings, other), other)
    assert again == readings
    ours, theirs = adjust(fit(truck, runs_of(readings))), adjust(fit(other, runs_of(again)))
    assert {c: a.turns for c, a in ours.corners.items()} == {c: a.turns for c, a in theirs.corners.items()}
    assert theirs.corners == ours.corners
    assert theirs.probability_in_tolerance == ours.probability_in_tolerance


def test_the_samples_are_not_in_the_units_they_are_turned_into():
    """At least one of each, or the law above would compare a file with itself."""
    assert {load_truck(sample_runs.path(n) / "truck.toml").units for n in sample_runs.NAMES} == {
        "us",
        "metric",
    }
    assert unit_named("mm", "length") == "mm"
    assert {f.name for f in fields(Run)} == {"name", "taken_at", "readings"}


@pytest.mark.parametrize("factor", [1 / LBF, 1000.0])
def test_answers_do_not_hang_on_the_unit_of_force(factor):
    """All forces and rates of truck and log times one number: the same heights, the same turns."""
    drawn = Drawn(4)
    truck, runs = drawn.truck, drawn.log()
    assert drawn.kind.gas
    scaled = scaled_forces(truck, factor)
    heavier = tuple(
        replace(run, readings=tuple(replace(r, load=r.load * factor) for r in run.readings)) for run in runs
    )
    ours, theirs = fit(truck, runs), fit(scaled, heavier)
    for key, (value, sd) in by_name(ours).items():
        if key[0] in ("datum", "spring") or key in ("offset", "twist"):
            other, other_sd = by_name(theirs)[key]
            assert abs(value - other) < 0.02 * sd, key
            assert other_sd == pytest.approx(sd, rel=0.01), key


def scaled_forces(truck, factor):
    """The truck with every force, rate, pressure and stiffness times `factor`."""

    def spring(s):
        return None if s is None else replace(s, rate=s.rate * factor)

    def corner(c):
        shock = c.shock
        if shock is not None and shock.gas_pressure is not None:
            shock = replace(shock, gas_pressure=shock.gas_pressure * factor)
        return replace(
            c, shock=shock, stack=replace(c.stack, lower=spring(c.stack.lower), upper=spring(c.stack.upper))
        )

    def end(e):
        return replace(
            e,
            unsprung_weight=e.unsprung_weight * factor,
            friction=e.friction * factor,
            tyre_rate=e.tyre_rate * factor,
        )

    corners = {c: corner(v) for c, v in truck.corners.items()}
    return replace(
        truck,
        front=end(truck.front),
        rear=end(truck.rear),
        corners=corners,
        stacks={c.stack.name: c.stack for c in corners.values()},
        frame_twist_stiffness=truck.frame_twist_stiffness * factor,
    )


def test_turns_that_load_one_diagonal_are_said_to_unless_a_target_asks_for_it():
    """A nut up at one corner and down across from its neighbour: cross-weight by the loads the answer itself gives."""
    truck = load_truck(sample_runs.path("night_shift") / "truck.toml")
    free = replace(truck, target=replace(truck.target, cross_weight=None))
    known = fit(free, runs_of(read_readings_file(sample_runs.path("night_shift") / "readings.csv", truck)))
    told = []
    for turn in (0.0, 2.0, 20.0):
        answer = predict(known, {"LF": -turn, "RF": turn, "LR": turn, "RR": -turn}, draws=50)
        loads = [answer.corners[c].load_after.mean for c in CORNERS]
        after = (loads[1] + loads[2]) / sum(loads)
        assert answer.cross_weight_after.mean == pytest.approx(after, abs=1e-3)
        said = any("across the diagonals" in line for line in answer.limits)
        assert said is (abs(after - 0.5) > abs(answer.cross_weight_now - 0.5) + 0.02)
        told.append(said)
    assert told == [False, False, True]
    asked = replace(known, truck=truck)
    assert not any(
        "across the diagonals" in line for line in predict(asked, {"LF": -20.0, "RF": 20.0}).limits
    )
