"""The corner page without a browser: one reading by itself, readings in doubt, a corner that was never weighed."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import norm

from dashboard.app import create_app
from dashboard.corner_words import reading_card, unusual
from dashboard.figures import corner_figure, misses_figure
from dashboard.pages import corners
from dashboard.source import Source
from tests.dashboard_truck import IN, LBF, NAME, TOML, fill, readings, truck
from tests.test_dashboard import drawn, text_of
from tuning.curve import corner_curve, doubtful_points
from tuning.fit import DOUBTFUL, fit
from tuning.log.store import Log
from tuning.readings import runs_of


@pytest.fixture
def place(tmp_path):
    fill(str(tmp_path / "log.db"))
    return tmp_path / "log.db"


@pytest.fixture
def app(place):
    return create_app(place)


def unweighed(path):
    log = Log.open(path)
    log.save_truck(NAME, TOML)
    log.add_readings(NAME, [replace(r, load=None) for r in readings()])
    return path


def doubted(which):
    """The test truck's runs with one reading in doubt, by run and corner."""
    return runs_of(replace(r, doubt="tape slipped") if (r.run, r.corner) == which else r for r in readings())


def seat_load(run, corner):
    """Load on a front spring by the moments about the other spring: wheels a track apart, springs nearer (N)."""
    own, other = (
        next(r.load for r in readings() if r.run == run and r.corner == c)
        for c in (("LF", "RF") if corner == "LF" else ("RF", "LF"))
    )
    front = truck().front
    lever, out = front.spring_spacing, (front.track - front.spring_spacing) / 2
    unsprung = front.unsprung_weight / 2
    return ((own - unsprung) * (lever + out) - (other - unsprung) * out) / lever


# ---------------------------------------------------------------- a reading in doubt


@pytest.mark.parametrize("corner", ["LF", "RF"])
def test_a_reading_in_doubt_from_the_latest_run_stands_where_it_was_read(corner):
    runs = doubted(("r3", corner))
    found = doubtful_points(fit(truck(), runs), corner, [truck()] * 3)
    read = next(r for r in runs[2].readings if r.corner == corner)
    assert [p.reading for p in found] == [read]
    assert found[0].height == pytest.approx(read.height, abs=1e-9)
    assert found[0].load == pytest.approx(seat_load("r3", corner), abs=0.01)


def test_no_reading_is_in_doubt_at_the_other_corners():
    found = fit(truck(), doubted(("r3", "LF")))
    assert doubtful_points(found, "RF", [truck()] * 3) == ()


def test_a_reading_in_doubt_is_a_cross_in_the_figure_and_no_longer_a_reading():
    runs = doubted(("r2", "LF"))
    found = fit(truck(), runs)
    ids = {id(r): 100 + n for n, r in enumerate(r for run in runs for r in run.readings)}
    out = doubtful_points(found, "LF", [truck()] * 3)
    by_name = {t.name: t for t in corner_figure(corner_curve(found, "LF"), "us", out, ids).data}
    assert list(by_name["readings in doubt"].text) == ["r2"]
    assert list(by_name["readings in doubt"].customdata) == [ids[id(runs[1].at("LF")[0])]]
    assert list(by_name["readings, rolled and bounced"].text) == ["r1", "r3"]


# ---------------------------------------------------------------- one reading by itself


def test_a_reading_is_shown_as_read_with_what_the_others_allow(place):
    question = Source(str(place)).question(NAME)
    reading = question.shelf.runs[0].at("LF")[0]
    check = question.fit.checks_at("LF", "height")[0]
    text = text_of(reading_card(reading, check, 1, "us"))
    assert check.reading is reading
    assert f"{reading.height / IN - check.error / IN:.2f} in" in text
    assert f"{reading.load / LBF:.0f} lbf" in text
    assert "Doubt it" in text


def test_a_reading_that_was_corrected_meanwhile_is_a_sentence(place):
    assert "Reload the page" in text_of(corners.look_at(Source(str(place)).question(NAME), "LF", 999))


@pytest.mark.parametrize("t", [1.0, -1.3, 1.96, 2.5, -3.2])
def test_a_miss_is_told_as_how_many_sound_readings_lie_as_far_off(t):
    assert f"in {round(1 / (2 * norm.sf(abs(t))))} " in unusual(t)


def test_a_miss_of_next_to_nothing_and_one_beyond_the_limit_are_told_in_words():
    assert unusual(0.2) == "as near as most"
    assert "thousand" in unusual(-(DOUBTFUL + 0.01))


def test_where_everything_is_in_doubt_each_reading_can_still_be_looked_at_and_cleared(place):
    log = Log.open(place)
    for entry in log.readings(NAME):
        log.doubt(entry.id, "scales on a slope")
    question = Source(str(place)).question(NAME)
    first = question.shelf.reading_ids[id(question.shelf.runs[0].at("LF")[0])]
    assert "Look at it" in text_of(corners.page(NAME, question, "LF"))
    text = text_of(corners.look_at(question, "LF", first))
    assert "scales on a slope" in text
    assert "Clear the doubt" in text


# ---------------------------------------------------------------- never weighed


def test_a_corner_that_was_never_weighed_shows_its_misses(tmp_path):
    question = Source(str(unweighed(tmp_path / "log.db"))).question(NAME)
    checks = question.fit.checks_at("LF", "height")
    dots = misses_figure(checks, "us", question.shelf.reading_ids).data[0]
    assert len(dots.y) == 3
    assert np.allclose(np.array(dots.y) * IN, [c.error for c in checks])
    # A bar of 90 % reaches 1.645 standard deviations, a miss of t of them is t.
    assert np.allclose(np.array(dots.error_y.array) * IN, [1.6449 * c.error / c.t for c in checks], rtol=1e-3)
    text = text_of(drawn(create_app(tmp_path / "log.db"), corners, truck=NAME, corner="LF"))
    assert "No load was read at this corner" in text
