"""The alarm's cumulative sum against published charts, and how often it rings against published run lengths.

NIST/SEMATECH e-Handbook 6.3.2.3; Montgomery and Runger, Example 16-6; Montgomery, Introduction to Statistical Quality
Control, Tables 9.1 to 9.3 (the last from memory). Data and sources in references/statistics_examples.toml.
"""

import tomllib
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import norm

from tuning.sag.chart import FALSE_ALARM, Cusum, H, K

EXAMPLES = tomllib.loads(
    (Path(__file__).parent / "references" / "statistics_examples.toml").read_text("utf-8")
)


def run_through(values, k):
    """(sum, values since it left zero) after each value."""
    found, cusum = [], Cusum()
    for value in values:
        cusum = cusum.after(float(value), k)
        found.append((cusum.total, cusum.since))
    return np.array(found).T


def off_target(name):
    data = EXAMPLES[name]["data"]
    return np.array(data["x"]) - data["target"]


def test_both_sums_agree_with_montgomery_and_runger_where_nothing_signals():
    data, printed = EXAMPLES["cusum_no_signal"]["data"], EXAMPLES["cusum_no_signal"]["published"]
    off = off_target("cusum_no_signal")
    upper, lower = run_through(off, data["K"])[0], run_through(-off, data["K"])[0]
    assert upper == pytest.approx(printed["upper"], abs=0.05)
    assert lower == pytest.approx(printed["lower"], abs=0.05)
    assert max(upper.max(), lower.max()) <= data["H"]


def test_signal_and_the_run_it_began_before_agree_with_montgomery():
    data = EXAMPLES["cusum_signal_montgomery"]["data"]
    printed, exact = (EXAMPLES["cusum_signal_montgomery"][key] for key in ("published", "recomputed"))
    off = off_target("cusum_signal_montgomery") / data["sigma"]
    upper, since = run_through(off, data["k"])
    at = printed["signal_at"] - 1
    assert np.flatnonzero(upper > data["h"])[0] == at
    assert upper[at] == pytest.approx(printed["c_plus_at_signal"], abs=0.005)
    assert since[at] == printed["n_plus_at_signal"]
    assert upper == pytest.approx(exact["c_plus"], abs=1e-9)
    assert since.tolist() == exact["n_plus"]
    assert run_through(-off, data["k"])[0] == pytest.approx(exact["c_minus"], abs=1e-9)


def test_sums_of_group_means_agree_with_the_nist_handbook():
    data, printed = EXAMPLES["cusum_nist"]["data"], EXAMPLES["cusum_nist"]["published"]
    upper = run_through(off_target("cusum_nist"), data["k"])[0]
    assert np.flatnonzero(upper > data["h"])[0] == printed["first_signal"] - 1
    assert upper[13:] == pytest.approx(printed["upper_from_group_14"], abs=0.006)
    assert upper == pytest.approx(EXAMPLES["cusum_nist"]["recomputed"]["upper"], abs=1e-9)


def average_run_length(k, h, shift=0.0):
    """Values until a one-sided sum of normal values passes h: Page's integral equation by Gauss-Legendre points."""
    points, weights = np.polynomial.legendre.leggauss(60)
    points, weights = (points + 1) * h / 2, weights * h / 2
    start = np.concatenate([[0.0], points])
    kernel = np.empty((61, 61))
    kernel[:, 0] = norm.cdf(k - shift - start)
    kernel[:, 1:] = weights * norm.pdf(points - start[:, None] + k - shift)
    return np.linalg.solve(np.eye(61) - kernel, np.ones(61))[0]


@pytest.mark.parametrize(("h", "shift", "published"), [(4, 0, 168), (5, 0, 465), (4, 1, 8.38), (5, 1, 10.4)])
def test_run_lengths_of_the_textbook_chart_are_those_printed(h, shift, published):
    """First check the checker: k = 1/2, two-sided; both sides share the false alarms, a shift rings on one."""
    found = average_run_length(0.5, h, shift) / (2 if shift == 0 else 1)
    assert found == pytest.approx(published, rel=3e-3)


def test_a_sound_corner_rings_at_most_once_in_five_years_of_monthly_readings():
    assert average_run_length(K, H) >= 60


def test_the_run_length_stated_with_the_chart_is_that_of_the_sum_itself():
    assert round(average_run_length(K, H)) == FALSE_ALARM
    values = iter(np.random.default_rng(1).standard_normal(200_000).tolist())
    lengths, cusum, length = [], Cusum(), 0
    for value in values:
        cusum, length = cusum.after(value), length + 1
        if cusum.total > H:
            lengths.append(length)
            cusum, length = Cusum(), 0
    assert np.mean(lengths) == pytest.approx(FALSE_ALARM, rel=4 / np.sqrt(len(lengths)))


def test_a_drop_of_two_standard_deviations_is_found_within_three_runs_nine_times_in_ten():
    random = np.random.default_rng(2)
    found = 0
    for _ in range(2000):
        cusum = Cusum()
        for value in random.standard_normal(20):  # steady before
            cusum = cusum.after(float(value))
            cusum = Cusum() if cusum.total > H else cusum
        for value in random.normal(2.0, 1.0, 3):
            cusum = cusum.after(float(value))
            if cusum.total > H:
                found += 1
                break
    assert found / 2000 > 0.88
