"""The invented trucks: made again to the byte, standing where they say, answered as their stories tell."""

from dataclasses import replace
from datetime import date
from functools import cache

import numpy as np
import pytest

import sample_runs
from sample_runs import NAMES, path
from sample_runs.make_samples import readings_csv, real_truck
from sample_runs.truths import SAMPLES
from tests.truth import rest
from tests.truth.machine import machine_of
from tuning.adjust import adjust
from tuning.bench import CROSS
from tuning.choices import choose
from tuning.doubt import set_aside
from tuning.fit import Fit, fit
from tuning.log.catalogue_file import read_catalogue_file
from tuning.log.files import read_readings
from tuning.log.intake import QuestionedError, take_in
from tuning.log.shelf import open_truck
from tuning.log.store import Log
from tuning.readings import runs_of
from tuning.sag.answer import sag
from tuning.spring_places import Wanted
from tuning.truck import CORNERS, SIDES
from tuning.units import from_unit

IN = 0.0254


def as_read(name):
    text = (path(name) / "readings.csv").read_text("utf-8")
    return runs_of(read_readings(text, real_truck(name).truck))


@cache
def runs(name):
    """As they are answered from: what was mistyped is out of the fit."""
    return set_aside(real_truck(name).truck, as_read(name))[0]


@pytest.fixture(scope="module")
def fitted() -> dict[str, Fit]:
    return {name: fit(real_truck(name).truck, runs(name)) for name in NAMES}


@pytest.fixture(scope="module")
def answers(fitted):
    return {name: adjust(fitted[name]) for name in NAMES}


def energy_minimum(name, preload, friction=0.0, truth=None):
    """Heights and wheel loads of the true truck by the tests' own statics; truth: as on its first visit, or another."""
    truck, truth = real_truck(name).truck, truth or SAMPLES[name].truth
    listed = machine_of(truck)
    tyres = listed.tyre_compliance.sum()
    machine = replace(
        listed,
        upper_rate=listed.upper_rate * truth.rate[:, 0],
        lower_rate=listed.lower_rate * truth.rate[:, 1],
        datum=truth.datum,
        set=np.array(truth.offset),
        frame_compliance=truth.twist * (listed.frame_compliance + tyres) - tyres,
        tyre_compliance=listed.tyre_compliance,
    )
    load = rest.Load.of(truth.wheels, listed.track)
    # The truth stretches frame and tyres alike; what the rear tyres take of the whole couple goes with them.
    spare = (truth.twist - 1) * listed.tyre_compliance[1] * load.couple
    machine = replace(machine, set=machine.set - spare)
    standing = rest.settle(machine, load, preload, friction)
    return standing.heights, standing.wheels


def preload_of(name, visit):
    return from_unit(np.array([nut or 0.0 for nut in visit.preload]), SAMPLES[name].sheet.length)


@pytest.mark.parametrize("name", NAMES)
def test_the_readings_are_made_again_to_the_byte(name):
    assert (path(name) / "readings.csv").read_bytes() == readings_csv(name).encode()


def test_an_unknown_sample_is_refused_by_name():
    with pytest.raises(KeyError, match="no sample called moon_buggy; there are night_shift"):
        path("moon_buggy")


def test_every_folder_of_the_package_is_a_sample():
    root = path(NAMES[0]).parent
    folders = {file.parent.name for file in root.glob("*/truck.toml")}
    assert folders == set(NAMES)
    assert root == type(root)(sample_runs.__file__).parent


@pytest.mark.parametrize("name", NAMES)
def test_the_story_owns_up_to_being_invented_and_tells_of_every_run(name):
    story = (path(name) / "STORY.md").read_text("utf-8")
    assert "figures are invented" in story
    for visit in SAMPLES[name].visits:
        assert f"`{visit.run}`" in story


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("way", [0.0, 1.0, -1.0])
def test_the_truth_stands_where_its_energy_is_least(name, way):
    friction = way * np.repeat(SAMPLES[name].truth.friction, 2) * np.array([1.0, 0.4, 1.0, 0.7])
    for visit in SAMPLES[name].visits:
        preload = preload_of(name, visit)
        heights, loads = real_truck(name).stand(preload, friction)
        true_heights, true_loads = energy_minimum(name, preload, friction)
        assert np.abs(heights - true_heights).max() < 1e-6
        assert np.abs(loads - true_loads).max() < 0.02


