"""Work done aside: one piece after the other, stopped, left alone or asked for again. Nothing here sleeps."""

from threading import Event

import pytest

from dashboard import jobs as jobs_module
from dashboard.app import create_app
from dashboard.jobs import Jobs, Kept, StillWorkingError

SOON = 20.0  # s: an event that should come has come by then


class Held:
    """Work that goes on until it is let go, telling all the while; what it gives is its own number."""

    def __init__(self, number=1):
        self.number, self.runs = number, 0
        self.begun, self.free, self.over = Event(), Event(), Event()

    def __call__(self, tell):
        self.runs += 1
        self.begun.set()
        try:
            while not self.free.wait(0.005):
                tell("Holding", self.number, 9)
            return self.number
        finally:
            self.over.set()


@pytest.fixture(autouse=True)
def quick(monkeypatch):
    monkeypatch.setattr(jobs_module, "PATIENCE", 0.05)


@pytest.fixture
def jobs():
    return Jobs()


def asked(jobs, page, key, work):
    """Asked again until it is there, as a page does."""
    for _ in range(400):
        try:
            return jobs.ask(page, key, work)
        except StillWorkingError:
            pass
    raise AssertionError("no answer came")


def begun(jobs, page, key, work):
    with pytest.raises(StillWorkingError):
        jobs.ask(page, key, work)
    assert work.begun.wait(SOON)


def test_quick_work_is_answered_at_once_and_dropped(jobs):
    assert asked(jobs, "page", 1, lambda tell: 7) == 7
    assert jobs.told("page") == {"state": "gone"}


def test_long_work_tells_how_far_it_is_and_is_there_when_asked_for_again(jobs):
    work = Held(4)
    begun(jobs, "page", 1, work)
    told = jobs.told("page")
    assert told["state"] == "running"
    assert (told["what"], told["done"], told["of"]) in (("Beginning", 0, 1), ("Holding", 4, 9))
    work.free.set()
    assert asked(jobs, "page", 1, work) == 4
    assert work.runs == 1


def test_work_that_is_stopped_ends_and_is_begun_anew_when_asked_for_again(jobs):
    work = Held()
    begun(jobs, "page", 1, work)
    jobs.stop("page")
    assert work.over.wait(SOON)
    while jobs.told("page")["state"] == "stopping":
        pass
    assert jobs.told("page")["state"] == "stopped"
    work.free.set()
    assert asked(jobs, "page", 1, work) == 1
    assert work.runs == 2


def test_a_newer_question_of_the_page_stops_the_older_and_one_of_another_page_waits(jobs):
    older, newer, other = Held(1), Held(2), Held(3)
    begun(jobs, "page", 1, older)
    with pytest.raises(StillWorkingError):
        jobs.ask("other", 3, other)
    assert jobs.told("other")["what"] == "Waiting for other work to end"
    assert not other.begun.is_set()
    with pytest.raises(StillWorkingError):
        jobs.ask("page", 2, newer)
    assert older.over.wait(SOON)
    assert not older.free.is_set()  # nobody let it go: it was stopped
    other.free.set()
    newer.free.set()
    assert asked(jobs, "page", 2, newer) == 2
    assert asked(jobs, "other", 3, other) == 3


def test_work_that_waits_its_turn_can_be_stopped_before_it_begins(jobs):
    first, second = Held(1), Held(2)
    begun(jobs, "page", 1, first)
    with pytest.raises(StillWorkingError):
        jobs.ask("other", 2, second)
    jobs.stop("other")
    assert jobs.told("other")["state"] == "stopped"
    first.free.set()
    assert asked(jobs, "page", 1, first) == 1
    assert asked(jobs, "third", 3, lambda tell: 3) == 3
    assert second.runs == 0


def test_what_goes_wrong_is_said_once_and_tried_again(jobs):
    def wrong(tell):
        raise ValueError("no")

    with pytest.raises(ValueError, match="no"):
        asked(jobs, "page", 1, wrong)
    assert asked(jobs, "page", 1, lambda tell: 5) == 5


@pytest.mark.parametrize("lasting", [False, True])
def test_work_that_nobody_looks_at_is_given_up_unless_it_should_last(jobs, monkeypatch, lasting):
    work = Held()
    with pytest.raises(StillWorkingError):
        jobs.ask("page", 1, work, lasting)
    assert work.begun.wait(SOON)
    monkeypatch.setattr(jobs_module, "UNSEEN", 0.0)
    if not lasting:
        assert work.over.wait(SOON)
        monkeypatch.undo()
        assert jobs.told("page")["state"] == "gone"  # so that a page that wakes up asks for it again
    work.free.set()
    monkeypatch.undo()
    assert asked(jobs, "page", 1, work) == 1
    assert work.runs == (1 if lasting else 2)


def test_nothing_is_kept_for_pages_that_never_came_back(jobs, monkeypatch):
    monkeypatch.setattr(jobs_module, "PATIENCE", 0.0)
    left = [Held(n) for n in range(20)]
    for n, work in enumerate(left):
        with pytest.raises(StillWorkingError):
            jobs.ask(str(n), n, work, lasting=True)
        work.free.set()
    assert all(work.over.wait(SOON) for work in left)
    monkeypatch.setattr(jobs_module, "PATIENCE", SOON)
    asked(jobs, "last", 1, lambda tell: 1)  # behind them in the queue, so they are all over
    monkeypatch.setattr(jobs_module, "UNSEEN", -1.0)
    assert jobs.ask("last", 2, lambda tell: 1, lasting=True) == 1
    assert [jobs.told(str(n))["state"] for n in range(20)] == ["gone"] * 20


def test_the_latest_are_kept_and_the_one_longest_unused_is_forgotten():
    kept = Kept(2)
    kept.put("a", 1)
    kept.put("b", 2)
    assert kept.get("a") == 1
    kept.put("c", 3)
    assert (kept.get("a"), kept.get("b"), kept.get("c")) == (1, None, 3)


def test_the_route_says_how_far_a_page_is_and_that_none_is_known(tmp_path):
    app = create_app(tmp_path / "log.db")
    client = app.server.test_client()
    assert client.get("/doing/nobody").get_json() == {"state": "gone"}
    work = Held(3)
    begun(app.server.config[jobs_module.KEY], "page", 1, work)
    answer = client.get("/doing/page")
    assert answer.headers["Cache-Control"] == "no-store"
    assert answer.get_json()["state"] == "running"
    work.free.set()
