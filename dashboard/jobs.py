"""Work that takes its time: one piece after the other in a thread of its own, so that every page goes on answering.

A page asks for the same again until it gets it: the server may have forgotten, or another question may have come
between. One piece of work at a time, because it takes a processor, and a search fills memory.
"""

import time
from collections import OrderedDict, deque
from collections.abc import Callable, Hashable
from threading import Event, Lock, Thread
from typing import Any, Generic, Literal, TypeVar

from flask import current_app

from tuning.progress import StoppedError, Tell

Key = TypeVar("Key", bound=Hashable)
Value = TypeVar("Value")
State = Literal["waiting", "running", "stopping", "stopped", "ended", "gone"]

PATIENCE = 0.3  # s that a page waits before it is told to look again: most work is done by then
UNSEEN = 10.0  # s after which nobody is waiting any more: a page that was left, a phone that sleeps
KEY = "TUNING_JOBS"  # where an app keeps its own


class StillWorkingError(Exception):
    """The work goes on: look again in a moment."""


class Kept(Generic[Key, Value]):
    """The latest few of something. Safe to share between threads."""

    def __init__(self, most: int) -> None:
        """Nothing yet. most: how many are kept."""
        self._most, self._lock = most, Lock()
        self._kept: OrderedDict[Key, Value] = OrderedDict()

    def get(self, key: Key) -> Value | None:
        """What was put there; None where it is forgotten."""
        with self._lock:
            if key in self._kept:
                self._kept.move_to_end(key)
            return self._kept.get(key)

    def put(self, key: Key, value: Value) -> Value:
        """Keep it, and forget the one longest unused."""
        with self._lock:
            self._kept[key] = value
            self._kept.move_to_end(key)
            while len(self._kept) > self._most:
                self._kept.popitem(last=False)
        return value


class Job:
    """One piece of work for one page."""

    def __init__(self, key: Hashable, work: Callable[[Tell], Any], lasting: bool) -> None:
        """key: tells one question from another. lasting: goes on where nobody waits."""
        self.key, self._work, self._lasting = key, work, lasting
        self._stop, self._ended = Event(), Event()
        self._begun = self._gone = False
        self._result: Any = None
        self._error: Exception | None = None
        self._told = ("Waiting for other work to end", 0, 1)
        self.seen = time.monotonic()

    @property
    def state(self) -> State:
        """How it stands. `gone`: given up because nobody looked."""
        if self._ended.is_set():
            if isinstance(self._error, StoppedError):
                return "gone" if self._gone else "stopped"
            return "ended"
        if self._stop.is_set():
            return "stopping" if self._begun else "stopped"
        return "running" if self._begun else "waiting"

    def told(self) -> dict[str, Any]:
        """How it stands and how far it is, for the page that looks."""
        self.seen = time.monotonic()
        what, done, of = self._told
        return {"state": self.state, "what": what, "done": done, "of": of}

    def stop(self) -> None:
        """End at the next word."""
        self._stop.set()

    def result(self, patience: float) -> Any:
        """What the work gave. Raises what it raised, StoppedError, or StillWorkingError after `patience` (s)."""
        self.seen = time.monotonic()
        if not self._ended.wait(patience):
            raise StillWorkingError
        if self._error is not None:
            raise self._error
        return self._result

    def run(self) -> None:
        """Do it."""
        self._begun = True
        try:
            self._tell("Beginning", 0, 1)
            self._result = self._work(self._tell)
        except Exception as error:
            self._error = error
        self._ended.set()

    def _tell(self, what: str, done: int, of: int) -> None:
        self._told = (what, done, of)
        self._gone = not self._lasting and time.monotonic() - self.seen > UNSEEN
        if self._gone or self._stop.is_set():
            raise StoppedError


class Jobs:
    """The work of all pages of an app, each page's latest."""

    def __init__(self) -> None:
        """Nothing to do yet."""
        self._lock = Lock()
        self._jobs: dict[str, Job] = {}
        self._queue: deque[Job] = deque()
        self._worker: Thread | None = None

    def ask(self, page: str, key: Hashable, work: Callable[[Tell], Value], lasting: bool = False) -> Value:
        """What the work gives, begun where it is not under way for this page. Another key stops what is.

        lasting: it goes on though the page is left. Raises StillWorkingError where it takes longer, StoppedError where
        somebody stopped it meanwhile, and whatever the work raises.
        """
        with self._lock:
            self._forget()
            job = self._jobs.get(page)
            if job is None or job.key != key or job.state in ("stopping", "stopped", "gone"):
                if job is not None:
                    job.stop()
                job = self._jobs[page] = Job(key, work, lasting)
                self._begin(job)
        try:
            result: Value = job.result(PATIENCE)
            return result
        finally:
            self._drop(page, job)

    def stop(self, page: str) -> None:
        """Stop what a page has under way."""
        with self._lock:
            job = self._jobs.get(page)
        if job is not None:
            job.stop()

    def told(self, page: str) -> dict[str, Any]:
        """How far a page's work is."""
        with self._lock:
            job = self._jobs.get(page)
        return {"state": "gone"} if job is None else job.told()

    def _begin(self, job: Job) -> None:
        self._queue.append(job)
        if self._worker is None:
            # It dies with the server: a save is one transaction, and nothing else is written.
            self._worker = Thread(target=self._run, name="jobs", daemon=True)
            self._worker.start()

    def _run(self) -> None:
        while True:
            with self._lock:
                if not self._queue:
                    self._worker = None
                    return
                job = self._queue.popleft()
            job.run()

    def _drop(self, page: str, job: Job) -> None:
        with self._lock:
            if self._jobs.get(page) is job and job.state == "ended":  # of a stop the page has yet to be told
                del self._jobs[page]

    def _forget(self) -> None:
        """What is over and nobody came for."""
        now = time.monotonic()
        over = [
            page
            for page, job in self._jobs.items()
            if job.state in ("ended", "stopped", "gone") and now - job.seen > UNSEEN
        ]
        for page in over:
            del self._jobs[page]


def jobs() -> Jobs:
    """The work of the app that answers the current request."""
    found = current_app.config[KEY]
    assert isinstance(found, Jobs)
    return found