@pytest.mark.parametrize("name", NAMES)
def test_readings_settled_from_above_are_higher_than_from_below(name):
    for run in runs(name):
        for corner in CORNERS:
            held = {
                side: [r.height for r in run.at(corner) if r.settled == side] for side in ("above", "below")
            }
            if held["above"]:
                assert min(held["above"]) > max(held["below"])


@pytest.mark.parametrize("name", NAMES)
def test_the_fit_holds_the_truth_in_its_90_percent_intervals(name, fitted):
    found, truth = fitted[name], real_truck(name).at(SAMPLES[name].visits[-1]).truth
    draws = found.parameters(found.draws(4000))
    sprung = found.strut.compliance > 0  # an upper that is not there has no rate to be off
    shares = (draws.compliance[:, sprung] / found.strut.compliance[sprung], 1 / truth.rate[sprung])
    twist = (draws.twist / found.axle.twist_compliance, truth.twist)
    told = [shares, (draws.datum, truth.datum), twist, (draws.offset, truth.offset)]
    inside = []
    for drawn, true in told:
        low, high = np.quantile(drawn, [0.05, 0.95], axis=0)
        inside += np.atleast_1d((low <= true) & (true <= high)).tolist()
    assert len(inside) >= 10
    assert np.mean(inside) >= 0.8


def test_night_shift_starts_an_inch_low_out_of_level_and_off_cross_weight():
    first = runs("night_shift")[0]
    wanted = real_truck("night_shift").truck.target.heights
    low = np.array([wanted[c] - first.at(c)[0].height for c in CORNERS]) / IN
    loads = np.array([first.at(c)[0].load for c in CORNERS])
    assert 0.75 < low.mean() < 1.5
    assert np.ptp(low) > 0.25
    assert 0.475 < loads @ CROSS / loads.sum() < 0.49


def test_night_shift_is_answered_with_turns_at_every_nut_that_land_the_true_truck(answers):
    answer = answers["night_shift"]
    turns = np.array([answer.corners[c].turns for c in CORNERS])
    assert answer.reachable
    assert answer.probability_in_tolerance > 0.9
    assert answer.limits == ()
    assert np.all((np.abs(turns) >= 1) & (np.abs(turns) <= 6))
    preload = np.array([answer.corners[c].preload_after for c in CORNERS])
    assert np.all((preload > 0) & (preload < 3.5 * IN))
    heights, loads = energy_minimum("night_shift", preload)
    target = real_truck("night_shift").truck.target
    assert np.abs(heights - [target.heights[c] for c in CORNERS]).max() < target.height_tolerance
    assert abs(loads @ CROSS / loads.sum() - 0.5) < target.cross_weight_tolerance


def test_night_shift_never_rides_on_its_rings_and_meets_them_before_full_bump(answers):
    truck, truth = real_truck("night_shift").truck, SAMPLES["night_shift"].truth
    machine = machine_of(truck)
    after = np.array([answers["night_shift"].corners[c].preload_after for c in CORNERS])
    for preload in [*(preload_of("night_shift", v) for v in SAMPLES["night_shift"].visits), after]:
        room = (
            (machine.ring_gap + preload) * machine.upper_rate * truth.rate[:, 0]
        )  # N at which the slider meets it
        heights, _ = energy_minimum("night_shift", preload)
        bump = np.array([truck.corners[c].travel.height_full_bump for c in CORNERS])
        forces = []
        for height in (heights, bump):
            terms = machine.shaft_terms * np.array([np.ones(4), height, height**2]).T
            pressed = preload + machine.stroke - terms.sum(axis=1) - truth.datum
            soft = 1 / (
                1 / (machine.upper_rate * truth.rate[:, 0]) + 1 / (machine.lower_rate * truth.rate[:, 1])
            )
            forces.append(pressed * soft)
        assert np.all(forces[0] < 0.95 * room)
        assert np.all(forces[1] > room)


def test_market_van_without_scales_is_answered_for_heights_alone():
    truck = real_truck("market_van").truck
    answer = adjust(fit(truck, runs("market_van")[:1]))
    assert answer.corners["LF"].turns > 0
    assert answer.cross_weight_after is None
    assert any("loads are unknown" in line for line in answer.limits)


