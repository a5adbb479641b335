"""Long work tells how far it is, and stops where it is told to with nothing done by halves."""

import io
import signal
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from click.testing import CliRunner

from sample_runs import springs_path
from tests.dashboard_truck import NAME, TOML, readings, truck
from tuning import springs
from tuning.choices import choose
from tuning.cli import main, progress
from tuning.doubt import MAX_PASSES, SHARPENINGS
from tuning.fit import fit
from tuning.log import table
from tuning.log.catalogue_file import read_catalogue
from tuning.log.files import write_readings
from tuning.log.intake import take_in
from tuning.log.store import Log
from tuning.progress import StoppedError
from tuning.readings import runs_of

STOCK = read_catalogue("\n".join(springs_path().read_text("utf-8").splitlines()[:60]))


TOLD = progress.Line.__call__


class Listener:
    """Writes down what it is told; stops the work at its `last` word."""

    def __init__(self, last=None):
        self.last, self.told = last, []

    def __call__(self, what, done, of):
        self.told.append((what, done, of))
        if len(self.told) == self.last:
            raise StoppedError


@pytest.fixture(scope="module")
def fitted():
    return fit(truck(), runs_of(readings()))


def test_pairs_gone_through_in_parts_give_what_all_at_once_give(fitted, monkeypatch):
    monkeypatch.setattr(springs, "PART", 10**9)
    (whole,) = choose(fitted, STOCK, ("front",))
    for size in (1000, 37, len(whole.searches[0].pairs.upper)):
        monkeypatch.setattr(springs, "PART", size)
        (found,) = choose(fitted, STOCK, ("front",))
        assert found.choices == whole.choices
        a, b = found.searches[0], whole.searches[0]
        assert np.array_equal(a.order, b.order)
        assert np.array_equal(a.broken, b.broken)
        for name, values in vars(a.outcome).items():
            assert np.array_equal(values, vars(b.outcome)[name], equal_nan=True)


