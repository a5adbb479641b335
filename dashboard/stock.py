"""Lists of springs that browsers have sent, and the answers asked of them.

A browser keeps its own list and sends it once; from then on both call it by its hash. The server may forget: it says
so, and the browser sends the list again.
"""

import hashlib
from collections import OrderedDict
from collections.abc import Hashable
from dataclasses import dataclass
from threading import Lock
from typing import TYPE_CHECKING, TypeVar

from tuning.catalogue import Catalogue
from tuning.choices import EndAnswer, choose
from tuning.faults import Fault, NoAnswerError
from tuning.log.catalogue_file import CatalogueError, read_catalogue
from tuning.spring_places import Wanted

if TYPE_CHECKING:
    from dashboard.source import Question

Value = TypeVar("Value")

MOST_SPRINGS = 600  # a third of a million stacks: a second or two, and as many hundred megabytes
MOST_TEXT = 200_000  # characters; 600 springs need a tenth of it
KEPT_LISTS = 20
KEPT_ANSWERS = 4  # each holds every stack that was looked at


class ForgottenError(NoAnswerError):
    """The server has no list of this hash any more."""


@dataclass(frozen=True)
class Sought:
    """What is asked for an end. stock: hash of the list."""

    end: str
    stock: str
    wanted: Wanted
    alike: bool


class Stock:
    """What has been sent and what was answered, the latest of each. Safe to share between threads."""

    def __init__(self) -> None:
        """Nothing yet."""
        self._lists: OrderedDict[Hashable, Catalogue] = OrderedDict()
        self._answers: OrderedDict[Hashable, EndAnswer] = OrderedDict()
        self._lock, self._searching = Lock(), Lock()

    def take(self, text: str, name: str) -> tuple[str, Catalogue]:
        """A list as CSV: its hash and its springs. Raises CatalogueError with every fault."""
        if len(text) > MOST_TEXT:
            found = f"{len(text):,} characters, more than {MOST_TEXT:,}"
            raise CatalogueError(name, [Fault("", found, "Leave out springs that can't fit")])
        catalogue = read_catalogue(text, name)
        if len(catalogue) > MOST_SPRINGS:
            mend = f"Keep the {MOST_SPRINGS} that could fit, such as those of one inside diameter"
            raise CatalogueError(name, [Fault("", f"{len(catalogue)} springs", mend)])
        key = hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()[:24]
        self._keep(self._lists, key, catalogue, KEPT_LISTS)
        return key, catalogue

    def catalogue(self, key: str) -> Catalogue:
        """The springs of a list. Raises ForgottenError."""
        with self._lock:
            found = self._lists.get(key)
        if found is None:
            raise ForgottenError("the list of springs has to be sent again: press “Use this list”")
        return found

    def answer(self, question: "Question", sought: Sought) -> EndAnswer:
        """The answer for an end, worked out once for each state of the log. One search at a time: it fills memory.

        Raises ForgottenError, and what `choose` and the fit raise.
        """
        key = (question, sought)
        with self._searching:
            with self._lock:
                found = self._answers.get(key)
            if found is None:
                stock = self.catalogue(sought.stock)
                (found,) = choose(question.fit, stock, (sought.end,), sought.wanted, sought.alike)
            self._keep(self._answers, key, found, KEPT_ANSWERS)
        return found

    def _keep(self, kept: OrderedDict[Hashable, Value], key: Hashable, value: Value, most: int) -> None:
        with self._lock:
            kept[key] = value
            kept.move_to_end(key)
            while len(kept) > most:
                kept.popitem(last=False)