def test_market_van_is_told_that_level_and_cross_weight_conflict(answers):
    answer = answers["market_van"]
    assert not answer.reachable
    assert any("conflict" in line and "cross-weight" in line for line in answer.limits)
    target = real_truck("market_van").truck.target
    level = answer.corners["LF"].height_after.mean - answer.corners["RF"].height_after.mean
    assert level < -target.height_tolerance  # still leaning, and cross-weight still short: a trade
    assert answer.cross_weight_after.mean < 0.5 - target.cross_weight_tolerance


def test_market_van_true_truck_can_not_meet_both_wishes_whatever_the_nuts():
    target = real_truck("market_van").truck.target
    turned = np.linspace(0, 0.070, 36)
    grid = np.array([[left, right, 0, 0] for left in turned for right in turned])
    heights, loads = energy_minimum("market_van", grid)
    cross = loads @ CROSS / loads.sum(axis=-1)
    level = np.abs(heights[:, :2] - 0.520).max(axis=-1) < target.height_tolerance
    assert level.any()
    assert not np.any(level & (np.abs(cross - 0.5) < target.cross_weight_tolerance))


def test_hill_pony_is_brought_to_its_heights_without_any_scales(answers):
    answer = answers["hill_pony"]
    assert answer.reachable
    assert answer.probability_in_tolerance > 0.9
    assert any("weigh all four wheels" in line for line in answer.limits)
    preload = np.array([answer.corners[c].preload_after for c in CORNERS])
    heights, _ = energy_minimum("hill_pony", preload)
    assert np.abs(heights[:2] - 19 * IN).max() < IN / 4
    assert abs(heights[2:].mean() - 19.5 * IN) < IN / 4


# ---------------------------------------------------------------- the water wagon's two years


@pytest.fixture(scope="module")
def lost(fitted):
    """Where the wagon's height went since its first run, and since the pump."""
    return sag(fitted["water_wagon"]), sag(fitted["water_wagon"], "2025-05")


def wagon(run):
    """What is true of a visit: heights and wheel loads by the tests' own statics (m, N)."""
    name = "water_wagon"
    visit = next(v for v in SAMPLES[name].visits if v.run == run)
    truth = real_truck(name).at(visit).truth
    heights, loads = energy_minimum(name, preload_of(name, visit), truth=truth)
    return heights, loads


@pytest.mark.parametrize("run", ["2024-03", "2025-05", "2025-08", "2026-03"])
def test_the_wagon_stands_where_its_energy_is_least_with_pump_and_set(run):
    visit = next(v for v in SAMPLES["water_wagon"].visits if v.run == run)
    heights, loads = real_truck("water_wagon").at(visit).stand(preload_of("water_wagon", visit))
    true_heights, true_loads = wagon(run)
    assert np.abs(heights - true_heights).max() < 1e-6
    assert np.abs(loads - true_loads).max() < 0.02


def test_the_mistyped_height_is_questioned_and_nothing_else(tmp_path):
    folder, log = path("water_wagon"), Log.open(tmp_path / "log.db")
    files = str(folder / "truck.toml"), str(folder / "readings.csv")
    with pytest.raises(QuestionedError) as asked:
        take_in(log, *files, confirm=False)
    (reason,) = asked.value.reasons
    assert "2024-12: RF height" in reason
    assert take_in(log, *files, confirm=True).doubtful == 1
    doubted = [r for run in open_truck(log, "Water wagon").runs for r in run.readings if r.doubt]
    assert [(r.run, r.corner) for r in doubted] == [("2024-12", "RF")]
    meant = doubted[0].height - 10 * IN
    usual = [r.height for run in runs("water_wagon") for r in run.at("RF") if not r.doubt]
    assert min(usual) <= meant <= max(usual)


