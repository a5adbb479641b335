"""Many at once on one server: nobody is refused, nothing is lost, and it gets no slower than the sum of its work."""

from tests.dashboard_truck import NAME
from tests.load import at_once, people, percentiles, served
from tuning.log.store import Log

CLIENTS, RUNS, SECONDS = 6, 100, 4.0
WORSE = 3.0  # times: machines that run tests have other work


def test_many_visitors_without_pause_wait_for_each_others_work_and_no_longer(tmp_path):
    with served(tmp_path, RUNS) as (url, new), people(url, CLIENTS) as visitors:
        before = len(new)
        at_once(visitors[:1], 2.0, new, (0.0, 0.0))
        alone = at_once(visitors[:1], SECONDS, new, (0.0, 0.0), every=1.0)
        many = at_once(visitors, SECONDS, new, (0.0, 0.0), every=1.0)
        saved = before - len(new)
    asked, median, *_ = percentiles(alone)
    asked_of_all, median_of_all, *_ = percentiles(many)
    assert asked_of_all > asked / WORSE
    assert median_of_all < WORSE * CLIENTS * median
    assert saved > 4
    assert len(Log.open(tmp_path / "log.db").readings(NAME)) == 4 * (RUNS + saved)