def test_a_search_tells_how_many_stacks_and_how_far_it_is(fitted, monkeypatch):
    monkeypatch.setattr(springs, "PART", 100)
    listener = Listener()
    (found,) = choose(fitted, STOCK, ("front",), tell=listener)
    stacks = len(found.searches[0].pairs.upper)
    going = [word for word in listener.told if word[0] == f"Going through {stacks:,} stacks"]
    assert going == [(going[0][0], n, -(-stacks // 100)) for n in range(len(going))]
    best = [word for word in listener.told if word[0].startswith("Working out")]
    assert best == [("Working out the best 10", n, 10) for n in range(10)]
    assert len(listener.told) == len(going) + len(best)


def test_a_search_ends_at_the_word_that_stops_it(fitted, monkeypatch):
    monkeypatch.setattr(springs, "PART", 500)
    every = Listener()
    (whole,) = choose(fitted, STOCK, ("front",), tell=every)
    for last in range(1, len(every.told) + 1):
        listener = Listener(last)
        with pytest.raises(StoppedError):
            choose(fitted, STOCK, ("front",), tell=listener)
        assert listener.told == every.told[:last]
    assert choose(fitted, STOCK, ("front",))[0].choices == whole.choices


@pytest.fixture
def files(tmp_path):
    """A truck file and readings of which one is unlikely."""
    rows = list(readings(6))
    rows[13] = replace(rows[13], height=rows[13].height + 0.254)
    (tmp_path / "truck.toml").write_text(TOML)
    (tmp_path / "readings.csv").write_text(write_readings(rows, truck()), newline="")
    return str(tmp_path / "truck.toml"), str(tmp_path / "readings.csv")


def test_an_import_that_is_stopped_anywhere_leaves_nothing(files, tmp_path, monkeypatch):
    monkeypatch.setattr(table, "_PART", 5)
    every = Listener()
    assert take_in(Log.open(tmp_path / "whole.db"), *files, confirm=True, tell=every).readings == 24
    phases = list(dict.fromkeys(what for what, _, _ in every.told))
    assert phases == [
        "Reading 26 lines",
        f"Looking for unlikely readings, at most {MAX_PASSES * (1 + SHARPENINGS)} times",
        "Saving 24 readings",
    ]
    log, path = Log.open(tmp_path / "log.db"), tmp_path / "log.db"
    for last in range(1, len(every.told) + 1):
        with pytest.raises(StoppedError):
            take_in(log, *files, confirm=True, tell=Listener(last))
        assert Log.open(path).trucks() == ()  # as another connection sees it
    assert take_in(log, *files, confirm=True).doubtful == 1
    assert len(Log.open(path).readings(NAME)) == 24


def test_readings_added_to_a_truck_of_the_log_leave_it_as_it_was_when_stopped(files, tmp_path):
    log = Log.open(tmp_path / "log.db")
    log.save_truck(NAME, TOML)
    log.add_readings(NAME, readings(1))
    before = log.dump(NAME)
    rows = [replace(r, run=f"later {r.run}") for r in readings(3)]
    for last in (1, 2):
        with pytest.raises(StoppedError):
            log.add_readings(NAME, rows, toml=f"{TOML}\n# another", tell=Listener(last))
        assert Log.open(tmp_path / "log.db").dump(NAME) == before
    log.add_readings(NAME, rows, tell=Listener(3))
    assert len(log.readings(NAME)) == 4 + 12


def test_what_is_done_never_goes_back_within_a_phase(files, tmp_path, monkeypatch):
    monkeypatch.setattr(table, "_PART", 5)
    listener = Listener()
    take_in(Log.open(tmp_path / "log.db"), *files, confirm=True, tell=listener)
    assert all(0 <= done < of for _, done, of in listener.told)
    assert all(b[1] >= a[1] for a, b in pairwise(listener.told) if a[0] == b[0])


# ---------------------------------------------------------------- at a terminal


class Terminal(io.StringIO):
    """A screen that keeps what was written over."""

    def isatty(self):
        return True

    @property
    def now(self):
        """The line as it stands, without what was wiped."""
        return self.getvalue().rsplit("\r", 1)[-1].rstrip()


def test_a_line_is_written_over_on_a_terminal_and_wiped_away(monkeypatch):
    monkeypatch.setattr(progress, "QUIET", -1.0)
    screen = Terminal()
    monkeypatch.setattr("sys.stderr", screen)
    with progress.Line() as line:
        line("Reading 74,000 lines", 37_000, 74_000)
        assert screen.now == "Reading 74,000 lines: 50 %"
        line("Saving", 1, 2)
        assert screen.now == "Saving: 1 of 2"
        assert len(screen.getvalue().rsplit("\r", 1)[-1]) >= len("Reading 74,000 lines: 50 %")
    assert screen.now == ""
    assert "\n" not in screen.getvalue()


@pytest.mark.parametrize(("quiet", "screen"), [(-1.0, io.StringIO), (1000.0, Terminal)])
def test_no_line_where_nobody_would_see_it_or_it_is_over_at_once(monkeypatch, quiet, screen):
    monkeypatch.setattr(progress, "QUIET", quiet)
    written = screen()
    monkeypatch.setattr("sys.stderr", written)
    with progress.Line() as line:
        line("Reading", 1, 2)
    assert written.getvalue() == ""


@pytest.fixture
def interrupt(monkeypatch):
    """Press Ctrl-C so many times at such a word of the command; how many words there were so far."""
    words = []

    def at(number, times=1):
        words.clear()

        def word(line, what, done, of):
            words.append(what)
            for _ in range(times if len(words) == number else 0):
                signal.raise_signal(signal.SIGINT)
            TOLD(line, what, done, of)

        monkeypatch.setattr(progress.Line, "__call__", word)
        return words

    yield at
    assert signal.getsignal(signal.SIGINT) is signal.default_int_handler


def command(*arguments):
    found = CliRunner().invoke(main, arguments)
    assert "Traceback" not in found.output
    return found.exit_code, found.stdout, found.stderr


def test_ctrl_c_at_any_word_of_an_import_stores_nothing_and_says_so_in_one_line(
    files, tmp_path, interrupt, monkeypatch
):
    monkeypatch.setattr(table, "_PART", 10)
    truck_file, readings_file = files
    asked = ("import", "--truck", truck_file, "--readings", readings_file, "--confirm", "--log")
    words = interrupt(0)
    assert command(*asked, str(tmp_path / "whole.db"))[0] == 0
    for number in range(1, len(words) + 1):
        interrupt(number)
        path = str(tmp_path / f"log{number}.db")
        assert command(*asked, path) == (130, "", "Stopped. Nothing was stored.\n")
        assert Log.open(path).trucks() == ()


def test_a_second_ctrl_c_ends_it_at_once(files, tmp_path, interrupt):
    interrupt(2, times=2)
    path = str(tmp_path / "log.db")
    said = command("import", "--truck", files[0], "--readings", files[1], "--log", path)
    assert said == (130, "", "Stopped. Nothing is left half done.\n")
    assert Log.open(path).trucks() == ()


def test_ctrl_c_ends_a_search_for_springs(files, tmp_path, interrupt):
    (tmp_path / "stock.csv").write_text(springs_path().read_text("utf-8"))
    asked = (
        "springs",
        "--truck",
        files[0],
        "--readings",
        files[1],
        "--catalogue",
        str(tmp_path / "stock.csv"),
    )
    words = interrupt(0)
    assert command(*asked)[0] == 0
    last = len(words)
    assert words[-1] == "Working out the best 10"
    interrupt(last)
    code, printed, said = command(*asked)
    assert (code, printed, said.splitlines()[-1]) == (130, "", "Stopped. Nothing was stored.")
