"""Where the pages get a truck, its fit and its answers from. Each fit is made once per state of the log."""

from collections import OrderedDict
from collections.abc import Callable, Hashable
from concurrent.futures import Future
from dataclasses import dataclass
from functools import cached_property
from threading import Lock
from typing import TypeVar

from flask import current_app

from tuning.adjust import Adjustment, adjust
from tuning.fit import Fit, fit
from tuning.log.shelf import Shelf, open_truck
from tuning.log.store import Log
from tuning.truck import Truck

KEPT = 8  # states of trucks whose answers are kept
KEY = "TUNING_SOURCE"  # where an app keeps its source

T = TypeVar("T")


@dataclass(frozen=True)
class Question:
    """One truck at one state of the log, and what was worked out about it so far."""

    shelf: Shelf

    @property
    def truck(self) -> Truck:
        """The truck as it is now."""
        return self.shelf.truck

    @cached_property
    def fit(self) -> Fit:
        """The fit. Raises FitError where there is nothing to fit."""
        return fit(self.shelf.truck, self.shelf.runs, self.shelf.trucks)

    @cached_property
    def advice(self) -> Adjustment:
        """The advised turns. Raises FitError or AdjustError where there can be none."""
        return adjust(self.fit)


class Source:
    """A log that is opened when it is first asked, so that a log out of order is a sentence on a page."""

    def __init__(self, log_url: str) -> None:
        """The log at a path or URL."""
        self._url = log_url
        self._log: Log | None = None
        self._lock = Lock()
        self._kept: OrderedDict[Hashable, Future[Question]] = OrderedDict()

    @property
    def log(self) -> Log:
        """The log. Raises LogError where it can't be opened."""
        with self._lock:
            if self._log is None:
                self._log = Log.open(self._url)
            return self._log

    def question(self, name: str) -> Question:
        """A truck as the log has it now. Raises LogError for an unknown one, InputError for a bad truck file.

        Threads that ask for the same state at once share one answer.
        """
        state = (
            name,
            tuple(version.id for version in self.log.truck_versions(name)),
            tuple(entry.id for entry in self.log.readings(name)),
        )
        return self._once(state, lambda: _worked_out(open_truck(self.log, name)))

    def _once(self, state: Hashable, make: Callable[[], Question]) -> Question:
        with self._lock:
            future = self._kept.get(state)
            mine = future is None
            if future is None:
                future = self._kept[state] = Future()
            self._kept.move_to_end(state)
            while len(self._kept) > KEPT:
                self._kept.popitem(last=False)
        if mine:
            try:
                future.set_result(make())
            except Exception as error:
                with self._lock:
                    self._kept.pop(state, None)
                future.set_exception(error)
        return future.result()


def _worked_out(shelf: Shelf) -> Question:
    """A question with its answers worked out, where it has any, before other threads see it."""
    from tuning.adjust import AdjustError
    from tuning.fit import FitError

    question = Question(shelf)
    try:
        _ = question.advice
    except (FitError, AdjustError):
        pass  # the page that asks says so
    return question


def source() -> Source:
    """The source of the app that answers the current request: pages are shared by all apps of a process."""
    found = current_app.config[KEY]
    assert isinstance(found, Source)
    return found
