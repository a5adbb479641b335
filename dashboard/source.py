"""Where the pages get a truck, its fit and its answers from. Each fit is made once per state of the log."""

import hashlib
from collections.abc import Callable, Hashable, Sequence
from functools import cached_property
from threading import Lock, RLock
from typing import TypeVar, cast

from flask import current_app

from dashboard.auth import LOOKING, may_write
from dashboard.jobs import Kept
from dashboard.stock import Stock
from tuning.adjust import Adjustment, adjust
from tuning.fit import Fit, fit
from tuning.log.shelf import Shelf, open_truck
from tuning.log.store import Log
from tuning.truck import Truck

T = TypeVar("T")
State = tuple[int, int]  # as `Log.state` gives it

KEPT = 32  # states of trucks whose answers are kept
KEY = "TUNING_SOURCE"  # where an app keeps its source


class Question:
    """One truck at one state of the log. Answers are worked out when first asked for, and once."""

    def __init__(self, shelf: Shelf, state: State) -> None:
        """A truck off the shelf. state: the log's, of this truck."""
        self.shelf, self.state = shelf, state
        self._lock = RLock()
        self._made: dict[Hashable, object] = {}

    @property
    def truck(self) -> Truck:
        """The truck as it is now."""
        return self.shelf.truck

    @property
    def fit(self) -> Fit:
        """The fit. Raises FitError where there is nothing to fit."""
        with self._lock:
            return self._fit

    @property
    def advice(self) -> Adjustment:
        """The advised turns. Raises FitError or AdjustError where there can be none."""
        with self._lock:
            return self._advice

    def once(self, what: Hashable, make: Callable[[], T]) -> T:
        """What `make` gives, made when first asked for under this name and kept."""
        with self._lock:
            if what not in self._made:
                self._made[what] = make()
            return cast(T, self._made[what])

    @cached_property
    def _fit(self) -> Fit:
        return fit(self.shelf.truck, self.shelf.runs, self.shelf.trucks)

    @cached_property
    def _advice(self) -> Adjustment:
        return adjust(self._fit)


class Source:
    """A log that is opened when it is first asked, so that a log out of order is a sentence on a page."""

    def __init__(self, log_url: str) -> None:
        """The log at a path or URL."""
        self._url = log_url
        self._log: Log | None = None
        self._lock, self._opening = Lock(), Lock()
        self._kept = Kept[Hashable, Question](KEPT)
        self.stock = Stock()

    @property
    def log(self) -> Log:
        """The log, for who asks: a viewer's refuses every write. Raises LogError where it can't be opened."""
        with self._lock:
            if self._log is None:
                self._log = Log.open(self._url)
            return self._log if may_write() else self._log.only_read(LOOKING)

    def mark(self, name: str) -> str:
        """A short text that tells this log's truck from one of the same name in another log, wherever its file lies.

        Versions are never rewritten, so the first one's time of saving stays what it is.
        """
        first = self.log.truck_versions(name)[0]
        return hashlib.sha256(f"{name} {first.recorded_at.isoformat()}".encode()).hexdigest()[:16]

    def question(self, name: str, drawn: Sequence[int] = ()) -> Question:
        """A truck as the log has it now. Raises LogError for an unknown one, InputError for a bad truck file.

        Whoever asks about the same state is given the same question. drawn: the state a page was drawn from; it
        gets that one while it is kept, so that it agrees with itself while others save.
        """
        if known := self._kept.get((name, *drawn)):
            return known
        log = self.log
        state = log.state(name)
        place = (name, *state)
        with self._opening:  # after a save many ask at once: one opens the truck, the others wait for it
            return self._kept.get(place) or self._kept.put(place, Question(open_truck(log, name), state))


def source() -> Source:
    """The source of the app that answers the current request: pages are shared by all apps of a process."""
    found = current_app.config[KEY]
    assert isinstance(found, Source)
    return found