def test_the_spring_that_settles_is_found_with_its_set_and_no_other(lost):
    found, since_the_pump = lost
    visits = SAMPLES["water_wagon"].visits
    for answer, first in ((found, visits[0]), (since_the_pump, visits[14])):
        assert first.run == answer.corners["LF"].since
        true = np.array(visits[-1].lost) - first.lost
        assert [c for c in CORNERS if answer.corners[c].verdict == "settling"] == ["LF"]
        for corner, size in zip(CORNERS, true, strict=True):
            told = answer.corners[corner].parts.spring_set
            assert told.low <= size <= told.high
    lf = found.corners["LF"]
    assert lf.trend.shape == "settling"
    assert round(lf.parts.spring_set.mean / IN * 16) == 7  # the story's 7/16 in
    at = dict(zip((v.run for v in visits), (v.lost[0] / IN for v in visits), strict=True))
    assert at["2026-03"] == pytest.approx(0.43, abs=0.005)
    assert at["2024-07"] == pytest.approx(0.25, abs=0.03)


def test_the_pump_is_found_where_it_was_bolted_on(lost):
    found, since_the_pump = lost
    first, last = wagon("2024-03"), wagon("2026-03")
    assert [c for c in CORNERS if found.corners[c].verdict == "loaded"] == ["RF", "LR", "RR"]
    by_load = {c: found.corners[c].parts.from_load.mean for c in CORNERS}
    assert max(by_load, key=by_load.get) == "RR"
    assert by_load["RR"] == pytest.approx(IN / 2, abs=IN / 16)
    for i, corner in enumerate(CORNERS):
        told = found.corners[corner].parts
        assert told.height_lost.low <= first[0][i] - last[0][i] <= told.height_lost.high
        assert told.load_added.low <= last[1][i] - first[1][i] <= told.load_added.high
        assert 3 / 16 <= round(told.height_lost.mean / IN * 16) / 16 <= 5 / 16
    assert (last[1] - first[1]).sum() == pytest.approx(162 * 4.4482216, rel=1e-6)
    assert all(since_the_pump.corners[c].verdict == "steady" for c in ("RF", "LR", "RR"))


def test_the_three_turns_at_the_wagons_rear_are_told_apart_from_the_pump(lost):
    told = [answer.corners["RR"].parts.from_adjustment for answer in lost]
    assert all(one.mean == pytest.approx(-IN / 4, abs=IN / 32) for one in told)
    others = [lost[0].corners[c].parts.from_adjustment.mean for c in ("LF", "RF", "LR")]
    assert np.abs(others).max() < IN / 100


def test_the_wagon_has_months_left_and_a_few_turns_bring_it_back(lost, answers):
    early, *_ = lost[0].corners["LF"].leaves_on
    assert early > date(2026, 6, 13)
    advice = answers["water_wagon"]
    assert advice.reachable
    assert 0 < advice.corners["LF"].turns < 6
    preload = np.array([advice.corners[c].preload_after for c in CORNERS])
    truth = real_truck("water_wagon").at(SAMPLES["water_wagon"].visits[-1]).truth
    heights, loads = energy_minimum("water_wagon", preload, truth=truth)
    target = real_truck("water_wagon").truck.target
    assert np.abs(heights - [target.heights[c] for c in CORNERS]).max() < target.height_tolerance
    assert abs(loads @ CROSS / loads.sum() - 0.5) < target.cross_weight_tolerance


@pytest.mark.parametrize(
    ("name", "end", "frequency", "upper", "lower"),
    [
        ("night_shift", "front", None, "own front upper", "own front lower"),
        ("night_shift", "rear", None, "own rear upper", "own rear lower"),
        ("night_shift", "front", (1.12, 1.2), "R350 L10 B2.50", "own front lower"),
        ("market_van", "front", None, None, "own front spring"),
        ("hill_pony", "front", None, None, "own front spring"),
        ("hill_pony", "rear", None, None, "own rear spring"),
        ("water_wagon", "front", None, None, "own front spring"),
        ("water_wagon", "rear", None, None, "own rear spring"),
    ],
)
def test_the_springs_chosen_are_those_the_story_tells(name, end, frequency, upper, lower):
    one = fit(real_truck(name).truck, runs(name))
    wanted = None if frequency is None else Wanted(frequency)
    (answer,) = choose(one, read_catalogue_file(sample_runs.springs_path()), (end,), wanted, draws=50)
    best = answer.choices[0].springs[SIDES[end][0]]
    assert (best[0] and best[0].name, best[1].name) == (upper, lower)
    story = (path(name) / "STORY.md").read_text("utf-8")
    assert "**Which springs.**" in story
    for spring in best:
        assert spring is None or spring.kept is not None or f"`{spring.name}`" in story
