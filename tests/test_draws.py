"""Draws of the unknowns: as spread and as correlated as the fit says, however many readings they come from."""

import numpy as np
import pytest

from tests.dashboard_truck import many_readings, readings, truck
from tuning import fit as fits
from tuning.readings import runs_of

COUNT = 20_000


@pytest.fixture(scope="module", params=["short", "long"])
def found(request):
    return fits.fit(truck(), runs_of(readings(3) if request.param == "short" else many_readings(400)))


def flat_ones(found, monkeypatch):
    """How many readings' friction was drawn as flat."""
    seen = []
    real = type(found.held).draws
    monkeypatch.setattr(type(found.held), "draws", lambda *a: seen.append(int(a[-1].sum())) or real(*a))
    found.draws(2, seed=99)
    return seen[0]


def test_draws_have_the_covariance_of_the_fit(found):
    drawn = (found.draws(COUNT, seed=1) - found.theta) / found.regression.sd
    wanted = found.regression.covariance / found.regression.sd / found.regression.sd[:, None]
    # A covariance of standard numbers is met to sqrt(2 / COUNT) or better, 0.01; five of those.
    assert np.abs(np.cov(drawn.T, bias=True) - wanted).max() < 0.05
    assert np.abs(drawn.mean(axis=0)).max() < 5 / np.sqrt(COUNT)


def test_drawing_the_small_ones_as_normal_changes_no_quantile(found, monkeypatch):
    some = flat_ones(found, monkeypatch)
    monkeypatch.setattr(fits, "FLAT_SHARE", 0.0)
    found.__dict__.pop("_drawn")
    every = flat_ones(found, monkeypatch)
    brute = found.draws(COUNT, seed=2)
    monkeypatch.undo()
    found.__dict__.pop("_drawn")
    quick = found.draws(COUNT, seed=3)
    assert every == found.held.band.size
    assert (some == every) if len(found.runs) < 10 else (some < every / 2)  # a short log's are all drawn flat
    for q in (0.05, 0.5, 0.95):
        off = (np.quantile(quick, q, axis=0) - np.quantile(brute, q, axis=0)) / found.regression.sd
        # sd of a quantile: sqrt(q (1 − q) / n) / density; at 5 % of a normal 0.015, twice over for the two sets.
        assert np.abs(off).max() < 5 * 0.015 * np.sqrt(2)


def test_asked_twice_draws_are_the_same_ones_and_can_not_be_written_to(found):
    first = found.draws(100, seed=4)
    assert found.draws(100, seed=4) is first
    with pytest.raises(ValueError, match="read-only"):
        first[0] = 0.0
